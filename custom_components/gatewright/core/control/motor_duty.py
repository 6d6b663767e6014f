"""What the collector's motor may be asked to do: rest and starts per hour.

A motor heats up with every start; its maker, or a published table for its kind,
says how many an hour it stands and how long it has to rest in between.
"""

from collections import deque

from ..units import HOUR


class MotorDuty:
    """Keeps the motor within its allowance.

    `rest` is the least time in s between off and the next on, `starts_per_hour` the
    allowance (None: no limit).
    """

    def __init__(self, rest: float = 0.0, starts_per_hour: float | None = None) -> None:
        self.rest = rest
        self.starts_per_hour = starts_per_hour
        self._starts: deque[float] = deque()
        self._stopped_at: float | None = None

    def started(self, now: float) -> None:
        """Note that the motor was started."""
        while self._starts and now - self._starts[0] > self._span:
            self._starts.popleft()
        self._starts.append(now)

    def stopped(self, now: float) -> None:
        """Note that the motor was seen off."""
        self._stopped_at = now

    def may_start_at(self, now: float) -> float:
        """Return the earliest instant at which a start is allowed, `now` or later."""
        earliest = max(now, self.start_free_at(now) or now)
        if self._stopped_at is not None:
            earliest = max(earliest, self._stopped_at + self.rest)
        return earliest

    def start_free_at(self, now: float) -> float | None:
        """Return when the hour's allowance has a start left again; None if it has one."""
        if self.starts_per_hour is None:
            return None
        whole = max(1, int(self.starts_per_hour))
        if len(self._starts) < whole:
            return None
        free = self._starts[-whole] + self._span
        return free if free > now else None

    def ages(self, now: float) -> tuple[list[float], float | None]:
        """Return how long ago the starts that count were, and the last stop."""
        stopped = None if self._stopped_at is None else now - self._stopped_at
        ages = [now - start for start in self._starts]
        return [age for age in ages if age <= self._span], stopped

    def restore(self, starts: list[float], stopped: float | None, now: float) -> None:
        """Take over the ages of starts and of the last stop from an earlier process."""
        self._starts = deque(now - age for age in sorted(starts, reverse=True))
        self._stopped_at = None if stopped is None else now - stopped

    @property
    def _span(self) -> float:
        """The time in s over which starts are counted.

        An allowance below one start an hour stretches the hour; a broken one above
        it is rounded down.
        """
        if self.starts_per_hour is not None and self.starts_per_hour < 1:
            return HOUR / self.starts_per_hour
        return HOUR
