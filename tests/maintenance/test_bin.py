"""The bin: its inputs, what it learns, and its forecast."""

from datetime import date, timedelta
import json
import math
from statistics import median

import pytest

from custom_components.gatewright.core.kinds import MachineKind
from custom_components.gatewright.core.maintenance.bin import BinMonitor
from custom_components.gatewright.core.maintenance.bin_forecast import Known, SeenBy
from custom_components.gatewright.core.maintenance.config import BinConfig
from custom_components.gatewright.core.maintenance.weekly_use import WeeklyUse
from tests.maintenance.bins import (
    HOUR,
    KINDS,
    PLAIN,
    WHEN,
    WITH_DISTANCE,
    WITH_SENSOR,
    filled,
    foresee,
    is_full,
    run,
)
from tests.maintenance.shops import SimulatedShop, emptied

# Without sensors ----------------------------------------------------------------


def test_new_bin_goes_by_the_kinds() -> None:
    """120 liters an hour of planing fill 120 liters in an hour, as far as one knows."""
    bin_ = filled(PLAIN, planer=0.5)
    forecast = foresee(bin_)
    assert forecast.share == pytest.approx(0.5)
    assert forecast.known is Known.GUESS
    assert forecast.seen_by is SeenBy.EMPTYING
    assert forecast.hours_of == pytest.approx({"saw": 4.0, "planer": 0.5})
    # The work since the emptying counts as the usual one.
    assert forecast.hours_left == pytest.approx(0.5)
    assert forecast.hours_low < 0.3
    assert forecast.hours_high > 0.8
    assert forecast.full_on is None
    assert bin_.hours == 0.5


def test_bin_nobody_knows_anything_about_expects_all_machines_alike() -> None:
    assert foresee(BinMonitor(PLAIN, KINDS)).hours_left == pytest.approx(
        2 / (1 + 1 / 8)
    )


def test_bin_without_machines_never_fills() -> None:
    forecast = foresee(BinMonitor(PLAIN, {}))
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
    # No machine ran between the two reports.
    assert len(bin_.observations) == 1


def test_emptied_without_a_word_teaches_nothing() -> None:
    bin_ = filled(PLAIN, planer=1.0)
    bin_.emptied(WHEN)
    assert bin_.observations == []
    assert bin_.emptyings[0].share is None


def test_usual_share_is_the_word_of_those_who_say_none() -> None:
    bin_ = filled(BinConfig(volume=0.12, usual_share=0.8), planer=0.4)
    bin_.emptied(WHEN)
    assert bin_.emptyings[0].share == 0.8
    assert bin_.rates.per_hour["planer"] > 1.5


def test_nonsense_teaches_nothing() -> None:
    """A bin that fills without any machine was filled with a shovel."""
    bin_ = BinMonitor(PLAIN, KINDS)
    bin_.said(0.6)
    assert bin_.observations == []
    run(bin_, planer=1.0)
    bin_.said(0.3)
    assert bin_.observations == []
    run(bin_, planer=0.1)
    bin_.said(0.45)
    assert [seen.share for seen in bin_.observations] == [pytest.approx(0.15)]


# The forecast -------------------------------------------------------------------


def usual_week(**per_day: float) -> WeeklyUse:
    """Work on Mondays, Wednesdays and Saturdays, in hours a day."""
    day = {m: hours * HOUR for m, hours in per_day.items()}
    return WeeklyUse(
        weekdays=(day, {}, day, {}, {}, day, {}), today={}, day=date(2026, 3, 3)
    )


def test_forecast_names_the_day() -> None:
    """A bin of 4 h of planing, half an hour a working day, from a Tuesday on."""
    bin_ = BinMonitor(BinConfig(volume=0.48), KINDS)
    forecast = foresee(bin_, usual_week(planer=0.5))
    # Wednesday is the first working day; the eighth is a Saturday.
    assert forecast.full_on == date(2026, 3, 21)
    assert forecast.earliest is not None
    assert forecast.latest is not None
    assert forecast.earliest < forecast.full_on < forecast.latest
    assert forecast.hours_left == pytest.approx(4.0)


def test_usual_work_is_what_the_habits_say() -> None:
    """Nine hours of sawing to one of planing: 15 * 0.9 + 120 * 0.1 liters an hour."""
    forecast = foresee(
        BinMonitor(PLAIN, KINDS), usual_week(saw=0.9, planer=0.1, gone=5.0)
    )
    assert forecast.hours_left == pytest.approx(120 / 25.5)


def test_known_gets_better_with_every_emptying() -> None:
    order = list(Known)
    ranks = {}
    for count in (0, 1, 5, 12):
        found = []
        for seed in range(12):
            shop = SimulatedShop(seed)
            bin_ = BinMonitor(shop.plan, shop.kinds)
            for number in range(count):
                emptied(bin_, shop.filling(), number)
            found.append(order.index(foresee(bin_).known))
        ranks[count] = median(found)
    assert list(ranks.values()) == sorted(ranks.values())
    assert order[int(ranks[0])] is Known.GUESS
    assert ranks[12] >= order.index(Known.FAIR)


def test_steady_shop_becomes_well_known() -> None:
    bin_ = BinMonitor(BinConfig(volume=0.12, full_sensor=True, settle=0.0), KINDS)
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
    bin_.replan(BinConfig(volume=0.24, full_sensor=True), KINDS)
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
        BinConfig(volume=0.12, empty_reading=0.5, full_reading=0.3, settle=1.0), KINDS
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
    bin_ = BinMonitor(shop.plan, shop.kinds)
    for number in range(4):
        emptied(bin_, shop.filling(), number)
    half = {m: hours / 2 for m, hours in shop.filling().items()}
    run(bin_, **half)
    bin_.said(0.45)
    run(bin_, **half)
    again = BinMonitor(shop.plan, shop.kinds)
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
    again = BinMonitor(BinConfig(volume=0.24), {"saw": MachineKind.TABLE_SAW})
    again.restore(saved)
    assert again.share == pytest.approx(0.5 * 15 / 240)


def test_old_or_empty_memory_is_an_empty_bin() -> None:
    bin_ = filled(PLAIN, planer=0.5)
    bin_.restore({})
    assert bin_.share == 0
    assert not is_full(bin_)
