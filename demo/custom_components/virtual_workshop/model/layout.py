"""What stands in the virtual workshop: a frozen description, checked as a whole.

Everything here is an invention that behaves like the real thing. The figures (draws, travel times, spin-up and coast)
are common practice from memory, with no published source: they only have to be of the right size.
"""

from collections.abc import Mapping
from dataclasses import MISSING, Field, dataclass, fields
from enum import StrEnum
from typing import Any, get_args


class LayoutError(ValueError):
    """The description of a workshop does not hold together; the message says where."""


class GateKind(StrEnum):
    """How a gate presents itself to the hub."""

    COVER = "cover"
    """A motor that reports its position in percent while it moves."""
    VALVE = "valve"
    """A motor that reports opening, open, closing and closed, but no position."""
    SWITCH = "switch"
    """A relay: on drives the slide open. Nothing reports where the slide is, unless it has limit switches."""
    HAND = "hand"
    """Moved by hand; a contact tells whether it stands open."""


class MeterKind(StrEnum):
    """How a machine's electricity is measured."""

    PLUG = "plug"
    """A smart plug: power in W, and a relay that can cut the machine off."""
    CLAMP = "clamp"
    """A current clamp around the cable: current in A, no relay."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Meter:
    """When a meter tells its reading.

    `interval` is the time between two looks while current flows [s], `heartbeat` the longest silence while nothing
    changes [s], `delta` the change that is worth a report between two heartbeats [in the meter's unit], `noise` the
    standard deviation of a reading as a share of it, and `late` how long after the hub's start the meter is not
    reachable [s].
    """

    interval: float = 1.0
    heartbeat: float = 30.0
    delta: float = 2.0
    noise: float = 0.015
    late: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class MachineSpec:
    """One machine with its meter.

    Draws are in W: `standby` while switched off, `idle` while turning without a load, `work` under full load,
    `inrush` for `inrush_time` [s] after switching on. `gates` are the gates that must be open for it to have air.
    A `movable` machine has a contact that tells whether its hose is attached. `no_volt_release` keeps a machine off
    after its supply was cut, as the switches of most machines do. `extras` adds the voltage and energy readings that
    many plugs bring along.
    """

    key: str
    name: str
    area: str
    meter_kind: MeterKind = MeterKind.PLUG
    meter_name: str = ""
    meter: Meter = Meter()
    gates: tuple[str, ...] = ()
    standby: float = 2.0
    idle: float = 500.0
    work: float = 1500.0
    inrush: float = 3500.0
    inrush_time: float = 0.4
    movable: bool = False
    attached: bool = False
    contact_name: str = ""
    no_volt_release: bool = True
    extras: bool = False
    dust: float = 0.01
    """Dust made under full load [l/s]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class GateSpec:
    """One gate. `travel` is the time from one end to the other [s], `latency` from a command to the first movement."""

    key: str
    name: str
    area: str
    kind: GateKind
    travel: float = 3.0
    latency: float = 0.2
    limits: bool = False
    """Limit switches at both ends, as two binary sensors."""
    pneumatic: bool = False
    """Needs compressed air to move."""
    late: float = 0.0
    """How long after the hub's start the actuator is not reachable [s]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CollectorSpec:
    """The dust collector: a relay with a power meter, a fan, a bin and a filter.

    `idle` and `work` are the draws in W with all gates shut and with enough of them open; `spin_up` and `coast` the
    times in s to full speed and from full speed to a stand; `speed` the full speed in 1/min; `bin_liters` the bin's
    volume in l and `bin_full` the share of it, in percent, at which the bin sensor speaks; `filter_clean` the
    pressure over the clean filter at full speed in Pa; `late` how long after the hub's
    start the relay is not reachable in s.
    """

    name: str = "Collector"
    area: str = "Plant closet"
    latency: float = 0.3
    spin_up: float = 3.0
    coast: float = 9.0
    speed: float = 2850.0
    standby: float = 1.5
    idle: float = 1300.0
    work: float = 2500.0
    inrush: float = 9000.0
    meter: Meter = Meter(delta=5.0)
    bin_liters: float = 160.0
    bin_full: float = 90.0
    filter_clean: float = 350.0
    late: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Layout:
    """A whole workshop."""

    name: str
    collector: CollectorSpec
    gates: Mapping[str, GateSpec]
    machines: Mapping[str, MachineSpec]
    mains_voltage: float = 230.0
    seed: int = 1

    def __post_init__(self) -> None:
        """Check what no single part can check by itself."""
        taken = set(self.gates) & set(self.machines)
        if taken or RESERVED & (set(self.gates) | set(self.machines)):
            raise LayoutError(
                f"Keys must be unique and none of {sorted(RESERVED)}; look at {sorted(taken)}"
            )
        for machine in self.machines.values():
            if missing := [gate for gate in machine.gates if gate not in self.gates]:
                raise LayoutError(
                    f"Machine {machine.key} names unknown gates: {', '.join(missing)}"
                )
        for gate in self.gates.values():
            if gate.travel <= 0:
                raise LayoutError(f"Gate {gate.key} needs a travel time above 0 s")

    @property
    def areas(self) -> tuple[str, ...]:
        """The areas in the order of their first mention."""
        areas = [
            self.collector.area,
            *(gate.area for gate in self.gates.values()),
            *(machine.area for machine in self.machines.values()),
        ]
        return tuple(dict.fromkeys(areas))


COLLECTOR = "collector"
SITE = "site"
RESERVED = frozenset({COLLECTOR, SITE})


def layout_from_dict(data: Mapping[str, Any]) -> Layout:
    """Read a layout from plain data, as a configuration file holds it.

    `gates` and `machines` are maps from key to settings; every setting that is left out keeps its default. Raises
    `LayoutError` for a setting that does not exist, has the wrong type or points nowhere.
    """
    unknown = set(data) - {
        "name",
        "collector",
        "gates",
        "machines",
        "mains_voltage",
        "seed",
    }
    if unknown:
        raise LayoutError(f"Unknown settings: {', '.join(sorted(unknown))}")
    try:
        return Layout(
            name=str(data.get("name", "Workshop")),
            collector=_build(CollectorSpec, "collector", data.get("collector") or {}),
            gates={
                key: _build(GateSpec, key, {**(gate or {}), "key": key})
                for key, gate in data["gates"].items()
            },
            machines={
                key: _build(MachineSpec, key, {**(machine or {}), "key": key})
                for key, machine in data["machines"].items()
            },
            mains_voltage=float(data.get("mains_voltage", 230.0)),
            seed=int(data.get("seed", 1)),
        )
    except (KeyError, AttributeError, TypeError) as err:
        raise LayoutError(
            f"The workshop needs maps named gates and machines: {err!r}"
        ) from err


def _build[T](kind: type[T], where: str, data: Mapping[str, Any]) -> T:
    """Build one part from plain data, converting each setting to its declared type."""
    known: dict[str, Field[Any]] = {field.name: field for field in fields(kind)}  # type: ignore[arg-type]
    if unknown := set(data) - set(known):
        raise LayoutError(f"{where}: unknown settings: {', '.join(sorted(unknown))}")
    if absent := [
        name
        for name, field in known.items()
        if field.default is MISSING and name not in data
    ]:
        raise LayoutError(f"{where}: missing settings: {', '.join(absent)}")
    try:
        return kind(
            **{
                name: _convert(where, known[name].type, value)
                for name, value in data.items()
            }
        )
    except (TypeError, ValueError) as err:
        raise LayoutError(f"{where}: {err}") from err


def _convert(where: str, declared: Any, value: Any) -> Any:
    """Convert one setting; booleans must be booleans, so that the text "no" is not taken as true."""
    if declared is Meter:
        return _build(Meter, f"{where}.meter", value)
    if declared is bool:
        if not isinstance(value, bool):
            raise LayoutError(f"{where}: expected true or false, got {value!r}")
        return value
    if get_args(declared):
        if isinstance(value, str):
            raise LayoutError(f"{where}: expected a list, got {value!r}")
        return tuple(str(item) for item in value)
    return declared(value)
