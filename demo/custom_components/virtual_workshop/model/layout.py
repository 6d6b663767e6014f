"""The virtual workshop's layout: a frozen description, checked as a whole.

Everything here is invented but behaves like the real thing. The figures (power, travel,
spin-up and spin-down times) are common practice from memory, with no published source:
only their magnitude matters.
"""

from collections.abc import Mapping
from dataclasses import MISSING, Field, dataclass, fields
from enum import StrEnum
from typing import Any, get_args


class LayoutError(ValueError):
    """The layout contradicts itself; the message says where."""


class GateKind(StrEnum):
    """How a gate appears in Home Assistant."""

    COVER = "cover"
    """A motor that reports its position in percent while it moves."""
    VALVE = "valve"
    """A motor that reports opening, open, closing and closed, but no position."""
    SWITCH = "switch"
    """A relay: on drives the slide open. Its position is only known from limit switches."""
    HAND = "hand"
    """Moved by hand; a contact detects the open position."""


class MeterKind(StrEnum):
    """How a machine's power is measured."""

    PLUG = "plug"
    """A smart plug: power in W, and a relay that can turn the machine off."""
    CLAMP = "clamp"
    """A current clamp around the cable: current in A, no relay."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Meter:
    """A meter's reporting.

    `interval` is the time between two measurements while current flows [s], `heartbeat`
    the longest silence without changes [s], `delta` the reportable change between two
    heartbeats [in the meter's unit], `noise` a reading's relative standard deviation,
    and `late` how long the meter is offline after Home Assistant's start [s].
    """

    interval: float = 1.0
    heartbeat: float = 30.0
    delta: float = 2.0
    noise: float = 0.015
    late: float = 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class MachineSpec:
    """One machine with its meter.

    Power is in W: `standby` while off, `idle` while turning without a load, `work`
    under full load, `inrush` for `inrush_time` [s] after turning on. `gates` must be
    open for its dust collection. A `movable` machine has a contact at its hose.
    `no_volt_release` keeps a machine off after a power cut, like the switches of most
    machines. `extras` adds the voltage and energy readings of many plugs.
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
    """Dust under full load [l/s]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class GateSpec:
    """One gate. `travel` is the time between its ends [s], `latency` from a command to the first movement."""

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
    """How long the actuator is offline after Home Assistant's start [s]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CollectorSpec:
    """The dust collector: a relay with a power meter, a fan, a bin and a filter.

    `idle` and `work` are the power in W with all gates closed and with enough of them
    open; `spin_up` and `coast` the times in s to full speed and to a standstill;
    `speed` the full speed in 1/min; `bin_liters` the bin's volume in l and `bin_full`
    the level in percent at which its sensor trips; `filter_clean` the pressure over the
    clean filter at full speed in Pa; `late` how long the relay is offline after Home
    Assistant's start in s.
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
        """Check what no part can check alone."""
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
        """The areas in order of first mention."""
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
    """Read a layout from plain data in the format of a configuration file.

    `gates` and `machines` are maps from key to settings; missing settings keep their
    defaults. Raises `LayoutError` for a setting that doesn't exist, has the wrong type
    or refers to nothing.
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
    """Build one part from plain data, with each setting in its declared type."""
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
    """Convert one setting; booleans must be booleans, so that the text "no" doesn't count as true."""
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
