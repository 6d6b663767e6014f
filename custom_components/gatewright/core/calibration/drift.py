"""Whether a machine still behaves as its levels were chosen for.

A machine is used differently from week to week, so a suggestion needs more than other
figures: the present levels have to fail, or be about to, in a recent history that is sure
about its own, and in either half of it. It stays until there is ample room again: it does
not come and go with every week.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from ..config import Thresholds
from .history import Reading
from .learner import Confidence, Learned, ProposedLevels, learn

_CLOSE = 1.1
_AMPLE = 1.3
"""How many times apart a threshold and the readings are too close, and far enough."""

_BETTER = 1.25
"""So many times more room other levels have to give."""

_FEWEST_RUNS = 5
_FEWEST_GAPS = 20
_SLOWER = 1.5
_DELAY_OF_OLD = 1.0
"""A start confirmation time up to this (s) was the usual one, not one that was learned."""


class Shift(StrEnum):
    """What has changed about a machine or its sensor, or does not fit it."""

    REST_ROSE = "rest_rose"
    """It draws so much at rest that it hardly counts as stopped."""
    WORK_FELL = "work_fell"
    """It draws so little at work that it hardly counts as running."""
    REPORTS_SLOWER = "reports_slower"
    """Its sensor reports so slowly that one false reading ends a run."""
    WAITS_IN_VAIN = "waits_in_vain"
    """Its start confirmation time, learned by an earlier version, is not needed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """Whether other levels are due, why, and what the recent history tells.

    `levels` are the ones to suggest; None where none are due.
    """

    due: bool
    shifts: tuple[Shift, ...]
    learned: Learned
    levels: Thresholds | None = None


def check_drift(
    levels: Thresholds,
    history: Iterable[Reading],
    unit: str = "W",
    until: float | None = None,
    *,
    standing: bool = False,
) -> Drift:
    """Return whether the recent history calls for other levels.

    `standing` says that a change is already suggested. A history that cannot tell, or
    hardly, changes nothing about that. Raises `KeyError` for a unit that is not W or A.
    """
    learned = learn(history, unit, until)
    proposal = learned.proposal
    if proposal is None:
        return Drift(due=standing, shifts=(), learned=learned)
    shifts = (
        list(_of_levels(levels, learned, proposal, standing=standing))
        if proposal.confidence is not Confidence.POOR
        else []
    )
    waits = levels.start_confirm > max(_DELAY_OF_OLD, proposal.levels.start_confirm)
    if not shifts and not waits:
        undecided = standing and proposal.confidence is Confidence.POOR
        return Drift(due=undecided, shifts=(), learned=learned)
    suggested = proposal.levels
    if not shifts:
        # The levels themselves are as good as ever.
        suggested = replace(levels, start_confirm=proposal.levels.start_confirm)
    if waits:
        shifts.append(Shift.WAITS_IN_VAIN)
    return Drift(due=True, shifts=tuple(shifts), learned=learned, levels=suggested)


def _of_levels(
    levels: Thresholds, learned: Learned, proposal: ProposedLevels, *, standing: bool
) -> Iterator[Shift]:
    """Yield what about the levels no longer fits a proposal that is at least fair."""
    room = _AMPLE if standing else _CLOSE
    found = proposal.levels
    if proposal.runs >= _FEWEST_RUNS or standing:
        above_rest = levels.stop / proposal.rest_usual
        # Where rest and work lie close to each other, no threshold has much room.
        if (
            above_rest < room
            and found.stop / proposal.rest_usual > _BETTER * above_rest
        ):
            yield Shift.REST_ROSE
        below_work = proposal.work_usual / levels.start
        if (
            below_work < room
            and proposal.work_usual / found.start > _BETTER * below_work
        ):
            yield Shift.WORK_FELL
    if (
        (pace := learned.pace) is not None
        and (pace.gaps >= _FEWEST_GAPS or standing)
        and (
            levels.stop_confirm * (1.0 if standing else _SLOWER)
            < min(pace.interval, pace.median)
        )
    ):
        yield Shift.REPORTS_SLOWER
