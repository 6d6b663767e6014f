"""Which of the levels in a history are the machine at work, and which are not.

A reading tells how much is drawn, not by what. What tells a machine from a light or a
battery charger on the same outlet is how much it draws beside the rest and how long it
stays: a light burns for an evening, a cut takes seconds to minutes. The figures for
both are common practice, no published source.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
import math

from .distribution import (
    Histogram,
    Scale,
    class_of,
    middle,
    trimmed_range,
    weighted_median,
)
from .history import Interval, Step, bridged, total
from .split import level_cuts

NARROWEST = 1.3
"""A smaller ratio between rest and work leaves no room for two thresholds."""

_LONG_STAY = 1200.0
_ALWAYS_STAY = 7200.0
_ALWAYS_SHARE = 0.6
_FREE_RUNNING = 12.0
"""A motor that runs free draws at least this share (one part in so many) of full load."""

_PAUSE = 5.0
_SHORTEST_RUN = 3.0
_TOP_SECONDS = 20.0
_WAY = 1.25


class Unlearned(StrEnum):
    """Why a history cannot tell."""

    NO_READINGS = "no_readings"
    TOO_SHORT = "too_short"
    TOO_FEW_READINGS = "too_few_readings"
    ONE_LEVEL = "one_level"
    NO_RUNS = "no_runs"
    OVERLAPPING = "overlapping"


class Role(StrEnum):
    """What a level is."""

    IDLE = "idle"
    STANDBY = "standby"
    RUNNING = "running"


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A level found: its usual range and middle, and the time in s spent there."""

    role: Role
    low: float
    typical: float
    high: float
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Boundary:
    """Where work begins, as far as the history tells.

    `rest_high` is the most that is drawn at rest, `work_low` the least at work, odd
    readings left aside; `runs` are the stays above. `blips` rose above the boundary but
    were too short for a run; `stay` is the length of a typical run in s. `other_load` is the level, if any, of something else that
    was taken to be on the same outlet, `second` a higher level that might be the
    machine instead.
    """

    rest_high: float
    work_low: float
    runs: tuple[Interval, ...]
    blips: tuple[Interval, ...]
    levels: tuple[Level, ...]
    stay: float
    other_load: float | None = None
    second: float | None = None

    @property
    def ratio(self) -> float:
        """How many times as much is drawn at work as at rest: how well they separate."""
        return self.work_low / self.rest_high


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidate:
    """One cut between two levels, seen as the boundary between rest and work."""

    edge: float
    level: float
    runs: tuple[Interval, ...]
    blips: tuple[Interval, ...]
    rest_high: float
    work_low: float
    stay: float
    share: float

    @property
    def ratio(self) -> float:
        return self.work_low / self.rest_high


def find_boundary(
    steps: Sequence[Step], scale: Scale, beat: float
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
        if (candidate := _candidate(steps, edge, edges[at + 1 :], scale, beat))
    ]
    top = _top(candidates, beat)
    if top < scale.least:
        return Unlearned.NO_RUNS
    foreign = {
        at for at in range(len(candidates)) if _foreign(at, candidates, top, scale)
    }
    own = [at for at in range(len(candidates)) if at not in foreign]
    usable = [at for at in own if candidates[at].ratio >= NARROWEST]
    if not usable:
        return Unlearned.OVERLAPPING if own else Unlearned.NO_RUNS
    at = usable[0]
    chosen = candidates[at]
    below = [candidates[other].level for other in foreign if other < at]
    return Boundary(
        rest_high=chosen.rest_high,
        work_low=chosen.work_low,
        runs=chosen.runs,
        blips=chosen.blips,
        levels=tuple(_levels(steps, edges, chosen, scale)),
        stay=chosen.stay,
        other_load=max(below, default=None),
        second=_second(candidates[at:], scale),
    )


def _staying(steps: Sequence[Step], beat: float) -> Iterable[Step]:
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


def _candidate(
    steps: Sequence[Step],
    edge: float,
    higher: Sequence[float],
    scale: Scale,
    beat: float,
) -> _Candidate | None:
    shortest = _SHORTEST_RUN if beat < _SHORTEST_RUN else 0.9 * beat
    stays = list(
        bridged(
            ((step.at, step.end) for step in steps if step.value >= edge),
            longest=max(_PAUSE, 1.5 * beat),
        )
    )
    runs = tuple(stay for stay in stays if stay[1] - stay[0] >= shortest)
    if not runs:
        return None
    rest, work = _settled(steps, edge, runs, beat)
    next_edge = higher[0] if higher else math.inf
    level = [step for step in work if step.value < next_edge]
    if not level:
        # Nothing but the way up to the next level.
        return None
    # A run that falls between two looks of a slow plug leaves half a reading.
    odd = max(2.0 * _PAUSE, 0.3 * beat * len(runs))
    _, rest_high = trimmed_range(rest, below=0.0, above=odd)
    work_low, _ = trimmed_range(
        work, below=0.01 * math.fsum(step.lasts for step in work), above=0.0
    )
    return _Candidate(
        edge=edge,
        level=middle(level),
        runs=runs,
        blips=tuple(_blips(steps, stays, shortest)),
        rest_high=max(scale.floor, rest_high),
        work_low=work_low,
        stay=_stay(level, runs),
        share=total(runs) / math.fsum(step.lasts for step in steps),
    )


def _settled(
    steps: Sequence[Step], edge: float, runs: Sequence[Interval], beat: float
) -> tuple[list[Step], list[Step]]:
    """Return the steps at rest and at work, those on the way between the two left out.

    A plug that averages reports a value half way up or down at either end of a run.
    """
    begins = [first for first, _ in runs]

    def run_of(step: Step) -> int | None:
        at = bisect_right(begins, step.at) - 1
        return at if at >= 0 and step.at < runs[at][1] else None

    owners = [run_of(step) for step in steps]
    rest: list[Step] = []
    work: list[Step] = []
    by_run: dict[int, list[Step]] = {}
    for at, (step, owner) in enumerate(zip(steps, owners, strict=True)):
        if owner is not None:
            if step.value >= edge:
                by_run.setdefault(owner, []).append(step)
            continue
        around = owners[max(0, at - 1) : at + 2]
        beside_run = any(other is not None for other in around)
        if step.value < edge and not (beside_run and step.lasts <= 1.5 * beat):
            rest.append(step)
    for inside in by_run.values():
        work += inside[1:-1] or inside
    return rest, work


def _blips(
    steps: Iterable[Step], stays: Iterable[Interval], shortest: float
) -> Iterable[Interval]:
    """Yield the stays that are too short for a run, and not because of a gap."""
    begins, ends = set(), set()
    for step in steps:
        begins.add(step.at)
        ends.add(step.end)
    for first, last in stays:
        if last - first < shortest and first in ends and last in begins:
            yield first, last


def _stay(level: Iterable[Step], runs: Sequence[Interval]) -> float:
    """Return the length in s of the run that a random instant at a level belongs to.

    A median weighted by the time at that level: a lamp that burns for an evening shows,
    however many short cuts fall into the week.
    """
    begins = [first for first, _ in runs]
    times = [0.0] * len(runs)
    for step in level:
        times[bisect_right(begins, step.at) - 1] += step.lasts
    return weighted_median(
        (last - first, time) for (first, last), time in zip(runs, times, strict=True)
    )


def _top(candidates: Sequence[_Candidate], beat: float) -> float:
    """Return the highest level that is more than a few odd readings."""
    for candidate in reversed(candidates):
        if (
            total(candidate.runs) >= _TOP_SECONDS
            and len(candidate.runs) > 1
            and candidate.stay >= 1.9 * beat
        ):
            return candidate.level
    return max((candidate.level for candidate in candidates), default=0.0)


def _foreign(
    at: int, candidates: Sequence[_Candidate], top: float, scale: Scale
) -> bool:
    """Whether the level above a cut is something else than this machine at work."""
    candidate = candidates[at]
    if candidate.share > _ALWAYS_SHARE and candidate.stay > _ALWAYS_STAY:
        return True
    if candidate.level > scale.small:
        return False
    if candidate.level * _FREE_RUNNING < top or candidate.level < scale.least:
        return True
    return candidate.stay >= _LONG_STAY and any(
        higher.ratio >= NARROWEST
        and len(higher.runs) > 1
        and candidate.stay >= 4.0 * higher.stay
        for higher in candidates[at + 1 :]
    )


def _second(candidates: Sequence[_Candidate], scale: Scale) -> float | None:
    """Return a higher level that stands apart from a low one, if there is one.

    What is low enough for a light, and far below the next level, may be one.
    """
    chosen, *higher = candidates
    if chosen.level > scale.small:
        return None
    return next((each.level for each in higher if each.ratio >= 2.0), None)


def _levels(
    steps: Sequence[Step],
    edges: Iterable[float],
    chosen: _Candidate,
    scale: Scale,
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
        (Role.IDLE, idle),
        (Role.STANDBY, standby),
        (Role.RUNNING, work),
    ):
        if part:
            seconds = math.fsum(step.lasts for step in part)
            low, high = trimmed_range(part, below=0.01 * seconds, above=0.01 * seconds)
            yield Level(
                role=role, low=low, typical=middle(part), high=high, seconds=seconds
            )
