"""A day, week or month told as plain data, for an action, an event or a screen."""

from collections.abc import Callable, Collection
from datetime import date, datetime, time, timedelta
from enum import StrEnum
import math
from statistics import median
from typing import Any

from ..maintenance.bin_forecast import Forecast
from ..maintenance.dust_exposure import DayDust, beside_limits
from ..maintenance.maintenance import Maintenance
from ..units import JOULES_PER_KWH
from .calendar import MachineTime
from .not_collecting import collected_share
from .runs import KeptRun
from .time_to_air import TimeToAir


class Period(StrEnum):
    """What is told."""

    DAY = "day"
    WEEK = "week"
    MONTH = "month"


def bounds(period: Period, day: date) -> tuple[date, date]:
    """Return the first and the last day of the period that a day is in."""
    if period is Period.DAY:
        return day, day
    if period is Period.WEEK:
        monday = day - timedelta(days=day.weekday())
        return monday, monday + timedelta(days=6)
    first = day.replace(day=1)
    following = (first + timedelta(days=31)).replace(day=1)
    return first, following - timedelta(days=1)


def summarize(
    maintenance: Maintenance,
    period: Period,
    day: date,
    when: datetime,
    *,
    pickups: Collection[str] = (),
    shown: Callable[[str], bool] = lambda _: True,
) -> dict[str, Any]:
    """Return the period that a day is in as plain data; times in s.

    Needs, forecast and filter are those of `when`, an aware datetime. The period
    before is there to compare with. `pickups` are machines without a motor: they are
    listed, but their time is not the shop's. Only machines that are `shown` count.
    """
    first, last = bounds(period, day)
    before, _ = bounds(period, first - timedelta(days=1))
    found = _summary(maintenance, first, last, before, when, pickups, shown)
    return {"period": period.value, **found}


def summarize_days(
    maintenance: Maintenance,
    first: date,
    last: date,
    when: datetime,
    *,
    pickups: Collection[str] = (),
    shown: Callable[[str], bool] = lambda _: True,
) -> dict[str, Any]:
    """Return any run of days, as `summarize` does; before it lie as many days."""
    before = first - (last - first) - timedelta(days=1)
    return {
        "period": "custom",
        **_summary(maintenance, first, last, before, when, pickups, shown),
    }


def _summary(
    maintenance: Maintenance,
    first: date,
    last: date,
    before: date,
    when: datetime,
    pickups: Collection[str],
    shown: Callable[[str], bool],
) -> dict[str, Any]:
    span = maintenance.calendar.between(first, last)
    past = maintenance.calendar.between(before, first - timedelta(days=1))
    machines = [machine for machine in span.machines if shown(machine)]
    earlier = {machine for machine in past.machines if shown(machine)}
    times: dict[str, list[KeptRun]] = {}
    begin, end = _midnight(first, when), _midnight(last + timedelta(days=1), when)
    for run in maintenance.record.between(begin, end):
        times.setdefault(run.machine_id, []).append(run)
    return {
        "first_day": first.isoformat(),
        "last_day": last.isoformat(),
        "shop": _machine(span.shop({*machines} - {*pickups})),
        "before": _machine(past.shop(earlier - {*pickups})),
        "machines": [
            {
                "machine_id": m,
                "name": maintenance.names.get(m, m),
                "pickup": m in pickups,
            }
            | _machine(span.machines[m])
            | _times(times.get(m, ()))
            | _limits(maintenance.time_to_air(m))
            for m in sorted(machines, key=lambda m: -span.machines[m].run)
        ],
        "collector": {
            "on_time": span.collector.on,
            "starts": span.collector.starts,
            "longest_run": maintenance.care.longest_run,
            "energy_kwh": span.collector.energy / JOULES_PER_KWH,
            "cost": span.collector.cost,
        },
        "bin": _bin(maintenance, first, last, when),
        "filter": _filter(maintenance),
        "services": [
            {"service_id": state.service_id, "used": state.used, "due": state.due}
            for state in maintenance.care.states(when)
        ],
        "dust": _dust(maintenance, first, last),
        "needs": [
            {"kind": need.kind.value, "part": need.part}
            for need in maintenance.needs(when)
        ],
    }


def _machine(spent: MachineTime) -> dict[str, Any]:
    return {
        "run_time": spent.run,
        "collecting_time": spent.air,
        "low_airflow_time": spent.little,
        "collected_share": collected_share(spent.run, spent.air, spent.without),
        "not_collecting": {
            reason.value: lost for reason, lost in spent.without.items()
        },
        "runs": spent.runs,
        "cuts": spent.cuts,
        "energy_kwh": spent.energy / JOULES_PER_KWH,
        "cost": spent.cost,
    }


def _times(runs: Collection[KeptRun]) -> dict[str, Any]:
    """Return the times to air of some runs in s, and how often the plug reported."""
    times = [run.time_to_air for run in runs if run.time_to_air is not None]
    intervals = [
        run.reporting_interval for run in runs if run.reporting_interval is not None
    ]
    return {
        "time_to_air": median(times) if times else None,
        "longest_time_to_air": max(times, default=None),
        "reporting_interval": median(intervals) if intervals else None,
    }


def _limits(told: TimeToAir | None) -> dict[str, Any]:
    """Return what a time to air depends on as things are now, and what it could be."""
    return {
        "time_to_air_at_best": None if told is None else told.chain.at_best,
        "limited_by": None if told is None else told.judged.limit.value,
    }


def _midnight(day: date, when: datetime) -> datetime:
    return datetime.combine(day, time.min, when.tzinfo)


def _bin(
    maintenance: Maintenance, first: date, last: date, when: datetime
) -> dict[str, Any] | None:
    forecast = maintenance.forecast(when)
    if maintenance.bin is None:
        return None
    begin = _midnight(first, when).timestamp()
    end = _midnight(last + timedelta(days=1), when).timestamp()
    return {
        "emptyings": sum(
            1 for emptying in maintenance.bin.emptyings if begin <= emptying.at < end
        ),
        **_filling(forecast),
    }


def _filling(forecast: Forecast | None) -> dict[str, Any]:
    """Return how full the bin is and how long it will do; None of what is not known."""
    if forecast is None:
        return dict.fromkeys(("share", "known", "hours_left", "full_on"))
    return {
        "share": forecast.share,
        "known": forecast.known.value,
        "hours_left": _finite(forecast.hours_left),
        "full_on": None if forecast.full_on is None else forecast.full_on.isoformat(),
    }


def _finite(hours: float) -> float | None:
    return hours if math.isfinite(hours) else None


def _filter(maintenance: Maintenance) -> dict[str, Any] | None:
    if maintenance.filter is None:
        return None
    state = maintenance.filter.state()
    return {
        "work": state.work.value,
        "reason": None if state.reason is None else state.reason.value,
        "since_cleaned": state.since_cleaned,
        "since_replaced": state.since_replaced,
        "level": state.level,
    }


def _dust(maintenance: Maintenance, first: date, last: date) -> dict[str, Any] | None:
    """Return the dustiest day beside the limits; None where nothing was read."""
    days: dict[date, float] = {
        day: average
        for day, dust in maintenance.exposure.days.items()
        if first <= day <= last and (average := dust.average) is not None
    }
    if not days:
        return None
    worst = max(days, key=days.__getitem__)
    dust: DayDust = maintenance.exposure.day(worst)
    return {
        "day": worst.isoformat(),
        "average": days[worst],
        "mean": dust.mean,
        "peak": dust.peak,
        "limits": [
            {
                "limit_id": beside.limit.limit_id,
                "limit": beside.limit.concentration,
                "fraction": beside.limit.fraction.value,
                "force": beside.limit.force.value,
                "source": beside.limit.source,
                "checked": beside.limit.checked.value,
                "share": beside.share,
            }
            for beside in beside_limits(dust)
        ],
    }
