"""From the strokes of a gate to what is wrong with its feedback.

A sensor that follows says after each stroke what it should; one that is contrary says
the opposite after each. One that stands still while the others follow does not reach its
end of the stroke, or is dead. Where all of a gate's own signals stand still and
another gate's follow, the two are crossed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto
import math

from .findings import CheckFinding, FindingKind, Setting, SettingKind
from .stroke import Stroke, expected
from .task import GateToCheck, SignalRole

MOST_TRAVEL = 120.0
"""The longest travel time in s that a gate can be set to."""

_LEAST_REAL = 0.2
"""Seconds below which a stroke was only told, not made. A small pneumatic slide takes
some tenths of a second; common practice, no source."""


class _Trait(Enum):
    FOLLOWS = auto()
    CONTRARY = auto()
    STILL = auto()
    SILENT = auto()
    UNSTEADY = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgment:
    """What two strokes show; `travel` is the longest measured, in s.

    With `look` only a look at the slide can tell more.
    """

    findings: tuple[CheckFinding, ...] = ()
    travel: float | None = None
    look: bool = False


def fitted_travel(measured: float) -> float:
    """Return the travel time in s to be set for a stroke that was measured.

    A quarter and half a second more, for a cold morning, less pressure or a slower
    network; common practice, no source.
    """
    return min(MOST_TRAVEL, math.ceil((1.25 * measured + 0.5) * 2) / 2)


def travel_setting(plan: GateToCheck, measured: float) -> tuple[Setting, ...]:
    """Return the travel time to be set, unless the one that is set is about right.

    The same gate measures a little otherwise each time: that alone changes nothing.
    """
    seconds = fitted_travel(measured)
    if 1.15 * measured <= plan.travel <= seconds + 1.0:
        return ()
    return (Setting(kind=SettingKind.TRAVEL, part=plan.gate_id, seconds=seconds),)


def too_short(plan: GateToCheck, measured: float) -> tuple[CheckFinding, ...]:
    """Return the finding of a gate that takes longer than is set."""
    if measured <= plan.travel:
        return ()
    kind = FindingKind.TRAVEL_TOO_SHORT
    return (CheckFinding(kind=kind, part=plan.gate_id, seconds=measured),)


def judge(plan: GateToCheck, strokes: Sequence[Stroke]) -> Judgment:
    """Judge a gate by its last stroke in each direction."""
    opening = next(stroke for stroke in reversed(strokes) if stroke.opened)
    closing = next(stroke for stroke in reversed(strokes) if not stroke.opened)
    pair = (opening, closing)
    traits = {role: _trait(plan.gate_id, role, pair) for role in plan.roles}
    along = [
        other
        for other in dict.fromkeys(opening.others(plan.gate_id))
        if other in set(closing.others(plan.gate_id))
    ]

    def found(kind: FindingKind, about: str = "") -> CheckFinding:
        return CheckFinding(kind=kind, part=plan.gate_id, about=about)

    every = set(traits.values())
    if every <= {_Trait.STILL, _Trait.SILENT}:
        if along:
            return Judgment(
                findings=tuple(found(FindingKind.CROSSED, o) for o in along)
            )
        if opening.end.sight.refused & {plan.gate_id}:
            return Judgment(findings=(found(FindingKind.COMMAND_FAILS),))
        silent = [role for role, trait in traits.items() if trait is _Trait.SILENT]
        if len(silent) == len(traits):
            missing = tuple(found(FindingKind.SENSOR_SILENT, role) for role in silent)
            return Judgment(findings=missing, look=False)
        return Judgment(findings=(found(FindingKind.NO_ANSWER),), look=True)
    findings = [found(FindingKind.ANSWERS_TOO, other) for other in along]
    if every == {_Trait.CONTRARY}:
        findings.insert(0, found(FindingKind.CONTRARY))
        return Judgment(findings=tuple(findings), look=True)
    crossed = along and _Trait.STILL in every
    if crossed:
        findings = [found(FindingKind.CROSSED, other) for other in along]
    for role, trait in traits.items():
        kind = _KINDS.get(trait)
        if kind is not None and not (crossed and trait is _Trait.STILL):
            findings.append(found(kind, role))
    travel = _travel(plan, traits, pair)
    if travel is not None:
        if plan.roles == (SignalRole.SLIDE,) and travel < _LEAST_REAL:
            # It repeats at once what it was told.
            findings.append(found(FindingKind.AT_ONCE))
            travel = None
        else:
            findings += too_short(plan, travel)
    return Judgment(findings=tuple(findings), travel=travel)


_KINDS = {
    _Trait.CONTRARY: FindingKind.SENSOR_CONTRARY,
    _Trait.STILL: FindingKind.SENSOR_DEAD,
    _Trait.SILENT: FindingKind.SENSOR_SILENT,
    _Trait.UNSTEADY: FindingKind.UNSTEADY,
}


def _trait(gate_id: str, role: SignalRole, pair: tuple[Stroke, Stroke]) -> _Trait:
    signal = (gate_id, role)
    finals = [stroke.final(signal) for stroke in pair]
    if not any(stroke.changed(signal) for stroke in pair):
        return _Trait.SILENT if finals == [None, None] else _Trait.STILL
    right = [expected(role, opened=stroke.opened) for stroke in pair]
    if finals == right:
        return _Trait.FOLLOWS
    if finals == [not value for value in right]:
        return _Trait.CONTRARY
    return _Trait.UNSTEADY


def _travel(
    plan: GateToCheck, traits: dict[SignalRole, _Trait], pair: tuple[Stroke, Stroke]
) -> float | None:
    """Return the longest stroke whose arrival was seen."""
    arrivals = [
        at
        for stroke in pair
        for role in plan.roles
        if traits[role] is _Trait.FOLLOWS
        # A sensor tells of the arrival at its own end, and of leaving the other.
        and (
            role is SignalRole.SLIDE
            or stroke.opened is (role is SignalRole.OPEN_SENSOR)
        )
        and (at := stroke.arrived((plan.gate_id, role))) is not None
    ]
    return max(arrivals, default=None)
