"""Conditions that need a person: raised once, cleared once."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
import math
from typing import Any, NamedTuple

_FLAPS = 3
_FLAP_SPAN = 600.0
_QUIET = 60.0
_FORGOTTEN = 3600.0
"""How long in s after a cause went its comings are counted, for one told very late."""


class AlarmKind(StrEnum):
    """What can be wrong."""

    GATE_NOT_MOVING = "gate_not_moving"
    GATE_OFFLINE = "gate_offline"
    GATE_MOVED = "gate_moved"
    HAND_GATE_CLOSED = "hand_gate_closed"
    COLLECTOR_NOT_STARTING = "collector_not_starting"
    COLLECTOR_NOT_STOPPING = "collector_not_stopping"
    COLLECTOR_BY_ITSELF = "collector_unexpected_start"
    NO_GATE_OPEN = "no_gate_open"
    STOPPED_BY_HAND = "stopped_by_hand"
    READING_LOST = "reading_lost"
    READING_STUCK = "reading_stuck"
    RELAY_NOT_CUTTING = "relay_not_cutting"
    LEFT_ON = "left_on"
    CONNECTED_LOST = "hose_signal_lost"
    BIN_FULL = "bin_full"
    AIR_SUPPLY_LOW = "air_supply_low"
    FILTER_PRESSURE_HIGH = "filter_pressure_high"
    FIRE_SHUTDOWN = "fire_shutdown"
    COMMAND_FAILED = "command_failed"
    LINKED_DEVICE_NOT_SWITCHING = "linked_device_not_switching"
    SHOP_AWAY = "workshop_offline"
    NOT_ENOUGH_AIR = "not_enough_airflow"
    BIN_NEARLY_FULL = "bin_nearly_full"
    FILTER_CLEAN_DUE = "filter_clean_due"
    FILTER_REPLACE_DUE = "filter_replace_due"
    SERVICE_DUE = "service_due"
    MAINTENANCE_NOT_SWITCHING = "maintenance_not_switching"


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


@dataclass(slots=True)
class _Cause:
    """How often the cause of a condition came lately, whether it was told or not.

    `relapses` counts the returns in a row of which each followed within the quiet
    time; `gone_at` is when the cause went last, None while it is there.
    """

    came: list[float] = field(default_factory=list)
    relapses: int = 0
    gone_at: float | None = None

    def begin(self, now: float, quiet: float) -> None:
        """Note that the cause is there, anew."""
        back = self.gone_at is not None and now - self.gone_at < quiet
        self.relapses = self.relapses + 1 if back else 0
        self.came = [at for at in self.came if now - at < _FLAP_SPAN]
        self.came.append(now)
        self.gone_at = None

    def flaps(self, now: float) -> bool:
        """Whether it came so often that its going means little."""
        lately = sum(1 for at in self.came if now - at < _FLAP_SPAN)
        return lately >= _FLAPS or self.relapses >= _FLAPS - 1


def told_at_once(_condition: Condition) -> float:
    """Return 0 s: a cause that is seen as soon as it is there."""
    return 0.0


class AlarmSet:
    """Turns conditions that come and go into alarms.

    A condition that comes back again and again is left standing until it has been
    quiet for a minute, so that it is told once and not every few seconds. Quiet is
    counted from the cause: one that is there and not told yet, or no longer complained
    of because nothing needs the part, is not gone.
    """

    def __init__(self) -> None:
        self._standing: dict[Condition, Alarm] = {}
        self._causes: dict[Condition, _Cause] = {}
        self._recalled: set[Condition] = set()
        self._clear_at: dict[Condition, float] = {}
        self._changes: list[AlarmChange] = []

    @property
    def standing(self) -> Mapping[Condition, Alarm]:
        """The alarms that stand now."""
        return self._standing

    @property
    def quiet(self) -> bool:
        """Whether nothing stands, or stood within the last hour."""
        return not (self._causes or self._standing)

    @property
    def known(self) -> Collection[Condition]:
        """The conditions that stand, or stood within the last hour."""
        return self._causes.keys() | self._standing.keys()

    def drain(self) -> list[AlarmChange]:
        """Return the changes since the last call."""
        changes, self._changes = self._changes, []
        return changes

    def update(
        self,
        conditions: Iterable[Condition],
        now: float,
        *,
        lasting: Collection[Condition] = (),
        told_after: Callable[[Condition], float] = told_at_once,
    ) -> None:
        """Take the conditions that hold now.

        `lasting` are those of the `known` whose cause is there though nothing complains
        of it at the moment: they raise no alarm and clear none. `told_after` says how
        long in s a cause of a kind has to last before it is seen at all.
        """
        present = dict.fromkeys(conditions)
        there = present | dict.fromkeys(lasting)
        for condition in there:
            self._clear_at.pop(condition, None)
            self._recalled.discard(condition)
            self._note_cause(condition, now, _QUIET + told_after(condition))
        for condition in present:
            if condition not in self._standing:
                self._raise(condition, now)
        for condition in [c for c in self._standing if c not in there]:
            if condition not in self._clear_at:
                cause = self._causes.get(condition)
                waits = condition in self._recalled or (
                    cause is not None and cause.flaps(now)
                )
                quiet = _QUIET + told_after(condition)
                self._clear_at[condition] = now + quiet if waits else now
            if now >= self._clear_at[condition]:
                self._clear(condition, now)
        for condition in [c for c in self._causes if c not in there]:
            self._note_gone(condition, now)

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

    def _note_cause(self, condition: Condition, now: float, quiet: float) -> None:
        cause = self._causes.get(condition)
        if cause is None:
            cause = self._causes[condition] = _Cause(gone_at=-math.inf)
        if cause.gone_at is not None:
            cause.begin(now, quiet)

    def _note_gone(self, condition: Condition, now: float) -> None:
        cause = self._causes[condition]
        if cause.gone_at is None:
            cause.gone_at = now
        elif condition not in self._standing and now - cause.gone_at >= _FORGOTTEN:
            del self._causes[condition]

    def _raise(self, condition: Condition, now: float) -> None:
        self._standing[condition] = Alarm(condition=condition, raised_at=now)
        self._changes.append(AlarmChange(condition=condition, raised=True, at=now))

    def _clear(self, condition: Condition, now: float) -> None:
        del self._standing[condition]
        self._clear_at.pop(condition, None)
        self._recalled.discard(condition)
        self._changes.append(AlarmChange(condition=condition, raised=False, at=now))


def written_alarms(board: AlarmSet, now: float) -> list[list[Any]]:
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
