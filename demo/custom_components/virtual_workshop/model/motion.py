"""Values that move in a straight line, and reports that do not tell the truth at once."""

from collections.abc import Iterable
from dataclasses import dataclass, field

LATE = 15.0
"""How late a late command takes effect [s]."""

TICK = 1e-6
"""Two instants closer than this are one instant [s]."""


@dataclass(slots=True)
class Ramp:
    """A value on its way from `value` (at the instant `since`) to `target`, at `rate` per second."""

    value: float = 0.0
    since: float = 0.0
    target: float = 0.0
    rate: float = 0.0

    def at(self, now: float) -> float:
        """Return the value at an instant."""
        way = self.target - self.value
        gone = self.rate * max(0.0, now - self.since)
        if self.rate <= 0:
            return self.value
        # Seconds since the epoch are exact to a quarter of a microsecond only: what is so near has arrived.
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

    def halt(self, now: float) -> None:
        """Stay where the value is."""
        self.go(now, self.at(now), 0.0)

    def next_crossing(self, after: float, marks: Iterable[float]) -> float | None:
        """Return the first instant after `after` at which the value reaches one of the marks or its target."""
        if self.rate <= 0:
            return None
        low, high = sorted((self.value, self.target))
        instants = [
            self.since + abs(mark - self.value) / self.rate
            for mark in (*marks, self.target)
            if low <= mark <= high
        ]
        return min(
            (instant for instant in instants if instant > after + TICK), default=None
        )


@dataclass(slots=True)
class Bounce:
    """A report that says the new state, then the old one again, then the truth.

    This is what an optimistic state followed by one stale poll looks like from outside.
    """

    steps: list[tuple[float, float | None]] = field(default_factory=list)

    def start(self, now: float, new: float, old: float) -> None:
        """Begin to bounce: new after 0.1 s, old again after 1 s, the truth after 5.5 s."""
        self.steps = [(now + 0.1, new), (now + 1.0, old), (now + 5.5, None)]

    def clear(self) -> None:
        """Tell the truth from now on."""
        self.steps = []

    def told(self, now: float) -> float | None:
        """Return what is told instead of the truth, if anything."""
        value: float | None = None
        for since, told in self.steps:
            if since <= now + TICK:
                value = told
        return value

    def next_event(self, after: float) -> float | None:
        """Return when the report changes next."""
        return min(
            (since for since, _ in self.steps if since > after + TICK), default=None
        )


@dataclass(slots=True)
class Relay:
    """A relay that follows its newest command after a short time, and reports what it did."""

    closed: bool = False
    pending: list[tuple[float, bool]] = field(default_factory=list)
    bounce: Bounce = field(default_factory=Bounce)

    def command(self, now: float, *, on: bool, latency: float) -> None:
        """Take a command; earlier ones that are still on their way are forgotten."""
        self.bounce.clear()
        self.pending = [(now + latency, on)]

    def then(self, at: float, *, on: bool) -> None:
        """Switch again later, by itself."""
        self.pending.append((at, on))

    def reported(self, now: float) -> bool:
        """Return what the hub is told."""
        told = self.bounce.told(now)
        return self.closed if told is None else told > 0

    def settle(self, now: float) -> bool:
        """Carry out what is due; return whether the contact moved."""
        before = self.closed
        for at, on in self.pending:
            if at <= now + TICK:
                self.closed = on
        self.pending = [(at, on) for at, on in self.pending if at > now + TICK]
        return self.closed != before

    def next_event(self, after: float) -> float | None:
        """Return when the contact or the report changes next."""
        return earliest(
            [
                *(at for at, _ in self.pending if at > after + TICK),
                self.bounce.next_event(after),
            ]
        )


def earliest(instants: Iterable[float | None]) -> float | None:
    """Return the first of some instants, of which some may be absent."""
    return min((instant for instant in instants if instant is not None), default=None)
