"""From what a machine draws at rest and at work to thresholds and settling times."""

from collections.abc import Sequence
import math

from ..units import HOUR
from .reporting import Pace

_USUAL_START_SETTLE = 1.0
_USUAL_STOP_SETTLE = 4.0
_LONGEST_SETTLE = 90.0
_LONG_WATCH = 48 * HOUR
_SPARED_PER = 200 * HOUR


def thresholds(rest_high: float, work_low: float) -> tuple[float, float]:
    """Return the start and stop thresholds between rest and work.

    On a log scale they lie 60 % and 35 % of the way up; where there is much room they
    are kept near the work, a quarter and an eighth of it, so that a lamp added later
    does not start the collector. Rounded to two figures where the room allows it.
    """
    ratio = work_low / rest_high
    start = max(rest_high * ratio**0.6, work_low / 4.0)
    stop = max(rest_high * ratio**0.35, start / 2.0)
    rounded = _two_figures(start), _two_figures(stop)
    if rest_high < rounded[1] < 0.97 * rounded[0] < rounded[0] < work_low:
        return rounded
    return start, stop


def start_settle(false: Sequence[float], pace: Pace | None, observed: float) -> float:
    """Return how long in s a start has to last: longer than the `false` ones seen.

    `false` are their lengths, `observed` is how long was watched, in s. Where none was
    seen for long, waiting for a second report would only cost air.
    """
    if not false:
        return 0.0 if observed >= _LONG_WATCH else _USUAL_START_SETTLE
    # One false start in two hundred hours is worth less than the air of every cut.
    spared = min(int(observed / _SPARED_PER), len(false) - 1)
    settle = sorted(false, reverse=True)[spared]
    if pace is not None and not pace.on_change:
        # The next false one may last for one of the longer intervals.
        settle = max(settle, min(pace.longest, 1.05 * pace.median))
    return _tenths(settle + 0.1)


def stop_settle(dips: Sequence[float], pace: Pace | None) -> float:
    """Return how long in s a stop has to last: longer than an interval and any dip."""
    settle = _USUAL_STOP_SETTLE
    if pace is not None:
        settle = max(settle, 1.2 * pace.interval)
    return _tenths(max(settle, 1.1 * max(dips, default=0.0) + 0.5))


def _tenths(seconds: float) -> float:
    return min(_LONGEST_SETTLE, math.ceil(10.0 * seconds) / 10.0)


def _two_figures(value: float) -> float:
    return float(f"{value:.2g}")
