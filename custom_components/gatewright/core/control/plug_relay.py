"""A metering plug whose relay is off: what its meter still says, and what that means."""

LATE = 5.0
"""How long in s after the click a reading may still be of before it."""

_WELDED = 2
"""Different readings after that from which a relay that is off is not believed."""


class PlugRelay:
    """Holds a plug's readings against its relay.

    A plug whose relay is off measures nothing: a bridge that repeats what it said last
    starts no machine. Readings that change all the same are of a relay that has welded, or
    of one that does not feed the machine: `contradicted` then says so, and they count.
    """

    __slots__ = ("_different", "_last", "_off_since", "contradicted")

    def __init__(self) -> None:
        self.contradicted = False
        self._off_since: float | None = None
        self._last: float | None = None
        self._different = 0

    def switched(self, on: bool | None, now: float) -> bool:
        """Take what the relay says; return whether the machine has just lost its power.

        None, "not known", leaves it as it was.
        """
        if on is None or on is (self._off_since is None):
            return False
        self._off_since = None if on else now
        self._different = 0
        self.contradicted = False
        return not on

    def read(self, value: float | None, now: float, idle: float) -> float | None:
        """Return what a reading means; None stays None.

        At or below `idle` it says nothing against the relay.
        """
        last, self._last = self._last, self._last if value is None else value
        if value is None or self._off_since is None or self.contradicted:
            return value
        late = now < self._off_since + LATE or last is None
        if value != last and abs(value) > idle and not late:
            self._different += 1
        self.contradicted = self._different >= _WELDED
        return value if self.contradicted else 0.0
