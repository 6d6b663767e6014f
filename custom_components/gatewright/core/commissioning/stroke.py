"""One stroke of a gate: what every signal of the shop said while it was made."""

from collections.abc import Iterator

from .task import Moment, Signal, SignalRole

STEADY = 0.5
"""Seconds that a contact must stand still to count: limit switches bounce for some
milliseconds and radio sensors report twice. From memory, no source."""


class Stroke:
    """What was seen from the command on; times are seconds since then."""

    def __init__(self, opened: bool, moment: Moment) -> None:
        self.opened = opened
        self.began = moment.now
        self.end = moment
        self._before = moment.sight.signals
        self._changes: list[tuple[float, Signal, bool | None]] = []

    def see(self, moment: Moment) -> None:
        """Note what differs from the last look."""
        before = self.end.sight.signals
        for signal, value in moment.sight.signals.items():
            if value != before.get(signal):
                self._changes.append((moment.now - self.began, signal, value))
        self.end = moment

    def final(self, signal: Signal) -> bool | None:
        """Return how a signal stands now."""
        return self.end.sight.signals.get(signal)

    def changed(self, signal: Signal) -> bool:
        """Whether a signal has changed at all."""
        return any(changed == signal for _, changed, _ in self._changes)

    def last_change(self, signals: tuple[Signal, ...]) -> float | None:
        """Return when one of these signals changed last."""
        times = [at for at, signal, _ in self._changes if signal in signals]
        return max(times, default=None)

    def arrived(self, signal: Signal) -> float | None:
        """Return when a signal came to say what it says now."""
        return self.last_change((signal,))

    def others(self, gate_id: str) -> Iterator[str]:
        """Yield the other gates of which a signal went from one end to the other.

        A signal that was lost or came back is none: it says nothing of a slide.
        """
        for _, (other, role), value in self._changes:
            before = self._before.get((other, role))
            if other != gate_id and None not in (value, before) and value != before:
                yield other


def expected(role: SignalRole, *, opened: bool) -> bool:
    """Return what a signal should say once the gate has arrived."""
    return opened is not (role is SignalRole.CLOSED_SENSOR)
