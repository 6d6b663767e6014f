"""The calendar compared with the ledger: nothing is lost and nothing counted twice."""

from dataclasses import replace
from datetime import date, datetime
import json
import random
from zoneinfo import ZoneInfo

import pytest

from custom_components.gatewright.core.control.ledger import Ledger
from custom_components.gatewright.core.kinds import MachineKind
from custom_components.gatewright.core.maintenance.config import (
    FilterConfig,
    MaintenanceConfig,
)
from custom_components.gatewright.core.statistics.calendar import Span
from custom_components.gatewright.core.statistics.not_collecting import (
    NotCollectingReason,
)
from custom_components.gatewright.core.statistics.time_to_air import TimeToAirLimit
from tests.maintenance.workday import MACHINES, Workday, agrees, muddle, rebuilt

HOUR = 3600.0


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
    span = day.maintenance.calendar.day(date(2026, 3, 2))
    agrees(span, day.bench.shop.ledger)
    planer = span.of("planer")
    # A start is confirmed after 1 s and a stop after 4 s. The gate takes 3 s and is waited for, as
    # nobody has seen it move before; the relay takes 0.3 s, four fifths of the speed another 2.4 s: 5.7
    # s from the reading.
    assert planer.run == pytest.approx(603.0, abs=0.1)
    assert planer.air == pytest.approx(598.3, abs=0.01)
    assert planer.without.keys() == {
        NotCollectingReason.GATE_MOVING,
        NotCollectingReason.STARTING,
    }
    assert span.of("tablesaw").runs == 1
    runs = {run.machine_id: run for run in day.kept}
    assert runs["planer"].name == "Planer"
    assert runs["planer"].began == pytest.approx(day.begin.timestamp() + 11, abs=0.1)
    assert runs["planer"].run_time == pytest.approx(planer.run)
    assert runs["planer"].without == pytest.approx(planer.without, abs=1e-3)
    assert runs["planer"].time_to_air == pytest.approx(5.7, abs=0.01)
    reported = day.maintenance.time_to_air("planer")
    assert reported is not None
    assert reported.usual == reported.latest == pytest.approx(5.7, abs=0.01)
    # From now on it's expected in 3 s, and the start takes 3.7 s.
    assert reported.chain.expected == pytest.approx(3.7, abs=0.01)
    assert reported.judged.limit is TimeToAirLimit.CONFIRMATION
    assert list(day.maintenance.record.runs) == day.kept


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
    """Through nights with clock changes, restarts included."""
    lots = random.Random(seed)
    day = Workday(begin=begin.replace(tzinfo=ZoneInfo(zone)))
    for _ in range(4):
        start = day.bench.now
        muddle(day, lots, start, start + 6 * HOUR)
        day.bench.run_to(start + lots.uniform(4, 7) * HOUR)
        day.tick()
        agrees(day.maintenance.calendar.total(), day.bench.shop.ledger)
        day.restart(lots.uniform(1, 600))
    day.bench.run_to(day.bench.now + 2 * HOUR)
    ledger = day.bench.shop.ledger
    days = Span()
    for some_day in day.maintenance.calendar.days:
        days.add(day.maintenance.calendar.day(some_day))
    agrees(days, ledger)
    assert len(day.maintenance.calendar.days) >= 2
    # Every finished run is recorded, with its time and its reasons.
    ended = by_hand(day)
    for machine_id in MACHINES:
        still = ledger.save(day.bench.now)["open"].get(machine_id, {"run_time": 0.0})
        assert ended[machine_id] + still["run_time"] == pytest.approx(
            ledger.of(machine_id).run_time, abs=1e-3 * (1 + len(day.kept))
        )
    for run in day.kept:
        lacking = sum(run.without.values())
        assert run.collecting_time + lacking == pytest.approx(run.run_time, abs=5e-3)
        assert run.began <= run.ended


@pytest.mark.parametrize("seed", range(8))
def test_crash_loses_only_what_the_ledger_lost(seed: int) -> None:
    """Ours was saved an hour earlier than the ledger: it catches up."""
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
    agrees(day.maintenance.calendar.total(), day.bench.shop.ledger)
    assert day.maintenance.bin is not None
    chips = (
        sum(t.collecting_time for t in day.bench.shop.ledger.machines.values()) / HOUR
    )
    assert day.maintenance.bin.hours == pytest.approx(chips, abs=1e-6)


def test_ledger_that_was_lost_is_followed_from_where_it_is() -> None:
    day = Workday()
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    before = day.maintenance.calendar.total()
    shop = json.loads(day.memories()[0])
    shop["ledger"] = Ledger().save(0.0)
    day.restart(10.0, (json.dumps(shop), day.memories()[1]))
    begin = day.bench.now
    day.run("planer", begin + 10, begin + 110)
    day.bench.run_to(begin + 1000.0)
    after = day.maintenance.calendar.total()
    assert after.of("planer").run > before.of("planer").run
    assert after.collector.on > before.collector.on


def test_ledger_with_a_past_of_its_own() -> None:
    """Maintenance begins later than the shop: the past has no days, but it counts."""
    day = Workday()
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    day.restart(10.0, (day.memories()[0], "{}"))
    day.run("planer", 2000.0, 2100.0)
    day.bench.run_to(3000.0)
    calendar = day.maintenance.calendar
    agrees(calendar.total(), day.bench.shop.ledger)
    assert calendar.earlier.of("planer").run == pytest.approx(603.0, abs=0.1)
    assert calendar.earlier.of("planer").runs == 1
    assert calendar.day(date(2026, 3, 2)).of("planer").runs == 1
    # Nor were those chips in the bin that is counted from now on.
    assert day.maintenance.bin is not None
    assert day.maintenance.bin.hours == pytest.approx(
        calendar.day(date(2026, 3, 2)).of("planer").air / HOUR
    )


def test_run_over_midnight_belongs_to_both_days() -> None:
    day = Workday(begin=datetime(2026, 3, 31, 23, 50, tzinfo=ZoneInfo("Europe/Berlin")))
    day.run("planer", 0.0, 1200.0)
    day.bench.run_to(2000.0)
    calendar = day.maintenance.calendar
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
    assert len(day.maintenance.calendar.days) == 2
    agrees(day.maintenance.calendar.total(), day.bench.shop.ledger)


def test_too_little_airflow_is_reported_beside_the_collected_share_and_brings_chips() -> (
    None
):
    day = Workday()
    day.maintenance.too_little = {"planer"}
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    spent = day.maintenance.calendar.total().of("planer")
    assert spent.little == spent.air == pytest.approx(598.3, abs=0.01)
    assert NotCollectingReason.TOO_LITTLE_AIR not in spent.without
    assert spent.collected_share == pytest.approx(598.3 / 603.0, abs=0.001)
    (kept,) = day.kept
    assert kept.without[NotCollectingReason.TOO_LITTLE_AIR] == pytest.approx(
        spent.little, abs=1e-3
    )
    agrees(day.maintenance.calendar.total(), day.bench.shop.ledger)
    assert day.maintenance.bin is not None
    assert day.maintenance.bin.hours * HOUR == pytest.approx(598.3, abs=0.01)


# Machines that come and go -----------------------------------------------------------


def test_machine_that_is_removed_and_comes_back_takes_its_past_over() -> None:
    day = Workday()
    planer, *others = day.bench.system.machines
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    before = day.maintenance.calendar.total()
    share = day.maintenance.bin.share if day.maintenance.bin else 0.0
    assert rebuilt(day, *others) == {}
    assert day.maintenance.calendar.total() == before
    day.bench.run_to(1100.0)
    again = replace(planer, machine_id="planer again")
    assert rebuilt(day, *others, again) == {"planer again": "planer"}
    day.bench.read(1200.0, "planer again", 1450.0)
    day.bench.read(1300.0, "planer again", 5.0)
    day.bench.run_to(2000.0)
    total = day.maintenance.calendar.total()
    assert "planer" not in total.machines
    assert total.of("planer again").run == pytest.approx(
        before.of("planer").run + 103.0, abs=0.1
    )
    agrees(total, day.bench.shop.ledger)
    assert {run.machine_id for run in day.maintenance.record.runs} == {"planer again"}
    assert day.maintenance.bin is not None
    assert day.maintenance.bin.share > share


def test_other_machine_of_the_same_name_is_another() -> None:
    day = Workday()
    planer, *others = day.bench.system.machines
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    total = day.maintenance.calendar.total()
    other = replace(planer, machine_id="other", kind=MachineKind.LATHE)
    assert rebuilt(day, *others, other) == {}
    # The first stays in the shop's record, and comes back as itself.
    assert day.maintenance.calendar.total() == total
    assert day.maintenance.names["planer"] == "Planer"
    assert rebuilt(day, planer, *others) == {}
    agrees(day.maintenance.calendar.total(), day.bench.shop.ledger)


def test_machine_that_never_ran_can_come_and_go() -> None:
    day = Workday(MaintenanceConfig(bin=None, filter=FilterConfig()))
    planer, *others = day.bench.system.machines
    rebuilt(day, *others)
    again = replace(planer, machine_id="planer again")
    assert rebuilt(day, *others, again) == {"planer again": "planer"}
    day.maintenance.read_pressure(500.0)
    day.run("tablesaw", 10.0, 100.0)
    day.bench.run_to(50.0)
    day.maintenance.read_pressure(500.0)
    assert day.maintenance.filter is not None
    assert day.maintenance.filter.level == 500.0
    day.bench.run_to(1000.0)
    agrees(day.maintenance.calendar.total(), day.bench.shop.ledger)


def test_machine_that_was_exchanged_while_home_assistant_was_down() -> None:
    day = Workday()
    day.run("planer", 10.0, 610.0)
    day.bench.run_to(1000.0)
    saved = day.maintenance.save(day.bench.now)
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
    assert day.maintenance.calendar.total().of("planer").run == pytest.approx(
        603, abs=0.1
    )
    agrees(day.maintenance.calendar.total(), day.bench.shop.ledger)


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
    agrees(day.maintenance.calendar.total(), ledger)
