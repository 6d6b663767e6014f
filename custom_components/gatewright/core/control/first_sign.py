"""What opens a machine's gates before it is known to run: a first sign, or a foretelling.

Opening a gate does no harm and is taken back as easily. Neither starts the collector, and
nothing is counted for it.
"""

EARLY_SIGNAL_SETTLE = 2.0
"""How long in s somebody has to be there before gates open for the work to come."""

EARLY_SIGNAL_LASTS = 1800.0
"""For how long in s gates stay open for work that does not begin."""


class FirstSign:
    """Whether a reading that may be a start opens the machine's gates.

    One that comes to nothing is followed by a rest, so that a plug with spikes does not
    wear out a gate.
    """

    __slots__ = ("_rests_until", "acts")

    def __init__(self) -> None:
        self.acts = False
        self._rests_until: float | None = None

    def follow(self, now: float, *, starting: bool, running: bool, rest: float) -> None:
        """Take whether a start is being confirmed; the `rest` is in s."""
        if starting:
            if self._rests_until is None or now >= self._rests_until:
                self.acts = True
            return
        if self.acts and not running:
            self._rests_until = now + rest
        self.acts = False

    def due(self, *, starting: bool) -> float | None:
        """When a sign that waits for the rest to end will act."""
        return self._rests_until if starting and not self.acts else None


class EarlySignal:
    """Whether somebody is about to work at a machine, as a sensor says."""

    __slots__ = ("_since",)

    def __init__(self) -> None:
        self._since: float | None = None

    def hear(self, present: bool | None, now: float) -> None:
        """Take what the sensor says; None, "not known", counts as nobody there."""
        if not present:
            self._since = None
        elif self._since is None:
            self._since = now

    def acts(self, now: float) -> bool:
        """Whether gates should stand open for it."""
        since = self._since
        return since is not None and (
            since + EARLY_SIGNAL_SETTLE <= now < since + EARLY_SIGNAL_LASTS
        )

    def due_after(self, now: float) -> float | None:
        """Return the next instant after `now` at which that changes."""
        if self._since is None:
            return None
        instants = (self._since + EARLY_SIGNAL_SETTLE, self._since + EARLY_SIGNAL_LASTS)
        return next((at for at in instants if at > now), None)
