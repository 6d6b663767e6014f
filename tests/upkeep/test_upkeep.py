"""The whole, beside a shop that works: nothing is lost and nothing counted twice."""

from dataclasses import replace
from datetime import date, datetime, timedelta
import json
import random
from zoneinfo import ZoneInfo

import pytest

from custom_components.gatewright.shop.cleaning import Cleaning
from custom_components.gatewright.shop.filter import FilterReason
from custom_components.gatewright.shop.kinds import MachineKind
from custom_components.gatewright.shop.ledger import Ledger
from custom_components.gatewright.shop.plan import COLLECTOR, Machine
from custom_components.gatewright.shop.power import JOULES_PER_KILOWATT_HOUR
from custom_components.gatewright.shop.reasons import NoAir
from custom_components.gatewright.shop.room import RoomCleaner
from custom_components.gatewright.shop.tally import Span
from custom_components.gatewright.shop.upkeep import Need, NeedKind, Upkeep
from custom_components.gatewright.shop.upkeep_plan import (
    BinPlan,
    CleaningPlan,
    FilterPlan,
    RoomPlan,
    ServiceInterval,
    UpkeepPlan,
)
from tests.shop.bench import LEVELS
from tests.upkeep.workday import MACHINES, Workday, muddle

HOUR = 3600.0


def agrees(total: Span, ledger: Ledger) -> None:
    """Compare the calendar with the ledger, to a millisecond."""
    for machine_id in total.machines.keys() | ledger.machines.keys():
        spent, totals = total.of(machine_id), ledger.of(machine_id)
        little = spent.without.get(NoAir.TOO_LITTLE_AIR, 0.0)
        assert spent.run == pytest.approx(totals.run_time, abs=1e-3)
        assert spent.air + little == pytest.approx(totals.air_time, abs=1e-3)
        assert (spent.runs, spent.cuts) == (totals.runs, totals.cuts)
        without = sum(spent.without.values())
        assert spent.air + without == pytest.approx(spent.run, abs=1e-3)
    assert total.collector.on == pytest.approx(ledger.collector.on_time, abs=1e-3)
    assert total.collector.starts == ledger.collector.starts


def by_hand(day: Workday) -> dict[str, float]:
    """Return the running time of each machine in the kept runs."""
    found = dict.fromkeys(MACHINES, 0.0)
    for run in day.kept:
        found[run.machine_id] += run.run_time
    return found


# The calendar ---------------------------------------------------------------------


def test_a_morning_in_the_shop() -> None:
    day = Workday()
    day.run("planer", 10.0, 610.0)
    day.run("tablesaw", 700.0, 800.0)
    day.bench.run_to(HOUR)
    span = day.upkeep.calendar.day(date(2026, 3, 2))
    agrees(span, day.bench.shop.ledger)
    planer = span.of("planer")
    # A start settles for 1 s and a stop for 4 s; the gate takes 3 s, the motor little.
    assert planer.run == pytest.approx(603.0, abs=0.1)
    assert planer.air == pytest.approx(599.6, abs=0.5)
    assert planer.without.keys() == {NoAir.GATE_MOVING, NoAir.STARTING}
    assert span.of("tablesaw").runs == 1
    runs = {run.machine_id: run for run in day.kept}
    assert runs["planer"].name == "Planer"
    assert runs["planer"].began == pytest.approx(day.begin.timestamp() + 11, abs=0.1)
    assert runs["planer"].run_time == pytest.approx(planer.run)
    assert runs["planer"].without == pytest.approx(planer.without)
    assert list(day.upkeep.record.runs) == day.kept


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize(
    ("zone", "begin"),
    [
        ("Europe/Berlin", datetime(2026, 3, 28, 20)),  # noqa: DTZ001 - see below
        ("America/New_York", datetime(2026, 10, 31, 20)),  # noqa: DTZ001
        ("Australia/Lord_Howe", datetime(2026, 12, 31, 20)),  # noqa: DTZ001
    ],
)
def test_calendar_and_ledger_agree_whatever_happens(
    seed: int, zone: str, begin: datetime
) -> None:
    """Through nights in which the clock is set, restarts included."""
    lots = random.Random(seed)
    day = Workday(begin=begin.replace(tzinfo=ZoneInfo(zone)))
    for _ in range(4):
        start = day.bench.now
        muddle(day, lots, start, start + 6 * HOUR)
        day.bench.run_to(start + lots.uniform(4, 7) * HOUR)
        day.tick()
        agrees(day.upkeep.calendar.total(), day.bench.shop.ledger)
        day.restart(lots.uniform(1, 600))
    day.bench.run_to(day.bench.now + 2 * HOUR)
    ledger = day.bench.shop.ledger
    days = Span()
    for some_day in day.upkeep.calendar.days:
        days.add(day.upkeep.calendar.day(some_day))
    agrees(days, ledger)
    assert len(day.upkeep.calendar.days) >= 2
    # Every run that has ended is in the record, with its time and its reasons.
    ended = by_hand(day)
    for machine_id in MACHINES:
        still = ledger.save(day.bench.now)["open"].get(machine_id, {"run_time": 0.0})
        assert ended[machine_id] + still["run_time"] == pytest.approx(
            ledger.of(machine_id).run_time, abs=1e-3
        )
    for run in day.kept:
        lacking = sum(run.without.values())
        assert run.air_time + lacking == pytest.approx(run.run_time, abs=1e-3)
        assert run.began <= run.ended


@pytest.mark.parametrize("seed", range(8))
def test_crash_loses_only_what_the_ledger_lost(seed: int) -> None:
    """Ours was saved an hour earlier than the ledger: it makes up for it."""
    lots = random.Random(seed)
    day = Workday()
    muddle(day, lots, 0.0, 4 * HOUR)
    day.bench.run_to(2 * HOUR)
    _, old = day.memories()
    day.bench.run_to(3 * HOUR)
    recent, _ = day.memories()
    day.bench.run_to(3 * HOUR + 20)
    day.restart(30.0, (recent, old))
    day.bench.run_to(5 * HOUR)
    agrees(day.upkeep.calendar.total(), day.bench.shop.ledger)
    assert day.upkeep.bin is not None
    chips = sum(t.air_time for t in day.bench.shop.ledger.machines.values()) / HOUR
    assert day.upkeep.bin.hours == pytest.approx(chips, abs=1e-6)


def test_ledger_that_was_lost_is_followed_from_where_it_is() -> None:
    day = Workday()
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    before = day.upkeep.calendar.total()
    shop = json.loads(day.memories()[0])
    shop["ledger"] = Ledger().save(0.0)
    day.restart(10.0, (json.dumps(shop), day.memories()[1]))
    begin = day.bench.now
    day.run("planer", begin + 10, begin + 110)
    day.bench.run_to(begin + 1000.0)
    after = day.upkeep.calendar.total()
    assert after.of("planer").run > before.of("planer").run
    assert after.collector.on > before.collector.on


def test_ledger_with_a_past_of_its_own() -> None:
    """Upkeep begins later than the shop: the past has no days, but it counts."""
    day = Workday()
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    day.restart(10.0, (day.memories()[0], "{}"))
    day.run("planer", 2000.0, 2100.0)
    day.bench.run_to(3000.0)
    calendar = day.upkeep.calendar
    agrees(calendar.total(), day.bench.shop.ledger)
    assert calendar.earlier.of("planer").run == pytest.approx(603.0, abs=0.1)
    assert calendar.earlier.of("planer").runs == 1
    assert calendar.day(date(2026, 3, 2)).of("planer").runs == 1
    # Nor were those chips in the bin that is counted from now on.
    assert day.upkeep.bin is not None
    assert day.upkeep.bin.hours == pytest.approx(
        calendar.day(date(2026, 3, 2)).of("planer").air / HOUR
    )


def test_run_over_midnight_belongs_to_both_days() -> None:
    day = Workday(begin=datetime(2026, 3, 31, 23, 50, tzinfo=ZoneInfo("Europe/Berlin")))
    day.run("planer", 0.0, 1200.0)
    day.bench.run_to(2000.0)
    calendar = day.upkeep.calendar
    march, april = date(2026, 3, 31), date(2026, 4, 1)
    assert calendar.day(march).of("planer").run == pytest.approx(599.0, abs=0.1)
    assert calendar.day(april).of("planer").run == pytest.approx(604.0, abs=0.1)
    assert (
        calendar.month(march).of("planer").run == calendar.day(march).of("planer").run
    )
    assert calendar.week(march).of("planer").run == pytest.approx(
        day.bench.shop.ledger.of("planer").run_time
    )


def test_clock_that_is_set_moves_days_and_loses_nothing() -> None:
    day = Workday()
    day.run("planer", 10.0, 5000.0)
    day.bench.run_to(1000.0)
    day.begin = datetime(1970, 1, 1, tzinfo=day.zone)
    day.bench.at(1500.0, lambda: None)
    day.bench.run_to(2000.0)
    day.begin = datetime(2026, 3, 2, 8, tzinfo=day.zone)
    day.bench.run_to(6000.0)
    assert len(day.upkeep.calendar.days) == 2
    agrees(day.upkeep.calendar.total(), day.bench.shop.ledger)


def test_too_little_air_is_no_air_but_brings_chips() -> None:
    day = Workday()
    day.upkeep.too_little = {"planer"}
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    spent = day.upkeep.calendar.total().of("planer")
    assert spent.air == 0
    assert spent.without[NoAir.TOO_LITTLE_AIR] == pytest.approx(599.6, abs=0.5)
    agrees(day.upkeep.calendar.total(), day.bench.shop.ledger)
    assert day.upkeep.bin is not None
    assert day.upkeep.bin.hours * HOUR == pytest.approx(599.6, abs=0.5)


# Machines that come and go -----------------------------------------------------------


def rebuilt(day: Workday, *machines: Machine) -> dict[str, str]:
    system = replace(day.bench.system, machines=machines)
    day.bench.sequence.replan(system, day.bench.now)
    day.look()
    return day.upkeep.replan(day.plan)


def test_machine_that_is_removed_and_comes_back_takes_its_past_over() -> None:
    day = Workday()
    planer, *others = day.bench.system.machines
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    before = day.upkeep.calendar.total()
    share = day.upkeep.bin.share if day.upkeep.bin else 0.0
    assert rebuilt(day, *others) == {}
    assert day.upkeep.calendar.total() == before
    day.bench.run_to(1100.0)
    again = replace(planer, machine_id="planer again")
    assert rebuilt(day, *others, again) == {"planer again": "planer"}
    day.bench.read(1200.0, "planer again", 1450.0)
    day.bench.read(1300.0, "planer again", 5.0)
    day.bench.run_to(2000.0)
    total = day.upkeep.calendar.total()
    assert "planer" not in total.machines
    assert total.of("planer again").run == pytest.approx(
        before.of("planer").run + 103.0, abs=0.1
    )
    agrees(total, day.bench.shop.ledger)
    assert {run.machine_id for run in day.upkeep.record.runs} == {"planer again"}
    assert day.upkeep.bin is not None
    assert day.upkeep.bin.share > share


def test_other_machine_of_the_same_name_is_another() -> None:
    day = Workday()
    planer, *others = day.bench.system.machines
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    total = day.upkeep.calendar.total()
    other = replace(planer, machine_id="other", kind=MachineKind.LATHE)
    assert rebuilt(day, *others, other) == {}
    # The first stays in the record of the shop, and comes back as itself.
    assert day.upkeep.calendar.total() == total
    assert day.upkeep.names["planer"] == "Planer"
    assert rebuilt(day, planer, *others) == {}
    agrees(day.upkeep.calendar.total(), day.bench.shop.ledger)


def test_machine_that_never_ran_can_come_and_go() -> None:
    day = Workday(UpkeepPlan(bin=None, filter=FilterPlan()))
    planer, *others = day.bench.system.machines
    rebuilt(day, *others)
    again = replace(planer, machine_id="planer again")
    assert rebuilt(day, *others, again) == {"planer again": "planer"}
    day.upkeep.read_pressure(500.0)
    day.run("tablesaw", 10.0, 100.0)
    day.bench.run_to(50.0)
    day.upkeep.read_pressure(500.0)
    assert day.upkeep.filter is not None
    assert day.upkeep.filter.level == 500.0
    day.bench.run_to(1000.0)
    agrees(day.upkeep.calendar.total(), day.bench.shop.ledger)


def test_machine_that_was_exchanged_while_the_hub_was_down() -> None:
    day = Workday()
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    saved = day.upkeep.save(day.bench.now)
    saved["names"]["planer of old"] = saved["names"].pop("planer")
    saved["kinds"]["planer of old"] = saved["kinds"].pop("planer")
    saved["read"]["machines"]["planer of old"] = saved["read"]["machines"].pop("planer")
    for some_day in saved["calendar"]["days"].values():
        some_day["machines"]["planer of old"] = some_day["machines"].pop("planer")
    shop = json.loads(day.memories()[0])
    totals = shop["ledger"]["machines"]
    totals["planer of old"] = totals.pop("planer")
    day.restart(10.0, (json.dumps(shop), json.dumps(saved)))
    day.bench.run_to(1100.0)
    assert day.upkeep.calendar.total().of("planer").run == pytest.approx(603, abs=0.1)
    agrees(day.upkeep.calendar.total(), day.bench.shop.ledger)


def test_totals_of_both_are_added_where_both_had_some() -> None:
    day = Workday()
    day.run("planer", 10.0, 110.0)
    day.bench.run_to(1000.0)
    ledger = day.bench.shop.ledger
    ledger.of("new").run_time = 5.0
    day.look()
    planer, *others = day.bench.system.machines
    rebuilt(day, *others)
    rebuilt(day, *others, replace(planer, machine_id="new"))
    day.look()
    assert ledger.of("new").run_time == pytest.approx(108.0, abs=0.1)
    agrees(day.upkeep.calendar.total(), ledger)


# Bin -------------------------------------------------------------------------------------


def test_bin_fills_trips_alerts_and_is_emptied() -> None:
    plan = UpkeepPlan(
        bin=BinPlan(volume=0.02, full_sensor=True, settle=10.0), filter=None
    )
    day = Workday(plan)
    bin_ = day.upkeep.bin
    assert bin_ is not None
    day.run("planer", 10.0, 5000.0)
    needs = {}
    # The machines of this bench are of no particular kind: 15 liters an hour.
    for now, share in ((1200.0, 0.25), (4000.0, 0.83)):
        day.bench.run_to(now)
        day.tick()
        forecast = day.upkeep.forecast(day.when)
        assert forecast is not None
        assert forecast.share == pytest.approx(share, abs=0.01)
        needs[now] = day.upkeep.needs(day.when)
    assert needs == {1200.0: [], 4000.0: [Need(NeedKind.BIN_NEARLY_FULL)]}
    bin_.read_full(True, 4500.0)
    day.tick()
    assert day.upkeep.wake == 4510.0
    day.bench.run_to(4510.0)
    assert day.upkeep.needs(day.when) == [Need(NeedKind.BIN_FULL)]
    day.bench.run_to(6000.0)
    bin_.emptied(day.when)
    # The button was quicker than the hand at the bin.
    assert day.upkeep.needs(day.when) == [Need(NeedKind.BIN_FULL)]
    bin_.read_full(False, 6010.0)
    day.bench.run_to(6030.0)
    day.look()
    assert day.upkeep.needs(day.when) == []
    assert len(bin_.emptyings) == 1
    assert bin_.emptyings[0].at == day.when.timestamp() - 30.0


def test_forecast_gets_its_date_from_the_days_of_the_shop() -> None:
    """An hour of planing every day: 4 L of 15 L an hour, in a bin of 120 L."""
    day = Workday(UpkeepPlan(bin=BinPlan(volume=0.12)))
    for number in range(10):
        day.run("planer", number * 24 * HOUR + 10, number * 24 * HOUR + 2 * HOUR)
        day.bench.run_to((number + 1) * 24 * HOUR)
    forecast = day.upkeep.forecast(day.when)
    assert forecast is not None
    # Twenty hours are gone too fast: eight fill the bin.
    assert forecast.hours_left == 0
    assert day.upkeep.bin is not None
    day.upkeep.bin.emptied(day.when)
    forecast = day.upkeep.forecast(day.when)
    assert forecast is not None
    assert forecast.hours_left == pytest.approx(8.0, abs=0.02)
    # Two hours a day, the first of them today: the day after the third.
    assert forecast.full_on == day.when.date() + timedelta(days=4)


def test_no_bin_no_forecast() -> None:
    day = Workday(UpkeepPlan(bin=None))
    day.run("planer", 10.0, 600.0)
    day.bench.run_to(1000.0)
    assert day.upkeep.forecast(day.when) is None


# Filter and collector ---------------------------------------------------------------------


def test_filter_is_cleaned_when_the_collector_has_stopped() -> None:
    cleaning = CleaningPlan(wait=5.0, duration=10.0, times=1, every=300.0)
    day = Workday(UpkeepPlan(filter=FilterPlan(cleaning=cleaning)))
    filter_, switch = day.upkeep.filter, day.upkeep.cleaning
    assert filter_ is not None
    assert switch is not None
    day.run("planer", 10.0, 610.0)
    wanted = []
    for second in range(800):
        day.bench.run_to(float(second))
        if day.upkeep.wake is not None and day.upkeep.wake <= second + 1:
            day.bench.run_to(day.upkeep.wake)
        day.tick()
        if switch.wanted:
            wanted.append(second)
            assert not day.bench.sequence.impeller_may_turn(day.bench.now)
    # Off at 629, coast until 649, five seconds more.
    assert wanted[0] == pytest.approx(654, abs=2)
    assert len(wanted) == pytest.approx(10, abs=1)
    assert filter_.cleanings == 1
    assert filter_.since_cleaned == 0
    assert filter_.since_replaced == pytest.approx(615.0, abs=2)


def test_lockout_keeps_the_cleaning_still() -> None:
    day = Workday(UpkeepPlan(filter=FilterPlan(cleaning=CleaningPlan())))
    assert day.upkeep.cleaning is not None
    day.upkeep.cleaning.ask()
    day.bench.sequence.set_lockout(True)
    day.bench.run_to(100.0)
    assert not day.upkeep.cleaning.wanted
    assert day.upkeep.wake is None


def test_pressure_counts_only_while_the_collector_turns() -> None:
    plan = FilterPlan(clean_at=500.0, cleaning=CleaningPlan(above=800.0))
    day = Workday(UpkeepPlan(filter=plan))
    assert day.upkeep.filter is not None
    assert day.upkeep.cleaning is not None
    day.upkeep.read_pressure(2000.0)
    assert day.upkeep.filter.level is None
    day.run("planer", 10.0, 3000.0)
    for minute in range(1, 48):
        day.bench.run_to(60.0 * minute)
        day.tick()
        day.upkeep.read_pressure(700.0)
    assert day.upkeep.filter.state().reason is FilterReason.PRESSURE
    assert Need(NeedKind.FILTER_CLEAN) in day.upkeep.needs(day.when)
    due = [day.upkeep.cleaning.due]
    for _ in range(60):
        day.upkeep.read_pressure(1700.0)
    due.append(day.upkeep.cleaning.due)
    assert due == [False, True]
    # Without a filter nobody asks.
    day.upkeep.replan(UpkeepPlan(filter=None))
    day.upkeep.read_pressure(1700.0)
    day.upkeep.filter_cleaned(day.when)
    assert cleaning_of(day) is None


def cleaning_of(day: Workday) -> Cleaning | None:
    return day.upkeep.cleaning


def test_needs_are_told_with_the_most_urgent_first() -> None:
    plan = UpkeepPlan(
        bin=BinPlan(volume=0.001),
        filter=FilterPlan(replace_after=60.0),
        services=(
            ServiceInterval(service_id="belt", name="Belt", starts=1),
            ServiceInterval(service_id="bags", name="Bags", days=900),
        ),
    )
    day = Workday(plan)
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    assert day.upkeep.needs(day.when) == [
        Need(NeedKind.BIN_FULL),
        Need(NeedKind.FILTER_REPLACE),
        Need(NeedKind.SERVICE_DUE, "belt"),
    ]
    assert day.upkeep.care.longest_run == pytest.approx(615.0, abs=2)


def test_energy_and_cost_by_the_day() -> None:
    """1500 W for 200 s on either side of midnight, more or less."""
    zone = ZoneInfo("Europe/Berlin")
    day = Workday(begin=datetime(2026, 3, 2, 23, 56, 40, tzinfo=zone))
    day.upkeep.meter.set_price(0.4, 0.0)
    day.upkeep.meter.read(1500.0, 0.0)
    day.run("planer", 10.0, 300.0)
    day.bench.run_to(400.0)
    day.upkeep.meter.read(0.0, 400.0)
    day.tick()
    calendar = day.upkeep.calendar
    energy = 1500.0 * 400.0
    first = calendar.day(date(2026, 3, 2)).collector
    second = calendar.day(date(2026, 3, 3)).collector
    assert first.energy == pytest.approx(energy / 2, rel=0.01)
    assert first.energy + second.energy == pytest.approx(energy)
    assert first.cost + second.cost == pytest.approx(
        energy / JOULES_PER_KILOWATT_HOUR * 0.4
    )


# Room ----------------------------------------------------------------------------------------


def wants(room: RoomCleaner) -> bool:
    return room.wanted


def test_room_is_cleaned_after_the_work_and_the_dust_is_averaged() -> None:
    plan = UpkeepPlan(room=RoomPlan(volume=60.0, flow=0.2, changes=3.0))
    day = Workday(plan)
    room = day.upkeep.room
    assert room is not None
    day.upkeep.read_particles(2.0, 0.0, day.when)
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(300.0)
    assert wants(room)
    day.bench.run_to(700.0)
    assert wants(room)
    stop = next(s.at for s in day.bench.switchings if not s.on)
    assert day.upkeep.wake == pytest.approx(stop + 900.3, abs=1)
    day.bench.run_to(stop + 1000.0)
    day.look()
    assert not wants(room)
    dust = day.upkeep.exposure.day(day.when.date())
    assert dust.mean == pytest.approx(2.0)
    assert dust.worked == pytest.approx(day.bench.now - 11.0, abs=1)
    # Without an air cleaner the particles are read all the same.
    day.upkeep.replan(UpkeepPlan())
    day.upkeep.read_particles(0.5, day.bench.now, day.when)
    assert day.upkeep.exposure.reading == 0.5


# Plan and memory --------------------------------------------------------------------------------


FULL = UpkeepPlan(
    bin=BinPlan(full_sensor=True),
    filter=FilterPlan(cleaning=CleaningPlan()),
    services=(ServiceInterval(service_id="belt", name="Belt", days=3),),
    room=RoomPlan(),
)


def test_parts_keep_what_they_know_when_the_plan_changes() -> None:
    day = Workday(FULL)
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    parts = [getattr(day.upkeep, n) for n in ("bin", "filter", "cleaning", "room")]
    changed = UpkeepPlan(
        bin=BinPlan(volume=1.0),
        filter=FilterPlan(clean_at=5.0, cleaning=CleaningPlan(times=9)),
        room=RoomPlan(changes=9.0),
    )
    day.upkeep.replan(changed)
    assert parts == [
        getattr(day.upkeep, n) for n in ("bin", "filter", "cleaning", "room")
    ]
    assert [part.plan for part in parts] == [
        changed.bin,
        changed.filter,
        changed.filter.cleaning if changed.filter else None,
        changed.room,
    ]
    day.upkeep.replan(UpkeepPlan(filter=FilterPlan()))
    assert day.upkeep.cleaning is None
    assert day.upkeep.room is None


def test_memory_is_tolerant() -> None:
    day = Workday(FULL)
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    saved = day.upkeep.save(day.bench.now)
    for key in saved:
        partly = json.loads(json.dumps({k: v for k, v in saved.items() if k != key}))
        again = Upkeep(FULL, day.bench.shop)
        again.restore(partly, 0.0)
        again.observe(1.0, day.when)
        if key != "calendar":
            agrees(again.calendar.total(), day.bench.shop.ledger)
    bare = Upkeep(UpkeepPlan(bin=None, filter=None), day.bench.shop)
    bare.restore(saved, 0.0)
    assert bare.save(0.0)["bin"] is None
    # Parts that were not there when it was saved begin anew.
    again = Upkeep(FULL, day.bench.shop)
    again.restore(bare.save(0.0), 0.0)
    assert again.bin is not None
    assert again.bin.share == 0
    with pytest.raises(ValueError, match="version"):
        again.restore({"version": 99}, 0.0)


def test_machines_of_the_shop_are_known_by_name() -> None:
    day = Workday()
    assert day.upkeep.names == {
        "planer": "Planer",
        "tablesaw": "Table saw",
        "bandsaw": "Band saw",
    }
    extra = Machine(machine_id="x", name="Lathe", gates=("planer_gate",), levels=LEVELS)
    assert rebuilt(day, *day.bench.system.machines, extra) == {}
    assert day.upkeep.names["x"] == "Lathe"
    assert COLLECTOR not in day.upkeep.names
