"""How often the collector's motor may be started."""

import pytest

from custom_components.gatewright.core.control.motor_duty import MotorDuty
from custom_components.gatewright.core.units import HOUR


@pytest.mark.parametrize(
    ("allowed", "starts", "now", "expected"),
    [
        (None, [0.0, 1.0, 2.0, 3.0], 4.0, None),
        (2.0, [0.0], 4.0, None),
        (2.0, [0.0, 10.0], 20.0, HOUR),
        (2.0, [0.0, 10.0, 500.0], 600.0, HOUR + 10.0),
        # The oldest of the last two has just left the hour.
        (2.0, [0.0, 10.0], HOUR, None),
        # A broken allowance is rounded down, one below one stretches the hour.
        (2.9, [0.0, 10.0], 20.0, HOUR),
        (0.5, [0.0], 20.0, 2 * HOUR),
        (0.5, [0.0], 2 * HOUR, None),
    ],
)
def test_starts_per_hour(
    allowed: float | None, starts: list[float], now: float, expected: float | None
) -> None:
    duty = MotorDuty(starts_per_hour=allowed)
    for start in starts:
        duty.started(start)
    assert duty.start_free_at(now) == expected
    assert duty.may_start_at(now) == (now if expected is None else expected)


def test_rest() -> None:
    duty = MotorDuty(rest=30.0)
    assert duty.may_start_at(5.0) == 5.0
    duty.stopped(10.0)
    assert duty.may_start_at(15.0) == 40.0
    assert duty.may_start_at(40.0) == 40.0
    assert duty.may_start_at(50.0) == 50.0


def test_the_longer_wait_counts() -> None:
    duty = MotorDuty(rest=30.0, starts_per_hour=1.0)
    duty.started(0.0)
    duty.stopped(HOUR - 10.0)
    assert duty.may_start_at(HOUR - 5.0) == HOUR + 20.0


def test_no_more_than_allowed_in_any_hour() -> None:
    duty = MotorDuty(starts_per_hour=3.0)
    now, starts = 0.0, []
    while now < 5 * HOUR:
        now = duty.may_start_at(now)
        duty.started(now)
        starts.append(now)
        now += 60.0
    for start in starts:
        assert sum(1 for other in starts if start <= other < start + HOUR) <= 3


def test_another_process_goes_on_counting() -> None:
    duty = MotorDuty(rest=30.0, starts_per_hour=2.0)
    for start in (0.0, 4000.0, 4100.0):
        duty.started(start)
    duty.stopped(4200.0)
    starts, stopped = duty.ages(4300.0)
    assert (starts, stopped) == ([300.0, 200.0], 100.0)
    after = MotorDuty(rest=30.0, starts_per_hour=2.0)
    after.restore(starts, stopped, 10_000.0)
    assert after.may_start_at(10_000.0) == 10_000.0 - 300.0 + HOUR
    assert after.ages(10_000.0) == (starts, stopped)
    fresh = MotorDuty()
    fresh.restore([], None, 0.0)
    assert fresh.ages(5.0) == ([], None)


def test_describing_it_changes_nothing() -> None:
    duty = MotorDuty()
    duty.started(0.0)
    assert duty.ages(2 * HOUR) == ([], None)
    duty.starts_per_hour = 0.25
    assert duty.start_free_at(2 * HOUR) == 4 * HOUR
