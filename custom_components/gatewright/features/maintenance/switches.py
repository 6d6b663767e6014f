"""The switches that maintenance drives: the filter's cleaning and the room's air cleaner."""

from collections.abc import Iterable, Iterator
from typing import Final

from ...core.control.actuator import Actuator, Order
from ...core.control.actuator_states import Deviation
from ...core.control.attempts import Tries
from ...runtime.decoding import Feedback

CONFIRM: Final = 10.0
"""Seconds in which a switch has to say that it has obeyed."""


class MaintenanceSwitch:
    """One switch: on when it is wanted, off once after that, then left alone.

    A hand on it is not fought: it is let alone until it is wanted anew.
    """

    def __init__(self) -> None:
        """Begin with a switch that was never heard of."""
        self.actuator = Actuator(
            window=CONFIRM, on=Tries(count=2), off=Tries(count=2, persistent=True)
        )
        self.ours = False
        """Whether it is on, or was told so, on our word."""
        self._wanted = False

    def apply_demand(self, wanted: bool, now: float) -> None:
        """Say how it should stand."""
        if wanted and not self._wanted:
            self.ours = self.ours or self.actuator.reported is not True
            if self.ours:
                self.actuator.set_target(True, now)
        elif not wanted and self.ours and self.actuator.target is not False:
            self.actuator.set_target(False, now)
        self._wanted = wanted
        actuator = self.actuator
        if (
            actuator.target is False
            and actuator.reported is False
            and not actuator.order
        ):
            # From now on it is the owner's.
            actuator.set_target(None, now)
            self.ours = False

    def report(self, report: Feedback, now: float, *, own: bool) -> None:
        """Take what the switch says."""
        reachable = report.reachable and report.value is not None
        deviation = self.actuator.report(
            report.value, now, reachable=reachable, own=own
        )
        if deviation is Deviation.HAND:
            self.actuator.set_target(None, now)
            self.ours = False

    def takes_up(self, now: float) -> None:
        """Go on with a switch that was on, on our word, before a restart."""
        self.ours = True
        self._wanted = True
        self.actuator.set_target(True, now)

    def faulty(self, now: float) -> bool:
        """Whether it does not stand as wished, and has had its time."""
        return self.actuator.failed or self.actuator.cut_off(now)


class Switchboard:
    """The switches of one system, by what was stored for each."""

    def __init__(self) -> None:
        """Start without switches."""
        self.switches: dict[str, MaintenanceSwitch] = {}

    def take_up(self, stored: Iterable[str], now: float) -> None:
        """Go on with those that were on, on our word, before a restart."""
        for part in stored:
            if (switch := self.switches.get(part)) is not None:
                switch.takes_up(now)

    def actuator(self, part: str) -> Actuator | None:
        """Return what is known of a switch."""
        switch = self.switches.get(part)
        return None if switch is None else switch.actuator

    def plan(self, stored: set[str]) -> None:
        """Take up a changed set; those that stay keep their state."""
        self.switches = {
            part: self.switches.get(part) or MaintenanceSwitch()
            for part in sorted(stored)
        }

    def advance(self, now: float) -> None:
        """Let time pass."""
        for switch in self.switches.values():
            switch.actuator.advance(now)

    def due_after(self, now: float) -> Iterator[float]:
        """Yield the instants after `now` at which time alone changes something."""
        for switch in self.switches.values():
            if (due := switch.actuator.due_after(now)) is not None and due > now:
                yield due

    def orders(self) -> Iterator[tuple[str, Order]]:
        """Yield the commands that are due."""
        for part, switch in self.switches.items():
            if order := switch.actuator.order:
                yield part, order

    def at_work(self) -> set[str]:
        """Return those that are on, on our word."""
        return {part for part, switch in self.switches.items() if switch.ours}
