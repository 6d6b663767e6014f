"""Thresholds learned from what the recorder kept of a machine's reading.

The owner does not know watts. From a history of power or current this proposes from
which value on a machine runs, at which it has stopped and how long either has to last,
says how sure that is and why, or refuses and says why. It tells codes and numbers; the
words are the caller's.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
import math

from ..plan import Levels
from .distribution import SCALES, Bar, Histogram, Scale, picture
from .history import Reading, Smoothed, Step, beat_of, smooth, steps_of, total
from .levels import Boundary, Level, Role, Unlearned, find_boundary
from .reporting import Pace, pace_of_steps
from .settling import start_settle, stop_settle, thresholds

__all__ = [
    "Bar",
    "Confidence",
    "Learned",
    "Level",
    "Note",
    "Proposal",
    "Remark",
    "Role",
    "Unlearned",
    "learn",
]

SHORTEST_HISTORY = 600.0
"""Seconds of usable readings below which a history is not looked at."""

_FEWEST_READINGS = 8
_CLEAR_RATIO, _FAIR_RATIO = 3.0, 1.6
_CLEAR_RUNS, _FAIR_RUNS = 5, 2
_CLEAR_TIME, _FAIR_TIME = 60.0, 20.0
_LONG_STAY = 1200.0
_FASTEST_BEAT = 2.1
_LIKE_WORK = 1.5
_NEAR = 5.0
_MOST_OVERLAP = 0.05


class Confidence(StrEnum):
    """How sure a proposal is."""

    CLEAR = "clear"
    FAIR = "fair"
    POOR = "poor"


class Remark(StrEnum):
    """A reason behind a proposal; what its number means is said with each."""

    STANDS_OUT = "stands_out"
    """Work draws so many times as much as rest."""
    CLOSE_LEVELS = "close_levels"
    """Work draws only so many times as much as rest."""
    FEW_RUNS = "few_runs"
    """So many runs were seen."""
    LITTLE_RUN_TIME = "little_run_time"
    """So many seconds of work were seen."""
    OTHER_LOAD = "other_load"
    """Something else that draws so much was taken to be on the same outlet."""
    MIGHT_BE_A_LIGHT = "might_be_a_light"
    """What was taken for work draws no more than a light or charger does: so much."""
    SECOND_LEVEL = "second_level"
    """Work might as well begin at a higher level: so much."""
    SPIKES = "spikes"
    """So many single high readings were passed over."""
    DIPS = "dips"
    """So many single low readings during work were passed over."""
    SINGLE_READINGS = "single_readings"
    """Runs show in one reading each: the plug reports too slowly for them (interval, s)."""


@dataclass(frozen=True, slots=True)
class Note:
    """A remark and its number."""

    remark: Remark
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """Levels to adopt, how sure they are, and the figures behind them.

    `rest_high` and `work_low` are the most at rest and the least at work in the unit of
    the readings; `runs` is how many runs were seen and `run_time` their seconds. `overlap` is
    the time spent between the thresholds, as a share of the shorter of rest and work.
    """

    levels: Levels
    confidence: Confidence
    notes: tuple[Note, ...]
    rest_high: float
    work_low: float
    runs: int
    run_time: float
    overlap: float = 0.0

    @property
    def ratio(self) -> float:
        """How well work and rest separate: how many times as much work draws."""
        return self.work_low / self.rest_high


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What a history tells: a proposal, or the reason why there is none.

    `found` are the levels, `picture` the distribution as text lines, `pace` how the
    sensor reports while the machine runs, `observed` the seconds with a reading.
    """

    proposal: Proposal | None = None
    refusal: Unlearned | None = None
    found: tuple[Level, ...] = ()
    picture: tuple[Bar, ...] = ()
    pace: Pace | None = None
    observed: float = 0.0


def learn(
    history: Iterable[Reading], unit: str = "W", until: float | None = None
) -> Learned:
    """Return what a history of a power or current sensor tells about its machine.

    `history` holds the changes of the reading; `until` is the instant in s up to which
    the last one held. `unit` is W or A; raises `KeyError` for another.
    """
    scale = SCALES[unit]
    steps = steps_of(history, until)
    observed = math.fsum(step.lasts for step in steps)
    bars = picture(Histogram.of(steps, scale.floor))
    if refusal := _too_little(steps, observed):
        return Learned(refusal=refusal, picture=bars, observed=observed)
    beat = beat_of(steps, scale.floor) or 1.0
    smoothed = smooth(steps, beat, scale.floor)
    boundary = find_boundary(smoothed.steps, scale, beat)
    single = False
    if isinstance(boundary, Unlearned) and smoothed.spikes:
        # Perhaps the plug is so slow that its runs look like spikes.
        seen = find_boundary(steps, scale, beat)
        if isinstance(seen, Boundary) and len(seen.runs) >= _CLEAR_RUNS:
            boundary, single = seen, True
    if isinstance(boundary, Unlearned):
        return Learned(refusal=boundary, picture=bars, observed=observed)
    start, stop = thresholds(boundary.rest_high, boundary.work_low)
    overlap = _overlap(steps if single else smoothed.steps, stop, start)
    if overlap > _MOST_OVERLAP:
        return Learned(refusal=Unlearned.OVERLAPPING, picture=bars, observed=observed)
    pace = pace_of_steps(steps, start)
    false = [] if single else _false_starts(smoothed, boundary, start, beat)
    levels = Levels(
        start=start,
        stop=stop,
        # Where a run is one reading, waiting for the next would miss it.
        start_settle=0.0 if single else start_settle(false, pace, observed),
        stop_settle=stop_settle(
            [step.lasts for step in smoothed.dips if step.value <= stop], pace
        ),
    )
    notes = tuple(_notes(boundary, smoothed, levels, scale))
    if false:
        notes += (Note(Remark.SPIKES, len(false)),)
    if single:
        notes += (Note(Remark.SINGLE_READINGS, beat),)
    return Learned(
        proposal=Proposal(
            levels=levels,
            confidence=_confidence(boundary, notes),
            notes=notes,
            rest_high=boundary.rest_high,
            work_low=boundary.work_low,
            runs=len(boundary.runs),
            run_time=total(boundary.runs),
            overlap=overlap,
        ),
        found=boundary.levels,
        picture=picture(Histogram.of(steps, scale.floor), stop=stop, start=start),
        pace=pace,
        observed=observed,
    )


def _overlap(steps: Iterable[Step], stop: float, start: float) -> float:
    """Return the time between two thresholds against the shorter one beside them."""
    rest = between = work = 0.0
    for step in steps:
        if step.value <= stop:
            rest += step.lasts
        elif step.value < start:
            between += step.lasts
        else:
            work += step.lasts
    least = min(rest, work)
    return between / least if least else math.inf


def _too_little(steps: Sequence[Step], observed: float) -> Unlearned | None:
    if not steps:
        return Unlearned.NO_READINGS
    if observed < SHORTEST_HISTORY:
        return Unlearned.TOO_SHORT
    # A sensor that never changes has one level, however long it was watched.
    if len({step.value for step in steps}) > 1 and len(steps) < _FEWEST_READINGS:
        return Unlearned.TOO_FEW_READINGS
    return None


def _false_starts(
    smoothed: Smoothed, boundary: Boundary, start: float, beat: float
) -> list[float]:
    """Return the lengths in s of what rose to the start threshold and was no run.

    A slow plug shows a short run in a single reading. One of a height that work has is
    taken for such a run, unless there are more of them than of proper runs.
    """
    # Beside a run it is the run's own first or last reading, cut off by a false one.
    near = max(_NEAR, 3.0 * beat)
    lone = [
        spike
        for spike in smoothed.spikes
        if spike.value >= start
        and not any(a - near <= spike.at < b + near for a, b in boundary.runs)
    ]
    if beat > _FASTEST_BEAT:
        highest = _LIKE_WORK * boundary.levels[-1].high
        like_work = [spike for spike in lone if spike.value <= highest]
        if len(like_work) <= len(boundary.runs):
            lone = [spike for spike in lone if spike.value > highest]
    return [spike.lasts for spike in lone] + [b - a for a, b in boundary.blips]


def _notes(
    boundary: Boundary, smoothed: Smoothed, levels: Levels, scale: Scale
) -> Iterable[Note]:
    stands_out = boundary.ratio >= _CLEAR_RATIO
    yield Note(Remark.STANDS_OUT if stands_out else Remark.CLOSE_LEVELS, boundary.ratio)
    if len(boundary.runs) < _CLEAR_RUNS:
        yield Note(Remark.FEW_RUNS, len(boundary.runs))
    if (run_time := total(boundary.runs)) < _CLEAR_TIME:
        yield Note(Remark.LITTLE_RUN_TIME, run_time)
    if boundary.other_load is not None and boundary.other_load >= scale.least:
        yield Note(Remark.OTHER_LOAD, boundary.other_load)
    if boundary.second is not None:
        yield Note(Remark.SECOND_LEVEL, boundary.second)
    elif (work := boundary.levels[-1].typical) <= scale.small and (
        boundary.stay >= _LONG_STAY
    ):
        yield Note(Remark.MIGHT_BE_A_LIGHT, work)
    if low := sum(step.value <= levels.stop for step in smoothed.dips):
        yield Note(Remark.DIPS, low)


def _confidence(boundary: Boundary, notes: Sequence[Note]) -> Confidence:
    """Return how sure a boundary is: as sure as the weakest of its reasons."""
    remarks = {note.remark for note in notes}
    if (
        boundary.ratio < _FAIR_RATIO
        or len(boundary.runs) < _FAIR_RUNS
        or total(boundary.runs) < _FAIR_TIME
        or remarks & {Remark.MIGHT_BE_A_LIGHT, Remark.SINGLE_READINGS}
    ):
        return Confidence.POOR
    if remarks & {
        Remark.CLOSE_LEVELS,
        Remark.FEW_RUNS,
        Remark.LITTLE_RUN_TIME,
        Remark.OTHER_LOAD,
        Remark.SECOND_LEVEL,
    }:
        return Confidence.FAIR
    return Confidence.CLEAR
