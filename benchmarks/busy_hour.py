"""What a busy hour costs in bytes: in the recorder's database and in Home Assistant's files.

    .venv/bin/python -m benchmarks.busy_hour                # ten machines, twelve cuts each
    .venv/bin/python -m benchmarks.busy_hour --machines 20 --most 15

The hour is simulated: Home Assistant's clock is moved on second by second, and every timer, the
recorder's own commit every 5 s and its statistics every 5 minutes included, runs at its
instant; the recorder is the real one, on SQLite. While a machine runs, its plug reports
once a second, and so does the collector's; at rest once a minute.

Afterwards the database is taken apart in a copy: what one kind of entity cost is the size
of the compacted file with its rows less the size without them, indexes included. Rows from
before the hour are left out. A file counts in full whenever it is written.

What Home Assistant hands to the system to write is more than what is there in the end: the
database's journal takes whole pages, every 5 s. It is counted in an hour with Gatewright
and in one in which the relays switch at the same seconds without it.
"""

# First of all: lets a manually moved clock reach Home Assistant's own time functions.
import pytest_homeassistant_custom_component.patch_time  # noqa: F401

# isort: split
import argparse
import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Iterable
from contextlib import asynccontextmanager, closing
from dataclasses import dataclass
from datetime import timedelta
import logging
import math
from pathlib import Path
from random import Random
import shutil
import sqlite3
import sys
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

from freezegun import freeze_time
from freezegun.api import FrozenDateTimeFactory
from homeassistant import loader
from homeassistant.core import HomeAssistant, ServiceCall, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.recorder import async_initialize_recorder, get_instance
from homeassistant.helpers.storage import Store
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_fire_time_changed,
    async_test_home_assistant,
)
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_recorder_block_till_done,
    async_wait_recording_done,
)

# The test plugin ships a package of this name; the one imported first is the one that
# Home Assistant finds.
import custom_components
from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.runtime.journal import Journal
from tests.integration.workshop import gate, machine

from .weighing import Database, Share, most_states

assert custom_components.__file__ is not None

MORNING = "2026-11-24T17:00:00+00:00"
"""A morning at Home Assistant's location, far from midnight."""
HOUR = 3600
CUTS = 12
SHORTEST, LONGEST = 10, 60
"""How long a cut lasts [s]."""
HEARTBEAT = 60
"""How often a plug reports at rest [s]."""
REST = 240
"""How long the shop comes to rest before the hour [s]."""

COLLECTOR = "input_boolean.collector"
COLLECTOR_POWER = "sensor.collector_plug_power"

DATABASE = "hour.db"
_SLOT = 300
"""A machine makes one cut in each of these [s], so that its cuts do not overlap."""


def plug(number: int) -> str:
    """Return the power sensor of a machine."""
    return f"sensor.machine_{number}_plug_power"


def relay(number: int) -> str:
    """Return the relay of a machine's gate."""
    return f"input_boolean.gate_{number}"


class Shop:
    """A Home Assistant with simulated time, and plugs and relays that obey at once."""

    def __init__(
        self, hass: HomeAssistant, clock: FrozenDateTimeFactory, machines: int
    ) -> None:
        self.hass = hass
        self.machines = machines
        self._clock = clock
        self._random = Random(5)  # noqa: S311 - simulated noise
        self._cuts: dict[int, list[tuple[int, int]]] = {}
        self._free = [self._random.uniform(250.0, 900.0) for _ in range(machines)]
        self.second = 0
        self.switched: list[tuple[int, str, str]] = []
        """In which second each relay was switched to what."""
        for service, state in (("turn_on", "on"), ("turn_off", "off")):
            self._obey(service, state)
        for entity_id in (COLLECTOR, *(relay(n) for n in range(machines))):
            self._put(entity_id, "off")
        self.read(0)

    def _obey(self, service: str, state: str) -> None:
        @callback
        def obey(call: ServiceCall) -> None:
            targets = call.data["entity_id"]
            for entity_id in [targets] if isinstance(targets, str) else targets:
                self.switched.append((self.second, entity_id, state))
                self._put(entity_id, state, context=call.context)

        self.hass.services.async_register("input_boolean", service, obey)

    def _put(self, entity_id: str, state: str, **how: Any) -> None:
        name = entity_id.partition(".")[2].replace("_", " ").capitalize()
        attributes = {"friendly_name": name}
        if entity_id.startswith("sensor."):
            attributes |= {
                "state_class": "measurement",
                "unit_of_measurement": "W",
                "device_class": "power",
            }
        self.hass.states.async_set(entity_id, state, attributes, **how)

    def begin(self, cuts: int) -> None:
        """Begin an hour, with the cuts of every machine spread over it."""
        self.second = 0
        self.switched.clear()
        random, slot = self._random, HOUR // cuts
        for number in range(self.machines):
            self._cuts[number] = []
            for turn in range(cuts):
                lasts = random.randint(SHORTEST, min(LONGEST, slot - 5))
                begins = turn * slot + random.randint(0, slot - lasts - 1)
                self._cuts[number].append((begins, begins + lasts))

    @property
    def cutting(self) -> int:
        """Return for how many seconds all machines are planned to run together."""
        return sum(end - begin for cuts in self._cuts.values() for begin, end in cuts)

    def read(self, second: int) -> None:
        """Report every plug that is due in this second of the hour."""
        random = self._random
        for number in range(self.machines):
            cuts = self._cuts.get(number, ())
            if any(begin <= second < end for begin, end in cuts):
                watts = self._free[number] * random.uniform(1.0, 2.0)
            elif any(end == second for _, end in cuts) or second % HEARTBEAT == number:
                watts = random.uniform(1.5, 2.5)
            else:
                continue
            self._put(plug(number), f"{watts:.1f}")
        collector = self.hass.states.get(COLLECTOR)
        on = collector is not None and collector.state == "on"
        watts = random.uniform(2150.0, 2250.0) if on else 0.0
        self._put(COLLECTOR_POWER, f"{watts:.1f}")

    async def replay(
        self, switched: Iterable[tuple[int, str, str]], *, called: bool
    ) -> None:
        """Switch the relays as in this second of another hour.

        By calling their services, as whatever controls them does, or as by hand.
        """
        for second, entity_id, state in switched:
            if second != self.second:
                continue
            if called:
                await self.hass.services.async_call(
                    "input_boolean", f"turn_{state}", {"entity_id": entity_id}
                )
            else:
                self._put(entity_id, state)

    async def pass_second(self) -> None:
        """Let a second pass, with everything that happens in it.

        The recorder keeps up, as it does with a real second: one that lags behind leaves
        commits out, and an hour with less to do would look cheaper than it is.
        """
        self.read(self.second)
        await async_recorder_block_till_done(self.hass)
        self.second += 1
        self._clock.tick(timedelta(seconds=1))
        async_fire_time_changed(self.hass)
        await self.hass.async_block_till_done()
        await async_recorder_block_till_done(self.hass)


def system(machines: int) -> MockConfigEntry:
    """Return a system in which every machine has a gate and a plug, with default times."""
    return MockConfigEntry(
        domain=DOMAIN,
        minor_version=2,
        entry_id="system",
        title="Dust collector",
        data={
            "switch": COLLECTOR,
            "power": COLLECTOR_POWER,
            "run_on": 8.0,
            "coast": 12.0,
            "start_delay": 0.0,
            "confirm": 10.0,
            "rest_time": 30.0,
            "hand_gates": [],
            "hide_wrapped": False,
        },
        subentries_data=[
            *(
                gate(f"gate_{n}", f"Gate {n}", actuator=relay(n), travel=3.0)
                for n in range(machines)
            ),
            *(
                machine(
                    f"machine_{n}",
                    f"Machine {n}",
                    gates=[f"gate_{n}"],
                    sensor=plug(n),
                    hold=10.0 if n % 3 == 0 else 0.0,
                )
                for n in range(machines)
            ),
        ],
    )


type SetUp = Callable[[Shop], Awaitable[None]]


@dataclass(frozen=True, slots=True)
class Hour:
    """The simulated hour, and what was written to files meanwhile."""

    began: float
    """The beginning in s since 1970."""
    cutting: float
    """For how long all machines ran together [s]."""
    own: frozenset[str]
    """The system's own entities."""
    files: list[tuple[str, int]]
    """Each file written, with its bytes."""
    handed: int
    """Bytes that the process passed to the system for writing."""
    appended: int
    """Bytes of these that were appended to journals."""
    recorded: int
    """Rows of states in the recorder's database besides the plugs' and relays'."""
    switched: list[tuple[int, str, str]]


@asynccontextmanager
async def _home_assistant(folder: str) -> AsyncIterator[HomeAssistant]:
    async with async_test_home_assistant(config_dir=folder) as hass:
        hass.data.pop(loader.DATA_CUSTOM_COMPONENTS, None)
        # Time is moved in the middle of steps: none of them is slow.
        hass.loop.slow_callback_duration = math.inf
        async_initialize_recorder(hass)
        recorder = {"db_url": f"sqlite:///{folder}/{DATABASE}"}
        assert await async_setup_component(hass, "recorder", {"recorder": recorder})
        await get_instance(hass).async_recorder_ready.wait()
        try:
            yield hass
        finally:
            await hass.async_stop(force=True)


def _handed() -> int:
    """Return how many bytes this process has passed to the system."""
    reported = Path("/proc/self/io").read_text("ascii").splitlines()
    return next(int(line.split()[1]) for line in reported if line.startswith("wchar"))


def _recorded(file: Path, began: float, made: Shop) -> int:
    others = {
        state.entity_id
        for state in made.hass.states.async_all()
        if not state.entity_id.startswith(("input_boolean.", "sensor.collector_plug"))
        and not state.entity_id.endswith("_plug_power")
    }
    return sum(rows for _, rows in most_states(file, began, others))


def simulate(
    folder: str,
    machines: int,
    cuts: int,
    before: int = 0,
    replayed: Iterable[tuple[int, str, str]] | None = None,
    instead: SetUp | None = None,
    *,
    called: bool = False,
) -> Hour:
    """Simulate the hour in a Home Assistant with files in a folder, after some hours `before`.

    Without Gatewright if the relays' switching is given, or if something is set up
    `instead`. `called` switches them by their services.
    """
    with freeze_time(MORNING) as clock:
        assert isinstance(clock, FrozenDateTimeFactory)
        return asyncio.run(
            work(
                folder, clock, machines, cuts, before, replayed, instead, called=called
            )
        )


async def work(
    folder: str,
    clock: FrozenDateTimeFactory,
    machines: int,
    cuts: int,
    before: int,
    replayed: Iterable[tuple[int, str, str]] | None,
    instead: SetUp | None = None,
    *,
    called: bool = False,
) -> Hour:
    """Let the hour pass by a clock; see `simulate`."""
    files: list[tuple[str, int]] = []
    write = Store._write_prepared_data  # noqa: SLF001 - every file goes through here
    put, appended = Journal.put, 0

    def noted(journal: Journal, lines: bytes, *, anew: bool) -> None:
        nonlocal appended
        appended += len(lines)
        put(journal, lines, anew=anew)

    def written(store: Store[Any], mode: str, data: str | bytes) -> None:
        size = len(data.encode() if isinstance(data, str) else data)
        files.append((store.key, size))
        write(store, mode, data)

    async with _home_assistant(folder) as hass:
        made = Shop(hass, clock, machines)
        entry = system(machines)
        if instead is not None:
            await instead(made)
        elif replayed is None:
            entry.add_to_hass(hass)
            assert await hass.config_entries.async_setup(entry.entry_id)
        for _ in range(REST):
            await made.pass_second()
        for _ in range(before):
            made.begin(cuts)
            for _ in range(HOUR):
                await made.pass_second()
        await async_wait_recording_done(hass)
        made.begin(cuts)
        began, handed = dt_util.utcnow().timestamp(), _handed()
        with (
            patch.object(Store, "_write_prepared_data", written),
            patch.object(Journal, "put", noted),
        ):
            for _ in range(HOUR):
                await made.replay(replayed or (), called=called)
                await made.pass_second()
            await async_wait_recording_done(hass)
        own = er.async_entries_for_config_entry(er.async_get(hass), entry.entry_id)
        return Hour(
            began,
            made.cutting,
            frozenset(entity.entity_id for entity in own),
            files,
            _handed() - handed,
            appended,
            _recorded(Path(folder) / DATABASE, began, made),
            made.switched,
        )


def weigh(file: Path, hour: Hour, machines: int) -> list[Share]:
    """Return what each kind of entity wrote into the database."""
    with closing(sqlite3.connect(file)) as connection:
        database = Database(connection, hour.began)
        return [
            database.take("Gatewright's entities and events", hour.own, f"{DOMAIN}_%"),
            database.take(
                "relays of gates and collector, and their calls",
                [COLLECTOR, *(relay(n) for n in range(machines))],
                "call_service",
            ),
            database.take(
                "the plugs' own readings",
                [COLLECTOR_POWER, *(plug(n) for n in range(machines))],
            ),
        ]


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--machines", type=int, default=10)
    parser.add_argument("--cuts", type=int, default=CUTS, help="of each machine")
    parser.add_argument("--before", type=int, default=0, help="hours of work before")
    parser.add_argument("--most", type=int, default=0, help="entities to list")
    asked = parser.parse_args()
    logging.disable(logging.WARNING)
    with TemporaryDirectory() as folder, TemporaryDirectory() as other:
        hour = simulate(folder, asked.machines, asked.cuts, asked.before)
        without = simulate(other, asked.machines, asked.cuts, replayed=hour.switched)
        copy = Path(folder) / "copy.db"
        shutil.copy(Path(folder) / DATABASE, copy)
        listed = most_states(copy, hour.began, hour.own)[: asked.most]
        shares = weigh(copy, hour, asked.machines)
    starts = [on for _, part, on in hour.switched if part == COLLECTOR and on == "on"]
    print(
        f"{asked.machines} machines, {asked.machines * asked.cuts} cuts of "
        f"{hour.cutting / 60:.0f} min in all, {len(starts)} starts of the collector, "
        f"{len(hour.own)} entities\n\n"
        "| in the database | states | sets of attributes | events | statistics | KiB |\n"
        "| --- | --- | --- | --- | --- | --- |"
    )
    for share in shares:
        print(
            f"| {share.what} | {share.states} | {share.attributes} | {share.events} "
            f"| {share.statistics} | {share.size / 1024:.0f} |"
        )
    print("\n| file | written | KiB each | MiB in all |\n| --- | --- | --- | --- |")
    sizes: dict[str, list[int]] = {}
    for key, size in hour.files:
        if key.startswith(DOMAIN):
            sizes.setdefault(key, []).append(size)
    for key, written in sizes.items():
        print(
            f"| {key} | {len(written)} times | {sum(written) / len(written) / 1024:.1f} "
            f"| {sum(written) / 2**20:.1f} |"
        )
    print(
        f"\nhanded to the system to write: {hour.handed / 2**20:.1f} MiB, "
        f"{without.handed / 2**20:.1f} MiB without Gatewright; "
        f"{hour.appended / 2**20:.1f} MiB of it appended to journals"
    )
    for name, rows in listed:
        print(f"{rows:5} {name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
