"""Whether a movable machine's hose is connected, as a contact says."""

from .plan import Machine
from .times import over

_SIGNAL_GRACE = 60.0
"""How long in s the contact may say nothing before that is told."""


class HoseSignal:
    """The word of a contact: the first counts at once, a change once it has lasted.

    `attached` is what counts, None while nothing was ever heard; no word leaves it as it
    was. `missing` says that there is none at present, `lost` that this is so for too long.
    """

    __slots__ = ("_missing_since", "_says", "_since", "attached", "lost", "missing")

    def __init__(self, now: float) -> None:
        """Begin at `now` without a word."""
        self.attached: bool | None = None
        self.missing = True
        self.lost = False
        self._missing_since: float | None = now
        self._says: bool | None = None
        self._since = now

    def hear(self, attached: bool | None, now: float) -> bool:
        """Take what the contact says; return whether that counts at once."""
        self.missing = attached is None
        if attached is None:
            self._says = self.attached
            return False
        self._missing_since = None
        self.lost = False
        if attached is not self._says:
            self._says, self._since = attached, now
        if self.attached is not None:
            return False
        self.attached = attached
        return True

    def trust(self) -> None:
        """Take at once that the hose is connected, for somebody who asks."""
        if self._says:
            self.attached = True

    def advance(self, now: float, plan: Machine) -> bool:
        """Let time pass; return whether a change has lasted, and counts now."""
        if self.missing and self._missing_since is None:
            self._missing_since = now
        self.lost = self.lost or over(self.lost_at(plan), now)
        if not over(self.counts_at(plan), now):
            return False
        self.attached = self._says
        return True

    def counts_at(self, plan: Machine) -> float | None:
        """Return when a change will have lasted."""
        if self._says in (None, self.attached):
            return None
        return self._since + plan.hose_confirm

    def lost_at(self, plan: Machine) -> float | None:
        """Return when a contact that says nothing counts as lost."""
        if not plan.movable or self.lost or self._missing_since is None:
            return None
        return self._missing_since + _SIGNAL_GRACE

    def recall(self, attached: bool | None) -> None:
        """Take up what an earlier process knew."""
        self.attached = self._says = attached
