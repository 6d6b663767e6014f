"""What a recorder kept of a sensor, taken apart: steps, spikes, dips, stays and runs.

A recorder keeps changes: each reading holds until the next one. Where there was no
usable reading there is a gap, and nothing is known of it.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
import math
from typing import NamedTuple

from ..config import Thresholds
from ..control.run_detection import RunDetector

type Reading = tuple[float, float | None]
"""An instant in s and the value from then on; None is "no usable reading"."""

type Interval = tuple[float, float]
"""From one instant in s to another."""

_LONGEST_BEAT = 300.0
"""A plug that reports more slowly than this (s) cannot serve a shop at all."""

_BEATS_NEEDED = 5
_HIGH = (0.98, 0.9, 0.75)
"""Where "high" is looked for among the readings: lower down where few are above."""


class LevelStep(NamedTuple):
    """A value that held from the instant `at` for `lasts` seconds."""

    at: float
    value: float
    lasts: float

    @property
    def end(self) -> float:
        """The instant at which it ceased to hold."""
        return self.at + self.lasts


@dataclass(frozen=True, slots=True)
class Smoothed:
    """Steps of which single odd readings were taken out.

    `spikes` are those that rose from the level around them and fell back to it, `dips`
    those that fell out of it. A motor's inrush is neither: it belongs to its run.
    """

    steps: tuple[LevelStep, ...]
    spikes: tuple[LevelStep, ...]
    dips: tuple[LevelStep, ...]


def steps_of(history: Iterable[Reading], until: float | None = None) -> list[LevelStep]:
    """Return the steps of a history in the order of time; `until` ends the last one.

    A value counts by its size, as in `RunSensor.read`. Without `until` the last reading
    has no length and is left out. Of several readings at one instant the last counts.
    """
    readings = sorted(history, key=lambda reading: reading[0])
    ends = [at for at, _ in readings[1:]]
    ends.append(readings[-1][0] if readings and until is None else until or 0.0)
    return [
        LevelStep(at, abs(value), end - at)
        for (at, value), end in zip(readings, ends, strict=False)
        if value is not None and math.isfinite(value) and end > at
    ]


def stays_of(steps: Iterable[LevelStep], quiet: float) -> list[LevelStep]:
    """Join steps in a row that are at one level, each with the mean of its values.

    At one level is what differs by a tenth at most from the first of them, or does not
    exceed `quiet`. So a value that is reported again and again, one that is reported
    once because it does not change, and a noisy one are all the same: a stay.
    """
    stays: list[LevelStep] = []
    begun = ends = weight = math.nan
    low, high = math.inf, -math.inf
    for at, value, lasts in steps:
        if low <= value <= high and at == ends:
            weight += value * lasts
            ends = at + lasts
            continue
        if ends > begun:
            stays.append(LevelStep(begun, weight / (ends - begun), ends - begun))
        begun, ends, weight = at, at + lasts, value * lasts
        low, high = (0.0, quiet) if value <= quiet else (value / 1.1, value * 1.1)
    if ends > begun:
        stays.append(LevelStep(begun, weight / (ends - begun), ends - begun))
    return stays


def beat_of(steps: Sequence[LevelStep], floor: float) -> float | None:
    """Return the shortest usual time in s between two readings while the value is high.

    At rest a sensor has little to tell, so only readings above the middle of the range
    count (on a log scale above `floor`). A reading that repeats the one before is not
    kept, and a plug that reports on change is silent while nothing changes, so the
    shortest gaps tell the beat (their first decile), not the heartbeat: among all gaps at
    work, and among those at either end of a run, where something changes for sure. Where
    there is too little work, all gaps count; None where those are too few as well.
    """
    if not steps:
        return None
    values = sorted(step.value for step in steps)
    inside: list[float] = []
    ends: list[float] = []
    for share in _HIGH:
        high = max(floor, values[int(share * (len(values) - 1))])
        middle = math.sqrt(high * floor)
        inside, ends = [], []
        was_high = False
        for (at, one, lasts), (then, other, _) in pairwise(steps):
            if one < middle:
                was_high = False
                continue
            if lasts <= _LONGEST_BEAT and then == at + lasts:
                stays_high = other >= middle
                if stays_high:
                    inside.append(lasts)
                if not (was_high and stays_high):
                    ends.append(lasts)
            was_high = True
        found = [
            sorted(gaps)[len(gaps) // 10]
            for gaps in (inside, ends)
            if len(gaps) >= _BEATS_NEEDED
        ]
        if found:
            return min(found)
    # Too little work was seen: what is known are gaps at rest, and single readings.
    every = sorted(
        first.lasts
        for first, second in pairwise(steps)
        if first.lasts <= _LONGEST_BEAT and second.at == first.end
    )
    if len(every) < _BEATS_NEEDED:
        return None
    return min([every[len(every) // 10], *inside, *ends])


def smooth(steps: Sequence[LevelStep], beat: float, floor: float) -> Smoothed:
    """Take out single readings that last for about one `beat` (s) and stand alone.

    Odd is what is more than twice, or less than half, of both its neighbors, all taken
    as at least `floor`. It gets the value of the neighbor that is nearer to it.
    """
    longest = max(3.0, 1.5 * beat)
    kept = list(steps)
    spikes: list[LevelStep] = []
    dips: list[LevelStep] = []
    for index in range(1, len(kept) - 1):
        step = kept[index]
        if step.lasts > longest:
            continue
        before, after = kept[index - 1], kept[index + 1]
        if before.end != step.at or after.at != step.end:
            continue
        value, low, high = _ranked(step, before, after, floor)
        if value > 2.0 * high:
            kept[index] = step._replace(value=max(before.value, after.value))
            # What stays up afterwards was a motor's inrush.
            if high <= 2.0 * low or after.value < before.value:
                spikes.append(step)
        elif value < 0.5 * low:
            kept[index] = step._replace(value=min(before.value, after.value))
            dips.append(step)
    return Smoothed(tuple(kept), tuple(spikes), tuple(dips))


def _ranked(
    step: LevelStep, before: LevelStep, after: LevelStep, floor: float
) -> tuple[float, float, float]:
    value, one, other = (max(floor, s.value) for s in (step, before, after))
    return value, min(one, other), max(one, other)


def bridged(intervals: Iterable[Interval], longest: float = 0.0) -> Iterator[Interval]:
    """Join intervals, in the order of their beginnings, that are `longest` s apart."""
    begins: float | None = None
    ends = 0.0
    for first, last in intervals:
        if begins is None:
            begins, ends = first, last
        elif first - ends <= longest:
            ends = max(ends, last)
        else:
            yield begins, ends
            begins, ends = first, last
    if begins is not None:
        yield begins, ends


def runs_by(
    levels: Thresholds, history: Iterable[Reading], until: float
) -> list[Interval]:
    """Return when a machine would have counted as running under these levels.

    The readings go through the very `RunDetector` that watches the machine; a run that is
    not over `until` ends there.
    """
    readings = sorted(history, key=lambda reading: reading[0])
    if not readings:
        return []
    sensor = RunDetector(levels, readings[0][0])
    runs: list[Interval] = []
    began: float | None = None

    def settle(before: float) -> None:
        nonlocal began
        while (due := sensor.due) is not None and due < before:
            sensor.advance(due)
            began = _turned(sensor, began, due, runs)

    for at, value in readings:
        if at >= until:
            break
        settle(at)
        sensor.read(value, at)
        sensor.advance(at)
        began = _turned(sensor, began, at, runs)
    settle(until)
    if began is not None:
        runs.append((began, until))
    return runs


def _turned(
    sensor: RunDetector, began: float | None, now: float, runs: list[Interval]
) -> float | None:
    """Note a run that ended; return when the present one began."""
    if sensor.running:
        return now if began is None else began
    if began is not None:
        runs.append((began, now))
    return None


def total(intervals: Iterable[Interval]) -> float:
    """Return the length of all intervals together in s."""
    return math.fsum(last - first for first, last in intervals)


def length(steps: Iterable[LevelStep]) -> float:
    """Return the length of all steps together in s."""
    return math.fsum(step.lasts for step in steps)
