"""Values that move evenly from where they are to where they should be."""

from collections.abc import Iterable
from dataclasses import dataclass
import math

from ...times import earliest

TICK = 1e-6
"""Two instants in s that are closer than this are one instant."""


def rate_of(seconds: float) -> float:
    """Return the rate per s of a way that takes so many seconds."""
    return 1.0 / seconds if seconds > 0 else math.inf


@dataclass(slots=True, kw_only=True)
class Ramp:
    """A value that left `value` at `since` for `target`, at `rate` per s."""

    value: float = 0.0
    since: float = 0.0
    target: float = 0.0
    rate: float = 0.0

    def at(self, now: float) -> float:
        """Return the value at an instant."""
        if self.rate <= 0:
            return self.value
        if math.isinf(self.rate):
            return self.target
        way = self.target - self.value
        gone = self.rate * max(0.0, now - self.since)
        # Seconds since the epoch are exact to a quarter of a microsecond only: what is so
        # near has arrived.
        if gone >= abs(way) - self.rate * TICK:
            return self.target
        return self.value + gone if way > 0 else self.value - gone

    def moving(self, now: float) -> bool:
        """Whether the value still changes."""
        return self.rate > 0 and self.at(now) != self.target

    def go(self, now: float, target: float, rate: float) -> None:
        """Head for a new target from wherever the value is."""
        self.value = self.at(now)
        self.since = now
        self.target = target
        self.rate = rate

    def place(self, now: float, value: float) -> None:
        """Be somewhere at once, and stay there."""
        self.value = self.target = value
        self.since = now
        self.rate = 0.0

    def halt(self, now: float) -> None:
        """Stay where the value is."""
        self.go(now, self.at(now), 0.0)

    def next_crossing(self, after: float, marks: Iterable[float]) -> float | None:
        """Return the next instant after `after` at which a mark or the target is reached."""
        if self.rate <= 0:
            return None
        low, high = sorted((self.value, self.target))
        return earliest(
            instant
            for mark in (*marks, self.target)
            if low <= mark <= high
            and (instant := self.since + abs(mark - self.value) / self.rate)
            > after + TICK
        )
