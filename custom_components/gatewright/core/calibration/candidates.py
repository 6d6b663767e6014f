"""One cut between two levels of a reading, seen as the boundary between rest and work."""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
import math

from .distribution import LogScale, middle, trimmed_range, weighted_median
from .history import Interval, LevelStep, bridged, length, total

PAUSE = 5.0
"""A pause up to this (s) does not end a run, whatever the plug."""

_SHORTEST_RUN = 3.0

_STEADY = 1.35
_LASTING = 240.0
_LASTING_BEATS = 5.0
"""A light or charger stays at its level for so many s and so many reports at least."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One cut between two levels: its `edge`, and what lies above and below it.

    `level` is the middle of what lies up to the next cut, the `ceiling`; the other
    figures are those of `Boundary`. `share` is that of the runs in the whole time, `work`
    the steps within them and `work_time` their length in s.
    """

    edge: float
    ceiling: float
    level: float
    runs: tuple[Interval, ...]
    blips: tuple[Interval, ...]
    rest_high: float
    work_low: float
    rest_usual: float
    work_usual: float
    stay: float
    share: float
    edges: int
    work: tuple[LevelStep, ...]
    work_time: float

    @property
    def ratio(self) -> float:
        """How many times as much is drawn at work as at rest."""
        return self.work_low / self.rest_high


def candidate_at(
    steps: Sequence[LevelStep],
    edge: float,
    higher: Sequence[float],
    scale: LogScale,
    beat: float,
) -> Candidate | None:
    """Return what a cut at an edge parts; None where nothing stays above it.

    `higher` are the edges above, `beat` is the reporting interval in s.
    """
    shortest = _SHORTEST_RUN if beat < _SHORTEST_RUN else 0.9 * beat
    stays = list(
        bridged(
            ((step.at, step.end) for step in steps if step.value >= edge),
            longest=max(PAUSE, 1.5 * beat),
        )
    )
    runs = tuple(stay for stay in stays if stay[1] - stay[0] >= shortest)
    if not runs:
        return None
    rest, work, aside = _settled(steps, edge, runs, beat)
    next_edge = higher[0] if higher else math.inf
    level = [step for step in work if step.value < next_edge]
    if not level:
        # Nothing but the way up to the next level.
        return None
    # A run that falls between two looks of a slow plug leaves half a reading.
    odd = max(2.0 * PAUSE, 0.3 * beat * len(runs))
    _, rest_high = trimmed_range(rest, below=0.0, above=odd)
    work_time = length(work)
    rest_time = length(rest)
    work_low, _ = trimmed_range(work, below=0.01 * work_time, above=0.0)
    work_usual, _ = trimmed_range(work, below=0.1 * work_time, above=0.0)
    _, rest_usual = trimmed_range(rest, below=0.0, above=0.05 * rest_time)
    return Candidate(
        edge=edge,
        ceiling=next_edge,
        level=middle(level),
        runs=runs,
        blips=tuple(_blips(steps, stays, shortest)),
        rest_high=max(scale.floor, rest_high),
        work_low=work_low,
        rest_usual=max(scale.floor, rest_usual),
        work_usual=work_usual,
        stay=_stay(level, runs),
        share=total(runs) / length(steps),
        work=tuple(work),
        work_time=work_time,
        edges=sum(rest_high < step.value < work_low for step in aside),
    )


def _settled(
    steps: Sequence[LevelStep], edge: float, runs: Sequence[Interval], beat: float
) -> tuple[list[LevelStep], list[LevelStep], list[LevelStep]]:
    """Return the steps at rest, at work, and those at either end of a run.

    A plug that averages reports a value half way up or down there, which is neither.
    """
    begins = [first for first, _ in runs]

    def run_of(step: LevelStep) -> int | None:
        at = bisect_right(begins, step.at) - 1
        return at if at >= 0 and step.at < runs[at][1] else None

    owners = [run_of(step) for step in steps]
    rest: list[LevelStep] = []
    work: list[LevelStep] = []
    aside: list[LevelStep] = []
    by_run: dict[int, list[LevelStep]] = {}
    before: int | None = None
    for step, owner, after in zip(steps, owners, [*owners[1:], None], strict=True):
        if owner is not None:
            if step.value >= edge:
                by_run.setdefault(owner, []).append(step)
        elif (before is not None or after is not None) and step.lasts <= 1.5 * beat:
            aside.append(step)
        elif step.value < edge:
            rest.append(step)
        before = owner
    for inside in by_run.values():
        first = inside[0].lasts <= 1.5 * beat
        last = inside[-1].lasts <= 1.5 * beat
        settled = inside[first : len(inside) - last]
        if settled:
            aside += inside[:first] + inside[len(inside) - last :]
        work += settled or inside
    return rest, work, aside


def _blips(
    steps: Iterable[LevelStep], stays: Iterable[Interval], shortest: float
) -> Iterable[Interval]:
    """Yield the stays that are too short for a run, and not because of a gap."""
    begins, ends = set(), set()
    for step in steps:
        begins.add(step.at)
        ends.add(step.end)
    for first, last in stays:
        if last - first < shortest and first in ends and last in begins:
            yield first, last


def _stay(level: Iterable[LevelStep], runs: Sequence[Interval]) -> float:
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


def lasts(candidate: Candidate, steps: Sequence[LevelStep], beat: float) -> bool:
    """Whether a level is one that lasts, as a light's does.

    What is passed through, averaged, pulsed or turned to and fro never lasts.
    """
    lengths: list[float] = []
    low = high = ends = math.nan
    for at, value, lasts in steps:
        if not candidate.edge <= value < candidate.ceiling:
            continue
        if at == ends and low <= value <= high:
            lengths[-1] += lasts
        else:
            lengths.append(lasts)
            low, high = value / _STEADY, value * _STEADY
        ends = at + lasts
    usual = weighted_median((length, length) for length in lengths)
    return usual >= max(_LASTING, _LASTING_BEATS * beat)
