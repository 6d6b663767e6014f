"""How the readings of a sensor are spread: time by value, on a log scale.

What a machine draws asleep and at work differs by factors, not by sums, so values are
counted in classes of equal ratio. Everything at or below the floor of the scale is one
class: "nothing".
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
import math

from .history import LevelStep

PER_DECADE = 40
"""Classes per factor of ten: each is 6 % wide."""

_MOST = 1e5
"""So many times the floor, 100 kW, is more than any machine draws."""

_EIGHTHS = " ▏▎▍▌▋▊▉"
_FULL = "█"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogScale:
    """What the figures of a unit mean; all in that unit.

    `floor` is what counts as nothing; `least` the least that a machine draws at work;
    up to `small` a light or a battery charger may be what draws it. Common practice, no
    published source.
    """

    floor: float
    least: float
    small: float


SCALES: dict[str, LogScale] = {
    "W": LogScale(floor=1.0, least=12.0, small=150.0),
    "A": LogScale(floor=0.02, least=0.12, small=1.0),
}
"""By the unit of the reading. At 120 V, 1 A is 120 W; at 230 V it is 230 W."""


@dataclass(frozen=True, slots=True)
class Histogram:
    """Seconds by class; class 0 is everything at or below the `floor`."""

    floor: float
    seconds: tuple[float, ...]

    @classmethod
    def of(cls, steps: Iterable[LevelStep], floor: float) -> Histogram:
        """Count the steps."""
        seconds: list[float] = []
        for step in steps:
            index = class_of(step.value, floor)
            if index >= len(seconds):
                seconds.extend([0.0] * (index + 1 - len(seconds)))
            seconds[index] += step.lasts
        return cls(floor, tuple(seconds))

    def lower(self, index: int) -> float:
        """Return the lower edge of a class, in the unit of the readings."""
        return self.floor * 10.0 ** ((index - 0.5) / PER_DECADE) if index else 0.0


def class_of(value: float, floor: float) -> int:
    """Return the class that a value belongs to; nonsense is all in the highest one."""
    if value <= floor:
        return 0
    if value >= floor * _MOST:
        return round(PER_DECADE * math.log10(_MOST))
    return round(PER_DECADE * math.log10(value / floor))


def trimmed_range(
    steps: Iterable[LevelStep], *, below: float, above: float
) -> tuple[float, float]:
    """Return the lowest and highest value once so many seconds are cut off.

    `below` and `above` are the seconds cut off at either end; at least the middle of
    the distribution is left.
    """
    ordered = sorted((step.value, step.lasts) for step in steps)
    whole = math.fsum(lasts for _, lasts in ordered)
    return (
        _after(ordered, min(below, 0.4 * whole)),
        _after(reversed(ordered), min(above, 0.4 * whole)),
    )


def middle(steps: Iterable[LevelStep]) -> float:
    """Return the median of the values, weighted by time."""
    return weighted_median((step.value, step.lasts) for step in steps)


def weighted_median(pairs: Iterable[tuple[float, float]]) -> float:
    """Return the median of the first numbers, weighted by the second; 0 for none."""
    ordered = sorted(pairs)
    return _after(ordered, math.fsum(weight for _, weight in ordered) / 2.0)


def _after(ordered: Iterable[tuple[float, float]], seconds: float) -> float:
    """Return the value that holds once so many seconds have passed."""
    value = so_far = 0.0
    for value, lasts in ordered:  # noqa: B007 - the last value is the answer
        so_far += lasts
        if so_far > seconds:
            break
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One line of the picture: values from `low` up to `high`, and a bar for the time.

    `seconds` is how long the value was there; the bar grows with the logarithm of it,
    so that minutes a month can still be seen beside idle weeks. `running` says which
    side of the thresholds it lies on; None between them, or where there are none.
    """

    low: float
    high: float
    seconds: float
    bar: str
    running: bool | None = None


def picture(
    histogram: Histogram,
    *,
    lines: int = 12,
    width: int = 24,
    stop: float | None = None,
    start: float | None = None,
) -> tuple[Bar, ...]:
    """Return a small text picture of a distribution, the lowest values first.

    The range is cut into at most `lines` bands of equal ratio; a bar is at most `width`
    characters long.
    """
    used = len(histogram.seconds)
    if not used:
        return ()
    lines = max(2, lines)
    # Class 0 stands alone: its width on a log scale has no meaning.
    size = max(1, math.ceil((used - 1) / (lines - 1)))
    bands = [(0, 1), *((at, at + size) for at in range(1, used, size))]
    sums = [math.fsum(histogram.seconds[first:last]) for first, last in bands]
    longest = math.log1p(max(sums))
    return tuple(
        Bar(
            low=(low := histogram.lower(first)),
            high=(high := histogram.lower(last)),
            seconds=seconds,
            bar=_bar(math.log1p(seconds) / longest * width if longest else 0.0),
            running=_side(low, high, stop, start),
        )
        for (first, last), seconds in zip(bands, sums, strict=True)
    )


def _side(
    low: float, high: float, stop: float | None, start: float | None
) -> bool | None:
    if stop is None or start is None:
        return None
    center = math.sqrt(max(low, high / 10.0) * high)
    if center >= start:
        return True
    return False if center <= stop else None


def _bar(length: float) -> str:
    eighths = round(8.0 * length)
    if length > 0.0:
        eighths = max(1, eighths)
    rest = _EIGHTHS[eighths % 8].strip()
    return _FULL * (eighths // 8) + rest


def quantile(ordered: Sequence[float], share: float) -> float:
    """Return a quantile of sorted numbers, interpolated; raises for none at all."""
    if not ordered:
        raise ValueError("no numbers")
    place = share * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])
