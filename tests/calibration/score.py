"""How well levels detect a running machine: false starts and missed runs."""

from collections.abc import Iterator
from dataclasses import dataclass

from custom_components.gatewright.core.calibration.history import Interval, runs_by
from custom_components.gatewright.core.config import Thresholds

from .traces import Trace


@dataclass
class Score:
    """False starts in hours; the longest wait for dust collection, in reporting intervals.

    `unfound` runs last for a reporting interval at least and never counted as running;
    `found` s of the `running` s did.
    """

    hours: float = 0.0
    runs: int = 0
    false_starts: int = 0
    longest_miss: float = 0.0
    missed: int = 0
    unfound: int = 0
    running: float = 0.0
    found: float = 0.0

    def add(self, other: Score) -> None:
        self.hours += other.hours
        self.runs += other.runs
        self.false_starts += other.false_starts
        self.missed += other.missed
        self.unfound += other.unfound
        self.running += other.running
        self.found += other.found
        self.longest_miss = max(self.longest_miss, other.longest_miss)

    @property
    def false_per_100_hours(self) -> float:
        return 100.0 * self.false_starts / self.hours


def score(levels: Thresholds, trace: Trace) -> Score:
    """Compare the verdict on a trace with its truth.

    A part of a run without a verdict of "runs" is a miss; it counts as too long when it
    lasts more than two reporting intervals and a quarter of a second. Every reading in
    it, or just before, in which the plug falsely showed "nothing" allows two more: it
    shows nothing and cancels the one before. Runs without readings don't depend on the
    levels. A verdict that begins while the machine rests is a false start.
    """
    verdicts = runs_by(levels, trace.history, trace.until)
    result = Score(hours=trace.hours)
    slack = levels.stop_confirm + 3.0 * trace.interval
    for first, last in trace.ran:
        if any(a < last + slack and b > first - slack for a, b in trace.outages):
            continue
        result.runs += 1
        covered = sum(max(0.0, min(b, last) - max(a, first)) for a, b in verdicts)
        result.running += last - first
        result.found += covered
        # A plug that averages or delays may report a run once it's over.
        seen = any(a <= last + trace.interval and b > first for a, b in verdicts)
        result.unfound += not seen and last - first >= trace.interval
        for begin, end in _uncovered(first, last, verdicts):
            lies = sum(begin - slack <= at <= end for at in trace.zeros)
            length = (end - begin - 0.25) / trace.interval - 2 * lies
            result.longest_miss = max(result.longest_miss, length)
            result.missed += length > 2.0
    result.false_starts = sum(
        not any(a <= begin <= b + trace.interval for a, b in trace.ran)
        for begin, _ in verdicts
    )
    return result


def _uncovered(
    first: float, last: float, verdicts: list[Interval]
) -> Iterator[Interval]:
    now = first
    for begin, end in verdicts:
        if end > first and begin < last:
            yield now, begin
            now = max(now, end)
    yield now, last
