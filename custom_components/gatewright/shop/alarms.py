"""Conditions that need a person: raised once, cleared once."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, NamedTuple

_FLAPS = 3
_FLAP_SPAN = 600.0
_QUIET = 60.0


class AlarmKind(StrEnum):
    """What can be wrong."""

    GATE_NOT_MOVING = "gate_not_moving"
    GATE_MOVED = "gate_moved"
    HAND_GATE_SHUT = "hand_gate_shut"
    COLLECTOR_NOT_STARTING = "collector_not_starting"
    COLLECTOR_NOT_STOPPING = "collector_not_stopping"
    COLLECTOR_BY_ITSELF = "collector_by_itself"
    NO_GATE_OPEN = "no_gate_open"
    STOPPED_BY_HAND = "stopped_by_hand"
    READING_LOST = "reading_lost"
    READING_STUCK = "reading_stuck"
    LEFT_ON = "left_on"
    ATTACHED_LOST = "attached_lost"
    BIN_FULL = "bin_full"
    AIR_SUPPLY_LOW = "air_supply_low"
    FILTER_PRESSURE_HIGH = "filter_pressure_high"
    EMERGENCY = "emergency"
    COMMAND_FAILED = "command_failed"
    COMPANION_NOT_SWITCHING = "companion_not_switching"
    SHOP_AWAY = "shop_away"
    NOT_ENOUGH_AIR = "not_enough_air"
    BIN_NEARLY_FULL = "bin_nearly_full"
    FILTER_CLEAN_DUE = "filter_clean_due"
    FILTER_REPLACE_DUE = "filter_replace_due"
    SERVICE_DUE = "service_due"
    UPKEEP_NOT_SWITCHING = "upkeep_not_switching"


class Condition(NamedTuple):
    """One thing that is wrong: what, and which part of the shop it concerns."""

    kind: AlarmKind
    part: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """A condition that stands, with the instant it was raised."""

    condition: Condition
    raised_at: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmChange:
    """An alarm that was just raised or cleared."""

    condition: Condition
    raised: bool
    at: float


class AlarmBoard:
    """Turns conditions that come and go into alarms.

    A condition that comes back again and again is left standing until it has been
    quiet for a minute, so that it is told once and not every few seconds.
    """

    def __init__(self) -> None:
        """Start without alarms."""
        self._standing: dict[Condition, Alarm] = {}
        self._raised: dict[Condition, list[float]] = {}
        self._recalled: set[Condition] = set()
        self._clear_at: dict[Condition, float] = {}
        self._changes: list[AlarmChange] = []

    @property
    def standing(self) -> Mapping[Condition, Alarm]:
        """The alarms that stand now."""
        return self._standing

    def drain(self) -> list[AlarmChange]:
        """Return the changes since the last call."""
        changes, self._changes = self._changes, []
        return changes

    def update(self, conditions: Iterable[Condition], now: float) -> None:
        """Take the conditions that hold now."""
        present = dict.fromkeys(conditions)
        for condition in present:
            self._clear_at.pop(condition, None)
            self._recalled.discard(condition)
            if condition not in self._standing:
                self._raise(condition, now)
        for condition in [c for c in self._standing if c not in present]:
            if condition not in self._clear_at:
                waits = condition in self._recalled or self._flaps(condition, now)
                self._clear_at[condition] = now + _QUIET if waits else now
            if now >= self._clear_at[condition]:
                self._clear(condition, now)

    def recall(self, raised_at: Mapping[Condition, float]) -> None:
        """Take over alarms that stood before a restart, without telling them again.

        It takes a while until a new process knows whether the cause is gone.
        """
        for condition, at in raised_at.items():
            self._standing[condition] = Alarm(condition=condition, raised_at=at)
            self._recalled.add(condition)

    @property
    def due(self) -> float | None:
        """When an alarm whose cause seems to be gone may be cleared."""
        return min(self._clear_at.values(), default=None)

    def _raise(self, condition: Condition, now: float) -> None:
        raised = self._raised.setdefault(condition, [])
        raised[:] = [at for at in raised if now - at < _FLAP_SPAN]
        raised.append(now)
        self._standing[condition] = Alarm(condition=condition, raised_at=now)
        self._changes.append(AlarmChange(condition=condition, raised=True, at=now))

    def _clear(self, condition: Condition, now: float) -> None:
        del self._standing[condition]
        self._clear_at.pop(condition, None)
        self._recalled.discard(condition)
        self._changes.append(AlarmChange(condition=condition, raised=False, at=now))

    def _flaps(self, condition: Condition, now: float) -> bool:
        raised = self._raised.get(condition, ())
        return sum(1 for at in raised if now - at < _FLAP_SPAN) >= _FLAPS


def written_alarms(board: AlarmBoard, now: float) -> list[list[Any]]:
    """Return the alarms that stand as plain data: kind, part, and for how long in s."""
    return [
        [kind.value, part, now - alarm.raised_at]
        for (kind, part), alarm in board.standing.items()
    ]


def read_alarms(written: Iterable[list[Any]], now: float) -> dict[Condition, float]:
    """Return since when alarms stand that were written down at `now`.

    Those of a kind that is unknown by now are left out.
    """
    return {
        # What was written before the age was has none.
        Condition(AlarmKind(kind), part): now - sum(age)
        for kind, part, *age in written
        if kind in AlarmKind
    }
