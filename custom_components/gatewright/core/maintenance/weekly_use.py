"""How a shop spends its week, and when something will be used up at that pace."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from ..config import COLLECTOR
from ..statistics.calendar import Calendar, Span

_WEEKS = 8
"""Weeks that count as habit: long enough for the quiet ones, short enough to follow
the season."""

_DAYS_NEEDED = 7
_FARTHEST = 366


@dataclass(frozen=True, slots=True, kw_only=True)
class WeeklyUse:
    """Seconds with dust collection by machine id, and of the collector as `COLLECTOR`.

    `weekdays` are the means of a Monday to a Sunday, `today` is what was done on `day` so far.
    """

    weekdays: tuple[Mapping[str, float], ...]
    today: Mapping[str, float]
    day: date

    @property
    def week(self) -> dict[str, float]:
        """What a usual week brings, without the collector; empty while unknown."""
        total: dict[str, float] = {}
        for weekday in self.weekdays:
            for part, seconds in weekday.items():
                if part != COLLECTOR:
                    total[part] = total.get(part, 0.0) + seconds
        return total

    def date_after(self, amount: float, per_second: Mapping[str, float]) -> date | None:
        """Return the day on which `amount` will be used up; None if far or unknown.

        `per_second` is what a second of each part uses; parts not named use nothing.
        """
        if not self.weekdays:
            return None
        left = amount
        for ahead in range(_FARTHEST):
            day = self.day + timedelta(days=ahead)
            usual = self.weekdays[day.weekday()]
            for part, rate in per_second.items():
                seconds = usual.get(part, 0.0)
                if ahead == 0:
                    seconds = max(0.0, seconds - self.today.get(part, 0.0))
                left -= rate * seconds
            if left <= 0:
                return day
        return None


def weekly_use(calendar: Calendar, today: date) -> WeeklyUse:
    """Read the habits off the last weeks before `today`.

    Until a week is known `weekdays` is empty.
    """
    known = [day for day in calendar.days if day < today]
    first = max(min(known, default=today), today - timedelta(weeks=_WEEKS))
    length = (today - first).days
    weekdays: list[dict[str, float]] = []
    if length >= _DAYS_NEEDED:
        weekdays = [{} for _ in range(7)]
        # How often each weekday came up, whether or not anything was done.
        counts = [0] * 7
        for ahead in range(length):
            counts[(first + timedelta(days=ahead)).weekday()] += 1
        for day in known:
            if day >= first:
                mean = weekdays[day.weekday()]
                for part, seconds in _spent(calendar, day).items():
                    share = seconds / counts[day.weekday()]
                    mean[part] = mean.get(part, 0.0) + share
    return WeeklyUse(weekdays=tuple(weekdays), today=_spent(calendar, today), day=today)


def _spent(calendar: Calendar, day: date) -> dict[str, float]:
    span = calendar.days.get(day, Span())
    return {COLLECTOR: span.collector.on} | {
        machine_id: spent.air for machine_id, spent in span.machines.items()
    }
