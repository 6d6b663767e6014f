"""Switches that run with a machine: a second extractor, an air cleaner, a light."""

from collections.abc import Iterable, Iterator

from .actuation import Actuator, Deviation, Order, Tries
from .plan import Companion

_CONFIRM = 10.0


class _Tracked:
    """One companion: switched on with the work, off once after it, then left alone."""

    __slots__ = ("actuator", "off_at", "on_at", "plan")

    def __init__(self, plan: Companion) -> None:
        self.plan = plan
        self.actuator = Actuator(window=_CONFIRM, on=Tries(count=2), off=Tries(count=2))
        self.on_at: float | None = None
        self.off_at: float | None = None


class CompanionBoard:
    """All companions of one system."""

    def __init__(self) -> None:
        """Start without companions."""
        self._tracked: dict[str, _Tracked] = {}

    def plan(self, companions: Iterable[Companion]) -> None:
        """Take up a changed set of companions; those that stay keep their state."""
        before = self._tracked
        self._tracked = {}
        for companion in companions:
            tracked = before.get(companion.companion_id) or _Tracked(companion)
            tracked.plan = companion
            self._tracked[companion.companion_id] = tracked

    def actuator(self, companion_id: str) -> Actuator | None:
        """Return what is known of a companion."""
        tracked = self._tracked.get(companion_id)
        return None if tracked is None else tracked.actuator

    def report(
        self,
        companion_id: str,
        value: bool | None,
        now: float,
        *,
        reachable: bool,
        own: bool,
    ) -> None:
        """Take a report; a companion switched by hand is left as it was put."""
        if (tracked := self._tracked.get(companion_id)) is None:
            return
        deviation = tracked.actuator.report(value, now, reachable=reachable, own=own)
        if deviation is Deviation.HAND:
            tracked.actuator.follow_hand(now)

    def aim(self, wanted: frozenset[str], now: float) -> None:
        """Run the wanted companions, and stop those that ran and no longer should."""
        for companion_id, tracked in self._tracked.items():
            if companion_id in wanted:
                tracked.off_at = None
                if tracked.on_at is None:
                    tracked.on_at = now + tracked.plan.delay
                if now >= tracked.on_at and tracked.actuator.want is None:
                    tracked.actuator.wish(True, now)
            elif tracked.on_at is not None:
                tracked.on_at = None
                if tracked.actuator.want is not None:
                    tracked.off_at = now + tracked.plan.run_on
            if tracked.off_at is not None and now >= tracked.off_at:
                tracked.off_at = None
                tracked.actuator.wish(False, now)
            self._let_go(companion_id, tracked, wanted, now)

    def advance(self, now: float) -> bool:
        """Let time pass up to `now`; return whether that changed anything."""
        changed = False
        for tracked in self._tracked.values():
            changed |= tracked.actuator.advance(now)
        return changed

    def due_after(self, now: float) -> Iterator[float]:
        """Yield the instants after `now` at which time alone changes something."""
        for tracked in self._tracked.values():
            for due in (tracked.on_at, tracked.off_at, tracked.actuator.due):
                if due is not None and due > now:
                    yield due

    def orders(self) -> Iterator[tuple[str, Order]]:
        """Yield the commands that are due."""
        for companion_id, tracked in self._tracked.items():
            if order := tracked.actuator.order:
                yield companion_id, order

    def dispatched(self, companion_id: str) -> None:
        """Note that a command for a companion is on its way."""
        if tracked := self._tracked.get(companion_id):
            tracked.actuator.dispatched()

    def _let_go(
        self, companion_id: str, tracked: _Tracked, wanted: frozenset[str], now: float
    ) -> None:
        """Stop caring about a companion that is off again: it is the owner's now."""
        actuator = tracked.actuator
        done = actuator.want is False and (
            actuator.failed or (actuator.reported is False and actuator.order is None)
        )
        if done and companion_id not in wanted and tracked.off_at is None:
            actuator.wish(None, now)
