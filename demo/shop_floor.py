"""The virtual workshop with Gatewright in it, as a person there uses and sees it."""

import asyncio
from collections.abc import Callable, Iterator
from contextlib import AsyncExitStack
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from .custom_components.virtual_workshop.model.fan import AIR_SPEED
from .custom_components.virtual_workshop.model.layout import (
    COLLECTOR,
    GateKind,
    Layout,
    MachineSpec,
    MeterKind,
)
from .hub import Hub
from .hub_client import HubClient, Json
from .hub_states import PATIENCE, StateChange
from .newcomer import TRAVEL

LEVELS = {MeterKind.PLUG: (100.0, 50.0), MeterKind.CLAMP: (0.6, 0.3)}
"""The start and stop levels of a machine that nobody measured [W, A]."""
START_CONFIRM = 0.5
STOP_CONFIRM = 4.0
"""How long such a machine's reading has to stay there [s]."""

_NEEDED = (
    "_phase",
    "_problem",
    "_turning",
    "_cuts",
    "_starts",
    "_bin_time_left",
    "_bin_emptied_at",
)
"""The suffixes of the entities that checks use; most are disabled at first."""

_APPEARS = 60.0
"""How long the workshop may take to appear [s]."""


def gate_name(name: str) -> str:
    """Return a gate's name in Gatewright: that of its actuator or contact, without that word."""
    return name.rpartition(" ")[0]


@dataclass(frozen=True, slots=True)
class Command:
    """A command from Home Assistant to the workshop, at an instant in s since the epoch."""

    at: float
    part: str
    what: str


class Truth:
    """The workshop's record up to some instant."""

    def __init__(self, record: Json) -> None:
        self._record = record

    def __getitem__(self, key: str) -> Any:
        """Return an entry of the record."""
        return self._record[key]

    @property
    def now(self) -> float:
        """Return the instant of the record in s since the epoch."""
        return float(self._record["now"])

    def machine(self, key: str, what: str) -> float:
        """Return seconds of a machine: running, with_air, without_air, detached, longest_without_air."""
        return float(self._record["machines"][key][what])

    def grown(self, before: Truth, what: str) -> float:
        """Return an entry's growth, rounded to the record's precision."""
        return round(float(self[what]) - float(before[what]), 3)

    def orders(self, since: float) -> Iterator[Command]:
        """Yield Home Assistant's commands to the workshop since an instant."""
        for at, part, what in self._record["happenings"]:
            if at >= since and what.startswith("told to "):
                yield Command(at, part, what.removeprefix("told to "))

    def opened(self, since: float) -> dict[str, float]:
        """Return the gates commanded to open since an instant, and when first."""
        first: dict[str, float] = {}
        for order in self.orders(since):
            if order.part != COLLECTOR and order.what in {"open", "on"}:
                first.setdefault(order.part, order.at)
        return first

    def began(self, part: str, since: float) -> float | None:
        """Return when a machine was first turned on since an instant."""
        for at, machine_key, what in self._record["happenings"]:
            if at >= since and (machine_key, what) == (part, "runs"):
                return float(at)
        return None

    def motor_commands(self, what: str, since: float) -> list[float]:
        """Return when the collector was commanded on or off since an instant."""
        return [
            order.at
            for order in self.orders(since)
            if (order.part, order.what) == (COLLECTOR, what)
        ]


class ShopFloor:
    """Everything that can be done and seen in the workshop."""

    client: HubClient

    def __init__(self, hub: Hub, layout: Layout) -> None:
        """Stand before the workshop; `enter` connects."""
        self.hub = hub
        self.layout = layout
        self.listeners: list[Callable[[StateChange], None]] = []
        """Called with each change of any entity, whichever connection it came through."""
        self.entry_id = ""
        self.enabled: list[str] = []
        """Gatewright's entities that are enabled for a new owner."""
        self._door = AsyncExitStack()
        self._seen: dict[str, str] = {}
        self._own: dict[str, str] = {}
        self._parts: dict[str, str] = {}
        self.gate_keys = {
            gate_name(spec.name): key for key, spec in layout.gates.items()
        }
        self.machine_keys = {spec.name: key for key, spec in layout.machines.items()}

    async def enter(self) -> None:
        """Connect to Home Assistant, and wait until the workshop exists."""
        self.client = await self._door.enter_async_context(self.hub.client())
        states = self.client.states
        states.listeners.append(self._pass_on)
        movable = [key for key, spec in self.layout.machines.items() if spec.movable]
        async with asyncio.timeout(_APPEARS * PATIENCE):
            # Entities appear a moment after Home Assistant reports running.
            while f"{movable[-1]}_attached" not in self._seen:
                self._seen = await self.client.entity_ids("virtual_workshop")
                await asyncio.sleep(0.1)

    async def until_measured(self) -> None:
        """Wait until every machine has a reading."""
        states = self.client.states
        readings = [self.reading(machine) for machine in self.machine_keys]
        await states.until(
            lambda: all(states.number(reading) is not None for reading in readings),
            what="a reading of every machine",
        )

    async def leave(self) -> None:
        """Disconnect from Home Assistant."""
        await self._door.aclose()

    async def learn(self, entry_id: str) -> None:
        """Look up the entities of the system that was set up."""
        self.entry_id = entry_id
        self._parts = {
            part["title"]: part["subentry_id"]
            for part in await self.client.subentries(entry_id)
            if part["subentry_type"] != "duct"
        }
        self._own = await self.client.entity_ids("gatewright")
        self.enabled = await self.client.enabled("gatewright")
        needed = {id_ for key, id_ in self._own.items() if key.endswith(_NEEDED)}
        await self.client.enable(needed.difference(self.enabled))

    # What there is

    @property
    def part_names(self) -> list[str]:
        """Return the names of all gates, machines and pickups."""
        return list(self._parts)

    @property
    def machine_names(self) -> list[str]:
        """Return the names of all machines and pickups."""
        return [name for name in self._parts if name not in self.gate_keys]

    def part_id(self, part: str) -> str:
        """Return the id of a gate, machine or pickup."""
        return self._parts[part]

    def seen(self, unique_id: str) -> str:
        """Return the entity of the virtual workshop that has a unique id."""
        return self._seen[unique_id]

    def reading(self, machine: str) -> str:
        """Return the entity that measures a machine."""
        key = self.machine_keys[machine]
        clamp = self.spec(machine).meter_kind is MeterKind.CLAMP
        return self._seen[f"{key}_{'current' if clamp else 'power'}"]

    def own(self, key: str, part: str = "") -> str:
        """Return Gatewright's entity of a part, by default of the system itself."""
        return self._own[f"{self._parts[part] if part else self.entry_id}_{key}"]

    def spec(self, machine: str) -> MachineSpec:
        """Return the workshop's description of a machine."""
        return self.layout.machines[self.machine_keys[machine]]

    def gates_of(self, machine: str) -> tuple[str, ...]:
        """Return the keys of a machine's gates, including floor sweep and bench hood."""
        if machine in self.machine_keys:
            return self.spec(machine).gates
        return (self.gate_keys[f"{machine} gate"],)

    def slowest(
        self, machine: str, *, starting: bool, gate_seen: bool = False
    ) -> float:
        """Return the longest time to air of a machine [s], if Home Assistant reacts at once.

        `starting` says whether the collector has to start for it. It then waits for the
        gate, unless the system has `seen` that gate open before.
        """
        reading, moving = self.spec(machine).meter.interval, self.moving(machine)
        if not starting:
            return reading + moving
        if gate_seen:
            return reading + max(moving, START_CONFIRM + self.spinning)
        return reading + max(moving, START_CONFIRM) + self.spinning

    def floor_of(self, machine: str, *, starting: bool) -> float:
        """Return what a machine's gates and the collector need side by side, if nothing waits for anything [s]."""
        moving = self.moving(machine)
        return max(moving, self.spinning) if starting else moving

    def moving(self, machine: str) -> float:
        """Return what the slowest gate of a machine needs to open [s]."""
        # One without gates of its own waits for none.
        return max(
            (
                # Without position feedback, the system waits for the entered time.
                max(gate.travel, TRAVEL) + gate.latency
                if gate.kind is GateKind.SWITCH and not gate.limits
                else gate.travel + gate.latency
                for gate in (self.layout.gates[key] for key in self.spec(machine).gates)
            ),
            default=0.0,
        )

    @property
    def spinning(self) -> float:
        """Return how long the collector needs until it moves enough air [s]."""
        collector = self.layout.collector
        return collector.latency + AIR_SPEED * collector.spin_up

    # What can be done

    async def run(self, machine: str, **how: Any) -> None:
        """Turn a machine on."""
        await self._act("run_machine", machine=self.machine_keys[machine], **how)

    async def stop(self, machine: str) -> None:
        """Turn a machine off."""
        await self._act("stop_machine", machine=self.machine_keys[machine])

    async def cut(self, machine: str, count: int, cut: float, pause: float) -> None:
        """Make cuts with a machine, turning it off in between."""
        await self._act(
            "make_cuts",
            machine=self.machine_keys[machine],
            count=count,
            cut=cut,
            pause=pause,
        )

    async def break_part(self, part: str, fault: str) -> None:
        """Break a part of the workshop, by its key."""
        await self._act("break", part=part, fault=fault)

    async def mend(self, part: str) -> None:
        """Repair a part of the workshop, by its key."""
        await self._act("mend", part=part)

    async def fill_bin(self, level: float) -> None:
        """Fill or empty the bin to a level in percent."""
        await self._act("set_bin", level=level)

    async def truth(self) -> Truth:
        """Return the record up to now."""
        return Truth(await self.client.truth())

    async def _act(self, action: str, **data: Any) -> None:
        await self.client.call(f"virtual_workshop.{action}", **data)

    # What can be seen

    def state(self, key: str, part: str = "") -> str | None:
        """Return the state of one of Gatewright's entities."""
        return self.client.states.state(self.own(key, part))

    def since(self, key: str, part: str = "") -> float:
        """Return since when one of Gatewright's entities has its state, in s since the epoch."""
        return self.client.states.since(self.own(key, part))

    def number(self, key: str, part: str = "") -> float:
        """Return the state of one of Gatewright's entities as a number, seconds for times; 0 if it's none."""
        entity_id = self.own(key, part)
        value = self.client.states.number(entity_id) or 0.0
        unit = self.client.states.attribute(entity_id, "unit_of_measurement")
        return value * {"h": 3600.0, "min": 60.0}.get(unit, 1.0)

    async def record(self) -> dict[str, Any]:
        """Return Gatewright's record of these days, by names; times in s."""
        # Whatever Home Assistant's time zone, a session lies within these days.
        today = datetime.now(UTC).date()
        found = await self.client.ask(
            "gatewright.get_summary",
            config_entry_id=self.entry_id,
            period="custom",
            first_day=str(today - timedelta(days=2)),
            last_day=str(today + timedelta(days=2)),
        )
        found["machines"] = {row["name"]: row for row in found["machines"]}
        return found

    async def run_time(self, machine: str) -> float:
        """Return a machine's running time in Gatewright's record [s]."""
        row = (await self.record())["machines"].get(machine, {})
        return float(row.get("run_time", 0.0))

    async def until(
        self, key: str, wanted: str, part: str = "", timeout: float = 20.0
    ) -> None:
        """Wait until one of Gatewright's entities has a state; raises `TimeoutError`."""
        entity_id = self.own(key, part)
        states = self.client.states
        try:
            await states.until(lambda: states.state(entity_id) == wanted, timeout)
        except TimeoutError:
            raise TimeoutError(
                f"{states.attribute(entity_id, 'friendly_name') or entity_id} is "
                f"{states.state(entity_id)} and did not become {wanted} in {timeout:g} s"
            ) from None

    def started(self, machine: str, since: float) -> float | None:
        """Return when a machine's reading rose to its start level, after an instant."""
        start, _ = LEVELS[self.spec(machine).meter_kind]
        for change in self.client.states.history(self.reading(machine), since):
            if _number(change.new) >= start:
                return change.at
        return None

    def _pass_on(self, change: StateChange) -> None:
        for listen in self.listeners:
            listen(change)


def _number(state: str | None) -> float:
    try:
        return float(state or "")
    except ValueError:
        return 0.0
