"""Switches that are turned on for a purpose, and left alone after it.

Linked devices run with a machine (a second extractor, an air cleaner, a light); the
switches of maintenance run for the filter or the room. Each is on while it is wanted and
turned off once after that. What a hand did to it is not fought.
"""

from collections.abc import Collection, Iterator, Mapping
from typing import Any, NamedTuple

from ..times import instant_after, time_left
from .actuator import Actuator, Order
from .actuator_memory import ActuatorMemory
from .actuator_states import Deviation
from .attempts import Tries

_CONFIRM = 10.0
"""Seconds in which a switch has to say that it has obeyed."""

_TRIES = Tries(count=2)


class SwitchTimes(NamedTuple):
    """How long in s a switch waits before it is turned on, and off."""

    delay: float = 0.0
    shutoff_delay: float = 0.0


class _Switch:
    """One switch: turned on with its work, off once after it, then left alone.

    `ours` says that it was turned on here. One that was on before is its owner's, and so
    is one that somebody turns on or off during the work.
    """

    __slots__ = ("actuator", "off_at", "on_at", "ours", "times", "with_work")

    def __init__(self, times: SwitchTimes, off: Tries) -> None:
        self.times = times
        self.actuator = Actuator(window=_CONFIRM, on=_TRIES, off=off)
        self.with_work = False
        self.ours = False
        self.on_at: float | None = None
        self.off_at: float | None = None

    def run(self, now: float) -> None:
        """Be on, after the delay."""
        self.off_at = None
        if not self.with_work:
            self.with_work = True
            # One that still runs on from the work before is ours already.
            self.on_at = None if self.ours else now + self.times.delay
        if self.on_at is not None and now >= self.on_at:
            self.on_at = None
            if self.actuator.reported is not True:
                self.ours = True
        if self.ours:
            self.actuator.set_target(True, now)

    def rest(self, now: float, *, at_once: bool) -> None:
        """Be off, after the shut-off delay or `at_once`, if it was on for us."""
        if self.with_work:
            delay = 0.0 if at_once else self.times.shutoff_delay
            self.with_work = False
            self.on_at = None
            self.off_at = now + delay if self.ours else None
        if self.off_at is not None and (at_once or now >= self.off_at):
            self.off_at = None
            self.actuator.set_target(False, now)
        actuator = self.actuator
        off = actuator.reported is False and actuator.order is None
        if actuator.target is False and off:
            # From now on it is the owner's.
            self.let_go(now)

    def let_go(self, now: float) -> None:
        """Leave it as somebody put it."""
        self.actuator.set_target(None, now)
        self.ours = False
        self.on_at = self.off_at = None


class SwitchController:
    """Some switches of one system, each by its part."""

    def __init__(self, *, off: Tries = _TRIES) -> None:
        """Start without switches; `off` is how often one is tried to turn off."""
        self._off = off
        self._switches: dict[str, _Switch] = {}

    def plan(self, switches: Mapping[str, SwitchTimes]) -> None:
        """Take up a changed set of switches; those that stay keep their state."""
        before = self._switches
        self._switches = {}
        for part, times in switches.items():
            switch = before.get(part) or _Switch(times, self._off)
            switch.times = times
            self._switches[part] = switch

    def actuator(self, part: str) -> Actuator | None:
        """Return what is known of a switch."""
        switch = self._switches.get(part)
        return None if switch is None else switch.actuator

    @property
    def any_failed(self) -> bool:
        """Whether any switch does not do as it is told."""
        return any(switch.actuator.failed for switch in self._switches.values())

    def faulty(self, now: float) -> set[str]:
        """Return those that do not stand as they should, and have had their time."""
        return {
            part
            for part, switch in self._switches.items()
            if switch.actuator.failed or switch.actuator.cut_off(now)
        }

    def at_work(self) -> set[str]:
        """Return those that are on, or were told so, for us."""
        return {part for part, switch in self._switches.items() if switch.ours}

    def report(
        self,
        part: str,
        value: bool | None,
        now: float,
        *,
        reachable: bool,
        own: bool,
    ) -> None:
        """Take a report; a switch that a hand turned on or off is left as it was put."""
        if (switch := self._switches.get(part)) is None:
            return
        reachable = reachable and value is not None
        deviation = switch.actuator.report(value, now, reachable=reachable, own=own)
        if deviation is Deviation.HAND:
            switch.let_go(now)

    def apply_demand(
        self,
        wanted: Collection[str],
        now: float,
        *,
        start: bool = True,
        at_once: bool = False,
    ) -> None:
        """Run the wanted switches, and turn off those that ran and no longer should.

        Without `start` only those go on that run already; `at_once` leaves out the
        shut-off delay.
        """
        for part, switch in self._switches.items():
            if part in wanted and (start or switch.ours):
                switch.run(now)
            else:
                switch.rest(now, at_once=at_once)

    def remember(self, now: float) -> dict[str, Any]:
        """Return what has to survive a restart: who runs for us, times left."""
        return {
            part: {
                "ours": switch.ours,
                "with_work": switch.with_work,
                "on_left": time_left(switch.on_at, now),
                "off_left": time_left(switch.off_at, now),
            }
            for part, switch in self._switches.items()
        }

    def recall(self, kept: Mapping[str, Any], now: float, *, passed: float) -> None:
        """Take up what `remember` described, `passed` seconds ago."""
        for part, memory in kept.items():
            if (switch := self._switches.get(part)) is None:
                continue
            switch.ours = memory["ours"]
            switch.with_work = memory["with_work"]
            switch.on_at = instant_after(memory["on_left"], now - passed)
            switch.off_at = instant_after(memory["off_left"], now - passed)
            if switch.ours and not switch.with_work and switch.off_at is None:
                # It was being turned off.
                switch.off_at = now
            if switch.ours:
                on = ActuatorMemory(target=True, reported=True)
                switch.actuator.recall(on, now, passed=passed)

    def resume(self, parts: Collection[str], now: float) -> None:
        """Go on with those that an earlier process had turned on for their work."""
        for part in parts:
            if (switch := self._switches.get(part)) is not None:
                switch.ours = switch.with_work = True
                switch.actuator.set_target(True, now)

    def advance(self, now: float) -> None:
        """Let time pass up to `now`."""
        for switch in self._switches.values():
            switch.actuator.advance(now)

    def due_after(self, now: float) -> Iterator[float]:
        """Yield the instants after `now` at which time alone changes something."""
        for switch in self._switches.values():
            for due in (switch.on_at, switch.off_at, switch.actuator.due_after(now)):
                if due is not None and due > now:
                    yield due

    def orders(self) -> Iterator[tuple[str, Order]]:
        """Yield the commands that are due."""
        for part, switch in self._switches.items():
            if order := switch.actuator.order:
                yield part, order
