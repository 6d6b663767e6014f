"""From stays at levels to a machine's levels, waiting times and runs."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
import math

from ..config import Thresholds
from .certain_level import certain_level
from .confirm_times import start_confirm, stop_confirm, thresholds
from .distribution import LogScale
from .history import Interval, LevelStep, Smoothed, smooth
from .levels import Boundary, Unlearned, boundary_of_lone, find_boundary
from .reporting import Pace

_FEWEST_RUNS = 5
_MOSTLY_LONE = 3
_LONG_STAY = 1200.0
_ABOVE_LIGHT = 3.0
_FASTEST_BEAT = 2.1
_LIKE_WORK = 1.5
_SLOW = 5.0
_NEAR = 5.0
_MOST_OVERLAP = 0.05
_MOST_SMEARED = 0.25
_LONGEST_PAUSE = 7200.0
"""A longer pause (s) lies between two sessions and says nothing of a machine's rhythm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelFit:
    """What stays tell: levels, the boundary behind them, and what was set aside.

    `single` says that runs show in one reading each. `odd` are single readings at or
    above the start level that were taken for none of the machine's, `doubtful` those
    that may have been a short run. `overlap` is the time spent between the levels, as a
    share of the shorter of rest and work.
    """

    levels: Thresholds
    boundary: Boundary
    single: bool
    odd: tuple[LevelStep, ...]
    doubtful: tuple[LevelStep, ...]
    dips: int
    overlap: float
    certain_level: float | None


def fit(
    stays: Sequence[LevelStep], scale: LogScale, beat: float, pace: Pace | None
) -> LevelFit | Unlearned:
    """Return the levels that fit the stays of a reading, or why there are none.

    `beat` is the reporting interval in s, `pace` how the plug reports.
    """
    smoothed = smooth(stays, beat, scale.floor)
    single = False
    boundary = find_boundary(smoothed.steps, scale, beat)
    if _is_mostly_lone(boundary, smoothed.spikes, scale):
        # Perhaps the plug is so slow that its runs look like spikes.
        seen = boundary_of_lone(stays, scale, beat)
        if isinstance(seen, Unlearned):
            seen = find_boundary(stays, scale, beat)
        if isinstance(seen, Boundary) and len(seen.runs) >= _FEWEST_RUNS:
            boundary, single = seen, True
    if isinstance(boundary, Unlearned):
        return boundary
    averaging = beat >= _SLOW and boundary.edges >= len(boundary.runs)
    start, stop = thresholds(
        boundary.rest_high, boundary.work_low, scale, averaging=averaging
    )
    steps = stays if single else smoothed.steps
    overlap = _overlap(steps, stop, start, longer_than=1.5 * beat)
    smeared = _overlap(steps, stop, start, longer_than=0.0)
    if (
        overlap > _MOST_OVERLAP
        or smeared > _MOST_SMEARED
        or not _rests(stays, stop, longer_than=1.5 * beat)
    ):
        return Unlearned.OVERLAPPING
    doubtful, odd = ([], []) if single else _lone(smoothed, boundary, start, beat)
    runs = [last - first for first, last in boundary.runs]
    dips = [step.lasts for step in smoothed.dips if step.value <= stop]
    middle = (stays[0].at + stays[-1].end) / 2.0
    pauses = [
        begins - ended
        for (_, ended), (begins, _) in pairwise(boundary.runs)
        if begins - ended <= _LONGEST_PAUSE
    ]
    return LevelFit(
        levels=Thresholds(
            start=start,
            stop=stop,
            start_confirm=start_confirm(
                [*runs, *(step.lasts for step in doubtful)],
                (
                    [step.lasts for step in odd if step.at < middle],
                    [step.lasts for step in odd if step.at >= middle],
                ),
            ),
            stop_confirm=stop_confirm(
                dips, beat if pace is None else pace.interval, pauses
            ),
        ),
        boundary=boundary,
        single=single,
        odd=tuple(odd),
        doubtful=tuple(doubtful),
        dips=len(dips),
        overlap=overlap,
        certain_level=certain_level(
            stays, boundary.runs, start, boundary.levels[-1].typical, scale.small, beat
        ),
    )


def _is_mostly_lone(
    boundary: Boundary | Unlearned, spikes: Sequence[LevelStep], scale: LogScale
) -> bool:
    """Whether there are far more lone readings than runs that they may belong to.

    A light's stays are no runs, and what it draws is far below the lone readings.
    """
    runs: Sequence[Interval] = ()
    least, fewest = scale.least, 0
    if isinstance(boundary, Boundary):
        if might_be_a_light(boundary, scale):
            least = _ABOVE_LIGHT * boundary.levels[-1].typical
            fewest = len(boundary.runs)
        else:
            runs = boundary.runs
    lone = [
        spike
        for spike in spikes
        if spike.value >= least
        and not any(first <= spike.at <= last for first, last in runs)
    ]
    return len(runs) < _FEWEST_RUNS and len(lone) > max(
        fewest, _MOSTLY_LONE * len(runs)
    )


def might_be_a_light(boundary: Boundary, scale: LogScale) -> bool:
    """Whether what was taken for work draws as little, and stays as long, as a light."""
    return boundary.levels[-1].typical <= scale.small and boundary.stay >= _LONG_STAY


def _overlap(
    steps: Iterable[LevelStep], stop: float, start: float, *, longer_than: float
) -> float:
    """Return the time between two thresholds against the shorter one beside them.

    Between them, only what lasts for longer than so many s counts.
    """
    rest = between = work = 0.0
    for _, value, lasts in steps:
        if value <= stop:
            rest += lasts
        elif value >= start:
            work += lasts
        elif lasts > longer_than:
            between += lasts
    least = min(rest, work)
    return between / least if least else math.inf


def _rests(stays: Iterable[LevelStep], stop: float, *, longer_than: float) -> bool:
    """Whether what is taken for rest lasts, as a rest does: not a reading here and there.

    What takes every value alike has no rest, wherever it is cut.
    """
    whole = lasting = 0.0
    for _, value, lasts in stays:
        if value <= stop:
            whole += lasts
            if lasts > longer_than:
                lasting += lasts
    return lasting >= 0.5 * whole


def _lone(
    smoothed: Smoothed, boundary: Boundary, start: float, beat: float
) -> tuple[list[LevelStep], list[LevelStep]]:
    """Return the lone readings that may have been short runs, and those that were odd.

    One of a height that work has may be either. Only where a quick plug shows more of
    them than of proper runs, they are none.
    """
    # Beside a run it is the run's own first or last reading, cut off by a false one.
    near = max(_NEAR, 3.0 * beat)
    highest = _LIKE_WORK * boundary.levels[-1].high
    lone = [
        spike
        for spike in smoothed.spikes
        if spike.value >= start
        and not any(a - near <= spike.at < b + near for a, b in boundary.runs)
    ]
    lone += [LevelStep(a, start, b - a) for a, b in boundary.blips]
    like_work = [spike for spike in lone if spike.value <= highest]
    odd = [spike for spike in lone if spike.value > highest]
    if beat <= _FASTEST_BEAT and len(like_work) > len(boundary.runs):
        like_work, odd = [], lone
    return like_work, sorted(odd)
