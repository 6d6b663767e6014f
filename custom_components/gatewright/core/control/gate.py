"""One gate that moves: its plan, its actuator, and how it really travels."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, replace
from typing import Any, Final

from ..config import GateConfig, GateKind
from ..times import next_after
from .actuator import LEAST_WINDOW, Actuator
from .actuator_memory import ActuatorMemory
from .actuator_states import Deviation
from .attempts import Tries
from .travel import Travel

_TWICE: Final = Tries(count=2)


class ManagedGate:
    """A gate with an actuator or a contact; a fixed opening has neither."""

    __slots__ = ("actuator", "gate_id", "is_powered", "plan", "travel")

    def __init__(
        self,
        plan: GateConfig,
        confirm: float,
        since: float,
        stirred: Callable[[], None],
    ) -> None:
        """Begin with nothing known `since` an instant.

        `stirred` is called whenever anything but time changes it.
        """
        self.travel = Travel()
        self.actuator = Actuator(
            window=LEAST_WINDOW, on=_TWICE, off=_TWICE, since=since, stirred=stirred
        )
        self.gate_id = plan.gate_id
        self.replan(plan, confirm)

    def replan(self, plan: GateConfig, confirm: float) -> None:
        """Take up a changed plan; `confirm` is what an actuator may take to report."""
        self.plan = plan
        self.is_powered = plan.kind is GateKind.POWERED
        shows, lag = (plan.travel, 0.0) if plan.feedback else (confirm, plan.travel)
        self.actuator.set_times(window=max(LEAST_WINDOW, shows), lag=lag)

    @property
    def can_be_moved(self) -> bool:
        """Whether it can be driven, and has not failed."""
        actuator = self.actuator
        return self.is_powered and actuator.reachable and not actuator.failed

    def stays_passable(self, now: float) -> bool:
        """Whether it is open enough for the impeller, and nothing closes it."""
        actuator = self.actuator
        if actuator.stays(now):
            return True
        if not self.travel.passable or actuator.reported is False:
            return False
        return actuator.target is not False or actuator.failed

    def passable_at(self, now: float) -> float:
        """Return when it is due to be a third open, told to open now at the latest."""
        plan = self.plan
        return self.travel.passable_at(plan.travel, now, feedback=plan.feedback)

    def counts(self, now: float) -> bool:
        """Whether it can be counted on to open in its time.

        Not where it failed before, was never seen to move though it would say so, or
        still may carry out something else.
        """
        actuator, travel = self.actuator, self.travel
        if not travel.trusted or not self.can_be_moved or actuator.no_feedback:
            return False
        if self.plan.feedback and not travel.seen:
            return False
        if actuator.target is not True or actuator.busy:
            return False
        overdue = travel.overdue_at(self.plan.travel)
        return overdue is None or now < overdue

    def has_time_left(self, now: float) -> bool:
        """Whether an earlier process told it to open, and it may still say that it is."""
        overdue = self._overdue_at
        return not self.actuator.heard and overdue is not None and now < overdue

    def lags(self, now: float) -> bool:
        """Whether its position has stayed small for too long."""
        since = self.travel.lags_from
        return since is not None and now >= since

    def rests(self, now: float) -> bool:
        """Whether it is closed and nothing will happen to it without a new event."""
        stays_closed = self.actuator.target is False or not self.is_powered
        return stays_closed and self.actuator.rests_off(now)

    def report(
        self,
        value: bool | None,
        now: float,
        *,
        reachable: bool,
        own: bool,
        no_feedback: bool,
        position: float | None,
    ) -> Deviation | None:
        """Take a report; `position` is how far it is open, 0 to 1, where it says so."""
        actuator, travel = self.actuator, self.travel
        deviation = actuator.report(
            value, now, reachable=reachable, own=own, no_feedback=no_feedback
        )
        if reachable:
            travel.moved(position, now)
            self._note_arrival(now)
        elif self.actuator.heard and self.is_awaited:
            # What cannot be reached while it is needed is not counted on next time.
            travel.trusted = False
        if deviation is Deviation.HAND:
            travel.interrupted()
        return deviation

    def dispatched(self, now: float) -> None:
        """Note that a command is on its way."""
        actuator = self.actuator
        actuator.dispatched(now)
        if actuator.target is not None:
            self.travel.told(actuator.target, now, stood=actuator.reported)

    def refused(self) -> None:
        """Note that it did not take the command that left last."""
        self.actuator.refused()
        if self.actuator.target is True:
            self.travel.trusted = False

    def mark_unreliable(self, now: float) -> None:
        """Do not count on it, where it is on its way, until it has opened."""
        if self.actuator.target is True and self.actuator.state_at(now) is not True:
            self.travel.trusted = False

    def advance(self, now: float) -> None:
        """Let time pass up to `now`."""
        self.actuator.advance(now)
        if not self.travel.waits:
            return
        self._note_arrival(now)
        if (overdue := self._overdue_at) is not None and now >= overdue:
            self.travel.trusted = False

    def due_after(self, now: float) -> float | None:
        """Return the next instant after `now` at which time alone changes something."""
        due = self.actuator.due_after(now)
        if self.travel.told_at is None:
            return due
        return next_after(now, (due, self._overdue_at, self.travel.lags_from))

    def remember(self, now: float) -> dict[str, Any]:
        """Return what has to survive a restart."""
        return {
            "actuator": asdict(self.actuator.remember(now)),
            "travel": self.travel.remember(now),
        }

    def recall(self, kept: Mapping[str, Any], now: float, *, passed: float) -> None:
        """Take up what `remember` described, `passed` seconds ago.

        Of the targets only open is kept: no gate is closed on
        the word of an earlier process while the impeller may be turning. What a
        person put somewhere, so that it is `held`, stays there.
        """
        memory = ActuatorMemory(**kept["actuator"])
        stays = memory.target is True or (
            kept["held"] and memory.target == memory.reported
        )
        if not stays or not self.is_powered:
            memory = replace(memory, target=None)
        self.actuator.recall(memory, now, passed=passed)
        if "travel" in kept:
            self.travel.recall(kept["travel"])

    def resume(self, kept: Mapping[str, Any], now: float, *, passed: float) -> None:
        """Go on waiting for it to open, as `remember` described it `passed` s ago."""
        age = kept.get("travel", {}).get("told_age")
        if age is not None and self.is_awaited:
            self.travel.resume(age + passed, now)

    @property
    def is_awaited(self) -> bool:
        """Whether it should be open and does not say so."""
        return self.actuator.target is True and self.actuator.reported is not True

    @property
    def _overdue_at(self) -> float | None:
        """When it counts as failed, where it was told to open."""
        actuator, travel = self.actuator, self.travel
        if not travel.trusted or actuator.target is not True or actuator.no_feedback:
            return None
        return travel.overdue_at(self.plan.travel)

    def _note_arrival(self, now: float) -> None:
        actuator, travel = self.actuator, self.travel
        if not travel.waits or not actuator.reachable or actuator.no_feedback:
            return
        if (state_at := actuator.state_at(now)) is not None:
            travel.arrived(state_at, actuator.stood_since(now))
