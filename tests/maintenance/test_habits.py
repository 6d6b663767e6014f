"""The shop's week, and what it predicts."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from custom_components.gatewright.core.config import COLLECTOR
from custom_components.gatewright.core.maintenance.weekly_use import (
    WeeklyUse,
    weekly_use,
)
from custom_components.gatewright.core.statistics.calendar import (
    Calendar,
    CollectorTime,
    MachineTime,
    Span,
)

BERLIN = ZoneInfo("Europe/Berlin")
MONDAY = date(2026, 3, 2)


type Week = tuple[dict[str, float], ...]


def worked(*days: tuple[date, float]) -> Calendar:
    calendar = Calendar()
    for day, seconds in days:
        when = datetime(day.year, day.month, day.day, 18, tzinfo=BERLIN)
        span = Span(
            {"saw": MachineTime(run=2 * seconds, air=seconds)},
            CollectorTime(on=3 * seconds),
        )
        calendar.book(seconds, when, span)
    return calendar


def test_a_week_has_to_be_known() -> None:
    for length, known in ((0, False), (6, False), (7, True)):
        calendar = worked((MONDAY, 3600.0))
        found = weekly_use(calendar, MONDAY + timedelta(days=length))
        assert bool(found.weekdays) is known
        assert bool(found.week) is known
    assert weekly_use(Calendar(), MONDAY).date_after(1.0, {"saw": 1.0}) is None


def test_weekdays_are_means_over_the_days_there_were() -> None:
    """One of four Mondays was free; Tuesdays never have work."""
    calendar = worked(*((MONDAY + timedelta(weeks=n), 1200.0) for n in (0, 1, 3)))
    found = weekly_use(calendar, MONDAY + timedelta(weeks=4))
    assert found.weekdays[0] == {"saw": 900.0, COLLECTOR: 2700.0}
    assert not any(found.weekdays[1:])
    assert found.week == {"saw": 900.0}


def test_only_the_last_weeks_count() -> None:
    calendar = worked(
        *((MONDAY + timedelta(weeks=n), 9999.0) for n in range(8)),
        *((MONDAY + timedelta(weeks=n), 100.0) for n in range(8, 16)),
    )
    found = weekly_use(calendar, MONDAY + timedelta(weeks=16))
    assert found.weekdays[0]["saw"] == pytest.approx(100.0)


def test_date_by_the_usual_week() -> None:
    week: Week = ({"saw": 100.0}, {}, {}, {}, {}, {"saw": 50.0}, {})
    found = WeeklyUse(weekdays=week, today={}, day=MONDAY)
    rate = {"saw": 2.0, "lathe": 5.0}
    assert found.date_after(0.0, rate) == MONDAY
    assert found.date_after(200.0, rate) == MONDAY
    assert found.date_after(201.0, rate) == MONDAY + timedelta(days=5)
    assert found.date_after(301.0, rate) == MONDAY + timedelta(days=7)
    assert found.date_after(1e9, rate) is None
    assert found.date_after(1.0, {"lathe": 5.0}) is None


def test_what_was_done_today_is_not_expected_again() -> None:
    week: Week = ({"saw": 100.0}, {}, {}, {}, {}, {}, {})
    for done, ahead in ((0.0, 0), (60.0, 7), (500.0, 7)):
        found = WeeklyUse(weekdays=week, today={"saw": done}, day=MONDAY)
        assert found.date_after(90.0, {"saw": 1.0}) == MONDAY + timedelta(days=ahead)
    calendar = worked((MONDAY, 3600.0), (MONDAY + timedelta(days=7), 60.0))
    today = weekly_use(calendar, MONDAY + timedelta(days=7))
    assert today.today == {"saw": 60.0, COLLECTOR: 180.0}
