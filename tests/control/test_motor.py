"""What can be known of the collector's motor and its impeller."""

from dataclasses import replace

import pytest

from custom_components.gatewright.core.config import CollectorConfig
from custom_components.gatewright.core.control.motor import Motor, MotorState

PLAN = CollectorConfig(name="Collector", spin_down=20.0, rest=30.0, confirm=10.0)
POWERED = {
    MotorState.UNKNOWN: None,
    MotorState.OFF: False,
    MotorState.UNPOWERED: False,
    MotorState.ON: True,
}
type Step = tuple[float, str, bool | float | None]


def tell(motor: Motor, *steps: Step) -> None:
    """Tell a motor what its switch and its power say; "away" is out of reach."""
    for now, what, value in steps:
        if what == "power":
            motor.read_power(value, now)
        else:
            assert value is None or isinstance(value, bool)
            motor.report(value, now, reachable=what == "switch", own=False)


@pytest.mark.parametrize(
    ("steps", "powered", "turning", "spin_down_ends"),
    [
        ([], None, False, None),
        ([(0, "switch", True)], True, True, None),
        ([(0, "switch", False)], False, False, 20.0),
        ([(0, "switch", True), (5, "switch", False)], False, False, 25.0),
        # It counts from the first report of off.
        ([(0, "switch", False), (5, "switch", False)], False, False, 20.0),
        # The power is believed more than the switch: it does not pull,
        ([(0, "switch", True), (1, "power", 3.0)], False, False, None),
        ([(0, "switch", True), (1, "power", 1500.0)], True, True, None),
        ([(0, "switch", True), (1, "power", -1500.0)], True, True, None),
        # and off counts only once the power says so as well.
        ([(0, "switch", False), (1, "power", 1500.0)], True, False, None),
        (
            [(0, "power", 1500.0), (1, "switch", False), (4, "power", 2.0)],
            False,
            False,
            24.0,
        ),
        # Without a usable reading it is the switch alone.
        (
            [(0, "switch", True), (1, "power", 3.0), (2, "power", float("nan"))],
            True,
            True,
            None,
        ),
        ([(0, "power", 1500.0)], True, False, None),
        # Out of reach it is what it was last seen to be.
        ([(0, "switch", False), (5, "away", None)], False, False, 20.0),
    ],
)
def test_what_is_known(
    steps: list[Step],
    powered: bool | None,
    turning: bool,
    spin_down_ends: float | None,
) -> None:
    motor = Motor(PLAN)
    tell(motor, *steps)
    assert POWERED[motor.state] is powered
    assert motor.turning is turning
    assert motor.spin_down_ends == spin_down_ends
    assert motor.may_turn(1e6) is (spin_down_ends is None)


def test_collector_out_of_reach_pulls_for_as_long_as_it_should() -> None:
    motor = Motor(PLAN)
    tell(motor, (0, "switch", True))
    motor.actuator.set_target(True, 0.0)
    tell(motor, (50, "away", None))
    turning = [motor.turning]
    motor.actuator.set_target(False, 60.0)
    turning.append(motor.turning)
    assert motor.may_turn(1e6)
    tell(motor, (70, "power", 1500.0))
    turning.append(motor.turning)
    assert turning == [True, False, True]


@pytest.mark.parametrize(
    ("steps", "since"),
    [
        ([(0, "switch", True), (1, "power", 3.0)], 1.0),
        ([(0, "power", 3.0), (1, "switch", True)], 1.0),
        ([(0, "switch", True), (1, "power", 3.0), (5, "power", 2.0)], 1.0),
        ([(0, "switch", True), (1, "power", 1500.0), (9, "switch", False)], 9.0),
        ([(0, "switch", True), (1, "power", 1500.0)], None),
        ([(0, "switch", False), (1, "power", 3.0)], None),
        ([(0, "switch", True)], None),
        ([(0, "switch", True), (1, "power", 3.0), (5, "power", 1500.0)], None),
        ([(0, "switch", True), (1, "power", 3.0), (5, "power", None)], None),
    ],
)
def test_switch_and_power_at_odds(steps: list[Step], since: float | None) -> None:
    motor = Motor(PLAN)
    tell(motor, *steps)
    if since is None:
        assert not motor.at_odds(1e6)
        return
    assert not motor.at_odds(since + 9.9)
    assert since + 10.0 in list(motor.due_after(since))
    assert motor.at_odds(since + 10.0)
    assert since + 10.0 not in list(motor.due_after(since + 10.0))


def test_starts_and_stops_are_counted_by_what_the_motor_does() -> None:
    motor = Motor(PLAN)
    # What it was found doing was no start.
    tell(motor, (0, "switch", True), (100, "switch", False), (200, "switch", True))
    tell(motor, (300, "switch", False), (310, "switch", False))
    assert motor.duty.ages(400.0) == ([200.0], 100.0)
    # A breaker that is set again starts it as well.
    tell(motor, (500, "switch", True), (501, "power", 2.0), (600, "power", 1500.0))
    assert motor.duty.ages(600.0)[0] == [400.0, 100.0, 0.0]


def test_changed_figures() -> None:
    motor = Motor(PLAN)
    tell(motor, (0, "switch", False))
    motor.replan(
        replace(PLAN, spin_down=50.0, rest=5.0, starts_per_hour=2.0, confirm=0.0)
    )
    assert motor.spin_down_ends == 50.0
    assert (motor.duty.rest, motor.duty.starts_per_hour) == (5.0, 2.0)
    # Even what has no time at all to answer is given some.
    assert motor.actuator.window == 2.0


@pytest.mark.parametrize(("known", "ends"), [(True, 1015.0), (False, None)])
def test_spin_down_continues_only_where_the_time_that_passed_is_known(
    known: bool, ends: float | None
) -> None:
    motor = Motor(PLAN)
    tell(motor, (0, "switch", True), (100, "switch", False))
    after = Motor(PLAN)
    after.recall(motor.remember(103.0), 1000.0, passed=2.0, known=known)
    assert after.spin_down_ends == ends
    tell(after, (1001, "switch", False))
    assert after.spin_down_ends == (ends or 1021.0)
    assert after.duty.may_start_at(1000.0) == 1025.0


def test_speed_counts_from_the_switch_though_the_power_shows_it_later() -> None:
    motor = Motor(CollectorConfig(name="Collector", spin_up=5.0))
    motor.read_power(2.0, 0.0)
    motor.report(False, 0.0, reachable=True, own=True)
    motor.report(True, 10.0, reachable=True, own=True)
    assert motor.at_speed_from(0.8) is None
    motor.read_power(1500.0, 12.0)
    assert motor.at_speed_from(0.8) == 14.0
    # A breaker that was put back long after is another matter.
    motor.read_power(2.0, 20.0)
    motor.read_power(1500.0, 60.0)
    assert motor.at_speed_from(0.8) == 64.0
