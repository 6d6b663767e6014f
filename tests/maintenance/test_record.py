"""Recorded runs, their tables, and the summary of a week."""

import csv
from datetime import date, datetime, timedelta
import io
import json
from zoneinfo import ZoneInfo

import pytest

from custom_components.gatewright.core.config import CollectorConfig, SystemConfig
from custom_components.gatewright.core.maintenance.config import (
    BinConfig,
    FilterConfig,
    MaintenanceConfig,
    ServiceInterval,
)
from custom_components.gatewright.core.statistics.alarm_days import (
    ALARMS_A_DAY,
    AlarmDays,
    Raised,
)
from custom_components.gatewright.core.statistics.calendar import (
    DAYS_KEPT,
    Calendar,
    MachineTime,
    Span,
)
from custom_components.gatewright.core.statistics.not_collecting import (
    NotCollectingReason,
)
from custom_components.gatewright.core.statistics.runs import (
    DAY_COLUMNS,
    RUN_COLUMNS,
    RUNS_KEPT,
    KeptRun,
    Record,
    day_rows,
    run_rows,
)
from custom_components.gatewright.core.statistics.summary import (
    Period,
    bounds,
    summarize,
    summarize_days,
)
from custom_components.gatewright.texts.csv_table import csv_text
from tests.maintenance.workday import Workday

BERLIN = ZoneInfo("Europe/Berlin")
WHEN = datetime(2026, 3, 29, 1, 30, tzinfo=BERLIN)
HOUR = 3600.0


def kept(number: int = 0, **changed: object) -> KeptRun:
    began = WHEN.timestamp() + 1000.0 * number
    data: dict[str, object] = {
        "machine_id": "saw",
        "name": 'Saw, "the big one"',
        "began": began,
        "ended": began + HOUR,
        "run_time": 100.0,
        "collecting_time": 75.0,
        "cuts": 3,
        "without": {
            NotCollectingReason.GATE_STUCK: 20.0,
            NotCollectingReason.STARTING: 5.0,
        },
    }
    return KeptRun(**(data | changed))  # type: ignore[arg-type]


def test_record_is_a_ring() -> None:
    record = Record()
    for number in range(RUNS_KEPT + 5):
        record.keep(kept(number, time_to_air=float(number % 3) or None))
    assert len(record.runs) == RUNS_KEPT
    assert record.runs[0] == kept(5, time_to_air=2.0)
    again = Record()
    again.restore(json.loads(json.dumps(record.save())))
    assert again.runs == record.runs
    again.keep(kept(99))
    assert len(again.runs) == RUNS_KEPT


def test_memory_with_holes_is_read() -> None:
    record = Record()
    record.restore([{"machine_id": "saw", "began": 5.0, "without": {"martians": 1.0}}])
    (run,) = record.runs
    assert (run.name, run.ended, run.cuts) == ("saw", 5.0, 0)
    assert run.without == {NotCollectingReason.UNKNOWN: 1.0}


def test_runs_between_two_moments() -> None:
    record = Record()
    for number in range(10):
        record.keep(kept(number))
    found = record.between(
        WHEN + timedelta(seconds=2000), WHEN + timedelta(seconds=4000)
    )
    assert list(found) == [kept(2), kept(3)]


def test_runs_are_handed_over() -> None:
    record = Record()
    record.keep(kept())
    record.keep(kept(1, machine_id="lathe"))
    record.adopt("saw", "new saw")
    assert [run.machine_id for run in record.runs] == ["new saw", "lathe"]
    assert record.runs[0].without == kept().without


def test_table_of_runs_is_in_local_time() -> None:
    """The night in which the clock goes from 2:00 to 3:00."""
    nothing = kept(without={NotCollectingReason.NOT_NEEDED: 100.0}, collecting_time=0.0)
    timed = kept(time_to_air=3.21, reporting_interval=1.0)
    header, row, other = run_rows([timed, nothing], BERLIN)
    assert header == RUN_COLUMNS
    assert row == (
        'Saw, "the big one"',
        "2026-03-29T01:30:00+01:00",
        "2026-03-29T03:30:00+02:00",
        "100.0",
        "75.0",
        "75.0",
        "0.0",
        "3",
        "gate_stuck=20.0 starting=5.0",
        "3.2",
        "1.0",
    )
    # What is not known is empty, and not 0.
    assert (other[5], *other[-2:]) == ("", "", "")


def test_too_little_airflow_has_a_column_of_its_own() -> None:
    run = kept(
        without={
            NotCollectingReason.STARTING: 25.0,
            NotCollectingReason.TOO_LITTLE_AIR: 30.0,
        }
    )
    header, row = run_rows([run], BERLIN)
    reported = dict(zip(header, row, strict=True))
    assert reported["collected_share_percent"] == "75.0"
    assert reported["too_little_air_s"] == "30.0"
    assert reported["without_air"] == "starting=25.0"
    calendar = Calendar()
    saw = MachineTime(
        run=100.0, air=75.0, little=30.0, without={NotCollectingReason.STARTING: 25.0}
    )
    calendar.book(100.0, WHEN, Span({"saw": saw}))
    again = Calendar()
    again.restore(json.loads(json.dumps(calendar.save())))
    header, row = day_rows(again, {})
    reported = dict(zip(header, row, strict=True))
    assert reported["collected_share_percent"] == "75.0"
    assert reported["too_little_air_s"] == "30.0"
    assert "without_too_little_air_s" not in reported


def test_comma_separated_values_come_back() -> None:
    rows = list(run_rows([kept(), kept(1, name="Säge\n2")], BERLIN))
    text = csv_text(rows)
    assert text.count("\r\n") == 3
    assert [tuple(row) for row in csv.reader(io.StringIO(text, newline=""))] == rows


def test_table_of_days() -> None:
    calendar = Calendar()
    for days in (1, 0):
        calendar.book(
            60.0,
            WHEN + timedelta(days=days),
            Span(
                {
                    "saw": MachineTime(
                        run=60.0,
                        air=45.0,
                        runs=1,
                        without={NotCollectingReason.START_BLOCK: 15.0},
                    ),
                    "gone": MachineTime(run=1.0, air=1.0),
                }
            ),
        )
    header, *rows = day_rows(calendar, {"saw": "Saw"})
    assert header == DAY_COLUMNS
    assert [row[:2] for row in rows] == [
        ("2026-03-29", "Saw"),
        ("2026-03-29", "gone"),
        ("2026-03-30", "Saw"),
        ("2026-03-30", "gone"),
    ]
    first = dict(zip(header, rows[0], strict=True))
    assert first["collected_share_percent"] == "75.0"
    assert first["without_start_block_s"] == "15.0"
    assert first["without_gate_stuck_s"] == "0.0"


@pytest.mark.parametrize(
    ("period", "day", "first", "last"),
    [
        (Period.DAY, date(2026, 3, 29), date(2026, 3, 29), date(2026, 3, 29)),
        (Period.WEEK, date(2026, 3, 29), date(2026, 3, 23), date(2026, 3, 29)),
        (Period.WEEK, date(2026, 1, 1), date(2025, 12, 29), date(2026, 1, 4)),
        (Period.MONTH, date(2026, 2, 28), date(2026, 2, 1), date(2026, 2, 28)),
        (Period.MONTH, date(2026, 12, 5), date(2026, 12, 1), date(2026, 12, 31)),
    ],
)
def test_bounds_of_periods(period: Period, day: date, first: date, last: date) -> None:
    assert bounds(period, day) == (first, last)


PLAN = MaintenanceConfig(
    bin=BinConfig(volume=0.12),
    filter=FilterConfig(clean_after=600.0),
    services=(ServiceInterval(service_id="belt", name="Belt", days=3),),
)


def fortnight() -> Workday:
    """Return a shop after two weeks of planing for twenty minutes every day."""
    day = Workday(PLAN)
    for number in range(14):
        begin = number * 24 * HOUR
        day.maintenance.read_particles(1.0 + number, day.bench.now, day.when)
        day.run("planer", begin + 10, begin + 1210)
        if number % 2:
            day.run("tablesaw", begin + 2000, begin + 2300)
        day.bench.run_to(begin + 10 * HOUR)
        if number == 9 and day.maintenance.bin is not None:
            day.maintenance.bin.emptied(day.when, share=0.9)
        day.bench.run_to(begin + 24 * HOUR)
    return day


def test_summary_of_a_week() -> None:
    day = fortnight()
    found = summarize(day.maintenance, Period.WEEK, date(2026, 3, 12), day.when)
    assert json.loads(json.dumps(found)) == found
    assert (found["first_day"], found["last_day"]) == ("2026-03-09", "2026-03-15")
    planer, saw = found["machines"]
    assert (planer["name"], saw["name"]) == ("Planer", "Table saw")
    assert planer["run_time"] == pytest.approx(7 * 1203.0, abs=1)
    assert saw["runs"] == 4
    shop = found["shop"]
    assert shop["run_time"] == pytest.approx(planer["run_time"] + saw["run_time"])
    assert shop["collected_share"] == pytest.approx(
        shop["collecting_time"] / shop["run_time"]
    )
    assert shop["collecting_time"] + sum(
        shop["not_collecting"].values()
    ) == pytest.approx(shop["run_time"])
    assert found["before"]["run_time"] == pytest.approx(7 * 1203.0 + 3 * 303.0, abs=1)
    assert found["collector"]["starts"] == 11
    assert found["bin"]["emptyings"] == 1
    assert found["bin"]["full_on"] is not None
    assert found["filter"]["work"] == "clean"
    assert found["services"] == [
        {"service_id": "belt", "used": pytest.approx(14 / 3), "due": True}
    ]
    assert found["needs"] == [
        {"kind": "filter_clean", "part": ""},
        {"kind": "service_due", "part": "belt"},
    ]


def test_summary_shows_the_dustiest_day_beside_the_limits() -> None:
    day = fortnight()
    dust = summarize(day.maintenance, Period.MONTH, date(2026, 3, 2), day.when)["dust"]
    assert dust["day"] == "2026-03-15"
    assert dust["mean"] == pytest.approx(14.0)
    assert dust["peak"] == 14.0
    # Planing, shut-off delay, sawing, and half an hour after it.
    assert dust["average"] == pytest.approx(14.0 * 4170 / (8 * HOUR), rel=0.03)
    niosh = next(row for row in dust["limits"] if row["limit_id"] == "niosh")
    assert niosh["share"] == pytest.approx(dust["average"])


def test_months_and_days_add_up_to_the_same() -> None:
    day = fortnight()
    month = summarize(day.maintenance, Period.MONTH, date(2026, 3, 31), day.when)
    days = [
        summarize(
            day.maintenance, Period.DAY, date(2026, 3, 2) + timedelta(days=n), day.when
        )
        for n in range(14)
    ]
    assert sum(one["shop"]["run_time"] for one in days) == pytest.approx(
        month["shop"]["run_time"]
    )
    assert sum(one["collector"]["starts"] for one in days) == 21
    assert month["collector"]["starts"] == 21


def test_summary_of_a_shop_that_looks_after_nothing() -> None:
    day = Workday(MaintenanceConfig(bin=None, filter=None))
    found = summarize(day.maintenance, Period.DAY, day.when.date(), day.when)
    assert found["bin"] is None
    assert found["filter"] is None
    assert found["dust"] is None
    assert found["shop"]["collected_share"] is None
    assert found["machines"] == []


def test_bin_that_never_fills_has_no_number_for_it() -> None:
    day = Workday()
    day.bench.sequence.replan(
        SystemConfig(collector=CollectorConfig(name="Collector")), 0.0
    )
    day.maintenance.replan(MaintenanceConfig())
    found = summarize(day.maintenance, Period.DAY, day.when.date(), day.when)
    assert found["bin"]["hours_left"] is None


@pytest.mark.parametrize(
    "name", ["=1+1", "+A1", "-2", "@sum", "\t=1", " =cmd|' /C calc'!A0", "\uff1dA1"]
)
def test_name_is_no_formula_in_a_spreadsheet(name: str) -> None:
    text = csv_text(run_rows([kept(name=name), kept(name="Saw - big")], BERLIN))
    _, row, other = csv.reader(io.StringIO(text, newline=""))
    assert row[0] == f"'{name}"
    assert other[0] == "Saw - big"
    assert not any(cell.startswith("'") for cell in row[1:])


def test_any_run_of_days_beside_as_many_before() -> None:
    day = fortnight()
    found = summarize_days(
        day.maintenance, date(2026, 3, 8), date(2026, 3, 10), day.when
    )
    assert found["period"] == "custom"
    days = [
        summarize(day.maintenance, Period.DAY, date(2026, 3, number), day.when)["shop"]
        for number in range(5, 11)
    ]
    for which, some in (("before", days[:3]), ("shop", days[3:])):
        spent = found[which]
        assert spent["run_time"] == pytest.approx(sum(one["run_time"] for one in some))
        assert spent["runs"] == sum(one["runs"] for one in some)


def test_a_pickup_is_listed_but_is_not_the_shop() -> None:
    day = fortnight()
    week = (day.maintenance, Period.WEEK, date(2026, 3, 12), day.when)
    found = summarize(*week, pickups={"tablesaw"})
    planer, saw = found["machines"]
    assert (planer["pickup"], saw["pickup"]) == (False, True)
    assert found["shop"]["run_time"] == planer["run_time"]
    assert found["before"]["run_time"] < summarize(*week)["before"]["run_time"]


def test_days_of_long_ago_count_by_the_month() -> None:
    calendar = Calendar()
    begin = datetime(2024, 1, 10, 12, tzinfo=BERLIN)
    spent = Span({"saw": MachineTime(run=60.0, air=60.0)})
    for number in range(500):
        calendar.book(60.0, begin + timedelta(days=number), spent)
    whole = calendar.between(date(2024, 1, 1), date(2026, 1, 1))
    assert whole == calendar.total()
    last = max(calendar.days)
    before = calendar.total(before=last)
    assert before.of("saw").run == pytest.approx(499 * 60.0)
    before.add(calendar.day(last))
    assert before == calendar.total()
    assert whole.of("saw").run == pytest.approx(500 * 60.0)
    march = calendar.between(date(2024, 3, 1), date(2024, 3, 31))
    assert march.of("saw").run == pytest.approx(31 * 60.0)
    # Which days of a month they were is forgotten by then.
    assert calendar.between(date(2024, 3, 2), date(2024, 3, 31)) == Span()


def test_alarms_are_counted_by_the_day() -> None:
    alarms = AlarmDays()
    for number in range(3):
        alarms.note("gate_not_moving", "Saw gate", date(2026, 3, 2))
        alarms.note("bin_full", "Collector", date(2026, 3, 2 + number))
    alarms.note("bin_full", "Collector", date(2026, 3, 9))
    again = AlarmDays()
    again.restore(json.loads(json.dumps(alarms.save())))
    assert again.days == alarms.days
    assert again.between(date(2026, 3, 2), date(2026, 3, 8)) == [
        Raised("bin_full", "Collector", 3),
        Raised("gate_not_moving", "Saw gate", 3),
    ]
    assert again.between(date(2026, 3, 9), date(2026, 3, 9)) == [
        Raised("bin_full", "Collector", 1)
    ]
    assert again.between(date(2026, 3, 10), date(2026, 3, 11)) == []


def test_alarms_are_kept_within_bounds() -> None:
    alarms = AlarmDays()
    for number in range(2 * ALARMS_A_DAY):
        alarms.note("reading_lost", f"Machine {number}", date(2026, 3, 2))
    alarms.note("reading_lost", "Machine 0", date(2026, 3, 2))
    raised = alarms.between(date(2026, 3, 2), date(2026, 3, 2))
    assert len(raised) == ALARMS_A_DAY
    assert raised[0] == Raised("reading_lost", "Machine 0", 2)
    for number in range(DAYS_KEPT):
        alarms.note("bin_full", "", date(2026, 3, 3) + timedelta(days=number))
    assert date(2026, 3, 2) not in alarms.days


def test_times_to_air_of_a_period() -> None:
    """The first start waits for a gate that nobody has seen open; the second does not."""
    day = Workday()
    day.run("planer", 10.0, 60.0)
    day.run("planer", 200.0, 260.0)
    day.run("bandsaw", 200.0, 260.0)
    day.bench.run_to(1000.0)
    found = summarize(day.maintenance, Period.DAY, date(2026, 3, 2), day.when)
    rows = {row["machine_id"]: row for row in found["machines"]}
    planer = rows["planer"]
    assert planer["longest_time_to_air"] == pytest.approx(5.7, abs=0.01)
    assert planer["time_to_air"] == pytest.approx((5.7 + 3.7) / 2, abs=0.01)
    assert planer["time_to_air_at_best"] == pytest.approx(1.0 + 0.3 + 2.4, abs=0.01)
    assert planer["limited_by"] == "confirmation"
    assert planer["reporting_interval"] is None
    # Its gate has no feedback: the entered 4 s are waited out.
    assert rows["bandsaw"]["limited_by"] == "entered_stroke"
    before = summarize(day.maintenance, Period.DAY, date(2026, 3, 1), day.when)
    assert before["machines"] == []
