"""Whether a movable machine's hose is connected, as a contact says."""

from ..config import MachineConfig
from ..times import over

_SIGNAL_DROPOUT = 60.0
"""How long in s the contact may say nothing before that is told."""


class HoseSignal:
    """The report of a hose's contact: the first counts at once, a change once it has lasted.

    `connected` is what counts, None while nothing was ever reported; no report leaves it as
    it was. `missing` says that there is none at present, `lost` that this is so for too long.
    """

    __slots__ = ("_missing_since", "_says", "_since", "connected", "lost", "missing")

    def __init__(self, now: float) -> None:
        """Begin at `now` without a report."""
        self.connected: bool | None = None
        self.missing = True
        self.lost = False
        self._missing_since: float | None = now
        self._says: bool | None = None
        self._since = now

    def hear(self, connected: bool | None, now: float) -> bool:
        """Take what the contact says; return whether that counts at once."""
        self.missing = connected is None
        if connected is None:
            self._says = self.connected
            return False
        self._missing_since = None
        self.lost = False
        if connected is not self._says:
            self._says, self._since = connected, now
        if self.connected is not None:
            return False
        self.connected = connected
        return True

    def trust(self) -> None:
        """Take at once that the hose is connected, for somebody who asks."""
        if self._says:
            self.connected = True

    def advance(self, now: float, plan: MachineConfig) -> bool:
        """Let time pass; return whether a change has lasted, and counts now."""
        if self.missing and self._missing_since is None:
            self._missing_since = now
        if plan.movable and over(self.lost_at(plan), now):
            self.lost = True
        if self._says is self.connected or not over(self.counts_at(plan), now):
            return False
        self.connected = self._says
        return True

    def counts_at(self, plan: MachineConfig) -> float | None:
        """Return when a change will have lasted."""
        if self._says in (None, self.connected):
            return None
        return self._since + plan.hose_confirm

    def lost_at(self, plan: MachineConfig) -> float | None:
        """Return when a contact that says nothing counts as lost."""
        if not plan.movable or self.lost or self._missing_since is None:
            return None
        return self._missing_since + _SIGNAL_DROPOUT

    def recall(self, connected: bool | None) -> None:
        """Take up what an earlier process knew."""
        self.connected = self._says = connected
