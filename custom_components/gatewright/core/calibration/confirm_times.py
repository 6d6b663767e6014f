"""From what a machine draws at rest and at work to thresholds and confirmation times."""

from collections.abc import Sequence
import math

from .cost import cost_of_start_confirm, cost_of_stop_confirm
from .distribution import LogScale

_USUAL_STOP_CONFIRM = 4.0
_LONGEST_SETTLE = 90.0
_MARGIN = 1.25
_FEWEST_ODD = 6
_ROOM = 2.0

_LONGEST_PAUSE = 30.0
_FEWEST_PAUSES = 10
_RHYTHM = 3
"""So many times more of the short pauses than of all others make a machine's rhythm."""


def thresholds(
    rest_high: float, work_low: float, scale: LogScale, *, averaging: bool = False
) -> tuple[float, float]:
    """Return the start and stop thresholds between rest and work.

    On a log scale they lie 60 % and 35 % of the way up. Where there is much room, start is
    raised to a quarter of the work, but to no more than a small load draws: so a lamp
    added later does not start the collector. A slow plug that averages shows the beginning
    of a run as a fraction of what it draws; there it is raised to the least that a
    machine draws only. Rounded to two figures where the room allows it.
    """
    ratio = work_low / rest_high
    least = scale.least if averaging else scale.small
    start = max(rest_high * ratio**0.6, min(work_low / 4.0, least))
    # Less than a machine draws is never a start, wherever rest and work seem to part.
    start = max(start, min(scale.least, 0.9 * work_low))
    stop = max(rest_high * ratio**0.35, start / 2.0)
    rounded = _two_figures(start), _two_figures(stop)
    if rest_high < rounded[1] < 0.97 * rounded[0] < rounded[0] < work_low:
        return rounded
    return start, stop


def start_confirm(
    runs: Sequence[float], odd: tuple[Sequence[float], Sequence[float]]
) -> float:
    """Return how long in s a start has to last: not at all, unless that is proven.

    `runs` are the lengths of the machine's runs, `odd` those of the readings that rose to
    the start level and were none, in the first and in the second half of the time. Proven
    means that waiting costs less than not waiting, in the first half as in the second, and
    that the shortest run is twice as long as the wait.
    """
    every = [*odd[0], *odd[1]]
    if len(every) < _FEWEST_ODD:
        return 0.0
    half = runs[: math.ceil(len(runs) / 2)]
    proven = [
        wait
        for wait in sorted({_tenths(_MARGIN * lasts) for lasts in every})
        if wait <= min(runs, default=0.0) / _ROOM
        and all(
            cost_of_start_confirm(wait, half, part)
            < cost_of_start_confirm(0.0, half, part)
            for part in odd
        )
    ]
    return min(
        proven,
        key=lambda wait: (cost_of_start_confirm(wait, runs, every), wait),
        default=0.0,
    )


def stop_confirm(
    dips: Sequence[float], interval: float, pauses: Sequence[float] = ()
) -> float:
    """Return how long in s a stop has to last: longer than an interval and any dip.

    `pauses` are the times between one run and the next. Where nearly all of them are
    short, they are the machine's own rhythm (a drum that turns to and fro, a heater that
    cycles), and are waited through as far as that costs less than starting again.
    """
    settle = max(_USUAL_STOP_CONFIRM, 1.2 * interval)
    settle = max(settle, 1.1 * max(dips, default=0.0) + 0.5)
    short = [pause for pause in pauses if pause <= _LONGEST_PAUSE]
    if len(short) >= max(_FEWEST_PAUSES, _RHYTHM * (len(pauses) - len(short))):
        waits = {settle, *(pause + 1.0 for pause in short if pause + 1.0 > settle)}
        settle = min(waits, key=lambda wait: (cost_of_stop_confirm(wait, pauses), wait))
    return _tenths(settle)


def _tenths(seconds: float) -> float:
    return min(_LONGEST_SETTLE, math.ceil(10.0 * seconds) / 10.0)


def _two_figures(value: float) -> float:
    return float(f"{value:.2g}")
