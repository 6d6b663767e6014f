"""Bin sensors, and which of their reports count."""

import pytest

from custom_components.gatewright.core.maintenance.bin import BinMonitor
from custom_components.gatewright.core.maintenance.bin_forecast import Known, SeenBy
from custom_components.gatewright.core.maintenance.config import BinConfig
from tests.maintenance.bins import (
    KINDS,
    PLAIN,
    WHEN,
    WITH_DISTANCE,
    WITH_SENSOR,
    filled,
    foresee,
    is_full,
    is_undecided,
    run,
)

# A full sensor ------------------------------------------------------------------


def test_full_sensor_trips_teaches_and_stays_until_emptied() -> None:
    bin_ = filled(WITH_SENSOR, planer=0.5)
    bin_.read_full(True, 100.0)
    assert bin_.due_after(100.0) == 110.0
    assert not bin_.advance(105.0, WHEN, at_rest=False)
    assert not is_full(bin_)
    assert bin_.advance(110.0, WHEN, at_rest=False)
    assert is_full(bin_)
    assert bin_.share == 1.0
    assert foresee(bin_).hours_left == 0
    assert bin_.rates.per_hour["planer"] == pytest.approx(2.0, rel=0.1)
    # Reported only once, and the sensor turning off during a run doesn't empty the bin.
    assert not bin_.advance(120.0, WHEN, at_rest=False)
    bin_.read_full(False, 130.0)
    assert not bin_.advance(200.0, WHEN, at_rest=False)
    assert is_full(bin_)
    run(bin_, planer=0.1)
    assert bin_.share == pytest.approx(1.2, rel=0.1)
    bin_.emptied(WHEN)
    assert not is_full(bin_)
    assert bin_.share == 0
    assert bin_.emptyings[0].share == 1.0
    assert len(bin_.observations) == 1


def test_chips_that_fall_when_the_air_stops_are_no_emptying() -> None:
    bin_ = filled(WITH_SENSOR, planer=0.5)
    bin_.read_full(True, 100.0)
    bin_.advance(110.0, WHEN, at_rest=False)
    bin_.read_full(False, 112.0)
    bin_.advance(115.0, WHEN, at_rest=True)
    bin_.advance(1000.0, WHEN, at_rest=True)
    assert is_full(bin_)
    assert not bin_.emptyings


def test_bin_seen_full_at_rest_and_then_not_full_was_emptied() -> None:
    bin_ = filled(WITH_SENSOR, planer=0.5)
    bin_.read_full(True, 100.0)
    bin_.advance(110.0, WHEN, at_rest=False)
    bin_.advance(120.0, WHEN, at_rest=True)
    assert bin_.due_after(120.0) == 130.0
    bin_.advance(130.0, WHEN, at_rest=True)
    bin_.read_full(False, 500.0)
    assert not bin_.advance(505.0, WHEN, at_rest=True)
    assert bin_.advance(510.0, WHEN, at_rest=True)
    assert not is_full(bin_)
    assert bin_.share == 0
    assert len(bin_.emptyings) == 1
    assert bin_.due_after(1000.0) is None


def test_sensor_that_goes_off_while_the_collector_runs_is_waited_for() -> None:
    bin_ = filled(WITH_SENSOR, planer=0.5)
    bin_.read_full(True, 100.0)
    bin_.advance(110.0, WHEN, at_rest=True)
    bin_.advance(120.0, WHEN, at_rest=True)
    # Somebody continues with a full bin; the airflow clears the sensor for a while.
    bin_.read_full(False, 200.0)
    for now in (200.0, 210.0, 400.0):
        assert not bin_.advance(now, WHEN, at_rest=False)
    bin_.read_full(True, 410.0)
    bin_.advance(420.0, WHEN, at_rest=True)
    assert is_full(bin_)
    assert not bin_.emptyings


def test_bin_that_is_being_emptied_is_neither_full_nor_nearly_full() -> None:
    """What stood full is either emptied in a moment, or full as before."""
    bin_ = filled(WITH_SENSOR, planer=0.5)
    bin_.read_full(True, 100.0)
    for now in (110.0, 120.0, 130.0):
        bin_.advance(now, WHEN, at_rest=True)
    assert not is_undecided(bin_)
    bin_.read_full(False, 200.0)
    bin_.advance(200.0, WHEN, at_rest=True)
    assert is_undecided(bin_)
    bin_.advance(210.0, WHEN, at_rest=True)
    assert not is_undecided(bin_)
    assert len(bin_.emptyings) == 1

    bin_.advance(220.0, WHEN, at_rest=True)
    bin_.read_full(True, 300.0)
    for now in (310.0, 330.0):
        bin_.advance(now, WHEN, at_rest=True)
    # Here it's the draft of a collector that goes on with a full bin.
    bin_.read_full(False, 400.0)
    bin_.advance(400.0, WHEN, at_rest=False)
    assert is_undecided(bin_)
    assert bin_.due_after(410.0) == 460.0
    bin_.advance(460.0, WHEN, at_rest=False)
    assert not is_undecided(bin_)
    assert is_full(bin_)
    assert len(bin_.emptyings) == 1


def test_sensor_that_may_not_empty_the_bin_does_not() -> None:
    plan = BinConfig(full_sensor=True, settle=0.0, emptied_by_sensor=False)
    bin_ = filled(plan, planer=0.5)
    bin_.read_full(True, 1.0)
    bin_.advance(1.0, WHEN, at_rest=True)
    bin_.read_full(False, 2.0)
    assert bin_.advance(2.0, WHEN, at_rest=True)
    assert not bin_.emptyings
    assert is_full(bin_)


def test_button_pressed_before_the_bin_is_out() -> None:
    """The sensor still reports full: that stays true, but it's no new filling."""
    bin_ = filled(WITH_SENSOR, planer=0.5)
    bin_.read_full(True, 0.0)
    bin_.advance(10.0, WHEN, at_rest=True)
    bin_.emptied(WHEN)
    for now in (15.0, 40.0):
        assert not bin_.advance(now, WHEN, at_rest=True)
        assert is_full(bin_)
    bin_.read_full(False, 60.0)
    assert not bin_.advance(70.0, WHEN, at_rest=True)
    assert not is_full(bin_)
    assert len(bin_.emptyings) == len(bin_.observations) == 1
    # And the next filling is one again.
    run(bin_, planer=0.5)
    bin_.read_full(True, 80.0)
    assert bin_.advance(90.0, WHEN, at_rest=False)
    assert is_full(bin_)


def test_sensor_that_has_not_tripped_knows_better_than_the_forecast() -> None:
    assert filled(WITH_SENSOR, planer=3.0).share == 1.0
    assert filled(PLAIN, planer=3.0).share == pytest.approx(3.0)


def test_sensor_below_the_rim() -> None:
    plan = BinConfig(volume=0.12, full_sensor=True, full_share=0.8, settle=0.0)
    bin_ = filled(plan, planer=0.5)
    assert foresee(bin_).hours_of["planer"] == pytest.approx(0.3)
    bin_.read_full(True, 1.0)
    bin_.advance(1.0, WHEN, at_rest=False)
    assert bin_.share == 0.8


def test_reading_that_is_not_known_changes_nothing() -> None:
    bin_ = filled(WITH_SENSOR, planer=0.5)
    bin_.read_full(None, 0.0)
    assert not bin_.advance(50.0, WHEN, at_rest=True)
    bin_.read_full(True, 60.0)
    bin_.read_full(None, 65.0)
    assert bin_.advance(70.0, WHEN, at_rest=True)
    # Without a full sensor in the plan its state is ignored.
    other = filled(PLAIN, planer=0.5)
    other.read_full(True, 0.0)
    assert not other.advance(100.0, WHEN, at_rest=True)


# A level or distance sensor -------------------------------------------------------


def test_distance_is_read_at_rest_once_it_has_settled() -> None:
    bin_ = filled(WITH_DISTANCE, planer=0.2)
    bin_.read_level(0.4, 0.0)
    assert not bin_.advance(60.0, WHEN, at_rest=False)
    assert not bin_.advance(100.0, WHEN, at_rest=True)
    assert bin_.due_after(100.0) == 110.0
    assert bin_.advance(110.0, WHEN, at_rest=True)
    assert bin_.share == pytest.approx(0.5)
    assert bin_.seen_by is SeenBy.LEVEL_SENSOR
    assert foresee(bin_).known is not Known.GUESS
    assert bin_.due_after(110.0) is None
    assert not bin_.advance(120.0, WHEN, at_rest=True)
    # Running time is added to what was measured; half a bin in 0.2 h was learned.
    run(bin_, planer=0.1)
    assert bin_.share == pytest.approx(0.75, abs=0.03)


def test_reading_that_moves_is_waited_for() -> None:
    bin_ = filled(WITH_DISTANCE, planer=0.2)
    bin_.advance(0.0, WHEN, at_rest=True)
    bin_.read_level(0.4, 0.0)
    bin_.read_level(0.2, 8.0)
    assert not bin_.advance(12.0, WHEN, at_rest=True)
    bin_.read_level(0.205, 15.0)
    assert bin_.advance(18.0, WHEN, at_rest=True)
    assert bin_.share == pytest.approx(0.825)
    bin_.read_level(None, 19.0)
    assert bin_.due_after(19.0) is None
    assert not bin_.advance(40.0, WHEN, at_rest=True)


def test_every_tenth_that_the_level_rises_is_learned_from() -> None:
    bin_ = BinMonitor(WITH_DISTANCE, KINDS)
    for step in range(1, 11):
        run(bin_, planer=0.05)
        bin_.advance(100.0 * step, WHEN, at_rest=False)
        bin_.read_level(0.7 - 0.6 * 0.09 * step, 100.0 * step + 10)
        bin_.advance(100.0 * step + 20, WHEN, at_rest=True)
        bin_.advance(100.0 * step + 40, WHEN, at_rest=True)
    assert len(bin_.observations) == 5
    assert bin_.rates.per_hour["planer"] == pytest.approx(0.09 / 0.05, rel=0.05)
    assert bin_.share == pytest.approx(0.9)


def test_level_that_drops_was_emptied_and_one_that_settles_was_not() -> None:
    bin_ = filled(WITH_DISTANCE, planer=0.4)
    bin_.advance(0.0, WHEN, at_rest=True)
    now = 0.0
    for level in (0.2, 0.3, 0.66):
        now += 100.0
        bin_.read_level(level, now)
        assert bin_.advance(now + 10, WHEN, at_rest=True)
        assert len(bin_.emptyings) == (level == 0.66)
    assert bin_.share == pytest.approx(0.0667, abs=1e-3)
    assert bin_.emptyings[0].share == pytest.approx(0.667, abs=1e-3)


def test_level_that_may_not_empty_the_bin_only_corrects_it() -> None:
    plan = BinConfig(
        empty_reading=0.0, full_reading=100.0, settle=0.0, emptied_by_sensor=False
    )
    bin_ = filled(plan, planer=0.4)
    bin_.advance(0.0, WHEN, at_rest=True)
    for now, level in ((1.0, 80.0), (2.0, 5.0)):
        bin_.read_level(level, now)
        bin_.advance(now, WHEN, at_rest=True)
    assert not bin_.emptyings
    assert bin_.share == pytest.approx(0.05)


def test_button_with_a_level_sensor_keeps_what_was_seen() -> None:
    bin_ = filled(WITH_DISTANCE, planer=0.4)
    bin_.emptied(WHEN)
    assert bin_.emptyings[0].share is None
    run(bin_, planer=0.4)
    bin_.read_level(0.34, 0.0)
    bin_.advance(1.0, WHEN, at_rest=True)
    bin_.advance(20.0, WHEN, at_rest=True)
    bin_.emptied(WHEN)
    assert bin_.emptyings[1].share == pytest.approx(0.6)


def test_level_is_kept_within_what_a_bin_can_hold() -> None:
    bin_ = filled(WITH_DISTANCE, planer=0.4)
    bin_.advance(0.0, WHEN, at_rest=True)
    for now, level, share in ((10.0, -3.0, 1.2), (100.0, 5.0, 0.0)):
        bin_.read_level(level, now)
        bin_.advance(now + 10, WHEN, at_rest=True)
        assert bin_.share == share
