"""Which of the levels in a history are the machine at work, and which are not.

What tells a machine from a light or a battery charger on the same outlet is how much it
draws beside the rest, how long it stays (a light burns for an evening, a cut takes
seconds to minutes) and how the two come together (`kinship.py`). The figures are common
practice, no published source.
"""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
import math

from .candidates import PAUSE, Candidate, candidate_at, lasts
from .co_occurrence import CoOccurrence, co_occurrence
from .distribution import (
    Histogram,
    LogScale,
    class_of,
    middle,
    trimmed_range,
    weighted_median,
)
from .history import Interval, LevelStep, bridged, length, total
from .level_split import level_cuts

NARROWEST = 1.3
"""A smaller ratio between rest and work leaves no room for two thresholds."""

_LONG_STAY = 1200.0
_ALWAYS_STAY = 7200.0
_ALWAYS_SHARE = 0.6
_FREE_RUNNING = 12.0
"""A motor that runs free draws at least this share (one part in so many) of full load."""

_SHORTEST_RUN = 3.0
_TOP_SECONDS = 20.0
_WAY = 1.25

_FAR = 2.5
"""A level so many times as high as another is more than the same motor under load."""

_SOME_TIME = 0.05

_FEWEST_LONE = 5
_NEARLY_ALL = 0.9
_ABOVE_REST = 3.0


class Unlearned(StrEnum):
    """Why a history cannot tell."""

    NO_READINGS = "no_readings"
    TOO_SHORT = "too_short"
    TOO_FEW_READINGS = "too_few_readings"
    ONE_LEVEL = "one_level"
    NO_RUNS = "no_runs"
    OVERLAPPING = "overlapping"


class LevelRole(StrEnum):
    """What a level is."""

    IDLE = "idle"
    STANDBY = "standby"
    RUNNING = "running"


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A level found: its usual range and middle, and the time in s spent there."""

    role: LevelRole
    low: float
    typical: float
    high: float
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Boundary:
    """Where work begins, as far as the history tells.

    `rest_high` is the most that is drawn at rest, `work_low` the least at work, odd
    readings left aside, `rest_usual` and `work_usual` those that 95 % of the time at rest
    and 90 % of the time at work keep to; `runs` are the stays above. `blips` rose above the boundary but
    were too short for a run; `stay` is the length of a typical run in s. Levels, if any:
    `other_load` of something else that was taken to be on the same outlet, `second` a
    higher one that might be the machine instead, `inrush` of the motor's start, `part`
    of another part of the machine, such as a heater. `edges` is how many readings at
    either end of a run were taken for averages of rest and work.
    """

    rest_high: float
    work_low: float
    rest_usual: float
    work_usual: float
    runs: tuple[Interval, ...]
    blips: tuple[Interval, ...]
    levels: tuple[Level, ...]
    stay: float
    other_load: float | None = None
    second: float | None = None
    inrush: float | None = None
    part: float | None = None
    edges: int = 0

    @property
    def ratio(self) -> float:
        """How many times as much is drawn at work as at rest: how well they separate."""
        return self.work_low / self.rest_high


def find_boundary(
    steps: Sequence[LevelStep], scale: LogScale, beat: float
) -> Boundary | Unlearned:
    """Return where the machine's work begins, or why that cannot be told.

    `steps` are without spikes and dips; `beat` is the reporting interval in s.
    """
    low, high = trimmed_range(steps, below=0.0, above=_SHORTEST_RUN)
    if max(high, scale.floor) < NARROWEST * max(low, scale.floor):
        return Unlearned.ONE_LEVEL
    edges = _edges(Histogram.of(_staying(steps, beat), scale.floor))
    if not edges:
        return Unlearned.OVERLAPPING if high >= scale.least else Unlearned.NO_RUNS
    candidates = [
        candidate
        for at, edge in enumerate(edges)
        if (candidate := candidate_at(steps, edge, edges[at + 1 :], scale, beat))
    ]
    top = _top(candidates, beat)
    if top is None or top.level < scale.least:
        return Unlearned.NO_RUNS
    stays = [lasts(candidate, steps, beat) for candidate in candidates]
    kin = [
        _kin(candidate, top, steps, beat, lasting=lasting)
        for candidate, lasting in zip(candidates, stays, strict=True)
    ]
    foreign = {
        at
        for at in range(len(candidates))
        if _foreign(at, candidates, top, kin[at], scale, lasting=stays[at])
    }
    own = [at for at in range(len(candidates)) if at not in foreign]
    usable = [at for at in own if candidates[at].ratio >= NARROWEST]
    if not usable:
        return Unlearned.OVERLAPPING if own else Unlearned.NO_RUNS
    at = usable[0]
    chosen = candidates[at]
    below = [candidates[other].level for other in foreign if other < at]
    beside = _beside(chosen, top)
    strange = kin[at] is CoOccurrence.STRANGE and stays[at]
    return Boundary(
        rest_high=chosen.rest_high,
        work_low=chosen.work_low,
        rest_usual=chosen.rest_usual,
        work_usual=chosen.work_usual,
        runs=chosen.runs,
        blips=chosen.blips,
        levels=tuple(_levels(steps, edges, chosen, scale)),
        stay=chosen.stay,
        other_load=max(below, default=None),
        second=beside if strange else None,
        inrush=top.level if kin[at] is CoOccurrence.INRUSH else None,
        part=None if strange or kin[at] is CoOccurrence.INRUSH else beside,
        edges=chosen.edges,
    )


def boundary_of_lone(
    steps: Sequence[LevelStep], scale: LogScale, beat: float
) -> Boundary | Unlearned:
    """Return where work begins for a machine that shows in single readings only.

    What lasts is all rest, and what rises well above it is short: a plug that reports
    too slowly for the runs it sees.
    """
    longest = max(PAUSE, 1.5 * beat)
    lasting = [step for step in steps if step.lasts > longest]
    if length(lasting) < _NEARLY_ALL * length(steps):
        return Unlearned.OVERLAPPING
    rest_high = max(scale.floor, *(step.value for step in lasting))
    edge = max(scale.least, _ABOVE_REST * rest_high)
    up = [step for step in steps if step.value >= edge]
    stays = list(bridged(((step.at, step.end) for step in up), longest=longest))
    if len(stays) < _FEWEST_LONE:
        return Unlearned.NO_RUNS
    values = sorted(step.value for step in up)
    work_low = values[len(values) // 10]
    rest = [step for step in steps if step.value < edge]
    return Boundary(
        rest_high=rest_high,
        work_low=work_low,
        rest_usual=rest_high,
        work_usual=work_low,
        runs=tuple(stays),
        blips=(),
        levels=(_level(LevelRole.IDLE, rest), _level(LevelRole.RUNNING, up)),
        stay=weighted_median((last - first, last - first) for first, last in stays),
    )


def _staying(steps: Sequence[LevelStep], beat: float) -> Iterable[LevelStep]:
    """Yield the steps that are not just on the way from one value to another."""
    for at, step in enumerate(steps):
        around = steps[max(0, at - 1) : at + 2]
        passing = (
            len(around) == 3
            and step.lasts <= 1.5 * beat
            and (
                _WAY * min(around[0].value, around[2].value)
                < step.value
                < max(around[0].value, around[2].value) / _WAY
            )
        )
        if not passing:
            yield step


def _edges(histogram: Histogram) -> list[float]:
    """Return the values at which the levels part: in the middle of what lies empty."""
    # A minute at work must not drown in a week at rest: hence the square root.
    cuts = level_cuts([math.sqrt(seconds) for seconds in histogram.seconds])
    used = [at for at, seconds in enumerate(histogram.seconds) if seconds]
    edges = []
    for cut in cuts:
        above = bisect_left(used, cut)
        edges.append(histogram.lower((used[above - 1] + 1 + used[above]) // 2))
    return edges


def _top(candidates: Sequence[Candidate], beat: float) -> Candidate | None:
    """Return the highest level that is more than a few odd readings."""
    for candidate in reversed(candidates):
        if (
            total(candidate.runs) >= _TOP_SECONDS
            and len(candidate.runs) > 1
            and candidate.stay >= 1.9 * beat
        ):
            return candidate
    return max(candidates, key=lambda each: each.level, default=None)


def _kin(
    candidate: Candidate,
    top: Candidate,
    steps: Sequence[LevelStep],
    beat: float,
    *,
    lasting: bool,
) -> CoOccurrence | None:
    """Return what the highest level is to a lower one; None for that one itself."""
    if candidate.edge >= top.edge:
        return None
    between = [step for step in steps if candidate.edge <= step.value < top.edge]
    high = sorted([*top.runs, *top.blips])
    return co_occurrence(candidate.runs, high, steps, between, beat, lasting=lasting)


def _foreign(
    at: int,
    candidates: Sequence[Candidate],
    top: Candidate,
    kin: CoOccurrence | None,
    scale: LogScale,
    *,
    lasting: bool,
) -> bool:
    """Whether the level above a cut is something else than this machine at work."""
    candidate = candidates[at]
    if candidate.share > _ALWAYS_SHARE and candidate.stay > _ALWAYS_STAY:
        return True
    if candidate.level < scale.least:
        return True
    if candidate.level > scale.small or kin in (CoOccurrence.INRUSH, CoOccurrence.PART):
        return False
    if kin is CoOccurrence.STRANGE and not lasting:
        return False
    if candidate.level * _FREE_RUNNING < top.level:
        return True
    return candidate.stay >= _LONG_STAY and any(
        higher.ratio >= NARROWEST
        and higher.edge <= top.edge
        and len(higher.runs) > 1
        and candidate.stay >= 4.0 * higher.stay
        for higher in candidates[at + 1 :]
    )


def _beside(chosen: Candidate, top: Candidate) -> float | None:
    """Return the highest level, if it is another than the one that was chosen.

    It is where the machine spends some time well below it, and not just on its way.
    """
    below = [step for step in chosen.work if step.value < top.edge]
    share = length(below) / chosen.work_time
    if chosen is top or share < _SOME_TIME or middle(below) * _FAR > top.level:
        return None
    return top.level


def _levels(
    steps: Sequence[LevelStep],
    edges: Iterable[float],
    chosen: Candidate,
    scale: LogScale,
) -> Iterable[Level]:
    """Yield the levels to show: idle, standby where it stands out, and running."""
    below = [edge for edge in edges if edge < chosen.edge]
    rest = [step for step in steps if step.value < chosen.edge]
    idle = [step for step in rest if not below or step.value < below[0]]
    standby = [step for step in rest if below and step.value >= below[0]]
    if class_of(middle(standby), scale.floor) == 0:
        idle, standby = rest, []
    work = [step for step in steps if step.value >= chosen.edge]
    for role, part in (
        (LevelRole.IDLE, idle),
        (LevelRole.STANDBY, standby),
        (LevelRole.RUNNING, work),
    ):
        if part:
            yield _level(role, part)


def _level(role: LevelRole, part: Sequence[LevelStep]) -> Level:
    seconds = length(part)
    low, high = trimmed_range(part, below=0.01 * seconds, above=0.01 * seconds)
    return Level(role=role, low=low, typical=middle(part), high=high, seconds=seconds)
