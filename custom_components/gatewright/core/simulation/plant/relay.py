"""Relays, and reports that do not say the truth at once."""

from dataclasses import dataclass, field

from ...times import earliest
from .motion import TICK


@dataclass(slots=True)
class Bounce:
    """A report that says the new state, then the old one again, then the truth.

    This is what an optimistic state followed by one stale poll looks like from outside.
    """

    steps: list[tuple[float, float | None]] = field(default_factory=list)

    def start(self, now: float, new: float, old: float) -> None:
        """Begin: new after 0.1 s, old again after 1 s, the truth after 5.5 s."""
        self.steps = [(now + 0.1, new), (now + 1.0, old), (now + 5.5, None)]

    def clear(self) -> None:
        """Say the truth from now on."""
        self.steps = []

    def told(self, now: float) -> float | None:
        """Return what is said instead of the truth, if anything."""
        value: float | None = None
        for since, told in self.steps:
            if since <= now + TICK:
                value = told
        return value

    def next_event(self, after: float) -> float | None:
        """Return when the report changes next."""
        return earliest(since for since, _ in self.steps if since > after + TICK)


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
        """Switch again later, without a command."""
        self.pending.append((at, on))

    def reported(self, now: float) -> bool:
        """Return what is reported."""
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
            (
                *(at for at, _ in self.pending if at > after + TICK),
                self.bounce.next_event(after),
            )
        )
