"""The collector's motor: what it was told, what it says, what its power says."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from enum import Enum, auto
import math
from typing import Any, Final

from ..config import CollectorConfig
from ..times import in_ticks
from .actuator import LEAST_WINDOW, Actuator
from .actuator_memory import ActuatorMemory
from .actuator_states import Deviation
from .attempts import Tries
from .motor_duty import MotorDuty
from .spin_up import DEFAULT_SPIN_UP, UP_TO_SPEED, SpinUpMeter


class MotorState(Enum):
    """What the switch and the power reading say of the motor, taken together."""

    UNKNOWN = auto()
    OFF = auto()
    UNPOWERED = auto()
    """It draws nothing, and its switch does not say off: a tripped breaker."""
    ON = auto()


_STATES: Final = {
    # The switch, the power (None: no word or no reading):
    (None, None): MotorState.UNKNOWN,
    (False, None): MotorState.OFF,
    (True, None): MotorState.ON,
    (None, False): MotorState.UNPOWERED,
    (False, False): MotorState.OFF,
    (True, False): MotorState.UNPOWERED,
    # The power is believed more than the switch.
    (None, True): MotorState.ON,
    (False, True): MotorState.ON,
    (True, True): MotorState.ON,
}


class Motor:
    """The collector's switch, its power reading where there is one, and its impeller.

    The spin-down counts from the moment the motor was seen off. Where that moment is
    unknown, as after a restart, it is served whole.
    """

    def __init__(self, plan: CollectorConfig) -> None:
        """Start with nothing known, so that the impeller may be turning."""
        self.plan = plan
        self.actuator = Actuator(
            window=max(LEAST_WINDOW, plan.confirm),
            on=Tries(),
            off=Tries(count=2, persistent=True),
        )
        self.duty = MotorDuty(plan.rest, plan.starts_per_hour)
        self.spin_up_meter = SpinUpMeter()
        self._power: float | None = None
        self._on_since: float | None = None
        self._switched_at: float | None = None
        self._off_since: float | None = None
        self._at_odds_since: float | None = None

    def replan(self, plan: CollectorConfig) -> None:
        """Take up changed figures."""
        self.plan = plan
        self.actuator.set_times(window=max(LEAST_WINDOW, plan.confirm))
        self.duty.rest = plan.rest
        self.duty.starts_per_hour = plan.starts_per_hour

    def report(
        self,
        value: bool | None,
        now: float,
        *,
        reachable: bool,
        own: bool,
        no_feedback: bool = False,
    ) -> Deviation | None:
        """Take a report from the switch.

        One that is `no_feedback` is there and does not say how it stands: it goes by the time
        that its commands take.
        """
        before, stood = self.state, self.actuator.reported
        deviation = self.actuator.report(
            value, now, reachable=reachable, own=own, no_feedback=no_feedback
        )
        self._note(before, now)
        if deviation is Deviation.BY_ITSELF and value is stood:
            # It stood so all the while: a command of ours has yet to be obeyed.
            return None
        return deviation

    def advance(self, now: float) -> None:
        """Let time pass up to `now`."""
        stood = self.actuator.reported
        if self.actuator.advance(now):
            self._note(_STATES[stood, self.power_says_on], now)

    def read_power(self, watts: float | None, now: float) -> bool:
        """Take a reading of the motor's power; return whether it changed anything."""
        before, said = self.state, self.power_says_on
        self._power = None if watts is None or not math.isfinite(watts) else abs(watts)
        self._note(before, now)
        if self._power is not None:
            self.spin_up_meter.read(self._power, now)
        return said is not self.power_says_on

    @property
    def power_says_on(self) -> bool | None:
        """What the power reading says; None without one."""
        if self._power is None:
            return None
        return self._power >= self.plan.turning_power

    @property
    def state(self) -> MotorState:
        """What is known of the motor."""
        return _STATES[self.actuator.reported, self.power_says_on]

    @property
    def turning(self) -> bool:
        """Whether the collector really pulls: switched on, and drawing power.

        A collector that is offline, without a power reading, is believed to be on for
        no longer than it should be.
        """
        switch = self.actuator
        if switch.reported is not True or self.state is not MotorState.ON:
            return False
        believed = switch.reachable or switch.target is True
        return believed or self.power_says_on is not None

    @property
    def spin_up(self) -> float:
        """Seconds from the reported on until full speed: entered, measured or usual."""
        if self.plan.spin_up is not None:
            return self.plan.spin_up
        measured = self.spin_up_meter.measured
        return DEFAULT_SPIN_UP if measured is None else measured

    def at_speed_from(self, share: float) -> float | None:
        """Return when the impeller passes a share of its speed, by even motion.

        None while the motor is off. One that was found on has long been up to speed.
        """
        if self._on_since in (None, -math.inf):
            return self._on_since
        return self._on_since + in_ticks(share * self.spin_up)

    def up_to_speed(self, now: float) -> bool:
        """Whether the collector pulls, and has the speed from which it collects."""
        if not self.turning:
            return False
        since = self.at_speed_from(UP_TO_SPEED)
        return since is not None and now >= since

    @property
    def may_be_on(self) -> bool:
        """Whether the switch or the power says that the motor runs."""
        return self.actuator.reported is True or self.state is MotorState.ON

    @property
    def spin_down_ends(self) -> float | None:
        """When the impeller will have stopped; None while the motor may be on."""
        if self._off_since is None:
            return None
        return self._off_since + self.plan.spin_down

    def may_turn(self, now: float) -> bool:
        """Whether the impeller may still be turning."""
        ends = self.spin_down_ends
        return ends is None or now < ends

    def at_odds(self, now: float) -> bool:
        """Whether switch and power contradict each other for longer than they may."""
        since = self._at_odds_since
        return since is not None and now >= since + self.actuator.window

    def due_after(self, now: float) -> Iterator[float]:
        """Yield the instants after `now` at which time alone changes something."""
        if (due := self.actuator.due_after(now)) is not None:
            yield due
        if (ends := self.spin_down_ends) is not None and ends > now:
            yield ends
        if (at := self.at_speed_from(UP_TO_SPEED)) is not None and at > now:
            yield at
        if (since := self._at_odds_since) is not None:
            due = since + self.actuator.window
            if due > now:
                yield due

    def remember(self, now: float) -> dict[str, Any]:
        """Return what has to survive a restart, instants by their age in s."""
        starts, stopped = self.duty.ages(now)
        return {
            "actuator": asdict(self.actuator.remember(now)),
            "off_age": None if self._off_since is None else now - self._off_since,
            "on_age": self._on_age(now),
            "spin_ups": self.spin_up_meter.kept,
            "starts": starts,
            "stopped": stopped,
        }

    def _began(self, now: float) -> float:
        """Return when the motor began to turn that is seen to draw power at `now`.

        That is when its switch reported on, where the power only shows it later.
        """
        at = self._switched_at
        return now if at is None or now - at > self.actuator.window else at

    def _on_age(self, now: float) -> float | None:
        """For how long the motor has been on in s; None where it is off or found on."""
        if self._on_since in (None, -math.inf):
            return None
        return now - self._on_since

    def recall(
        self, kept: Mapping[str, Any], now: float, *, passed: float, known: bool
    ) -> None:
        """Take up what `remember` described, `passed` seconds ago.

        The spin-down goes on only where the time that passed is `known`: else it is
        served whole from the first report of off.
        """
        actuator = ActuatorMemory(**kept["actuator"])
        self.actuator.recall(actuator, now, passed=passed)
        if known and kept["off_age"] is not None:
            self._off_since = now - passed - kept["off_age"]
        if self.state is MotorState.ON:
            age = kept.get("on_age")
            self._on_since = -math.inf if age is None else now - passed - age
        self.spin_up_meter = SpinUpMeter(kept.get("spin_ups", ()))
        self.duty.restore(kept["starts"], kept["stopped"], now - passed)

    def _note(self, before: MotorState, now: float) -> None:
        """Note what a report or a reading changed.

        The spin-down begins where the motor is seen off. One that is heard of for the first
        time may have been on for long, and its stop is not known.
        """
        switch, power, state = self.actuator.reported, self.power_says_on, self.state
        if switch is not True:
            self._switched_at = None
        elif self._switched_at is None:
            self._switched_at = now
        if None in (switch, power) or switch is power:
            self._at_odds_since = None
        elif self._at_odds_since is None:
            self._at_odds_since = now
        if state is not MotorState.ON:
            self._on_since = None
            self.spin_up_meter.stopped()
        if state is not MotorState.OFF:
            self._off_since = None
        match before, state:
            case ((MotorState.OFF | MotorState.UNPOWERED), MotorState.ON):
                self.duty.started(now)
                if self._on_since is None:
                    self._on_since = self._began(now)
                    self.spin_up_meter.started(self._on_since)
            case _, MotorState.ON if self._on_since is None:
                self._on_since = -math.inf
            case _, MotorState.OFF if self._off_since is None:
                self._off_since = now
                if before is MotorState.ON:
                    self.duty.stopped(now)
