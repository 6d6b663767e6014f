"""Time added up by calendar day: machines and collector, for weeks and months too.

Durations are measured on the core's clock and laid on the calendar by the aware
datetime at which they ended, so that a clock that is set or a daylight saving
change moves time between days at most, and never makes or loses any.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Any, Final, Self

from .not_collecting import NotCollectingReason, collected_share, load_without

DAYS_KEPT = 371
"""A year by day, so that a week can be set beside the same one of last year."""

MONTHS_KEPT = 120


@dataclass(slots=True)
class MachineTime:
    """What a machine did in a span of time; times in s.

    `air` is the time with dust collection, `little` the part of it with less flow than
    the machine needs; `without` holds the time without any, by reason. `energy` is J by
    its own plug, `cost` money.
    """

    run: float = 0.0
    air: float = 0.0
    little: float = 0.0
    runs: int = 0
    cuts: int = 0
    energy: float = 0.0
    cost: float = 0.0
    without: dict[NotCollectingReason, float] = field(default_factory=dict)

    def add(self, other: MachineTime) -> None:
        """Add another span."""
        self.add_times(other, 1.0)
        self.count(other)

    def add_times(self, other: MachineTime, share: float) -> None:
        """Add a share of the times of another span."""
        self.run += other.run * share
        self.air += other.air * share
        self.little += other.little * share
        self.energy += other.energy * share
        self.cost += other.cost * share
        for reason, spent in other.without.items():
            self.without[reason] = self.without.get(reason, 0.0) + spent * share

    def count(self, other: MachineTime) -> None:
        """Add what another span counted."""
        self.runs += other.runs
        self.cuts += other.cuts

    @property
    def collected_share(self) -> float | None:
        """Collected share, 0 to 1, of the time that needed it; None without any."""
        return collected_share(self.run, self.air, self.without)

    def save(self) -> dict[str, Any]:
        """Return it as plain data, without what is zero."""
        # A year of days has thousands of these: `asdict` would take ten times as long.
        found = {name: v for name in _OF_MACHINE if (v := getattr(self, name))}
        return found | {"without": dict(self.without)} if self.without else found

    @classmethod
    def load(cls, data: Mapping[str, Any]) -> Self:
        """Take over what `save` returned."""
        return cls(
            run=data.get("run", 0.0),
            air=data.get("air", 0.0),
            little=data.get("little", 0.0),
            runs=data.get("runs", 0),
            cuts=data.get("cuts", 0),
            energy=data.get("energy", 0.0),
            cost=data.get("cost", 0.0),
            without=load_without(data.get("without", {})),
        )


_OF_MACHINE: Final = tuple(item.name for item in fields(MachineTime))


@dataclass(slots=True)
class CollectorTime:
    """What the collector did in a span of time: s, starts, J and money."""

    on: float = 0.0
    starts: int = 0
    energy: float = 0.0
    cost: float = 0.0

    def add(self, other: CollectorTime) -> None:
        """Add another span."""
        self.add_times(other, 1.0)
        self.starts += other.starts

    def add_times(self, other: CollectorTime, share: float) -> None:
        """Add a share of another span, without its starts."""
        self.on += other.on * share
        self.energy += other.energy * share
        self.cost += other.cost * share

    def save(self) -> dict[str, Any]:
        """Return it as plain data, without what is zero."""
        return {name: v for name in _OF_COLLECTOR if (v := getattr(self, name))}

    @classmethod
    def load(cls, data: Mapping[str, Any]) -> Self:
        """Take over what `save` returned."""
        known = {item.name for item in fields(cls)}
        return cls(**{name: data[name] for name in known if name in data})


_OF_COLLECTOR: Final = tuple(item.name for item in fields(CollectorTime))


@dataclass(slots=True)
class Span:
    """A span of time: every machine that did something in it, and the collector."""

    machines: dict[str, MachineTime] = field(default_factory=dict)
    collector: CollectorTime = field(default_factory=CollectorTime)

    def of(self, machine_id: str) -> MachineTime:
        """Return the time of a machine, which may be new here."""
        return self.machines.setdefault(machine_id, MachineTime())

    def add(self, other: Span) -> None:
        """Add another span."""
        self.add_times(other, 1.0)
        self.count(other)

    def add_times(self, other: Span, share: float) -> None:
        """Add a share of the times of another span."""
        for machine_id, spent in other.machines.items():
            self.of(machine_id).add_times(spent, share)
        self.collector.add_times(other.collector, share)

    def count(self, other: Span) -> None:
        """Add what another span counted."""
        for machine_id, spent in other.machines.items():
            self.of(machine_id).count(spent)
        self.collector.starts += other.collector.starts

    def shop(self, only: Iterable[str] | None = None) -> MachineTime:
        """Return the sum over all machines, or those named."""
        total = MachineTime()
        for machine_id in self.machines if only is None else only:
            if machine_id in self.machines:
                total.add(self.machines[machine_id])
        return total

    def adopt(self, old: str, new: str) -> None:
        """Hand the time of one machine over to another."""
        if (spent := self.machines.pop(old, None)) is not None:
            self.of(new).add(spent)

    def save(self) -> dict[str, Any]:
        """Return it as plain data."""
        return {
            "machines": {m: spent.save() for m, spent in self.machines.items()},
            "collector": self.collector.save(),
        }

    @classmethod
    def load(cls, data: Mapping[str, Any]) -> Self:
        """Take over what `save` returned."""
        return cls(
            {m: MachineTime.load(t) for m, t in data.get("machines", {}).items()},
            CollectorTime.load(data.get("collector", {})),
        )


def days_of(seconds: float, ended: datetime) -> Iterator[tuple[date, float]]:
    """Split a duration that ended at an aware datetime at the local midnights.

    Yields each day with its share of the duration, 0 to 1; the shares add up to 1.
    Raises `ValueError` for a datetime without a time zone.
    """
    zone = ended.tzinfo
    if zone is None:
        raise ValueError("a datetime with a time zone is needed")
    # Differences between datetimes of one zone are differences of the hands of its
    # clock; only in UTC do they count seconds.
    end = ended.astimezone(UTC)
    at = end - timedelta(seconds=seconds)
    left = 1.0
    while (day := at.astimezone(zone).date()) < ended.date():
        midnight = _next_midnight(day, at, zone, end)
        share = min(left, (midnight - at).total_seconds() / seconds)
        yield day, share
        left -= share
        at = midnight
    if left > 0:
        yield ended.date(), left


def _next_midnight(day: date, at: datetime, zone: tzinfo, end: datetime) -> datetime:
    """Return in UTC when the day after `day` begins, after `at` and at most `end`.

    Where the clock skips midnight, midnight by its hands before that is the moment of
    the skip; where it shows midnight twice the first one counts that is still to come.
    """
    tomorrow = day + timedelta(days=1)
    begin = datetime.combine(tomorrow, time.min, zone)
    begins = (begin.replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    return next((moment for moment in begins if at < moment < end), end)


class Calendar:
    """What machines and collector did, by day; older days by month; older months once.

    The sum over everything is what was ever booked.
    """

    def __init__(self) -> None:
        self.days: dict[date, Span] = {}
        self.months: dict[tuple[int, int], Span] = {}
        self.earlier = Span()

    def book(self, seconds: float, ended: datetime, what: Span) -> None:
        """Book what was done in the `seconds` that ended at an aware datetime.

        Counts go to the day at the end.
        """
        for day, share in days_of(seconds, ended):
            self._day(day).add_times(what, share)
        self._day(ended.date()).count(what)
        self._fold()

    def day(self, day: date) -> Span:
        """Return a copy of one day."""
        return self._sum(day, day)

    def week(self, day: date) -> Span:
        """Return the sum of the week, Monday to Sunday, that a day is in."""
        monday = day - timedelta(days=day.weekday())
        return self._sum(monday, monday + timedelta(days=6))

    def month(self, day: date) -> Span:
        """Return the sum of the month that a day is in."""
        total = Span()
        total.add(self.months.get((day.year, day.month), Span()))
        for other, span in self.days.items():
            if (other.year, other.month) == (day.year, day.month):
                total.add(span)
        return total

    def between(self, first: date, last: date) -> Span:
        """Return the sum from a first to a last day.

        Of what is only kept by month, the months that lie within count.
        """
        total = self._sum(first, last)
        for (year, month), span in self.months.items():
            begin = date(year, month, 1)
            following = (begin + timedelta(days=31)).replace(day=1)
            if first <= begin and following - timedelta(days=1) <= last:
                total.add(span)
        return total

    def total(self, before: date = date.max) -> Span:
        """Return the sum of everything, or of the days before one that is kept."""
        total = Span()
        days = (span for day, span in self.days.items() if day < before)
        for span in (self.earlier, *self.months.values(), *days):
            total.add(span)
        return total

    def adopt(self, old: str, new: str) -> None:
        """Hand everything of one machine over to another."""
        for span in (self.earlier, *self.months.values(), *self.days.values()):
            span.adopt(old, new)

    def save(self) -> dict[str, Any]:
        """Return everything as plain data."""
        return {
            "days": {day.isoformat(): span.save() for day, span in self.days.items()},
            "months": {
                f"{year:04}-{month:02}": span.save()
                for (year, month), span in self.months.items()
            },
            "earlier": self.earlier.save(),
        }

    def restore(self, data: Mapping[str, Any]) -> None:
        """Take over what `save` returned."""
        self.days = {
            date.fromisoformat(day): Span.load(span)
            for day, span in data.get("days", {}).items()
        }
        self.months = {}
        for name, span in data.get("months", {}).items():
            year, _, month = name.partition("-")
            self.months[int(year), int(month)] = Span.load(span)
        self.earlier = Span.load(data.get("earlier", {}))

    def _day(self, day: date) -> Span:
        return self.days.setdefault(day, Span())

    def _sum(self, first: date, last: date) -> Span:
        total = Span()
        for day, span in self.days.items():
            if first <= day <= last:
                total.add(span)
        return total

    def _fold(self) -> None:
        while len(self.days) > DAYS_KEPT:
            day = min(self.days)
            month = self.months.setdefault((day.year, day.month), Span())
            month.add(self.days.pop(day))
        while len(self.months) > MONTHS_KEPT:
            self.earlier.add(self.months.pop(min(self.months)))
