"""Kinds of machine and of actuator, and what each brings along until the owner decides.

Every figure here is common practice with no published source; the owner can
change each of them.
"""

from dataclasses import dataclass
from enum import StrEnum


class MachineKind(StrEnum):
    """What a machine is, in the trade's own words."""

    TABLE_SAW = "table_saw"
    BAND_SAW = "band_saw"
    PLANER = "planer"
    JOINTER = "jointer"
    MITER_SAW = "miter_saw"
    DRUM_SANDER = "drum_sander"
    ROUTER_TABLE = "router_table"
    LATHE = "lathe"
    DRILL_PRESS = "drill_press"
    SANDER = "sander"
    FLOOR_SWEEP = "floor_sweep"
    BENCH_HOOD = "bench_hood"
    TOOL_HOSE = "tool_hose"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class KindDefaults:
    """Starting values for a kind.

    `hold` and `purge` are seconds; `purge` is used once the owner names
    the gates of a purge step. `by_hand` marks a pickup that has no motor of its
    own and is asked for instead of sensed; `request_limit` (s) then ends a request
    that nobody withdraws.
    """

    hold: float = 0.0
    purge: float = 5.0
    by_hand: bool = False
    request_limit: float | None = None


_STOP_START = KindDefaults(hold=15.0)
_SHORT_PAUSES = KindDefaults(hold=5.0)
_CONTINUOUS = KindDefaults()

KIND_DEFAULTS: dict[MachineKind, KindDefaults] = {
    MachineKind.TABLE_SAW: _SHORT_PAUSES,
    MachineKind.BAND_SAW: _SHORT_PAUSES,
    MachineKind.PLANER: _CONTINUOUS,
    MachineKind.JOINTER: _CONTINUOUS,
    MachineKind.MITER_SAW: _STOP_START,
    MachineKind.DRUM_SANDER: _CONTINUOUS,
    MachineKind.ROUTER_TABLE: _SHORT_PAUSES,
    MachineKind.LATHE: _SHORT_PAUSES,
    MachineKind.DRILL_PRESS: _SHORT_PAUSES,
    MachineKind.SANDER: _SHORT_PAUSES,
    MachineKind.FLOOR_SWEEP: KindDefaults(by_hand=True, request_limit=600.0),
    MachineKind.BENCH_HOOD: KindDefaults(by_hand=True, request_limit=3600.0),
    MachineKind.TOOL_HOSE: KindDefaults(by_hand=True, request_limit=3600.0),
    MachineKind.OTHER: _CONTINUOUS,
}


class ActuatorSort(StrEnum):
    """What moves a powered gate."""

    COMPRESSED_AIR = "compressed_air"
    SERVO = "servo"
    MOTOR = "motor"
    OTHER = "other"


TRAVEL_DEFAULTS: dict[ActuatorSort, float] = {
    ActuatorSort.COMPRESSED_AIR: 1.0,
    ActuatorSort.SERVO: 2.0,
    ActuatorSort.MOTOR: 6.0,
    ActuatorSort.OTHER: 5.0,
}
"""The longest time in s that a full stroke usually takes, by what moves the gate."""

LEVEL_DEFAULTS: dict[str, tuple[float, float]] = {"W": (100.0, 50.0), "A": (0.6, 0.3)}
"""Start and stop level by the unit of the reading, for a machine not measured yet."""
