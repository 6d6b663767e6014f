"""An air cleaner that runs on until the room is clean again."""

from collections.abc import Mapping
from typing import Any

from .config import RoomConfig


class RoomCleaner:
    """Says whether the room's air cleaner should be on.

    In a well-mixed room n air changes leave exp(-n) of the dust, 5 % after three; a
    real room mixes worse, so that the changes are a rule of thumb (common practice,
    no source).
    """

    def __init__(self, plan: RoomConfig) -> None:
        self.plan = plan
        self.wanted = False
        self._working = False
        self._worked_at = 0.0
        self._clean_since: float | None = None

    @property
    def lasts(self) -> float | None:
        """How long the air changes take, in s; None where they do not count."""
        if self.plan.changes is None:
            return None
        return self.plan.changes * self.plan.volume / self.plan.flow

    def read(self, concentration: float | None, now: float) -> None:
        """Take a reading of the particles in mg/m3; None is "not known"."""
        limit = self.plan.clean_below
        if concentration is None or limit is None or concentration >= limit:
            self._clean_since = None
        elif self._clean_since is None:
            self._clean_since = now

    def advance(self, now: float, *, working: bool) -> None:
        """Let time pass; `working` says that dust is being made."""
        if working:
            self.wanted = True
            self._worked_at = now
        elif self._working:
            # What was clean while the work went on says little about afterwards.
            self._worked_at = now
        self._working = working
        if not working and any(now >= end for end in self._ends()):
            self.wanted = False

    def due_after(self, now: float) -> float | None:
        """Return when to look again."""
        if not self.wanted or self._working:
            return None
        return min((end for end in self._ends() if end > now), default=None)

    def save(self, now: float) -> dict[str, Any]:
        """Return what has to survive a restart."""
        return {"wanted": self.wanted, "since_work": now - self._worked_at}

    def restore(self, data: Mapping[str, Any], now: float) -> None:
        """Take over what `save` returned; the time in between is not counted."""
        self.wanted = data.get("wanted", False)
        self._worked_at = now - data.get("since_work", 0.0)

    def _ends(self) -> list[float]:
        if self.plan.clean_below is None and self.plan.changes is None:
            return [self._worked_at]
        ends = [self._worked_at + self.plan.longest]
        if self._clean_since is not None:
            ends.append(max(self._clean_since, self._worked_at) + self.plan.settle)
        if self.lasts is not None:
            ends.append(self._worked_at + self.lasts)
        return ends
