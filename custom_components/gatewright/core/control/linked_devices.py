"""Switches that run with a machine: a second extractor, an air cleaner, a light."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Any

from ..config import LinkedDeviceConfig
from ..times import instant_after, time_left
from .actuator import Actuator, Order
from .actuator_memory import ActuatorMemory
from .actuator_states import Deviation
from .attempts import Tries

_CONFIRM = 10.0


class _Tracked:
    """One linked device: switched on with the work, off once after it, then left alone.

    `ours` says that the shop switched it on. One that was on before is its owner's,
    and so is one that somebody switches during the work.
    """

    __slots__ = ("actuator", "off_at", "on_at", "ours", "plan", "with_work")

    def __init__(self, plan: LinkedDeviceConfig) -> None:
        self.plan = plan
        self.actuator = Actuator(window=_CONFIRM, on=Tries(count=2), off=Tries(count=2))
        self.with_work = False
        self.ours = False
        self.on_at: float | None = None
        self.off_at: float | None = None


class LinkedDevices:
    """All linked devices of one system."""

    def __init__(self) -> None:
        """Start without linked devices."""
        self._tracked: dict[str, _Tracked] = {}

    def plan(self, linked_devices: Iterable[LinkedDeviceConfig]) -> None:
        """Take up a changed set of linked devices; those that stay keep their state."""
        before = self._tracked
        self._tracked = {}
        for linked_device in linked_devices:
            tracked = before.get(linked_device.linked_device_id) or _Tracked(
                linked_device
            )
            tracked.plan = linked_device
            self._tracked[linked_device.linked_device_id] = tracked

    def actuator(self, linked_device_id: str) -> Actuator | None:
        """Return what is known of a linked device."""
        tracked = self._tracked.get(linked_device_id)
        return None if tracked is None else tracked.actuator

    @property
    def any_failed(self) -> bool:
        """Whether any linked device does not do as it is told."""
        return any(tracked.actuator.failed for tracked in self._tracked.values())

    def report(
        self,
        linked_device_id: str,
        value: bool | None,
        now: float,
        *,
        reachable: bool,
        own: bool,
    ) -> None:
        """Take a report; a linked device switched by hand is left as it was put."""
        if (tracked := self._tracked.get(linked_device_id)) is None:
            return
        deviation = tracked.actuator.report(
            value, now, reachable=reachable and value is not None, own=own
        )
        if deviation is Deviation.HAND:
            tracked.actuator.set_target(None, now)
            tracked.ours = False
            tracked.on_at = tracked.off_at = None

    def apply_demand(
        self,
        wanted: Collection[str],
        now: float,
        *,
        start: bool = True,
        at_once: bool = False,
    ) -> None:
        """Run the wanted linked devices, and stop those that ran and no longer should.

        Without `start` only those go on that run already; `at_once` leaves out the
        shut-off delay.
        """
        for linked_device_id, tracked in self._tracked.items():
            if linked_device_id in wanted and (start or tracked.ours):
                self._run(tracked, now)
            else:
                self._rest(tracked, now, at_once=at_once)

    def remember(self, now: float) -> dict[str, Any]:
        """Return what has to survive a restart: who runs for the shop, times left."""
        return {
            linked_device_id: {
                "ours": tracked.ours,
                "with_work": tracked.with_work,
                "on_left": time_left(tracked.on_at, now),
                "off_left": time_left(tracked.off_at, now),
            }
            for linked_device_id, tracked in self._tracked.items()
        }

    def recall(self, kept: Mapping[str, Any], now: float, *, passed: float) -> None:
        """Take up what `remember` described, `passed` seconds ago."""
        for linked_device_id, memory in kept.items():
            if (tracked := self._tracked.get(linked_device_id)) is None:
                continue
            tracked.ours = memory["ours"]
            tracked.with_work = memory["with_work"]
            tracked.on_at = instant_after(memory["on_left"], now - passed)
            tracked.off_at = instant_after(memory["off_left"], now - passed)
            if tracked.ours and not tracked.with_work and tracked.off_at is None:
                # It was being switched off.
                tracked.off_at = now
            if tracked.ours:
                on = ActuatorMemory(target=True, reported=True)
                tracked.actuator.recall(on, now, passed=passed)

    def advance(self, now: float) -> None:
        """Let time pass up to `now`."""
        for tracked in self._tracked.values():
            tracked.actuator.advance(now)

    def due_after(self, now: float) -> Iterator[float]:
        """Yield the instants after `now` at which time alone changes something."""
        for tracked in self._tracked.values():
            for due in (tracked.on_at, tracked.off_at, tracked.actuator.due_after(now)):
                if due is not None and due > now:
                    yield due

    def orders(self) -> Iterator[tuple[str, Order]]:
        """Yield the commands that are due."""
        for linked_device_id, tracked in self._tracked.items():
            if order := tracked.actuator.order:
                yield linked_device_id, order

    def _run(self, tracked: _Tracked, now: float) -> None:
        tracked.off_at = None
        if not tracked.with_work:
            tracked.with_work = True
            # One that still runs on from the work before is the shop's already.
            tracked.on_at = None if tracked.ours else now + tracked.plan.delay
        if tracked.on_at is not None and now >= tracked.on_at:
            tracked.on_at = None
            if tracked.actuator.reported is not True:
                tracked.ours = True
        if tracked.ours:
            tracked.actuator.set_target(True, now)

    def _rest(self, tracked: _Tracked, now: float, *, at_once: bool) -> None:
        shutoff_delay = 0.0 if at_once else tracked.plan.shutoff_delay
        if tracked.with_work:
            tracked.with_work = False
            tracked.on_at = None
            tracked.off_at = now + shutoff_delay if tracked.ours else None
        if tracked.off_at is not None and (at_once or now >= tracked.off_at):
            tracked.off_at = None
            tracked.actuator.set_target(False, now)
        actuator = tracked.actuator
        off = actuator.reported is False and actuator.order is None
        if actuator.target is False and off:
            # From now on it is the owner's.
            tracked.ours = False
            actuator.set_target(None, now)
