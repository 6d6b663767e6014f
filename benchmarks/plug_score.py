"""How well levels detect when a recorded machine ran."""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from statistics import median

from custom_components.gatewright.core.calibration.history import (
    Interval,
    Reading,
    runs_by,
)
from custom_components.gatewright.core.config import Thresholds
from custom_components.gatewright.core.units import HOUR

from .plug_folder import Recorded

_EARLY = 5.0


@dataclass(kw_only=True)
class Score:
    """What levels made of runs; times in s.

    `runs` are those that last for at least a reporting interval, `missed` those of them
    during which the machine never counted as running. `running` is the time of all runs
    from the first report of each on, `found` what of it counted as running, `unseen` what
    of the runs lay before that report. `late` is by how much each found run was late,
    in reporting intervals.
    """

    hours: float = 0.0
    runs: int = 0
    missed: int = 0
    false_starts: int = 0
    running: float = 0.0
    found: float = 0.0
    unseen: float = 0.0
    late: list[float] = field(default_factory=list)

    def add(self, other: Score) -> None:
        """Count another score in."""
        self.hours += other.hours
        self.runs += other.runs
        self.missed += other.missed
        self.false_starts += other.false_starts
        self.running += other.running
        self.found += other.found
        self.unseen += other.unseen
        self.late += other.late

    @property
    def share(self) -> float:
        """The share of the running time that counted as running."""
        return self.found / self.running if self.running else 1.0

    @property
    def real_share(self) -> float:
        """The same, with the time before the first report of each run counted in."""
        whole = self.running + self.unseen
        return self.found / whole if whole else 1.0

    @property
    def lateness(self) -> float:
        """The median delay of the found runs, in reporting intervals."""
        return median(self.late) if self.late else 0.0

    @property
    def false_per_100_hours(self) -> float:
        """False starts in a hundred hours."""
        return 100.0 * self.false_starts / self.hours if self.hours else 0.0


def score(
    levels: Thresholds,
    recorded: Recorded,
    reports: Sequence[Reading],
    interval: float,
    part: Interval,
) -> Score:
    """Compare the verdict on reports with the truth, in one part of the time.

    A verdict that begins outside of all runs and lone readings is a false start; it may
    come as late as two reports, and 5 s early.
    """
    begin, end = part
    inside = _within(reports, part)
    verdicts = runs_by(levels, inside, end)
    result = Score(hours=(end - begin) / HOUR)
    seen_at = [at for at, _ in inside]
    for first, last in recorded.ran:
        if first < begin or last > end:
            continue
        covering = [(a, b) for a, b in verdicts if b > first and a < last]
        # A plug that averages or delays may report a run once it's over.
        found = covering or [v for v in verdicts if last <= v[0] <= last + interval]
        if last - first >= interval:
            result.runs += 1
            result.missed += not found
        at = bisect_right(seen_at, first - 1e-6)
        shown = min(last, max(first, seen_at[at])) if at < len(seen_at) else last
        result.unseen += shown - first
        result.running += last - shown
        result.found += sum(max(0.0, min(b, last) - max(a, shown)) for a, b in covering)
        if found:
            result.late.append(max(0.0, found[0][0] - first) / interval)
    result.false_starts = sum(
        not _belongs(verdict, [*recorded.ran, *recorded.lone], interval)
        for verdict in verdicts
    )
    return result


def _within(reports: Sequence[Reading], part: Interval) -> list[Reading]:
    """Return the reports of a part, with the one that holds at its beginning."""
    begin, end = part
    held: float | None = None
    inside: list[Reading] = []
    for at, value in reports:
        if at <= begin:
            held = value
        elif at < end:
            inside.append((at, value))
    return [(begin, held), *inside]


def _belongs(verdict: Interval, ran: Iterable[Interval], interval: float) -> bool:
    return any(
        first - max(_EARLY, interval) <= verdict[0] <= last + 2.0 * interval
        for first, last in ran
    )
