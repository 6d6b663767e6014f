"""What a plug or a sensor can do: how often it reports, and how late it notices."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
import math

from ..config import Thresholds
from .distribution import quantile
from .history import LevelStep, Reading, steps_of

_GAPS_NEEDED = 5
_UNEVEN = 3.0
"""So many times longer than the short gaps are the long ones of a plug that reports
on change rather than at a beat."""

_ALIKE = 1.2
_MOST_REPEATS = 4
_OFF_BEAT = 0.08

_LONGEST_GAP = 900.0
"""A longer silence (s) of a machine that runs is an outage, not an interval."""

FIRST_CUT = 5.0
"""Seconds after which a short cut at a saw is half over (common practice, no source)."""

_SLOW = 5.0
_TOO_SLOW = 15.0


class Advice(StrEnum):
    """What the owner should know about a plug, or change."""

    FIRST_CUT_UNPROTECTED = "first_cut_unprotected"
    STOP_SETTLES_TOO_SOON = "stop_settles_too_soon"
    SHORTEN_INTERVAL = "shorten_interval"
    USE_CURRENT_SWITCH = "use_current_switch"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How a sensor reports while its machine runs; all times in s.

    `gaps` is how many intervals were measured; `shortest` and `longest` are the
    tenth and the 99th percentile. A recorder keeps changes only: a reading
    that repeats itself is not seen, so the true interval is at most what is found here.
    `on_change` says that the intervals are too uneven for a fixed beat.
    """

    gaps: int
    median: float
    p90: float
    shortest: float
    longest: float
    on_change: bool

    @property
    def interval(self) -> float:
        """The interval in s that confirmation times have to outlast.

        A plug that reports on change does so at once; its heartbeat is no interval.
        """
        return self.shortest if self.on_change else self.p90

    @property
    def typical_delay(self) -> float:
        """Seconds from a machine's start to the reading that shows it, on average.

        A start falls anywhere between two looks of the plug: half an interval.
        """
        return 0.5 * (self.shortest if self.on_change else self.median)

    @property
    def longest_delay(self) -> float:
        """Seconds from a machine's start to the reading that shows it, at worst."""
        return self.interval


def pace_of(
    history: Iterable[Reading], running_from: float, until: float | None = None
) -> Pace | None:
    """Return how a sensor reports at values from `running_from` on.

    None where there are too few readings to tell.
    """
    return pace_of_steps(steps_of(history, until), running_from)


def pace_of_steps(
    steps: Sequence[LevelStep], running_from: float, beat: float = math.inf
) -> Pace | None:
    """Return the same as `pace_of` for a history that was taken apart already.

    `beat` is the shortest usual time in s between two readings, if it is known. Where a machine's runs show in one reading each, the time for which these hold tells
    the interval, if it is nearly always the same.
    """
    gaps = sorted(
        first.lasts
        for first, second in pairwise(steps)
        if first.value >= running_from
        and second.value >= running_from
        and second.at == first.end
        and first.lasts <= _LONGEST_GAP
    )
    if len(gaps) < _GAPS_NEEDED:
        gaps = _even(
            step.lasts
            for step in steps
            if step.value >= running_from and step.lasts <= _LONGEST_GAP
        )
    if len(gaps) < _GAPS_NEEDED:
        return None
    shortest = min(beat, quantile(gaps, 0.1))
    # A reading that repeats the one before is not kept: twice the interval is one.
    gaps = sorted(_once(gap, shortest) for gap in gaps)
    p90 = quantile(gaps, 0.9)
    return Pace(
        gaps=len(gaps),
        median=quantile(gaps, 0.5),
        p90=p90,
        shortest=shortest,
        longest=quantile(gaps, 0.99),
        on_change=p90 > _UNEVEN * shortest,
    )


def _once(gap: float, interval: float) -> float:
    """Return a gap as one interval where it is a few of them."""
    times = round(gap / interval)
    if 1 < times <= _MOST_REPEATS and abs(gap - times * interval) < _OFF_BEAT * gap:
        return gap / times
    return gap


def _even(lengths: Iterable[float]) -> list[float]:
    """Return lengths in order, or none of them where they are not alike."""
    ordered = sorted(lengths)
    if not ordered or quantile(ordered, 0.8) > _ALIKE * quantile(ordered, 0.1):
        return []
    return ordered


def first_cut_delay(pace: Pace | None, levels: Thresholds) -> float:
    """Return how many seconds of a first cut may pass before it counts as a start."""
    return levels.start_confirm + (0.0 if pace is None else pace.longest_delay)


def advise(pace: Pace | None, levels: Thresholds) -> tuple[Advice, ...]:
    """Return what follows from the pace of a plug for a machine with these levels.

    A plug of which no pace was found, but whose false readings have to be waited for so
    long, reports too slowly to have shown one.
    """
    advice = []
    if unprotected := first_cut_delay(pace, levels) > FIRST_CUT:
        advice.append(Advice.FIRST_CUT_UNPROTECTED)
    if pace is None:
        slow = (Advice.SHORTEN_INTERVAL, Advice.USE_CURRENT_SWITCH)
        return (*advice, *slow) if unprotected else ()
    if levels.stop_confirm < pace.interval:
        advice.append(Advice.STOP_SETTLES_TOO_SOON)
    if pace.interval >= _SLOW:
        advice.append(Advice.SHORTEN_INTERVAL)
    if pace.interval >= _TOO_SLOW:
        advice.append(Advice.USE_CURRENT_SWITCH)
    return tuple(advice)
