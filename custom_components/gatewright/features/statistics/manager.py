"""One system's statistics by day, and the news when a day or week is over."""

from collections.abc import Collection
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any, NamedTuple

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import ATTR_DEVICE_ID, ATTR_NAME, EVENT_CORE_CONFIG_UPDATE
from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.helpers.start import async_at_started
from homeassistant.util import dt as dt_util

from ...const import DOMAIN
from ...core.config import COLLECTOR
from ...core.control.alarms import AlarmKind
from ...core.inputs import TimePassed
from ...core.maintenance.dust_exposure import DayDust
from ...core.maintenance.maintenance import Maintenance
from ...core.pattern import check_numbers, check_shape
from ...core.statistics.alarm_days import AlarmDays, Raised
from ...core.statistics.calendar import MachineTime, Span
from ...core.statistics.summary import Period, bounds, summarize, summarize_days
from ...runtime.devices import collector_device_id
from ...runtime.events import AlarmNews
from ...runtime.listeners import Listeners
from ...runtime.old_names.shown import shown_data
from ...runtime.permissions import Requester
from ...runtime.store import FileKind, KeptFile
from ...runtime.system_context import SystemContext
from ...runtime.timer import Timer
from ...texts.alarm_texts import alarm_text
from ...texts.texts import Texts
from ..airflow.manager import AirflowManager
from ..maintenance.manager import MaintenanceManager
from .summary_text import summary_text

EVENT_SUMMARY = f"{DOMAIN}_summary"

_DELAY = 10.0
"""Seconds to collect changes before writing."""

_DAYS_REPORTED = 7
"""Days reported after Home Assistant was off; the week has the rest."""


class Reach(StrEnum):
    """The time that a figure covers."""

    DAY = "day"
    WEEK = "week"
    MONTH = "month"
    EVER = "ever"


class SummaryNews(NamedTuple):
    """A finished day or week."""

    period: Period
    summary: dict[str, Any]


class StatisticsManager:
    """The statistics of one system."""

    def __init__(
        self,
        system: SystemContext,
        air: AirflowManager,
        maintenance: MaintenanceManager,
    ) -> None:
        """Prepare; call `load`, then `start`."""
        self.system = system
        self._air = air
        self._maintenance = maintenance
        self.alarms = AlarmDays()
        self._reported: date | None = None
        """All days before this one have been reported."""
        self._file = record_file(system.hass, system.entry)
        self._listeners = Listeners[[]]("The record cannot be shown")
        self.listen = self._listeners.add
        """Calls a listener when days are counted anew; returns how to remove it."""
        self._readers = Listeners[[SummaryNews]](
            "A finished day or week cannot be reported"
        )
        self.read = self._readers.add
        """Calls a listener with every finished day and week; returns how to remove
        it."""
        self._unsubs: list[CALLBACK_TYPE] = []
        self._midnight = Timer(system.hass, "gatewright day", self._turn_over)
        self._past: dict[Reach, Span] = {}
        self._past_on: date | None = None

    # Life -----------------------------------------------------------------------

    async def load(self) -> None:
        """Load the stored data."""
        kept = await self._file.read()
        if kept is None:
            return
        try:
            check_numbers(kept)
            self.alarms.restore(kept.get("alarms", {}))
            if (reported := kept.get("told")) is not None:
                self._reported = date.fromisoformat(reported)
            for raised in self.alarms.between(date.min, date.max):
                check_shape(raised._asdict(), Raised("", "", 0)._asdict())
            self.alarms.save()
        except Exception as err:  # noqa: BLE001 - whatever is wrong with it
            self.alarms = AlarmDays()
            self._reported = None
            await self._file.put_aside(err)

    @callback
    def start(self) -> None:
        """Subscribe to alarms, airflow and the calendar; the entities exist now."""
        system = self.system
        self._unsubs = [
            system.announcer.listen(self._alarm),
            self._air.listen(self._air_changed),
            system.on_replan(self._replanned),
            system.hass.bus.async_listen(
                EVENT_CORE_CONFIG_UPDATE, self._config_changed
            ),
            # Automations may not be listening before.
            async_at_started(system.hass, self._home_assistant_started),
        ]
        self._air_changed()

    async def stop(self) -> None:
        """Unsubscribe from everything, and write what has to be kept."""
        self._midnight.disarm()
        while self._unsubs:
            self._unsubs.pop()()
        await self._file.write(self._kept())

    # What can be looked up --------------------------------------------------------

    @property
    def keeper(self) -> Maintenance:
        """The keeper of the calendar."""
        return self._maintenance.keeper

    def spent(self, reach: Reach, machine_id: str) -> MachineTime:
        """Return a machine's totals up to the last look."""
        return self._sum(reach, (machine_id,))

    def spent_by_all(self, reach: Reach) -> MachineTime:
        """Return all machines' totals; a pickup requested by hand has no run."""
        machines = self.system.sequence.machines
        known = {*self._before(reach).machines, *self._today().machines}
        cutting = [m for m in known if m not in machines or machines[m].sensor]
        return self._sum(reach, cutting)

    @property
    def measures_dust(self) -> bool:
        """Return whether there's a particle sensor."""
        return self.system.described.system.room.particles is not None

    def dust_today(self) -> DayDust:
        """Return today's particle readings during work."""
        return self.keeper.exposure.day(dt_util.now().date())

    def pickups(self) -> frozenset[str]:
        """Return the pickups without a machine of their own."""
        return frozenset(
            machine_id
            for machine_id, run in self.system.sequence.machines.items()
            if run.sensor is None
        )

    @callback
    def summary(
        self, period: Period, day: date | None = None, asker: Requester | None = None
    ) -> dict[str, Any]:
        """Return the summary of a day's period up to now, as data and as text.

        It includes the machines that the user may see; None means all.
        """
        now = self._look()
        asker = asker or self._owner
        found = summarize(
            self.keeper,
            period,
            day or now.date(),
            now,
            pickups=self.pickups(),
            shown=asker.sees_machine,
        )
        return self._response(found, asker)

    @callback
    def summary_of_days(
        self, first: date, last: date, asker: Requester | None = None
    ) -> dict[str, Any]:
        """Return the summary of any range of days, like `summary`."""
        now = self._look()
        asker = asker or self._owner
        found = summarize_days(
            self.keeper,
            first,
            last,
            now,
            pickups=self.pickups(),
            shown=asker.sees_machine,
        )
        return self._response(found, asker)

    @property
    def _owner(self) -> Requester:
        return Requester(self.system.hass, None)

    def _response(self, found: dict[str, Any], asker: Requester) -> dict[str, Any]:
        """Add what the core doesn't know: alarms, currency, texts."""
        first = date.fromisoformat(found["first_day"])
        last = date.fromisoformat(found["last_day"])
        visible = None if asker.administers else self._visible_names(asker)
        found["alarms"] = [
            {**raised._asdict(), "title": self._title(raised)}
            for raised in self.alarms.between(first, last)
            if visible is None or raised.part in visible
        ]
        collector = found["collector"]
        collector["currency"] = self.system.hass.config.currency
        collector["measured"] = self.system.layout.power is not None
        services = {
            service.service_id: service for service in self.keeper.plan.services
        }
        for row in (*found["services"], *found["needs"]):
            service = services.get(row.get("service_id", row.get("part", "")))
            row["name"] = self.system.entry.title if service is None else service.name
        found["name"] = self.system.entry.title
        found["text"] = summary_text(Texts.cached(self.system.hass), found)
        return found

    def _visible_names(self, asker: Requester) -> set[str]:
        """Return the visible names of parts: alarms keep names."""
        system = self.system
        layout = system.layout
        parts = (
            COLLECTOR,
            *system.entry.subentries,
            *layout.linked_devices,
            *layout.maintenance_switches(),
            *self._maintenance.service_parts(),
        )
        seen: set[str] = set()
        hidden: set[str] = set()
        for part in parts:
            of = seen if asker.sees_part(system, part) else hidden
            of.add(system.announcer.name(part))
        return seen - hidden

    def _title(self, raised: Raised) -> str:
        """Return an alarm's title in one line."""
        if raised.alarm not in AlarmKind:
            # From a later or an earlier version.
            return raised.part
        names = {"part": raised.part, "system": self.system.entry.title, "detail": ""}
        return alarm_text(self.system.hass, AlarmKind(raised.alarm), names).title

    def _look(self) -> datetime:
        """Record everything up to now, and return the local time."""
        self.system.shop.ledger.book(self.system.now())
        self.system.handle(TimePassed())
        return dt_util.now()

    # How figures are summed up ---------------------------------------------------

    def _sum(self, reach: Reach, machines: Collection[str]) -> MachineTime:
        total = self._before(reach).shop(machines)
        total.add(self._today().shop(machines))
        return total

    def _today(self) -> Span:
        return self.keeper.calendar.days.get(dt_util.now().date(), Span())

    def _before(self, reach: Reach) -> Span:
        """Return the finished part of a reach; it's added up once a day."""
        today = dt_util.now().date()
        if self._past_on != today:
            self._past.clear()
            self._past_on = today
        if (past := self._past.get(reach)) is None:
            past = self._past[reach] = self._add_up(reach, today)
        return past

    def _add_up(self, reach: Reach, today: date) -> Span:
        yesterday = today - timedelta(days=1)
        if reach is Reach.DAY:
            return Span()
        if reach is Reach.EVER:
            return self.keeper.calendar.total(before=today)
        first, _ = bounds(Period(reach), today)
        return self.keeper.calendar.between(first, yesterday)

    # What happens ---------------------------------------------------------------

    @callback
    def _alarm(self, news: AlarmNews) -> None:
        if news.raised:
            self.alarms.note(news.kind.value, news.part, dt_util.now().date())
            self._write_soon()

    @callback
    def _air_changed(self) -> None:
        """Record a change between enough and too little flow at a machine."""
        air = self._air
        short = frozenset(
            machine_id
            for machine_id in self.system.sequence.machines
            if air.falls_short(machine_id)
        )
        if short != self.keeper.too_little:
            self.keeper.too_little = short
            self.system.handle(TimePassed())

    @callback
    def _replanned(self) -> None:
        # A machine may have taken over the past of another.
        self._past.clear()

    @callback
    def _home_assistant_started(self, _hass: HomeAssistant) -> None:
        self._turn_over()

    @callback
    def _config_changed(self, _event: Event) -> None:
        """Restart the days after a change of the time zone."""
        if self._midnight.armed:
            self._turn_over()

    @callback
    def _turn_over(self) -> None:
        """Report what is over, and check again when this day is."""
        self._midnight.disarm()
        today = self._look().date()
        # Time across midnight was just recorded on yesterday.
        self._past.clear()
        self._report(today)
        self._listeners.call()
        # If the clocks differ, it fires too early, finds nothing over and waits again.
        left = dt_util.start_of_local_day(today + timedelta(days=1)) - dt_util.utcnow()
        self._midnight.arm(max(0.0, left.total_seconds()))

    def _report(self, today: date) -> None:
        """Report the finished days with any work, and the last week."""
        reported = today if self._reported is None else self._reported
        self._reported = max(reported, today)
        if self._reported == reported:
            self._write_soon()
            return
        days = self.keeper.calendar.days
        over = sorted(
            day for day in days if reported <= day < today and days[day] != Span()
        )
        for day in over[-_DAYS_REPORTED:]:
            self._report_period(Period.DAY, day)
        monday, _ = bounds(Period.WEEK, today)
        if reported < monday:
            self._report_period(Period.WEEK, monday - timedelta(days=1))
        self._write_soon()

    def _report_period(self, period: Period, day: date) -> None:
        news = SummaryNews(period, self.summary(period, day))
        system = self.system
        system.hass.bus.async_fire(
            EVENT_SUMMARY,
            {
                "entry_id": system.entry.entry_id,
                ATTR_NAME: system.entry.title,
                ATTR_DEVICE_ID: collector_device_id(system.hass, system.entry),
                **shown_data(system.entry, news.summary),
            },
        )
        self._readers.call(news)

    # Memory ---------------------------------------------------------------------

    def _write_soon(self) -> None:
        self._file.write_soon(self._kept, _DELAY)

    def _kept(self) -> dict[str, Any]:
        return {
            "told": None if self._reported is None else self._reported.isoformat(),
            "alarms": self.alarms.save(),
        }


def record_file(hass: HomeAssistant, entry: ConfigEntry[Any]) -> KeptFile:
    """Return the file with a system's reported days and alarms."""
    return KeptFile(hass, FileKind.RECORD, entry)
