"""The calendar: days, weeks and months add up, whatever the clock does."""

from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
import json
from zoneinfo import ZoneInfo

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.statistics.calendar import (
    DAYS_KEPT,
    MONTHS_KEPT,
    Calendar,
    CollectorTime,
    MachineTime,
    Span,
    days_of,
)
from custom_components.gatewright.core.statistics.not_collecting import (
    NotCollectingReason,
)

ZONES = [
    "UTC",
    "Europe/Berlin",
    "America/New_York",
    "America/St_Johns",  # Half an hour off; set its clock at a minute past midnight.
    "America/Sao_Paulo",  # Skipped and repeated midnight.
    "Africa/Cairo",  # Skips it still.
    "Australia/Lord_Howe",  # Half an hour of daylight saving.
    "Asia/Kathmandu",
    "Pacific/Apia",  # Left out a whole day.
    "Pacific/Chatham",
]


def local(zone: str, *parts: int) -> datetime:
    return datetime(*parts, tzinfo=ZoneInfo(zone))  # type: ignore[arg-type, misc]


def in_hours(seconds: float, ended: datetime) -> dict[str, float]:
    shares = list(days_of(seconds, ended))
    found = {day.isoformat(): round(share * seconds / 3600, 6) for day, share in shares}
    assert len(found) == len(shares)
    return found


HOUR = 3600.0


@pytest.mark.parametrize(
    ("hours", "ended", "expected"),
    [
        # Within a day, and over one midnight and several.
        (2, local("Europe/Berlin", 2026, 11, 25, 14), {"2026-11-25": 2}),
        (
            3,
            local("Europe/Berlin", 2026, 12, 1, 1),
            {"2026-11-30": 2, "2026-12-01": 1},
        ),
        (
            50,
            local("Europe/Berlin", 2026, 3, 1, 1),
            {"2026-02-26": 1, "2026-02-27": 24, "2026-02-28": 24, "2026-03-01": 1},
        ),
        # The days on which the clock is set have 23 and 25 hours.
        (
            25,
            local("Europe/Berlin", 2026, 3, 30, 1),
            {"2026-03-28": 1, "2026-03-29": 23, "2026-03-30": 1},
        ),
        (
            27,
            local("Europe/Berlin", 2026, 10, 26, 1),
            {"2026-10-24": 1, "2026-10-25": 25, "2026-10-26": 1},
        ),
        (
            26.5,
            local("Australia/Lord_Howe", 2026, 4, 6, 1),
            {"2026-04-04": 1, "2026-04-05": 24.5, "2026-04-06": 1},
        ),
        # A clock that is set at midnight itself.
        (
            28,
            local("Africa/Cairo", 2026, 4, 25, 1),
            {"2026-04-23": 4, "2026-04-24": 23, "2026-04-25": 1},
        ),
        (
            27,
            local("America/Sao_Paulo", 2018, 2, 18, 1),
            {"2018-02-16": 1, "2018-02-17": 25, "2018-02-18": 1},
        ),
        # A day that never was.
        (
            26,
            local("Pacific/Apia", 2011, 12, 31, 1),
            {"2011-12-28": 1, "2011-12-29": 24, "2011-12-31": 1},
        ),
        # Exactly to midnight, and nothing at all.
        (24, local("Europe/Berlin", 2026, 1, 1, 0), {"2025-12-31": 24}),
        (0, local("Europe/Berlin", 2026, 1, 1, 0), {"2026-01-01": 0}),
    ],
)
def test_durations_are_split_at_local_midnights(
    hours: float, ended: datetime, expected: dict[str, float]
) -> None:
    assert in_hours(hours * HOUR, ended) == expected


def test_midnight_that_comes_twice() -> None:
    """In Newfoundland the clock went from 0:01 back to 23:01: either may end the day."""
    zone = ZoneInfo("America/St_Johns")
    ended = datetime(2006, 10, 29, 6, 0, tzinfo=UTC).astimezone(zone)
    assert ended.date() == date(2006, 10, 29)
    for began_ago in range(60, 4 * 3600, 61):
        shares = list(days_of(began_ago, ended))
        assert sum(share for _, share in shares) == pytest.approx(1)
        assert all(share > 0 for _, share in shares)


def test_time_zone_is_needed() -> None:
    with pytest.raises(ValueError, match="time zone"):
        list(days_of(5.0, datetime(2026, 1, 1)))  # noqa: DTZ001


moments = st.datetimes(
    min_value=datetime(2005, 1, 1),  # noqa: DTZ001 - the strategy adds the zone
    max_value=datetime(2030, 1, 1),  # noqa: DTZ001
    timezones=st.just(UTC),
)


@given(
    zone=st.sampled_from(ZONES).map(ZoneInfo),
    ended=moments,
    seconds=st.floats(0, 40 * 86400.0),
)
def test_shares_are_whole_and_days_in_order(
    zone: ZoneInfo, ended: datetime, seconds: float
) -> None:
    when = ended.astimezone(zone)
    shares = list(days_of(seconds, when))
    days = [day for day, _ in shares]
    assert sum(share for _, share in shares) == pytest.approx(1, abs=1e-9)
    assert all(0 <= share <= 1 for _, share in shares)
    assert days == sorted(set(days))
    assert days[-1] <= when.date()
    # No day holds more than a day of any zone has.
    assert all(share * seconds <= 25 * HOUR + 1e-3 for _, share in shares)


@st.composite
def machine_times(draw: st.DrawFn) -> MachineTime:
    reasons: dict[NotCollectingReason, float] = draw(
        st.dictionaries(
            st.sampled_from(
                [r for r in NotCollectingReason if r is not NotCollectingReason.UNKNOWN]
            ),
            st.floats(0, 5000),
            max_size=3,
        )
    )
    air = draw(st.floats(0, 20000))
    return MachineTime(
        run=air + sum(reasons.values()),
        air=air,
        runs=draw(st.integers(0, 5)),
        cuts=draw(st.integers(0, 9)),
        without=reasons,
    )


spans = st.builds(
    Span,
    machines=st.dictionaries(st.sampled_from("abc"), machine_times(), max_size=3),
    collector=st.builds(
        CollectorTime,
        on=st.floats(0, 20000),
        starts=st.integers(0, 4),
        energy=st.floats(0, 1e8),
        cost=st.floats(-5, 50),
    ),
)


@given(
    zone=st.sampled_from(ZONES).map(ZoneInfo),
    booked=st.lists(
        st.tuples(moments, st.floats(0, 3 * 86400.0), spans), min_size=1, max_size=8
    ),
)
def test_everything_adds_up(
    zone: tzinfo, booked: list[tuple[datetime, float, Span]]
) -> None:
    calendar = Calendar()
    expected = Span()
    for ended, seconds, span in booked:
        when = ended.astimezone(zone)
        calendar.book(seconds, when, span)
        expected.add(span)
    total = calendar.total()
    same(total, expected)
    # Day by day, week by week, month by month: the same.
    for parts in (
        [calendar.day(day) for day in calendar.days],
        [calendar.week(day) for day in {monday(day) for day in calendar.days}],
        [calendar.month(day) for day in {day.replace(day=1) for day in calendar.days}],
    ):
        summed = Span()
        for part in parts:
            summed.add(part)
        same(summed, expected)
    # With and without air is running, on every day.
    for span in calendar.days.values():
        for spent in span.machines.values():
            assert spent.air + sum(spent.without.values()) == pytest.approx(
                spent.run, abs=1e-6
            )
    again = Calendar()
    again.restore(json.loads(json.dumps(calendar.save())))
    same(again.total(), expected)
    assert again.days.keys() == calendar.days.keys()


def monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def same(found: Span, expected: Span) -> None:
    """Compare two spans, to a thousandth of a second."""
    for machine_id in found.machines.keys() | expected.machines.keys():
        one, other = found.of(machine_id), expected.of(machine_id)
        assert (one.runs, one.cuts) == (other.runs, other.cuts)
        assert one.run == pytest.approx(other.run, abs=1e-3)
        assert one.air == pytest.approx(other.air, abs=1e-3)
        for reason in one.without.keys() | other.without.keys():
            assert one.without.get(reason, 0.0) == pytest.approx(
                other.without.get(reason, 0.0), abs=1e-3
            )
    one_c, other_c = found.collector, expected.collector
    assert one_c.starts == other_c.starts
    for name in ("on", "energy", "cost"):
        assert getattr(one_c, name) == pytest.approx(getattr(other_c, name), abs=1e-3)


def span_of(run: float, starts: int = 0) -> Span:
    return Span({"saw": MachineTime(run=run, air=run)}, CollectorTime(run, starts))


def test_counts_belong_to_the_day_at_the_end() -> None:
    calendar = Calendar()
    calendar.book(7200.0, local("Europe/Berlin", 2026, 5, 2, 1), span_of(7200.0, 3))
    assert calendar.day(date(2026, 5, 1)).collector == CollectorTime(3600.0, 0)
    assert calendar.day(date(2026, 5, 2)).collector == CollectorTime(3600.0, 3)


def test_old_days_go_into_months_and_old_months_into_one() -> None:
    calendar = Calendar()
    day = local("Europe/Berlin", 2012, 1, 1, 12)
    count = 366 * 13
    for number in range(0, count, 2):
        calendar.book(60.0, day + timedelta(days=number), span_of(60.0, 1))
    assert len(calendar.days) == DAYS_KEPT
    assert len(calendar.months) <= MONTHS_KEPT
    assert calendar.earlier.collector.starts > 0
    assert calendar.total().collector == CollectorTime(60.0 * count / 2, count // 2)
    # A month that is half by day and half folded is still whole.
    first = min(calendar.days)
    assert calendar.month(first).collector.starts in (15, 16)
    assert calendar.week(max(calendar.days)).collector.starts in (1, 2, 3, 4)
    again = Calendar()
    again.restore(json.loads(json.dumps(calendar.save())))
    assert again.total() == calendar.total()
    assert again.months.keys() == calendar.months.keys()


def test_size_is_bounded() -> None:
    """Ten machines every day for a year and more: less than half a megabyte."""
    calendar = Calendar()
    day = local("Europe/Berlin", 2024, 1, 1, 12)
    for number in range(500):
        span = Span(
            {
                f"01JABCDEFGHJKMNPQRSTVWXY{m:02}": MachineTime(
                    run=3600.123456,
                    air=3500.123456,
                    runs=9,
                    cuts=90,
                    without={
                        NotCollectingReason.STARTING: 99.123456,
                        NotCollectingReason.GATE_MOVING: 0.876544,
                    },
                )
                for m in range(10)
            }
        )
        calendar.book(3600.0, day + timedelta(days=number), span)
    assert len(json.dumps(calendar.save())) < 700_000


def test_time_of_one_machine_is_handed_over() -> None:
    calendar = Calendar()
    when = local("Europe/Berlin", 2026, 5, 2, 12)
    for number in range(DAYS_KEPT + 3):
        calendar.book(60.0, when + timedelta(days=number), span_of(60.0))
    calendar.earlier.add(span_of(7.0))
    calendar.book(9.0, when, Span({"new": MachineTime(run=9.0)}))
    total = calendar.total().of("saw").run
    calendar.adopt("saw", "new")
    assert calendar.total().machines.keys() == {"new"}
    assert calendar.total().of("new").run == pytest.approx(total + 9.0)


def test_collected_share_leaves_out_what_needs_no_dust_collection() -> None:
    assert MachineTime().collected_share is None
    assert (
        MachineTime(
            run=10.0, without={NotCollectingReason.NOT_NEEDED: 10.0}
        ).collected_share
        is None
    )
    spent = MachineTime(
        run=10.0,
        air=6.0,
        without={
            NotCollectingReason.NOT_NEEDED: 2.0,
            NotCollectingReason.STARTING: 2.0,
        },
    )
    assert spent.collected_share == 0.75
    span = Span({"saw": MachineTime(run=8.0, air=2.0), "lathe": MachineTime(run=1.0)})
    assert span.shop().run == 9.0
    assert span.shop(["saw", "gone"]).collected_share == 0.25


def test_what_the_collector_did_adds_up() -> None:
    total = CollectorTime(on=1.0, starts=1, energy=2.0, cost=3.0)
    total.add(CollectorTime(on=10.0, starts=2, energy=20.0, cost=-1.0))
    assert total == CollectorTime(on=11.0, starts=3, energy=22.0, cost=2.0)


def test_memory_of_another_version_is_read_as_far_as_it_goes() -> None:
    spent = MachineTime.load(
        {"run": 5.0, "without": {"martians": 2.0, "unknown": 1.0}, "color": "red"}
    )
    assert spent == MachineTime(run=5.0, without={NotCollectingReason.UNKNOWN: 3.0})
    assert CollectorTime.load({"on": 1.0, "tea": 3}) == CollectorTime(on=1.0)
    calendar = Calendar()
    calendar.restore({})
    assert calendar.total() == Span()
    assert Span.load({}) == Span()


def test_fixed_offsets_do_as_well() -> None:
    zone = timezone(timedelta(hours=2))
    assert in_hours(7200.0, datetime(2026, 1, 2, 1, tzinfo=zone)) == {
        "2026-01-01": 1,
        "2026-01-02": 1,
    }
