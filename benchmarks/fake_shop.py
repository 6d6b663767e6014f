"""A Home Assistant with nothing but plugs and relays, and the ways to serve them.

- *bare*: a listener that calls the gate's and the collector's service itself. Nothing
  in Home Assistant can react faster: it is the floor.
- *in turn*: the same, but the collector is called when the gate has reported open: the
  floor for whoever does not let the collector pull against a closed gate.
- *automations*: one that starts and one that stops for each machine, as an owner would
  write them: a numeric trigger, and for the stop a template over all machines.
- *Gatewright at once*: with no confirmation time, so that all do the same; the collector
  starts while its gate moves, as it does unless its owner chooses otherwise.
- *Gatewright in turn*: the same, but the collector waits for its gate, as the owner may
  choose, and as any gate is waited for that was never seen to open.
- *listener*: hears every plug, looks at the number, and does nothing.
"""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
import math
from tempfile import TemporaryDirectory
from time import thread_time
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

WATTS = {"unit_of_measurement": "W", "device_class": "power"}
COLLECTOR = "input_boolean.collector"


def plug(number: int) -> str:
    """Return the power sensor of a machine."""
    return f"sensor.plug_{number}"


def relay(number: int) -> str:
    """Return the relay of a machine's gate."""
    return f"input_boolean.gate_{number}"


@dataclass(slots=True)
class Shop:
    """A Home Assistant with fake plugs and relays; a relay obeys at once."""

    hass: HomeAssistant
    machines: int
    dispatched: dict[str, float]
    called: asyncio.Event
    """Set once a relay has been called."""

    def read(self, number: int, watts: float) -> None:
        """Report a machine's plug."""
        self.hass.states.async_set(plug(number), str(watts), WATTS)

    def report(self, entity_id: str, state: str) -> None:
        """Report a relay."""
        self.hass.states.async_set(entity_id, state)

    def call(self, service: str, entity_id: str) -> None:
        """Call a relay's service, as the shortest automation would."""
        self.hass.async_create_task(
            self.hass.services.async_call(
                "input_boolean", service, {"entity_id": entity_id}
            )
        )

    async def settle(self) -> None:
        """Let everything happen that doesn't wait for time."""
        await self.hass.async_block_till_done()


@asynccontextmanager
async def shop(machines: int) -> AsyncIterator[Shop]:
    """Run a Home Assistant with nothing but plugs and relays.

    In a folder of its own: the next one would load what this one writes.
    """
    with TemporaryDirectory() as folder:
        async with _home_assistant(folder, machines) as made:
            yield made


@asynccontextmanager
async def _home_assistant(folder: str, machines: int) -> AsyncIterator[Shop]:
    async with async_test_home_assistant(config_dir=folder) as hass:
        hass.data.pop(loader.DATA_CUSTOM_COMPONENTS, None)
        # A benchmark measures long steps; it doesn't need each of them in the log.
        hass.loop.slow_callback_duration = math.inf
        made = Shop(hass, machines, {}, asyncio.Event())

        @callback
        def obey(call: ServiceCall) -> None:
            at = thread_time()
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
    call_at_readings(made, COLLECTOR)


async def in_turn(made: Shop) -> None:
    """Call the gate's service from a listener, and the collector's from another."""

    @callback
    def opened(event: Event[EventStateChangedData]) -> None:
        state = event.data["new_state"]
        assert state is not None
        if state.state == "on":
            made.call("turn_on", COLLECTOR)

    gates = call_at_readings(made)
    async_track_state_change_event(made.hass, gates, opened)


def call_at_readings(made: Shop, *others: str) -> list[str]:
    """Call the gate's service at each reading, then those of others; return the gates."""
    gates = {plug(n): relay(n) for n in range(made.machines)}

    @callback
    def heard(event: Event[EventStateChangedData]) -> None:
        state = event.data["new_state"]
        assert state is not None
        service = "turn_on" if float(state.state) >= 150.0 else "turn_off"
        made.call(service, gates[event.data["entity_id"]])
        for other in others:
            made.call(service, other)

    async_track_state_change_event(made.hass, list(gates), heard)
    return list(gates.values())


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


async def gatewright(made: Shop, **data: Any) -> MockConfigEntry:
    """Set up a system whose machines start and stop without confirmation.

    The collector waits for its gate unless `data` says otherwise.
    """
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
            **data,
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


async def listener(made: Shop) -> None:
    """Subscribe to every plug, and look at the number."""

    @callback
    def heard(event: Event[EventStateChangedData]) -> None:
        state = event.data["new_state"]
        assert state is not None
        float(state.state)

    async_track_state_change_event(
        made.hass, [plug(n) for n in range(made.machines)], heard
    )
