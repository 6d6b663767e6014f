"""Bin, filter, collector and room beside a working shop."""

from datetime import date, datetime, timedelta
import json
from zoneinfo import ZoneInfo

import pytest

from custom_components.gatewright.core.config import COLLECTOR, MachineConfig
from custom_components.gatewright.core.maintenance.config import (
    BinConfig,
    FilterCleaningConfig,
    FilterConfig,
    MaintenanceConfig,
    RoomConfig,
    ServiceInterval,
)
from custom_components.gatewright.core.maintenance.filter import FilterReason
from custom_components.gatewright.core.maintenance.filter_cleaning import Cleaning
from custom_components.gatewright.core.maintenance.maintenance import (
    DueWork,
    DueWorkKind,
    Maintenance,
)
from custom_components.gatewright.core.maintenance.room_cleaner import RoomCleaner
from custom_components.gatewright.core.units import JOULES_PER_KWH
from tests.control.bench import LEVELS
from tests.maintenance.workday import Workday, agrees, rebuilt

HOUR = 3600.0


# Bin -------------------------------------------------------------------------------------


def test_bin_fills_trips_alerts_and_is_emptied() -> None:
    plan = MaintenanceConfig(
        bin=BinConfig(volume=0.02, full_sensor=True, settle=10.0), filter=None
    )
    day = Workday(plan)
    bin_ = day.maintenance.bin
    assert bin_ is not None
    day.run("planer", 10.0, 5000.0)
    needs = {}
    # The machines of this bench are of no particular kind: 15 liters an hour.
    for now, share in ((1200.0, 0.25), (4000.0, 0.83)):
        day.bench.run_to(now)
        day.tick()
        forecast = day.maintenance.forecast(day.when)
        assert forecast is not None
        assert forecast.share == pytest.approx(share, abs=0.01)
        needs[now] = day.maintenance.needs(day.when)
    assert needs == {1200.0: [], 4000.0: [DueWork(DueWorkKind.BIN_NEARLY_FULL)]}
    bin_.read_full(True, 4500.0)
    day.tick()
    assert day.maintenance.wake == 4510.0
    day.bench.run_to(4510.0)
    assert day.maintenance.needs(day.when) == [DueWork(DueWorkKind.BIN_FULL)]
    day.bench.run_to(6000.0)
    bin_.emptied(day.when)
    # The button was faster than the hand at the bin.
    assert day.maintenance.needs(day.when) == [DueWork(DueWorkKind.BIN_FULL)]
    bin_.read_full(False, 6010.0)
    day.bench.run_to(6030.0)
    day.look()
    assert day.maintenance.needs(day.when) == []
    assert len(bin_.emptyings) == 1
    assert bin_.emptyings[0].at == day.when.timestamp() - 30.0


def test_forecast_gets_its_date_from_the_days_of_the_shop() -> None:
    """An hour of planing every day: 4 L of 15 L an hour, in a bin of 120 L."""
    day = Workday(MaintenanceConfig(bin=BinConfig(volume=0.12)))
    for number in range(10):
        day.run("planer", number * 24 * HOUR + 10, number * 24 * HOUR + 2 * HOUR)
        day.bench.run_to((number + 1) * 24 * HOUR)
    forecast = day.maintenance.forecast(day.when)
    assert forecast is not None
    # Twenty hours are gone too fast: eight fill the bin.
    assert forecast.hours_left == 0
    assert day.maintenance.bin is not None
    day.maintenance.bin.emptied(day.when)
    forecast = day.maintenance.forecast(day.when)
    assert forecast is not None
    assert forecast.hours_left == pytest.approx(8.0, abs=0.02)
    # Two hours a day, the first of them today: the day after the third.
    assert forecast.full_on == day.when.date() + timedelta(days=4)


def test_no_bin_no_forecast() -> None:
    day = Workday(MaintenanceConfig(bin=None))
    day.run("planer", 10.0, 600.0)
    day.bench.run_to(1000.0)
    assert day.maintenance.forecast(day.when) is None


# Filter and collector ---------------------------------------------------------------------


def test_filter_is_cleaned_when_the_collector_has_stopped() -> None:
    cleaning = FilterCleaningConfig(wait=5.0, duration=10.0, times=1, every=300.0)
    day = Workday(MaintenanceConfig(filter=FilterConfig(cleaning=cleaning)))
    filter_, switch = day.maintenance.filter, day.maintenance.cleaning
    assert filter_ is not None
    assert switch is not None
    day.run("planer", 10.0, 610.0)
    wanted = []
    for second in range(800):
        day.bench.run_to(float(second))
        if day.maintenance.wake is not None and day.maintenance.wake <= second + 1:
            day.bench.run_to(day.maintenance.wake)
        day.tick()
        if switch.wanted:
            wanted.append(second)
            assert not day.bench.sequence.impeller_may_turn(day.bench.now)
    # Off at 629, spin-down until 649, five seconds more.
    assert wanted[0] == pytest.approx(654, abs=2)
    assert len(wanted) == pytest.approx(10, abs=1)
    assert filter_.cleanings == 1
    assert filter_.since_cleaned == 0
    assert filter_.since_replaced == pytest.approx(615.0, abs=2)


def test_start_block_keeps_the_cleaning_still() -> None:
    day = Workday(
        MaintenanceConfig(filter=FilterConfig(cleaning=FilterCleaningConfig()))
    )
    assert day.maintenance.cleaning is not None
    day.maintenance.cleaning.ask()
    day.bench.sequence.set_start_block(True)
    day.bench.run_to(100.0)
    assert not day.maintenance.cleaning.wanted
    assert day.maintenance.wake is None


def test_pressure_counts_only_while_the_collector_turns() -> None:
    plan = FilterConfig(clean_at=500.0, cleaning=FilterCleaningConfig(above=800.0))
    day = Workday(MaintenanceConfig(filter=plan))
    assert day.maintenance.filter is not None
    assert day.maintenance.cleaning is not None
    day.maintenance.read_pressure(2000.0)
    assert day.maintenance.filter.level is None
    day.run("planer", 10.0, 3000.0)
    for minute in range(1, 48):
        day.bench.run_to(60.0 * minute)
        day.tick()
        day.maintenance.read_pressure(700.0)
    assert day.maintenance.filter.state().reason is FilterReason.PRESSURE
    assert DueWork(DueWorkKind.FILTER_CLEAN) in day.maintenance.needs(day.when)
    due = [day.maintenance.cleaning.due]
    for _ in range(60):
        day.maintenance.read_pressure(1700.0)
    due.append(day.maintenance.cleaning.due)
    assert due == [False, True]
    # Without a filter there's no reminder.
    day.maintenance.replan(MaintenanceConfig(filter=None))
    day.maintenance.read_pressure(1700.0)
    day.maintenance.filter_cleaned(day.when)
    assert cleaning_of(day) is None


def cleaning_of(day: Workday) -> Cleaning | None:
    return day.maintenance.cleaning


def test_needs_are_reported_with_the_most_urgent_first() -> None:
    plan = MaintenanceConfig(
        bin=BinConfig(volume=0.001),
        filter=FilterConfig(replace_after=60.0),
        services=(
            ServiceInterval(service_id="belt", name="Belt", starts=1),
            ServiceInterval(service_id="bags", name="Bags", days=900),
        ),
    )
    day = Workday(plan)
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    assert day.maintenance.needs(day.when) == [
        DueWork(DueWorkKind.BIN_FULL),
        DueWork(DueWorkKind.FILTER_REPLACE),
        DueWork(DueWorkKind.SERVICE_DUE, "belt"),
    ]
    assert day.maintenance.care.longest_run == pytest.approx(615.0, abs=2)


def test_energy_and_cost_by_the_day() -> None:
    """1500 W for 200 s on either side of midnight, more or less."""
    zone = ZoneInfo("Europe/Berlin")
    day = Workday(begin=datetime(2026, 3, 2, 23, 56, 40, tzinfo=zone))
    day.maintenance.meter.set_price(0.4, 0.0)
    day.maintenance.meter.read(1500.0, 0.0)
    day.run("planer", 10.0, 300.0)
    day.bench.run_to(400.0)
    day.maintenance.meter.read(0.0, 400.0)
    day.tick()
    calendar = day.maintenance.calendar
    energy = 1500.0 * 400.0
    first = calendar.day(date(2026, 3, 2)).collector
    second = calendar.day(date(2026, 3, 3)).collector
    assert first.energy == pytest.approx(energy / 2, rel=0.01)
    assert first.energy + second.energy == pytest.approx(energy)
    assert first.cost + second.cost == pytest.approx(energy / JOULES_PER_KWH * 0.4)


# Room ----------------------------------------------------------------------------------------


def wants(room: RoomCleaner) -> bool:
    return room.wanted


def test_room_is_cleaned_after_the_work_and_the_dust_is_averaged() -> None:
    plan = MaintenanceConfig(room=RoomConfig(volume=60.0, flow=0.2, changes=3.0))
    day = Workday(plan)
    room = day.maintenance.room
    assert room is not None
    day.maintenance.read_particles(2.0, 0.0, day.when)
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(300.0)
    assert wants(room)
    day.bench.run_to(700.0)
    assert wants(room)
    stop = next(s.at for s in day.bench.switchings if not s.on)
    assert day.maintenance.wake == pytest.approx(stop + 900.3, abs=1)
    day.bench.run_to(stop + 1000.0)
    day.look()
    assert not wants(room)
    dust = day.maintenance.exposure.day(day.when.date())
    assert dust.mean == pytest.approx(2.0)
    assert dust.worked == pytest.approx(day.bench.now - 11.0, abs=1)
    # Without an air cleaner the particles are read anyway.
    day.maintenance.replan(MaintenanceConfig())
    day.maintenance.read_particles(0.5, day.bench.now, day.when)
    assert day.maintenance.exposure.reading == 0.5


# Plan and memory --------------------------------------------------------------------------------


FULL = MaintenanceConfig(
    bin=BinConfig(full_sensor=True),
    filter=FilterConfig(cleaning=FilterCleaningConfig()),
    services=(ServiceInterval(service_id="belt", name="Belt", days=3),),
    room=RoomConfig(),
)


def test_parts_keep_what_they_know_when_the_plan_changes() -> None:
    day = Workday(FULL)
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    parts = [getattr(day.maintenance, n) for n in ("bin", "filter", "cleaning", "room")]
    changed = MaintenanceConfig(
        bin=BinConfig(volume=1.0),
        filter=FilterConfig(clean_at=5.0, cleaning=FilterCleaningConfig(times=9)),
        room=RoomConfig(changes=9.0),
    )
    day.maintenance.replan(changed)
    assert parts == [
        getattr(day.maintenance, n) for n in ("bin", "filter", "cleaning", "room")
    ]
    assert [part.plan for part in parts] == [
        changed.bin,
        changed.filter,
        changed.filter.cleaning if changed.filter else None,
        changed.room,
    ]
    day.maintenance.replan(MaintenanceConfig(filter=FilterConfig()))
    assert day.maintenance.cleaning is None
    assert day.maintenance.room is None


def test_memory_is_tolerant() -> None:
    day = Workday(FULL)
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    saved = day.maintenance.save(day.bench.now)
    for key in saved:
        partly = json.loads(json.dumps({k: v for k, v in saved.items() if k != key}))
        again = Maintenance(FULL, day.bench.shop)
        again.restore(partly, 0.0)
        again.observe(1.0, day.when)
        if key != "calendar":
            agrees(again.calendar.total(), day.bench.shop.ledger)
    bare = Maintenance(MaintenanceConfig(bin=None, filter=None), day.bench.shop)
    bare.restore(saved, 0.0)
    assert bare.save(0.0)["bin"] is None
    # Parts that were not there when it was saved begin anew.
    again = Maintenance(FULL, day.bench.shop)
    again.restore(bare.save(0.0), 0.0)
    assert again.bin is not None
    assert again.bin.share == 0
    with pytest.raises(ValueError, match="version"):
        again.restore({"version": 99}, 0.0)


def test_machines_of_the_shop_are_known_by_name() -> None:
    day = Workday()
    assert day.maintenance.names == {
        "planer": "Planer",
        "tablesaw": "Table saw",
        "bandsaw": "Band saw",
    }
    extra = MachineConfig(
        machine_id="x", name="Lathe", gates=("planer_gate",), levels=LEVELS
    )
    assert rebuilt(day, *day.bench.system.machines, extra) == {}
    assert day.maintenance.names["x"] == "Lathe"
    assert COLLECTOR not in day.maintenance.names
