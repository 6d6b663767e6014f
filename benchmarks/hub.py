"""What the hub pays for a shop, side by side with what an owner could write instead.

    .venv/bin/python -m benchmarks.hub              # what was measured
    .venv/bin/python -m benchmarks.hub --check      # exit code 1 where a goal is missed

Everything runs in one process, one after the other, on the same fake relays:

- *bare*: a listener that calls the gate's and the collector's service itself. Nothing
  can react faster through this hub; it is the floor.
- *in turn*: the same, but the collector is called when the gate has reported open, as
  Gatewright does it: the floor for whoever does not let the collector pull against a
  shut gate.
- *automations*: one that starts and one that stops for each machine, as an owner would
  write them: a numeric trigger, and for the stop a template over all machines.
- *Gatewright*: with no confirmation time, so that all three do the same.
"""

import argparse
import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import partial
import gc
import logging
import math
from statistics import median
import sys
from tempfile import TemporaryDirectory
from time import perf_counter
import tracemalloc
from typing import Any

from homeassistant import loader
from homeassistant.core import (
    Event,
    EventStateChangedData,
    HomeAssistant,
    ServiceCall,
    callback,
)
from homeassistant.helpers.event import async_track_state_change_event
from homeassistant.setup import async_setup_component
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_test_home_assistant,
)

# The test plugin ships a package of this name; the one imported first is the one that
# Home Assistant finds.
import custom_components
from tests.integration.workshop import gate, machine

assert custom_components.__file__ is not None

SIZES = (10, 100, 1000)
RUNS = 40
IDLE_READINGS = 4_000
WATTS = {"unit_of_measurement": "W", "device_class": "power"}
COLLECTOR = "input_boolean.collector"

HEAD = (
    "machines",
    "both calls: bare (us)",
    "in turn (us)",
    "automations (us)",
    "Gatewright (us)",
    "idle reading: unheard (us)",
    "bare listener (us)",
    "Gatewright (us)",
    "states written",
    "set-up (s)",
    "memory per machine (KiB)",
)

MOST_OF_BARE = 3.0
MOST_OF_AUTOMATIONS = 0.5
MOST_OF_A_LISTENER = 1.5


def plug(number: int) -> str:
    """Return the power sensor of a machine."""
    return f"sensor.plug_{number}"


def relay(number: int) -> str:
    """Return the relay of a machine's gate."""
    return f"input_boolean.gate_{number}"


@dataclass(slots=True)
class Shop:
    """A hub with fake plugs and relays; a relay does at once what it is told."""

    hass: HomeAssistant
    machines: int
    dispatched: dict[str, float]
    called: asyncio.Event
    """Set once a relay has been called."""

    def read(self, number: int, watts: float) -> None:
        """Have a machine's plug report."""
        self.hass.states.async_set(plug(number), str(watts), WATTS)

    def report(self, entity_id: str, state: str) -> None:
        """Have a relay report."""
        self.hass.states.async_set(entity_id, state)

    def call(self, service: str, entity_id: str) -> None:
        """Call a relay's service, as the shortest automation would."""
        self.hass.async_create_task(
            self.hass.services.async_call(
                "input_boolean", service, {"entity_id": entity_id}
            )
        )

    async def settle(self) -> None:
        """Let everything happen that does not wait for time."""
        await self.hass.async_block_till_done()


@asynccontextmanager
async def shop(machines: int) -> AsyncIterator[Shop]:
    """Run a hub in which nothing but plugs and relays exists.

    In a folder of its own: what one hub writes down, the next would take up.
    """
    with TemporaryDirectory() as folder:
        async with _hub(folder, machines) as made:
            yield made


@asynccontextmanager
async def _hub(folder: str, machines: int) -> AsyncIterator[Shop]:
    async with async_test_home_assistant(config_dir=folder) as hass:
        hass.data.pop(loader.DATA_CUSTOM_COMPONENTS, None)
        # A benchmark measures long steps; it needs no word for each.
        hass.loop.slow_callback_duration = math.inf
        made = Shop(hass, machines, {}, asyncio.Event())

        @callback
        def obey(call: ServiceCall) -> None:
            at = perf_counter()
            targets = call.data["entity_id"]
            for entity_id in [targets] if isinstance(targets, str) else targets:
                made.dispatched[entity_id] = at
            made.called.set()

        for service in ("turn_on", "turn_off"):
            hass.services.async_register("input_boolean", service, obey)
        for entity_id in (COLLECTOR, *(relay(n) for n in range(machines))):
            hass.states.async_set(entity_id, "off")
        for number in range(machines):
            made.read(number, 3.0)
        await made.settle()
        try:
            yield made
        finally:
            await hass.async_stop(force=True)


# Three ways to do it ---------------------------------------------------------------


async def bare(made: Shop) -> None:
    """Call both services from a listener."""
    hass, gates = made.hass, {plug(n): relay(n) for n in range(made.machines)}

    @callback
    def heard(event: Event[EventStateChangedData]) -> None:
        state = event.data["new_state"]
        assert state is not None
        service = "turn_on" if float(state.state) >= 150.0 else "turn_off"
        made.call(service, gates[event.data["entity_id"]])
        made.call(service, COLLECTOR)

    async_track_state_change_event(hass, list(gates), heard)


async def in_turn(made: Shop) -> None:
    """Call the gate's service from a listener, and the collector's from another."""
    hass, gates = made.hass, {plug(n): relay(n) for n in range(made.machines)}

    @callback
    def heard(event: Event[EventStateChangedData]) -> None:
        state = event.data["new_state"]
        assert state is not None
        service = "turn_on" if float(state.state) >= 150.0 else "turn_off"
        made.call(service, gates[event.data["entity_id"]])

    @callback
    def opened(event: Event[EventStateChangedData]) -> None:
        state = event.data["new_state"]
        assert state is not None
        if state.state == "on":
            made.call("turn_on", COLLECTOR)

    async_track_state_change_event(hass, list(gates), heard)
    async_track_state_change_event(hass, list(gates.values()), opened)


async def automations(made: Shop) -> None:
    """Set up what an owner would write."""
    plugs = [plug(n) for n in range(made.machines)]
    none_runs = (
        "{{ ["
        + ", ".join(f"states('{entity_id}')" for entity_id in plugs)
        + "] | map('float', 0) | select('gt', 60) | list | count == 0 }}"
    )
    config: list[dict[str, Any]] = []
    for number in range(made.machines):
        on, off = (
            [
                {"action": f"input_boolean.turn_{way}", "target": {"entity_id": part}}
                for part in (relay(number), COLLECTOR)
            ]
            for way in ("on", "off")
        )
        config += [
            {
                "alias": f"Start {number}",
                "triggers": {
                    "trigger": "numeric_state",
                    "entity_id": plug(number),
                    "above": 150,
                },
                "actions": on,
            },
            {
                "alias": f"Stop {number}",
                "triggers": {
                    "trigger": "numeric_state",
                    "entity_id": plug(number),
                    "below": 60,
                },
                "conditions": {
                    "condition": "template",
                    "value_template": none_runs,
                },
                "actions": off,
            },
        ]
    assert await async_setup_component(made.hass, "automation", {"automation": config})
    await made.hass.async_start()
    await made.settle()


async def gatewright(made: Shop) -> MockConfigEntry:
    """Set up a system whose machines start and stop without settling."""
    entry = MockConfigEntry(
        domain="gatewright",
        minor_version=2,
        entry_id="system",
        title="Dust collector",
        data={
            "switch": COLLECTOR,
            "run_on": 0.0,
            "coast": 0.0,
            "start_delay": 0.0,
            "confirm": 10.0,
            "rest_time": 0.0,
            "hand_gates": [],
            "hide_wrapped": False,
        },
        subentries_data=[
            *(
                gate(f"gate_{n}", f"Gate {n}", actuator=relay(n), travel=0.0)
                for n in range(made.machines)
            ),
            *(
                machine(
                    f"machine_{n}",
                    f"Machine {n}",
                    gates=[f"gate_{n}"],
                    sensor=plug(n),
                    start_settle=0.0,
                    stop_settle=0.0,
                )
                for n in range(made.machines)
            ),
        ],
    )
    entry.add_to_hass(made.hass)
    assert await made.hass.config_entries.async_setup(entry.entry_id)
    await made.settle()
    return entry


# What is measured ---------------------------------------------------------------------


async def reaction(made: Shop) -> float:
    """Return the median time in s from a reading to both calls having been dispatched.

    Where the collector waits for its gate, that is the time from the reading to the
    gate's call and from the gate's report to the collector's, without what the gate
    takes to move.
    """
    times = []
    for run in range(RUNS):
        number = run % made.machines
        gate_relay = relay(number)
        gc.disable()
        taken = await called(made, gate_relay, partial(made.read, number, 1400.0))
        if COLLECTOR not in made.dispatched:
            await made.settle()
            taken += await called(
                made, COLLECTOR, partial(made.report, gate_relay, "on")
            )
        gc.enable()
        times.append(taken)
        await made.settle()
        made.report(gate_relay, "on")
        made.report(COLLECTOR, "on")
        await made.settle()
        made.read(number, 3.0)
        await made.settle()
        made.report(COLLECTOR, "off")
        await made.settle()
        made.report(gate_relay, "off")
        await made.settle()
    return median(times)


async def called(made: Shop, part: str, happen: Callable[[], None]) -> float:
    """Return the time in s from something that happens to the last call it leads to."""
    made.dispatched.clear()
    began = perf_counter()
    happen()
    while part not in made.dispatched:
        made.called.clear()
        await made.called.wait()
    await asyncio.sleep(0)
    return max(made.dispatched.values()) - began


async def idle_reading(made: Shop) -> float:
    """Return the time in s that one reading takes which changes nothing."""
    best = math.inf
    for _ in range(3):
        gc.collect()
        began = perf_counter()
        for n in range(IDLE_READINGS):
            made.read(n % made.machines, 3.0 + n % 7)
        await made.settle()
        best = min(best, (perf_counter() - began) / IDLE_READINGS)
    return best


async def written(made: Shop) -> int:
    """Return how many states were written that are not the plugs' own."""
    others: list[str] = []

    @callback
    def noted(event: Event[EventStateChangedData]) -> None:
        if not event.data["entity_id"].startswith("sensor.plug_"):
            others.append(event.data["entity_id"])

    stop = made.hass.bus.async_listen("state_changed", noted)
    for n in range(1_000):
        made.read(n % made.machines, 3.0 + n % 7)
    await made.settle()
    stop()
    return len(others)


@dataclass(frozen=True, slots=True)
class Row:
    """One size of shop, in microseconds unless it says otherwise."""

    machines: int
    bare: float
    in_turn: float
    automations: float
    gatewright: float
    idle_without: float
    idle_bare: float
    idle_gatewright: float
    states_written: int
    setup: float
    """Time in s to set the system up."""
    memory: float
    """Memory in KiB for each machine and its gate."""

    @property
    def missed(self) -> list[str]:
        """Which goals this size misses."""
        found = []
        if self.gatewright > MOST_OF_BARE * self.bare:
            found.append(f"{self.machines}: reaction over {MOST_OF_BARE} x bare")
        if self.gatewright > MOST_OF_AUTOMATIONS * self.automations:
            found.append(f"{self.machines}: over half the automations' reaction")
        if self.idle_gatewright > MOST_OF_A_LISTENER * self.idle_bare:
            found.append(f"{self.machines}: idle reading over 1.5 x a listener")
        if self.states_written:
            found.append(f"{self.machines}: {self.states_written} states written")
        return found


async def listener(made: Shop) -> None:
    """Hear every plug, and look at the number."""

    @callback
    def heard(event: Event[EventStateChangedData]) -> None:
        state = event.data["new_state"]
        assert state is not None
        float(state.state)

    async_track_state_change_event(
        made.hass, [plug(n) for n in range(made.machines)], heard
    )


async def measure(machines: int) -> Row:
    """Measure one size."""
    async with shop(machines) as made:
        idle_without = await idle_reading(made)
    async with shop(machines) as made:
        await listener(made)
        idle_bare = await idle_reading(made)
    async with shop(machines) as made:
        await bare(made)
        bare_time = await reaction(made)
    async with shop(machines) as made:
        await in_turn(made)
        in_turn_time = await reaction(made)
    async with shop(machines) as made:
        await automations(made)
        automation_time = await reaction(made)
    async with shop(machines) as made:
        began = perf_counter()
        await gatewright(made)
        setup = perf_counter() - began
        own_time = await reaction(made)
        idle_own = await idle_reading(made)
        states = await written(made)
    async with shop(machines) as made:
        tracemalloc.start()
        before = tracemalloc.get_traced_memory()[0]
        await gatewright(made)
        gc.collect()
        memory = (tracemalloc.get_traced_memory()[0] - before) / 1024 / machines
        tracemalloc.stop()
    return Row(
        machines,
        bare_time * 1e6,
        in_turn_time * 1e6,
        automation_time * 1e6,
        own_time * 1e6,
        idle_without * 1e6,
        idle_bare * 1e6,
        idle_own * 1e6,
        states,
        setup,
        memory,
    )


def main() -> int:
    """Measure all sizes, print the table, and say what is missed."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--machines", type=int, nargs="+", default=SIZES)
    asked = parser.parse_args()
    logging.disable(logging.WARNING)
    print("| " + " | ".join(HEAD) + " |\n" + "| --- " * len(HEAD) + "|")
    missed: list[str] = []
    for machines in asked.machines:
        row = asyncio.run(measure(machines))
        print(
            f"| {row.machines} | {row.bare:.0f} | {row.in_turn:.0f} "
            f"| {row.automations:.0f} | {row.gatewright:.0f} "
            f"| {row.idle_without:.1f} | {row.idle_bare:.1f} | {row.idle_gatewright:.1f} "
            f"| {row.states_written} | {row.setup:.2f} | {row.memory:.0f} |",
            flush=True,
        )
        missed += row.missed
    for goal in missed:
        print("missed:", goal)
    return 1 if asked.check and missed else 0


if __name__ == "__main__":
    sys.exit(main())
