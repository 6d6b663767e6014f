"""Limits as published, compared with the averages."""

from datetime import UTC, date, datetime, timedelta
import json
from zoneinfo import ZoneInfo

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.maintenance.dust_exposure import (
    CLOSE_DELAY,
    DAYS_KEPT,
    LIMITS,
    DayDust,
    Exposure,
    Force,
    Fraction,
    beside_limits,
)

HOUR = 3600.0
BERLIN = ZoneInfo("Europe/Berlin")
MORNING = datetime(2026, 3, 2, 8, tzinfo=BERLIN)
DAY = MORNING.date()


def at(now: float) -> datetime:
    """Return the local time of an instant that is 8:00 at 0."""
    return (MORNING.astimezone(UTC) + timedelta(seconds=now)).astimezone(BERLIN)


def test_limits_as_published() -> None:
    """OSHA Z-1; NIOSH npgd0667; ACGIH 2007 as quoted by OSHA; 2004/37/EC; EH40/2005."""
    assert {limit.limit_id: limit.concentration for limit in LIMITS} == {
        "osha_total": 15.0,
        "osha_respirable": 5.0,
        "niosh": 1.0,
        "acgih": 1.0,
        "acgih_red_cedar": 0.5,
        "eu_hardwood": 2.0,
        "gb_hardwood": 3.0,
        "gb_softwood": 5.0,
    }
    fractions = {limit.limit_id: limit.fraction for limit in LIMITS}
    assert fractions["osha_total"] is fractions["niosh"] is Fraction.TOTAL
    assert fractions["osha_respirable"] is Fraction.RESPIRABLE
    assert list(fractions.values()).count(Fraction.INHALABLE) == 5
    assert {limit.limit_id for limit in LIMITS if limit.force is Force.RECOMMENDED} == {
        "niosh",
        "acgih",
        "acgih_red_cedar",
    }
    assert all(limit.source for limit in LIMITS)


def test_average_over_a_shift() -> None:
    """Two hours at 4 mg/m3 and two at 2: 12 mg h/m3, over eight hours 1.5."""
    exposure = Exposure()
    exposure.advance(0.0, at(0.0), active=True)
    exposure.read(4.0, 0.0, at(0.0))
    exposure.read(2.0, 2 * HOUR, at(2 * HOUR))
    exposure.book(4 * HOUR, at(4 * HOUR))
    dust = exposure.day(DAY)
    assert dust.worked == dust.measured == 4 * HOUR
    assert dust.mean == pytest.approx(3.0)
    assert dust.average == pytest.approx(1.5)
    assert dust.peak == 4.0
    shares = {row.limit.limit_id: row.share for row in beside_limits(dust)}
    assert shares["niosh"] == pytest.approx(1.5)
    assert shares["osha_total"] == pytest.approx(0.1)
    assert len(shares) == len(LIMITS)


def test_long_day_weighs_more() -> None:
    dust = DayDust(dose=1.0 * 12 * HOUR, measured=12 * HOUR, worked=12 * HOUR, peak=1.0)
    assert dust.average == pytest.approx(1.5)


def test_time_that_was_not_measured_is_taken_as_what_was() -> None:
    exposure = Exposure()
    exposure.advance(0.0, at(0.0), active=True)
    exposure.read(2.0, 0.0, at(0.0))
    exposure.read(None, HOUR, at(HOUR))
    exposure.book(4 * HOUR, at(4 * HOUR))
    dust = exposure.day(DAY)
    assert (dust.measured, dust.worked) == (HOUR, 4 * HOUR)
    assert dust.average == pytest.approx(1.0)


def test_only_work_counts_and_half_an_hour_after_it() -> None:
    exposure = Exposure()
    exposure.read(1.0, 0.0, at(0.0))
    exposure.advance(HOUR, at(HOUR), active=True)
    exposure.advance(2 * HOUR, at(2 * HOUR), active=False)
    # Nobody looks until the evening.
    exposure.read(50.0, 10 * HOUR, at(10 * HOUR))
    exposure.book(12 * HOUR, at(12 * HOUR))
    dust = exposure.day(DAY)
    assert dust.worked == HOUR + CLOSE_DELAY
    assert dust.dose == pytest.approx(HOUR + CLOSE_DELAY)
    assert dust.peak == 1.0


def test_night_shift_belongs_to_both_days() -> None:
    exposure = Exposure()
    late = 14 * HOUR
    exposure.advance(late, at(late), active=True)
    exposure.read(3.0, late, at(late))
    exposure.advance(late + 3 * HOUR, at(late + 3 * HOUR), active=False)
    exposure.book(late + 9 * HOUR, at(late + 9 * HOUR))
    assert exposure.day(DAY).worked == 2 * HOUR
    assert exposure.day(DAY + timedelta(days=1)).worked == HOUR + CLOSE_DELAY


def test_nothing_read_is_nothing_said() -> None:
    exposure = Exposure()
    exposure.advance(0.0, at(0.0), active=True)
    exposure.book(HOUR, at(HOUR))
    assert exposure.day(DAY).average is None
    assert beside_limits(exposure.day(DAY)) == []
    assert exposure.day(date(1999, 1, 1)) == DayDust()
    exposure.read(-0.5, HOUR, at(HOUR))
    assert exposure.reading == 0.0


@given(
    st.lists(
        st.tuples(
            st.floats(0, 20 * HOUR),
            st.one_of(st.none(), st.floats(0, 30)),
            st.booleans(),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_days_add_up_to_one_integral(
    steps: list[tuple[float, float | None, bool]],
) -> None:
    """The same, computed independently in one sum."""
    exposure = Exposure()
    now, reading, until = 0.0, None, -1.0
    dose = worked = 0.0
    exposure.book(0.0, at(0.0))
    for passed, value, active in steps:
        counted = max(0.0, min(now + passed, until) - now)
        worked += counted
        dose += counted * (reading or 0.0)
        now += passed
        exposure.read(value, now, at(now))
        exposure.advance(now, at(now), active=active)
        reading = value
        until = float("inf") if active else min(until, now + CLOSE_DELAY)
    found = DayDust()
    for dust in exposure.days.values():
        found.add(dust)
    assert found.worked == pytest.approx(worked, abs=1e-3)
    assert found.dose == pytest.approx(dose, abs=1e-2)


def test_memory_is_bounded_and_survives() -> None:
    exposure = Exposure()
    exposure.advance(0.0, at(0.0), active=True)
    exposure.read(1.0, 0.0, at(0.0))
    for day in range(1, DAYS_KEPT + 40):
        exposure.book(day * 24 * HOUR, at(day * 24 * HOUR))
    assert len(exposure.days) == DAYS_KEPT
    now = (DAYS_KEPT + 39) * 24 * HOUR
    again = Exposure()
    again.restore(json.loads(json.dumps(exposure.save(now))), 100.0)
    assert again.days == exposure.days
    # Nobody has come back since: the work lasts for its half hour.
    again.book(100.0 + 2 * HOUR, at(now + 2 * HOUR))
    last = max(exposure.days)
    assert again.day(last).worked - exposure.day(last).worked == CLOSE_DELAY
    again.restore({}, 0.0)
    assert again.days == {}
