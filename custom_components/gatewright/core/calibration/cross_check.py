"""Whether what is learned from one half of a history holds in the other.

A proposal can only be as sure as it proves to be on days that it has not seen. So the
history is cut in two with half of the runs in each; what one half alone teaches is held
against the runs that the whole history shows in the other.
"""

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..config import Thresholds
from .history import Interval, LevelStep, Reading, runs_by

_SLACK = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldOut:
    """What each half made of the other, both together.

    `runs` were to be found, `missed` of them were not; `false_starts` began where there
    was no run. `untaught` halves (0 to 2) taught nothing.
    """

    runs: int
    missed: int
    false_starts: int
    untaught: int

    @property
    def holds(self) -> bool:
        """Whether either half alone would have found all runs, and nothing else."""
        return not (self.missed or self.false_starts or self.untaught)


def try_halves(
    stays: Sequence[LevelStep],
    levels: Thresholds,
    teach: Callable[[Sequence[LevelStep]], Thresholds | None],
    beat: float,
) -> HeldOut | None:
    """Teach each half alone and hold it against the other; None for fewer than two runs.

    `stays` are all of them, `levels` what they teach together, `beat` is the reporting
    interval in s.
    """
    until = stays[-1].end
    runs = runs_by(levels, readings_of(stays), until)
    if len(runs) < 2:
        return None
    middle = len(runs) // 2
    at = bisect_left(stays, (runs[middle - 1][1] + runs[middle][0]) / 2.0, key=_begins)
    halves = stays[:at], stays[at:]
    missed = false_starts = untaught = 0
    for half, known, other in (
        (halves[0], runs[:middle], halves[1]),
        (halves[1], runs[middle:], halves[0]),
    ):
        taught = teach(other)
        if taught is None:
            untaught += 1
            continue
        found = runs_by(taught, readings_of(half), half[-1].end)
        missed += _without(known, found, 0.0)
        false_starts += _without(found, known, max(_SLACK, 2.0 * beat))
    return HeldOut(
        runs=len(runs), missed=missed, false_starts=false_starts, untaught=untaught
    )


def readings_of(stays: Sequence[LevelStep]) -> list[Reading]:
    """Return stays as readings, with none where nothing is known."""
    readings: list[Reading] = []
    for stay, following in pairwise(stays):
        readings.append((stay.at, stay.value))
        if following.at > stay.end:
            readings.append((stay.end, None))
    readings.append((stays[-1].at, stays[-1].value))
    return readings


def _begins(stay: LevelStep) -> float:
    return stay.at


def _without(
    these: Sequence[Interval], others: Sequence[Interval], slack: float
) -> int:
    """Return how many of these intervals meet none of the others."""
    ends = [last for _, last in others]
    count = 0
    for first, last in these:
        at = bisect_left(ends, first - slack)
        count += at == len(others) or others[at][0] > last + slack
    return count
