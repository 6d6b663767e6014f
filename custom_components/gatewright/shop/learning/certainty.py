"""The level from which on a single reading proves that a machine has started."""

from bisect import bisect_right
from collections.abc import Sequence

from .history import Interval, Step

_FEWEST_RUNS = 5
_ROOM = 1.3
"""How many times as high it lies as anything that was no run."""

_INSIDE = 0.9


def certain_level(
    stays: Sequence[Step],
    runs: Sequence[Interval],
    start: float,
    typical: float,
    beat: float,
) -> float | None:
    """Return the least reading that was never anything but this machine at work.

    Idle readings, other loads, lone readings and whatever else lay outside of its `runs`
    stayed well below it, however short; and it lies well inside the range of the runs'
    own readings, of which `typical` is the middle. None where too few runs were seen, or
    where something else reached as high. All in the unit of the readings; `beat` in s.
    """
    if len(runs) < _FEWEST_RUNS:
        return None
    begins = [first for first, _ in runs]
    # What stands at either end of a run belongs to it.
    slack = 1.5 * beat
    elsewhere = 0.0
    for at, value, lasts in stays:
        if value <= elsewhere:
            continue
        place = bisect_right(begins, at + lasts + slack) - 1
        if place < 0 or at > runs[place][1] + slack:
            elsewhere = value
    level = max(start, _ROOM * elsewhere, (start * typical) ** 0.5)
    return level if level <= _INSIDE * typical else None
