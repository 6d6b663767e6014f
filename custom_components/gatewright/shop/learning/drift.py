"""Whether a machine still behaves as its thresholds were chosen for.

A suggestion is made when a threshold has come close to what the machine draws, and stays
until there is ample room again: it does not come and go with every week.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from ..plan import Levels
from .history import Reading
from .learner import Confidence, Learned, learn

_CLOSE = 1.1
_AMPLE = 1.3
"""How many times apart a threshold and the readings are too close, and far enough."""

_BETTER = 1.1


class Shift(StrEnum):
    """What has changed about a machine or its sensor."""

    REST_ROSE = "rest_rose"
    """It draws so much at rest that it hardly counts as stopped."""
    WORK_FELL = "work_fell"
    """It draws so little at work that it hardly counts as running."""
    REPORTS_SLOWER = "reports_slower"
    """Its sensor reports so slowly that one false reading ends a run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """Whether other levels are due, why, and what the recent history tells."""

    due: bool
    shifts: tuple[Shift, ...]
    learned: Learned


def check_drift(
    levels: Levels,
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
    if proposal is None or proposal.confidence is Confidence.POOR:
        return Drift(due=standing, shifts=(), learned=learned)
    room = _AMPLE if standing else _CLOSE
    found = proposal.levels
    shifts = []
    above_rest = levels.stop / proposal.rest_high
    # Where rest and work lie close to each other, no threshold has much room.
    if above_rest < room and found.stop / proposal.rest_high > _BETTER * above_rest:
        shifts.append(Shift.REST_ROSE)
    below_work = proposal.work_low / levels.start
    if below_work < room and proposal.work_low / found.start > _BETTER * below_work:
        shifts.append(Shift.WORK_FELL)
    if learned.pace is not None and levels.stop_settle < learned.pace.interval * (
        _BETTER if standing else 1.0
    ):
        shifts.append(Shift.REPORTS_SLOWER)
    return Drift(due=bool(shifts), shifts=tuple(shifts), learned=learned)
