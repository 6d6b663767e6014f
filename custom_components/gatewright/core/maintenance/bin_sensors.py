"""What looks into the bin: a full sensor, a level or distance sensor.

Chips swirl and pile up while the collector pulls, so that both are believed only
after they have said the same for a while, and what would count as emptied only
with the collector at rest.
"""

from collections.abc import Mapping
from enum import Enum, auto
from typing import Any

_DOUBT = 60.0
"""How long in s a full bin that looks emptied may wait for a rest to make sure of it."""

_BAND = 0.05
"""Share of the scale within which readings of a level are the same one."""


class Seen(Enum):
    """What a full sensor has just made sure of."""

    FULL = auto()
    EMPTIED = auto()


class FullSensor:
    """A sensor that says "full" or "not full"."""

    def __init__(self, settle: float) -> None:
        """Start without a reading; `settle` is s."""
        self.settle = settle
        self.full = False
        self._on: bool | None = None
        self._since = 0.0
        self._rest_since: float | None = None
        # Whether it was full at rest, so that going off again means emptied; chips
        # that were only piled up or whirled fall when the air stops.
        self._stood_full = False
        self._answered = False
        self.undecided = False
        """Whether it went off a moment ago, which may turn out to mean emptied."""

    def read(self, on: bool | None, now: float) -> None:
        """Take a reading; None is "not known" and changes nothing."""
        if on is not None and on is not self._on:
            self._on = on
            self._since = now

    def answer(self) -> None:
        """Note that the bin was emptied, whatever the sensor still says."""
        self._stood_full = False
        self._answered = True

    def advance(self, now: float, *, at_rest: bool) -> Seen | None:
        """Return what has become certain at `now`, once."""
        if not at_rest:
            self._rest_since = None
        elif self._rest_since is None:
            self._rest_since = now
        self.undecided = (
            self._on is False
            and self._stood_full
            and (at_rest or now < self._since + _DOUBT)
        )
        if self._on is None or now < self._since + self.settle:
            return None
        resting = self._rest_since is not None and now >= self._rest_since + self.settle
        if self._on:
            news = Seen.FULL if not self.full and not self._answered else None
            self.full = True
            self._stood_full = self._stood_full or (resting and not self._answered)
            return news
        self.full = self._answered = False
        if self._stood_full and resting:
            self._stood_full = self.undecided = False
            return Seen.EMPTIED
        return None

    def due_after(self, now: float) -> float | None:
        """Return when a reading, or the rest, will have lasted long enough."""
        instants = [self._since] if self._on is not None else []
        if self._rest_since is not None:
            instants.append(self._rest_since)
        looks = [at + self.settle for at in instants]
        if self.undecided:
            looks.append(self._since + _DOUBT)
        return min((at for at in looks if at > now), default=None)

    def save(self) -> dict[str, Any]:
        """Return what has to survive a restart."""
        return {
            "full": self.full,
            "stood_full": self._stood_full,
            "answered": self._answered,
        }

    def restore(self, data: Mapping[str, Any]) -> None:
        """Take over what `save` returned."""
        self.full = data.get("full", False)
        self._stood_full = data.get("stood_full", False)
        self._answered = data.get("answered", False)


class LevelSensor:
    """A sensor that reads a level or a distance, in any unit."""

    def __init__(self, empty: float, full: float, settle: float) -> None:
        """Start without a reading; `empty` and `full` are readings, `settle` is s."""
        self.empty = empty
        self.full = full
        self.settle = settle
        self._share: float | None = None
        self._base = 0.0
        self._since = 0.0
        self._rest_since: float | None = None
        self._fresh = False

    def read(self, value: float | None, now: float) -> None:
        """Take a reading; None is "not known"."""
        if value is None:
            self._share = None
            return
        share = (value - self.empty) / (self.full - self.empty)
        if self._share is None or abs(share - self._base) > _BAND:
            self._base = share
            self._since = now
        self._fresh = self._fresh or share != self._share
        self._share = share

    def advance(self, now: float, *, at_rest: bool) -> float | None:
        """Return the share of the bin that a reading has made certain, once."""
        if not at_rest:
            self._rest_since = None
            # What is read next at rest is news, even if it reads the same.
            self._fresh = True
            return None
        if self._rest_since is None:
            self._rest_since = now
        if self._share is None or not self._fresh:
            return None
        if now < max(self._since, self._rest_since) + self.settle:
            return None
        self._fresh = False
        return min(1.2, max(0.0, self._share))

    def due_after(self, now: float) -> float | None:
        """Return when a reading will have stood for long enough."""
        if self._share is None or self._rest_since is None or not self._fresh:
            return None
        due = max(self._since, self._rest_since) + self.settle
        return due if due > now else None
