"""How long the impeller takes to full speed, read off the motor's power.

A motor draws several times its running current until it is up to speed (published for
direct starting: 6 to 8 times), so the power falls to what it keeps, and stays there.
"""

from collections import deque
from collections.abc import Sequence
from statistics import median

DEFAULT_SPIN_UP = 3.0
"""Seconds to full speed of a shop's collector, from memory."""

UP_TO_SPEED = 0.8
"""Share of the spin-up after which a collector collects."""

_WATCHED = 20.0
_SETTLED = 8.0
"""From when on, in s after the start, the power is taken to be what it keeps."""
_NEAR = 0.25
"""Share by which the power may differ from what it keeps: gates open meanwhile."""
_SHARPEST = 1.5
"""The longest gap in s between two readings that still says when it was."""
_LEAST, _MOST = 0.5, 15.0
_KEPT = 5


class SpinUpMeter:
    """Measures the spin-up at every start; `measured` is the median of the last five."""

    __slots__ = ("_kept", "_readings", "_started", "measured")

    def __init__(self, kept: Sequence[float] = ()) -> None:
        """Begin with what was measured before, in s."""
        self._kept: deque[float] = deque(kept, maxlen=_KEPT)
        self.measured = self._usual()
        """Seconds to full speed; None until a start could be read."""
        self._started: float | None = None
        self._readings: list[tuple[float, float]] = []

    @property
    def kept(self) -> list[float]:
        """What was measured, in s."""
        return list(self._kept)

    def started(self, now: float) -> None:
        """Note that the collector reported on."""
        self._started = now
        self._readings.clear()

    def stopped(self) -> None:
        """Note that the motor is off: what was read of this start says nothing."""
        self._started = None

    def read(self, watts: float, now: float) -> None:
        """Take a reading of the motor's power in W."""
        if self._started is None:
            return
        after = now - self._started
        self._readings.append((after, watts))
        if after >= _WATCHED:
            self._started = None
            if (found := spin_up_of(self._readings)) is not None:
                self._kept.append(found)
                self.measured = self._usual()

    def _usual(self) -> float | None:
        return round(median(self._kept), 1) if self._kept else None


def spin_up_of(readings: Sequence[tuple[float, float]]) -> float | None:
    """Return the seconds to full speed; None where the readings do not say.

    `readings` are pairs of the time in s since the start and the power in W. The spin-up
    ends between the last reading of the start that is not near what the power keeps,
    and the next.
    """
    keeps = [watts for after, watts in readings if after >= _SETTLED]
    if len(keeps) < 3 or (level := median(keeps)) <= 0:
        return None
    if any(abs(watts - level) > _NEAR * level for watts in keeps):
        return None
    start = [reading for reading in readings if reading[0] < _SETTLED]
    far = [n for n, (_, watts) in enumerate(start) if watts > (1 + _NEAR) * level]
    if not far or far[-1] + 1 >= len(start):
        return None
    before, after = start[far[-1]][0], start[far[-1] + 1][0]
    if after - before > _SHARPEST:
        return None
    found = (before + after) / 2
    return found if _LEAST <= found <= _MOST else None
