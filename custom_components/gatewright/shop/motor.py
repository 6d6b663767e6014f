"""The collector's motor: what it was told, what it says, what its power says."""

import math

from .actuation import Actuator, Deviation, Tries
from .duty import MotorDuty
from .plan import Collector


class Motor:
    """The collector's switch, its power reading where there is one, and its impeller.

    Coast counts from the moment the motor was seen off. Where that moment is
    unknown, as after a restart, it is served whole.
    """

    def __init__(self, plan: Collector) -> None:
        """Start with nothing known, so that the impeller may be turning."""
        self.plan = plan
        self.actuator = Actuator(
            window=plan.confirm, on=Tries(), off=Tries(count=2, persistent=True)
        )
        self.duty = MotorDuty(plan.rest, plan.starts_per_hour)
        self._power: float | None = None
        self._off_since: float | None = None

    def replan(self, plan: Collector) -> None:
        """Take up changed figures."""
        self.plan = plan
        self.actuator.window = plan.confirm
        self.duty.rest = plan.rest
        self.duty.starts_per_hour = plan.starts_per_hour

    def report(
        self, value: bool | None, now: float, *, reachable: bool, own: bool
    ) -> Deviation | None:
        """Take a report from the switch."""
        before = self.powered
        deviation = self.actuator.report(value, now, reachable=reachable, own=own)
        self._note(before, now)
        return deviation

    def read_power(self, watts: float | None, now: float) -> bool:
        """Take a reading of the motor's power; return whether it changed anything."""
        before = self.powered
        self._power = None if watts is None or not math.isfinite(watts) else abs(watts)
        self._note(before, now)
        return before is not self.powered

    @property
    def power_says_on(self) -> bool | None:
        """What the power reading says; None without one."""
        if self._power is None:
            return None
        return self._power >= self.plan.turning_power

    @property
    def powered(self) -> bool | None:
        """Whether the motor draws current, as far as anyone can tell.

        A switch that says off is not believed while the power says on.
        """
        by_power = self.power_says_on
        if self.actuator.reported is None:
            return by_power
        if by_power is None:
            return self.actuator.reported
        return by_power

    @property
    def turning(self) -> bool:
        """Whether the collector really pulls: switched on, and drawing power."""
        return self.actuator.reported is True and self.powered is True

    @property
    def coast_ends(self) -> float | None:
        """When the impeller will have stopped; None while the motor may be on."""
        if self._off_since is None:
            return None
        return self._off_since + self.plan.coast

    def may_turn(self, now: float) -> bool:
        """Whether the impeller may still be turning."""
        ends = self.coast_ends
        return ends is None or now < ends

    def off_age(self, now: float) -> float | None:
        """Return for how long the motor has been seen off; None while it was not."""
        return None if self._off_since is None else now - self._off_since

    def recall(
        self, *, want: bool | None, reported: bool | None, off_since: float | None
    ) -> None:
        """Take over what an earlier process knew.

        `off_since` is given only where no time was lost in between: else the coast
        is served whole from the first report of off.
        """
        self.actuator.recall(want=want, reported=reported)
        self._off_since = off_since

    def _note(self, before: bool | None, now: float) -> None:
        # Off counts once neither the switch nor the power says on.
        off = self.actuator.reported is False and self.powered is not True
        if not off:
            self._off_since = None
        elif self._off_since is None:
            self._off_since = now
            if before is True:
                self.duty.stopped(now)
        if self.powered is True and before is False:
            self.duty.started(now)
