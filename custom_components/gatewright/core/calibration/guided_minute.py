"""Thresholds from a guided minute: "leave it off", then "now switch it on".

For a machine of which nothing was recorded yet. A minute shows rest and free running and
nothing of lights, chargers and odd readings, so what the recorder knows after a week is
worth more.
"""

from collections.abc import Iterable, Sequence
import math

from ..config import Thresholds
from .confirm_times import stop_confirm, thresholds
from .distribution import SCALES, Histogram, LogScale, middle, picture, trimmed_range
from .history import LevelStep, Reading, beat_of, smooth, steps_of
from .learner import (
    CLEAR_RATIO,
    FAIR_RATIO,
    Confidence,
    Learned,
    ProposedLevels,
    Remark,
    RemarkNote,
)
from .levels import NARROWEST, Level, LevelRole, Unlearned
from .reporting import pace_of_steps

SHORTEST_REST = 10.0
SHORTEST_WORK = 5.0
"""Seconds of rest and of work without which a guided minute tells nothing."""

_ENOUGH_WORK = 15.0


def learn_guided(
    off: Iterable[Reading],
    on: Iterable[Reading],
    unit: str = "W",
    *,
    off_until: float,
    on_until: float,
) -> Learned:
    """Return what two recordings tell, one of the machine off and one of it running.

    Each begins with the reading that holds at its beginning and lasts until its instant
    in s. The machine may be switched on at any moment of the second one, and off again
    before its end. Raises `KeyError` for a unit that is not W or A.
    """
    scale = SCALES[unit]
    rest = _smooth(steps_of(off, off_until), scale)
    second = steps_of(on, on_until)
    beat = beat_of(second, scale.floor) or 1.0
    smoothed = _smooth(second, scale)
    whole = [*rest, *smoothed]
    histogram = Histogram.of(whole, scale.floor)
    observed = _length(whole)
    if not rest or not smoothed:
        return Learned(refusal=Unlearned.NO_READINGS, observed=observed)
    _, rest_high = trimmed_range(rest, below=0.0, above=1.0)
    rest_high = max(rest_high, scale.floor)
    # The first reading may still be on its way up.
    rising = [step for step in smoothed if step.value > NARROWEST * rest_high]
    work = rising[1:] or rising
    if refusal := _refusal(rest, work, scale):
        return Learned(refusal=refusal, picture=picture(histogram), observed=observed)
    run_time = _length(work)
    work_low, work_high = trimmed_range(work, below=0.1 * run_time, above=0.0)
    start, stop = thresholds(rest_high, work_low, scale)
    pace = pace_of_steps(second, start, beat)
    ratio = work_low / rest_high
    notes = [
        RemarkNote(
            Remark.STANDS_OUT if ratio >= CLEAR_RATIO else Remark.CLOSE_LEVELS, ratio
        ),
        RemarkNote(Remark.FEW_RUNS, 1),
    ]
    if run_time < _ENOUGH_WORK:
        notes.append(RemarkNote(Remark.LITTLE_RUN_TIME, run_time))
    return Learned(
        proposal=ProposedLevels(
            levels=Thresholds(
                start=start,
                stop=stop,
                start_confirm=0.0,
                stop_confirm=stop_confirm((), beat if pace is None else pace.interval),
            ),
            # Nothing is held out that could prove it: never clear.
            confidence=Confidence.FAIR if ratio >= FAIR_RATIO else Confidence.POOR,
            notes=tuple(notes),
            rest_high=rest_high,
            work_low=work_low,
            rest_usual=rest_high,
            work_usual=work_low,
            runs=1,
            run_time=run_time,
        ),
        found=(
            Level(
                role=LevelRole.IDLE,
                low=min(step.value for step in rest),
                typical=middle(rest),
                high=rest_high,
                seconds=_length(rest),
            ),
            Level(
                role=LevelRole.RUNNING,
                low=work_low,
                typical=middle(work),
                high=work_high,
                seconds=run_time,
            ),
        ),
        picture=picture(histogram, stop=stop, start=start),
        pace=pace,
        observed=observed,
    )


def _smooth(steps: Sequence[LevelStep], scale: LogScale) -> Sequence[LevelStep]:
    beat = beat_of(steps, scale.floor) or 1.0
    return smooth(steps, beat, scale.floor).steps


def _length(steps: Iterable[LevelStep]) -> float:
    return math.fsum(step.lasts for step in steps)


def _refusal(
    rest: Sequence[LevelStep], work: Sequence[LevelStep], scale: LogScale
) -> Unlearned | None:
    if not work:
        return Unlearned.ONE_LEVEL
    if _length(rest) < SHORTEST_REST or _length(work) < SHORTEST_WORK:
        return Unlearned.TOO_SHORT
    if middle(work) < scale.least:
        return Unlearned.NO_RUNS
    return None
