"""Thresholds learned from what the recorder kept of a machine's reading.

The owner does not know watts. From a history of power or current this proposes from
which value on a machine runs, at which it has stopped and how long either has to last,
says how sure that is and why, or refuses and says why. It tells codes and numbers; the
words are the caller's.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
import math

from ..config import Thresholds
from .cross_check import HeldOut, try_halves
from .distribution import SCALES, Bar, Histogram, LogScale, picture
from .fitting import LevelFit, fit, might_be_a_light
from .history import LevelStep, Reading, beat_of, stays_of, steps_of, total
from .levels import Boundary, Level, LevelRole, Unlearned
from .reporting import Pace, pace_of_steps

__all__ = [
    "Bar",
    "Confidence",
    "Learned",
    "Level",
    "LevelRole",
    "ProposedLevels",
    "Remark",
    "RemarkNote",
    "Unlearned",
    "learn",
]

SHORTEST_HISTORY = 120.0
"""Seconds of usable readings below which a history is not looked at."""

_FEWEST_READINGS = 5
_QUIET = 0.25
CLEAR_RATIO, FAIR_RATIO = 3.0, 1.6
"""How many times as much work has to draw as rest to stand out, and to be fair."""

_CLEAR_RUNS, _FAIR_RUNS = 5, 2
_CLEAR_TIME, _FAIR_TIME = 60.0, 20.0
_SLOW = 5.0
_MOST_LOST = 0.01


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
    HALVES_AGREE = "halves_agree"
    """Either half of the history alone would have found all of so many runs."""
    HALVES_MISS = "halves_miss"
    """So many runs would have been missed by what the other half of the history tells."""
    HALVES_START_FALSELY = "halves_start_falsely"
    """So many false starts would have come of what the other half of the history tells."""
    HALF_TEACHES_NOTHING = "half_teaches_nothing"
    """One half of the history, of so many runs, would have told nothing."""
    FEW_RUNS = "few_runs"
    """So many runs were seen."""
    LITTLE_RUN_TIME = "little_run_time"
    """So many seconds of work were seen."""
    OTHER_LOAD = "other_load"
    """Something else that draws so much was taken to be on the same outlet."""
    INRUSH = "inrush"
    """What draws so much at the beginning of its runs was taken for the motor's inrush."""
    PART = "part"
    """What draws so much within its runs was taken for another part, such as a heater."""
    AVERAGES = "averages"
    """So many readings at either end of a run were taken for averages of rest and work."""
    MIGHT_BE_A_LIGHT = "might_be_a_light"
    """What was taken for work draws no more than a light or charger does: so much."""
    SECOND_LEVEL = "second_level"
    """Work might as well begin at a higher level: so much."""
    SPIKES = "spikes"
    """So many single high readings were passed over."""
    DOUBTFUL = "doubtful"
    """So many single readings may have been short runs."""
    DIPS = "dips"
    """So many single low readings during work were passed over."""
    SINGLE_READINGS = "single_readings"
    """Runs show in one reading each: the plug reports too slowly for them (interval, s)."""
    LATE = "late"
    """The plug shows a start so many seconds late, which is much of a run."""


@dataclass(frozen=True, slots=True)
class RemarkNote:
    """A remark and its number."""

    remark: Remark
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposedLevels:
    """Levels to adopt, how sure they are, and the figures behind them.

    `rest_high` and `work_low` are the most at rest and the least at work in the unit of
    the readings, `rest_usual` and `work_usual` those that 95 % of the time at rest and
    90 % of the time at work keep to; `runs` is how many runs were seen and `run_time` their seconds. `overlap` is
    the time spent between the thresholds, as a share of the shorter of rest and work.
    `held_out` is what either half of the history made of the other, None where it could
    not be tried.
    """

    levels: Thresholds
    confidence: Confidence
    notes: tuple[RemarkNote, ...]
    rest_high: float
    work_low: float
    rest_usual: float
    work_usual: float
    runs: int
    run_time: float
    overlap: float = 0.0
    held_out: HeldOut | None = None

    @property
    def certain_level(self) -> float | None:
        """The reading from which on a start needs no confirmation.

        In this record it was never anything but a run of this machine; None where the
        record does not prove one.
        """
        return self.levels.certain

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

    proposal: ProposedLevels | None = None
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
    stays = stays_of(steps, _QUIET * scale.least)
    observed = math.fsum(stay.lasts for stay in stays)
    bars = picture(Histogram.of(stays, scale.floor))
    if refusal := _too_little(steps, observed):
        return Learned(refusal=refusal, picture=bars, observed=observed)
    beat = beat_of(steps, scale.floor) or 1.0
    pace = pace_of_steps(steps, _working_from(stays, scale), beat)
    found = fit(stays, scale, beat, pace)
    if isinstance(found, Unlearned):
        return Learned(refusal=found, picture=bars, observed=observed, pace=pace)

    levels, held_out = _proven(found, stays, scale, beat, pace)
    notes = tuple(_notes(found, held_out, pace, scale))
    boundary = found.boundary
    confidence = _confidence(found, held_out, notes)
    if confidence is Confidence.POOR:
        # What is but a guess proves nothing.
        levels = replace(levels, certain=None)
    return Learned(
        proposal=ProposedLevels(
            levels=levels,
            confidence=confidence,
            notes=notes,
            rest_high=boundary.rest_high,
            work_low=boundary.work_low,
            rest_usual=boundary.rest_usual,
            work_usual=boundary.work_usual,
            runs=len(boundary.runs),
            run_time=total(boundary.runs),
            overlap=found.overlap,
            held_out=held_out,
        ),
        found=boundary.levels,
        picture=picture(
            Histogram.of(stays, scale.floor), stop=levels.stop, start=levels.start
        ),
        pace=pace,
        observed=observed,
    )


def _proven(
    found: LevelFit,
    stays: Sequence[LevelStep],
    scale: LogScale,
    beat: float,
    pace: Pace | None,
) -> tuple[Thresholds, HeldOut | None]:
    """Return the levels of a fit, and what either half of the history makes of the other.

    A certain level delays what lies below it, so it is kept only where neither half would
    lose a run by it.
    """

    def teach(half: Sequence[LevelStep], *, certain: bool) -> Thresholds | None:
        taught = fit(half, scale, beat, pace)
        if isinstance(taught, Unlearned):
            return None
        level = taught.certain_level if certain else None
        return replace(taught.levels, certain=level)

    def tried(levels: Thresholds) -> HeldOut | None:
        certain = levels.certain is not None
        return try_halves(
            stays, levels, lambda half: teach(half, certain=certain), beat
        )

    if found.certain_level is not None:
        levels = replace(found.levels, certain=found.certain_level)
        held_out = tried(levels)
        if held_out is not None and held_out.holds:
            return levels, held_out
    return found.levels, tried(found.levels)


def _working_from(stays: Sequence[LevelStep], scale: LogScale) -> float:
    """Return a value that only a machine at work exceeds, before its levels are known."""
    high = max(stay.value for stay in stays)
    return max(scale.least, math.sqrt(max(scale.floor, high) * scale.floor))


def _too_little(steps: Sequence[LevelStep], observed: float) -> Unlearned | None:
    if not steps:
        return Unlearned.NO_READINGS
    if observed < SHORTEST_HISTORY:
        return Unlearned.TOO_SHORT
    # A sensor that never changes has one level, however long it was watched.
    if len({step.value for step in steps}) > 1 and len(steps) < _FEWEST_READINGS:
        return Unlearned.TOO_FEW_READINGS
    return None


def _notes(
    found: LevelFit, held_out: HeldOut | None, pace: Pace | None, scale: LogScale
) -> Iterable[RemarkNote]:
    boundary = found.boundary
    stands_out = boundary.ratio >= CLEAR_RATIO
    yield RemarkNote(
        Remark.STANDS_OUT if stands_out else Remark.CLOSE_LEVELS, boundary.ratio
    )
    if held_out is not None:
        if held_out.holds:
            yield RemarkNote(Remark.HALVES_AGREE, held_out.runs)
        elif held_out.untaught:
            yield RemarkNote(Remark.HALF_TEACHES_NOTHING, held_out.runs)
        if held_out.missed:
            yield RemarkNote(Remark.HALVES_MISS, held_out.missed)
        if held_out.false_starts:
            yield RemarkNote(Remark.HALVES_START_FALSELY, held_out.false_starts)
    if len(boundary.runs) < _CLEAR_RUNS:
        yield RemarkNote(Remark.FEW_RUNS, len(boundary.runs))
    if (run_time := total(boundary.runs)) < _CLEAR_TIME:
        yield RemarkNote(Remark.LITTLE_RUN_TIME, run_time)
    if boundary.other_load is not None and boundary.other_load >= scale.least:
        yield RemarkNote(Remark.OTHER_LOAD, boundary.other_load)
    if boundary.inrush is not None:
        yield RemarkNote(Remark.INRUSH, boundary.inrush)
    if boundary.part is not None:
        yield RemarkNote(Remark.PART, boundary.part)
    if boundary.edges:
        yield RemarkNote(Remark.AVERAGES, boundary.edges)
    if boundary.second is not None:
        yield RemarkNote(Remark.SECOND_LEVEL, boundary.second)
    elif might_be_a_light(boundary, scale):
        yield RemarkNote(Remark.MIGHT_BE_A_LIGHT, boundary.levels[-1].typical)
    if found.dips:
        yield RemarkNote(Remark.DIPS, found.dips)
    if found.odd:
        yield RemarkNote(Remark.SPIKES, len(found.odd))
    if found.doubtful:
        yield RemarkNote(Remark.DOUBTFUL, len(found.doubtful))
    if found.single and pace is not None:
        yield RemarkNote(Remark.SINGLE_READINGS, pace.interval)
    elif lost := _lost(boundary, pace):
        yield RemarkNote(Remark.LATE, lost)


def _lost(boundary: Boundary, pace: Pace | None) -> float | None:
    """Return how late in s a slow plug shows a start, where that is much of a run."""
    if pace is None or pace.interval < _SLOW:
        return None
    late = pace.typical_delay * len(boundary.runs)
    return pace.typical_delay if late > _MOST_LOST * total(boundary.runs) else None


def _confidence(
    found: LevelFit, held_out: HeldOut | None, notes: Sequence[RemarkNote]
) -> Confidence:
    """Return how sure a proposal is: as sure as the weakest of its reasons."""
    boundary = found.boundary
    remarks = {note.remark for note in notes}
    if (
        boundary.ratio < FAIR_RATIO
        or len(boundary.runs) < _FAIR_RUNS
        or total(boundary.runs) < _FAIR_TIME
        or found.single
        or Remark.MIGHT_BE_A_LIGHT in remarks
    ):
        return Confidence.POOR
    if (
        held_out is None
        or not held_out.holds
        or remarks
        & {
            Remark.CLOSE_LEVELS,
            Remark.FEW_RUNS,
            Remark.LITTLE_RUN_TIME,
            Remark.OTHER_LOAD,
            Remark.PART,
            Remark.SECOND_LEVEL,
            Remark.LATE,
        }
    ):
        return Confidence.FAIR
    return Confidence.CLEAR
