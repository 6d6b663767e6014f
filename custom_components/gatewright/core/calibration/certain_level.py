"""The level from which on a single reading proves that a machine has started."""

from bisect import bisect_right
from collections.abc import Sequence

from .history import Interval, LevelStep

_FEWEST_RUNS = 5
_ROOM = 1.3
"""How many times as high it lies as anything that was no run."""

_INSIDE = 0.9


def certain_level(
    stays: Sequence[LevelStep],
    runs: Sequence[Interval],
    start: float,
    typical: float,
    small: float,
    beat: float,
) -> float | None:
    """Return the least reading that was never anything but this machine at work.

    Idle readings, other loads, lone readings and whatever else lay outside of its `runs`
    stayed well below it, however short; it lies well inside the range of the runs' own
    readings, of which `typical` is the middle; and every run rose above it. None where too
    few runs were seen, where something else reached as high, or where some run did not.
    All in the unit of the readings; `beat` in s. It is no higher than need be, for what
    lies below it has to wait: `small` is what a light added later may draw.
    """
    if len(runs) < _FEWEST_RUNS:
        return None
    begins = [first for first, _ in runs]
    peaks = [0.0] * len(runs)
    # What stands at either end of a run belongs to it.
    slack = 1.5 * beat
    elsewhere = 0.0
    for at, value, lasts in stays:
        place = bisect_right(begins, at + lasts + slack) - 1
        if place < 0 or at > runs[place][1] + slack:
            elsewhere = max(elsewhere, value)
        elif value > peaks[place]:
            peaks[place] = value
    least = max(start, _ROOM * elsewhere)
    most = _INSIDE * min(typical, *peaks)
    preferred = min(small, (start * typical) ** 0.5)
    return None if least > most else min(max(least, preferred), most)
