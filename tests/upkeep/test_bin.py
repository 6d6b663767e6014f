"""The bin: what it is told, what it learns from it, and how long it will do."""

from datetime import UTC, date, datetime, timedelta
import json
import math
from statistics import median

import pytest

from custom_components.gatewright.shop.bin import Bin
from custom_components.gatewright.shop.forecast import Forecast, Known, SeenBy
from custom_components.gatewright.shop.habits import Habits
from custom_components.gatewright.shop.kinds import MachineKind
from custom_components.gatewright.shop.upkeep_plan import BinPlan
from tests.upkeep.shops import SimulatedShop, emptied

WHEN = datetime(2026, 3, 2, 18, tzinfo=UTC)
HOUR = 3600.0
KINDS = {"saw": MachineKind.TABLE_SAW, "planer": MachineKind.PLANER}
NO_HABITS = Habits(weekdays=(), today={}, day=WHEN.date())

PLAIN = BinPlan(volume=0.12)
WITH_SENSOR = BinPlan(volume=0.12, full_sensor=True, settle=10.0)
WITH_DISTANCE = BinPlan(volume=0.12, empty_reading=0.7, full_reading=0.1, settle=10.0)


def filled(plan: BinPlan, **hours: float) -> Bin:
    bin_ = Bin(plan, KINDS)
    run(bin_, **hours)
    return bin_


def run(bin_: Bin, **hours: float) -> None:
    for machine_id, spent in hours.items():
        bin_.fill(machine_id, spent * HOUR)


def is_full(bin_: Bin) -> bool:
    return bin_.full


def foresee(bin_: Bin, habits: Habits = NO_HABITS) -> Forecast:
    return bin_.forecast(habits)


# Without sensors ----------------------------------------------------------------


def test_new_bin_goes_by_the_kinds() -> None:
    """120 liters an hour of planing fill 120 liters in an hour, as far as one knows."""
    bin_ = filled(PLAIN, planer=0.5)
    forecast = foresee(bin_)
    assert forecast.share == pytest.approx(0.5)
    assert forecast.known is Known.GUESS
    assert forecast.seen_by is SeenBy.EMPTYING
    assert forecast.hours_of == pytest.approx({"saw": 4.0, "planer": 0.5})
    # The work since the emptying is taken for the usual one.
    assert forecast.hours_left == pytest.approx(0.5)
    assert forecast.hours_low < 0.3
    assert forecast.hours_high > 0.8
    assert forecast.full_on is None
    assert bin_.hours == 0.5


def test_bin_nobody_knows_anything_about_expects_all_machines_alike() -> None:
    assert foresee(Bin(PLAIN, KINDS)).hours_left == pytest.approx(2 / (1 + 1 / 8))


def test_bin_without_machines_never_fills() -> None:
    forecast = foresee(Bin(PLAIN, {}))
    assert forecast.share == 0
    assert math.isinf(forecast.hours_left)
    assert forecast.hours_of == {}


def test_word_of_the_owner_teaches() -> None:
    bin_ = filled(PLAIN, planer=1.0)
    bin_.emptied(WHEN, share=0.5)
    assert bin_.rates.per_hour["planer"] < 0.7
    assert bin_.share == 0
    (emptying,) = bin_.emptyings
    assert (emptying.share, emptying.hours) == (0.5, 1.0)
    assert emptying.expected == pytest.approx(1.0)
    assert emptying.at == WHEN.timestamp()


def test_word_in_between_moves_the_forecast() -> None:
    bin_ = filled(PLAIN, planer=0.5)
    bin_.said(0.9)
    assert bin_.share == pytest.approx(0.9)
    assert bin_.seen_by is SeenBy.OWNER
    assert not is_full(bin_)
    bin_.said(1.0)
    assert is_full(bin_)
    bin_.emptied(WHEN)
    assert not is_full(bin_)
    # No machine ran between the two words.
    assert len(bin_.observations) == 1


def test_emptied_without_a_word_teaches_nothing() -> None:
    bin_ = filled(PLAIN, planer=1.0)
    bin_.emptied(WHEN)
    assert bin_.observations == []
    assert bin_.emptyings[0].share is None


def test_usual_share_is_the_word_of_those_who_say_none() -> None:
    bin_ = filled(BinPlan(volume=0.12, usual_share=0.8), planer=0.4)
    bin_.emptied(WHEN)
    assert bin_.emptyings[0].share == 0.8
    assert bin_.rates.per_hour["planer"] > 1.5


def test_nonsense_teaches_nothing() -> None:
    """A bin that fills without any machine was filled with a shovel."""
    bin_ = Bin(PLAIN, KINDS)
    bin_.said(0.6)
    assert bin_.observations == []
    run(bin_, planer=1.0)
    bin_.said(0.3)
    assert bin_.observations == []
    run(bin_, planer=0.1)
    bin_.said(0.45)
    assert [seen.share for seen in bin_.observations] == [pytest.approx(0.15)]


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
    # Told once only, and the sensor going off while it runs does not empty the bin.
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


def test_sensor_that_may_not_empty_the_bin_does_not() -> None:
    plan = BinPlan(full_sensor=True, settle=0.0, emptied_by_sensor=False)
    bin_ = filled(plan, planer=0.5)
    bin_.read_full(True, 1.0)
    bin_.advance(1.0, WHEN, at_rest=True)
    bin_.read_full(False, 2.0)
    assert bin_.advance(2.0, WHEN, at_rest=True)
    assert not bin_.emptyings
    assert is_full(bin_)


def test_button_pressed_before_the_bin_is_out() -> None:
    """The sensor still says full: that stays true, but it is no new filling."""
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
    plan = BinPlan(volume=0.12, full_sensor=True, full_share=0.8, settle=0.0)
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
    # Without a full sensor in the plan nobody listens to one.
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
    # Running time is added to what was seen; half a bin in 0.2 h was learned.
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
    bin_ = Bin(WITH_DISTANCE, KINDS)
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
    plan = BinPlan(
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


# The forecast -------------------------------------------------------------------


def usual_week(**per_day: float) -> Habits:
    """Work on Mondays, Wednesdays and Saturdays, in hours a day."""
    day = {m: hours * HOUR for m, hours in per_day.items()}
    return Habits(
        weekdays=(day, {}, day, {}, {}, day, {}), today={}, day=date(2026, 3, 3)
    )


def test_forecast_names_the_day() -> None:
    """A bin of 4 h of planing, half an hour a working day, from a Tuesday on."""
    bin_ = Bin(BinPlan(volume=0.48), KINDS)
    forecast = foresee(bin_, usual_week(planer=0.5))
    # Wednesday is the first working day; the eighth is a Saturday.
    assert forecast.full_on == date(2026, 3, 21)
    assert forecast.earliest is not None
    assert forecast.latest is not None
    assert forecast.earliest < forecast.full_on < forecast.latest
    assert forecast.hours_left == pytest.approx(4.0)


def test_usual_work_is_what_the_habits_say() -> None:
    """Nine hours of sawing to one of planing: 15 * 0.9 + 120 * 0.1 liters an hour."""
    forecast = foresee(Bin(PLAIN, KINDS), usual_week(saw=0.9, planer=0.1, gone=5.0))
    assert forecast.hours_left == pytest.approx(120 / 25.5)


def test_known_gets_better_with_every_emptying() -> None:
    order = list(Known)
    ranks = {}
    for count in (0, 1, 5, 12):
        found = []
        for seed in range(12):
            shop = SimulatedShop(seed)
            bin_ = Bin(shop.plan, shop.kinds)
            for number in range(count):
                emptied(bin_, shop.filling(), number)
            found.append(order.index(foresee(bin_).known))
        ranks[count] = median(found)
    assert list(ranks.values()) == sorted(ranks.values())
    assert order[int(ranks[0])] is Known.GUESS
    assert ranks[12] >= order.index(Known.FAIR)


def test_steady_shop_becomes_well_known() -> None:
    bin_ = Bin(BinPlan(volume=0.12, full_sensor=True, settle=0.0), KINDS)
    found = []
    for number in range(10):
        found.append(foresee(bin_, usual_week(saw=2.0, planer=0.5)).known)
        emptied(bin_, {"saw": 2.0, "planer": 0.5 + 0.01 * (number % 3)}, number)
    assert found[0] is Known.GUESS
    assert found[1] in (Known.ROUGH, Known.FAIR)
    assert found[-1] is Known.GOOD


# Changes and memory ----------------------------------------------------------------


def test_new_bin_of_another_size_keeps_what_was_learned() -> None:
    bin_ = filled(WITH_SENSOR, planer=0.5)
    bin_.read_full(True, 0.0)
    bin_.advance(20.0, WHEN, at_rest=False)
    bin_.emptied(WHEN)
    before = bin_.rates.per_hour["planer"]
    bin_.replan(BinPlan(volume=0.24, full_sensor=True), KINDS)
    assert bin_.rates.per_hour["planer"] == pytest.approx(before / 2)


def test_machine_that_is_gone_has_still_filled_the_bin() -> None:
    bin_ = filled(PLAIN, planer=0.5, saw=1.0)
    share = bin_.share
    bin_.replan(PLAIN, {"saw": MachineKind.TABLE_SAW})
    assert bin_.share == pytest.approx(share)
    assert foresee(bin_).hours_of.keys() == {"saw"}
    bin_.emptied(WHEN)
    bin_.replan(PLAIN, {"saw": MachineKind.TABLE_SAW})
    assert bin_.rates.per_hour.keys() == {"saw"}


def test_machine_of_unknown_kind_fills_the_bin_too() -> None:
    bin_ = filled(PLAIN, something=1.0)
    assert bin_.share == pytest.approx(15 / 120)


def test_machine_taken_over_by_another_id() -> None:
    bin_ = filled(WITH_SENSOR, planer=0.5)
    bin_.read_full(True, 0.0)
    bin_.advance(20.0, WHEN, at_rest=False)
    bin_.emptied(WHEN)
    run(bin_, planer=0.2)
    rate, share = bin_.rates.per_hour["planer"], bin_.share
    bin_.replan(
        WITH_SENSOR, {"saw": MachineKind.TABLE_SAW, "planer 2": MachineKind.PLANER}
    )
    bin_.adopt("planer", "planer 2")
    assert bin_.rates.per_hour.keys() == {"saw", "planer 2"}
    assert bin_.rates.per_hour["planer 2"] == pytest.approx(rate)
    assert bin_.share == pytest.approx(share)


def test_sensors_can_be_added_changed_and_taken_away() -> None:
    bin_ = filled(PLAIN, planer=0.2)
    bin_.read_level(0.4, 0.0)
    assert bin_.due_after(0.0) is None
    bin_.replan(WITH_DISTANCE, KINDS)
    bin_.read_level(0.4, 0.0)
    bin_.replan(
        BinPlan(volume=0.12, empty_reading=0.5, full_reading=0.3, settle=1.0), KINDS
    )
    bin_.read_level(0.4, 5.0)
    bin_.advance(5.0, WHEN, at_rest=True)
    bin_.advance(6.0, WHEN, at_rest=True)
    assert bin_.share == pytest.approx(0.5)
    bin_.replan(PLAIN, KINDS)
    bin_.read_level(0.3, 7.0)
    bin_.advance(60.0, WHEN, at_rest=True)
    assert bin_.share == pytest.approx(0.5)


def test_everything_survives_a_restart() -> None:
    shop = SimulatedShop(3)
    bin_ = Bin(shop.plan, shop.kinds)
    for number in range(4):
        emptied(bin_, shop.filling(), number)
    half = {m: hours / 2 for m, hours in shop.filling().items()}
    run(bin_, **half)
    bin_.said(0.45)
    run(bin_, **half)
    again = Bin(shop.plan, shop.kinds)
    again.restore(json.loads(json.dumps(bin_.save())))
    assert foresee(again) == foresee(bin_)
    assert list(again.emptyings) == list(bin_.emptyings)
    # A full bin is still full, and its emptying is still seen.
    bin_.read_full(True, 0.0)
    bin_.advance(1.0, WHEN, at_rest=True)
    again.restore(json.loads(json.dumps(bin_.save())))
    assert is_full(again)
    again.read_full(False, 5.0)
    again.advance(5.0, WHEN + timedelta(days=1), at_rest=True)
    assert not is_full(again)
    assert len(again.emptyings) == 5


def test_machines_that_went_while_nobody_listened_keep_their_share() -> None:
    bin_ = filled(PLAIN, planer=0.5)
    saved = bin_.save()
    del saved["kinds"]
    again = Bin(BinPlan(volume=0.24), {"saw": MachineKind.TABLE_SAW})
    again.restore(saved)
    assert again.share == pytest.approx(0.5 * 15 / 240)


def test_old_or_empty_memory_is_an_empty_bin() -> None:
    bin_ = filled(PLAIN, planer=0.5)
    bin_.restore({})
    assert bin_.share == 0
    assert not is_full(bin_)
