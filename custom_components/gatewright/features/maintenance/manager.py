"""Keeps the maintenance of one system in step with its shop.

The core (`core/maintenance/maintenance.py`) gets what happens and when. This module
adds Home Assistant's clock and entities, raises alarms for due work, and drives the
maintenance switches.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
import logging
import math
from typing import Any, Final

from homeassistant.core import CALLBACK_TYPE, callback
from homeassistant.util import dt as dt_util

from ...const import CONF_CLEANING, CONF_ROOM_CLEANER
from ...core.control.actuator import Actuator, Order
from ...core.control.alarms import AlarmKind
from ...core.control.attempts import Tries
from ...core.control.ledger import FinishedRun
from ...core.control.switch_controller import SwitchController, SwitchTimes
from ...core.inputs import BinReported, TimePassed
from ...core.maintenance.bin_forecast import SeenBy
from ...core.maintenance.maintenance import Maintenance
from ...core.times import earliest
from ...runtime.config_loader import MAINTENANCE_SWITCHES, LoadedConfig
from ...runtime.system_context import SystemContext
from ..airflow.manager import AirflowManager
from .config import SERVICE_PREFIX
from .due_work import Due, Look
from .inputs import MaintenanceInputs
from .store import MaintenanceStore

_LOGGER = logging.getLogger(__name__)

MAINTENANCE: Final = "upkeep"
"""The part that entities follow to see changes here."""

_STEADY: Final = 10.0
"""Seconds from a start until the filter's loss counts: common practice, no source."""

_PACE: Final = 25.0
"""Seconds between two checks of due work while nothing new happens, just under the
system's tick."""

_WRITE_AT_WORK: Final = 300.0
"""Seconds until mere working time is written: flash memory wears out."""

_WRITE_SOON: Final = 1.0


class MaintenanceManager:
    """The maintenance of one system; its system creates it."""

    def __init__(
        self,
        system: SystemContext,
        air: AirflowManager,
        kept: Mapping[str, Any] | None,
    ) -> None:
        """Resume from what was `kept`; the ledger has already been restored."""
        self.system = system
        self._air = air
        self.store = MaintenanceStore(system.hass, system.entry)
        self.switches = SwitchController(off=Tries(count=2, persistent=True))
        """The filter's cleaning device and the room's air cleaner."""
        self.keeper = self._recalled(kept)
        self.feeds = MaintenanceInputs(
            system, self.keeper, self.switches, self.read_pressure
        )
        self._due = Due(system, self.keeper, self.switches)
        """The alarms for due work."""
        self._look: Look | None = None
        self._looked = self.system.now()
        self._key: object = None
        self._bin_sensor = False
        self._turning_since: float | None = None
        self.parts: dict[str, str] = {}
        """The stored reference of each field that names a switch."""
        self._plan_switches(system.layout)
        self.switches.resume((kept or {}).get("switched", ()), self.system.now())

    # Life -----------------------------------------------------------------------

    def _recalled(self, kept: Mapping[str, Any] | None) -> Maintenance:
        shop = self.system.shop
        plan = self.system.described.system.maintenance()
        core = Maintenance(plan, shop)
        if kept is not None:
            try:
                core.restore(kept, self.system.now())
            except (AttributeError, KeyError, TypeError, ValueError) as err:
                _LOGGER.warning(
                    "The record of %s cannot be read, so it starts anew: %r",
                    self.system.entry.title,
                    err,
                )
                core = Maintenance(plan, shop)
        self._set_price(core)
        return core

    @callback
    def listen(self, layout: LoadedConfig) -> None:
        """Subscribe to the entities of a layout."""
        self._plan_switches(layout)
        self.feeds.listen(layout)

    @callback
    def close(self) -> None:
        """Unsubscribe."""
        self.feeds.close()

    @callback
    def replan(self) -> None:
        """Apply the owner's changes, after the shop did."""
        self.keeper.replan(self.system.described.system.maintenance())
        self._set_price(self.keeper)
        self._key = None

    def memory(self) -> dict[str, Any]:
        """Return what has to survive a restart."""
        return {
            **self.keeper.save(self.system.now()),
            "switched": sorted(self.switches.at_work()),
        }

    async def save(self) -> None:
        """Write everything at once."""
        await self.store.write(self.memory())

    @callback
    def save_soon(self, delay: float = _WRITE_SOON) -> None:
        """Write everything in this many seconds, or at a stop."""
        self.store.write_soon(self.memory, delay)

    # What the system tells ------------------------------------------------------

    @callback
    def observe(self, now: float) -> None:
        """Catch up with the shop, which has just advanced to `now`."""
        system = self.system
        sequence = system.sequence
        if not sequence.motor.turning:
            self._turning_since = None
        elif self._turning_since is None:
            self._turning_since = now
        self.switches.advance(now)
        cleaner = self.actuator(self.parts.get(CONF_CLEANING, ""))
        self.keeper.cleaning_works = cleaner is None or cleaner.reported is True
        self.keeper.observe(now, self.when())
        self._aim(now)
        key = self._state()
        if key != self._key or now - self._looked >= _PACE:
            news, self._key = key != self._key, key
            self.look()
            if news:
                self.save_soon()

    @callback
    def finish(self, runs: Iterable[FinishedRun], now: float) -> None:
        """Record the runs that the ledger has finished."""
        if self.keeper.finish(runs, now, self.when()):
            # The list of runs makes this file large, and a small shop finishes many.
            self.save_soon(_WRITE_AT_WORK)

    @callback
    def tick(self, now: float, *, active: bool) -> None:
        """Update running totals each half minute; `active` says that anything runs."""
        if active:
            self.read_pressure()
            self.save_soon(_WRITE_AT_WORK)
        if active or now - self._looked >= _WRITE_AT_WORK:
            self.observe(now)

    @property
    def wake(self) -> float | None:
        """Return when time alone will change something."""
        return earliest((*self.switches.due_after(self.system.now()), self.keeper.wake))

    def orders(self) -> Iterable[tuple[str, Order]]:
        """Return the commands that are due."""
        return self.switches.orders()

    def actuator(self, part: str) -> Actuator | None:
        """Return the core's view of a switch."""
        return self.switches.actuator(part)

    def name(self, part: str) -> str | None:
        """Return the name of a service by its part; None for other parts."""
        return next(
            (
                service.name
                for service in self.keeper.plan.services
                if part == f"{SERVICE_PREFIX}{service.service_id}"
            ),
            None,
        )

    def service_parts(self) -> list[str]:
        """Return the parts of all services, as alarms name them."""
        return [f"{SERVICE_PREFIX}{s.service_id}" for s in self.keeper.plan.services]

    # What is heard --------------------------------------------------------------

    @callback
    def read_bin_sensor(self, full: bool | None) -> None:
        """Take the state of the bin's full sensor."""
        if full is not None:
            self._bin_sensor = full
        if self.keeper.bin is not None:
            self.keeper.bin.read_full(full, self.system.now())
        with self.system.gather():
            self._report_bin()
            self.system.handle(TimePassed())

    @callback
    def read_pressure(self) -> None:
        """Take the loss over the filter, measured or from the model."""
        since = self._turning_since
        if since is None or self.system.now() - since < _STEADY:
            return
        now = self._air.now
        solution = None if now is None else now.solution
        flow = None if solution is None else solution.flow
        # Beside a gauge that is silent for a while, nothing computed counts.
        if self.feeds.has_gauge or solution is None:
            self.keeper.read_pressure(self.feeds.pressure(), flow)
        else:
            self.keeper.read_pressure(solution.filter_pressure, flow, measured=False)

    # What a person does ---------------------------------------------------------

    @callback
    def bin_emptied(self, share: float | None = None) -> None:
        """Record that the bin was emptied; `share` is how full it was, if known."""
        if self.keeper.bin is not None:
            self.observe(self.system.now())
            # Two people may report the same emptying.
            if share is not None or not self.keeper.bin.untouched:
                self.keeper.bin.emptied(self.when(), share=share)
            self._done(AlarmKind.BIN_FULL, AlarmKind.BIN_NEARLY_FULL)

    @callback
    def filter_cleaned(self) -> None:
        """Record that the filter was cleaned."""
        self.observe(self.system.now())
        self.keeper.filter_cleaned(self.when())
        self._air.gauges.cleaned()
        self._done(AlarmKind.FILTER_CLEAN_DUE, AlarmKind.FILTER_PRESSURE_HIGH)

    @callback
    def filter_replaced(self) -> None:
        """Record that the filter was replaced."""
        if self.keeper.filter is not None:
            self.observe(self.system.now())
            self.keeper.filter.replaced(self.when())
            self._air.gauges.cleaned()
            self._done(
                AlarmKind.FILTER_CLEAN_DUE,
                AlarmKind.FILTER_REPLACE_DUE,
                AlarmKind.FILTER_PRESSURE_HIGH,
            )

    @callback
    def clean_filter(self) -> None:
        """Have the filter cleaned at the next opportunity."""
        if self.keeper.cleaning is not None:
            self.keeper.cleaning.ask()
            self._done()

    @callback
    def service_done(self, service_id: str) -> None:
        """Record that a service was done; raises `KeyError` if it isn't planned."""
        self.observe(self.system.now())
        self.keeper.care.reset(service_id, self.when())
        self._done(AlarmKind.SERVICE_DUE, part=f"{SERVICE_PREFIX}{service_id}")

    @callback
    def answer(self, kind: AlarmKind, part: str) -> bool:
        """Record the work behind an alarm as done; False if it isn't ours."""
        match kind:
            case AlarmKind.BIN_NEARLY_FULL:
                self.bin_emptied()
            case AlarmKind.FILTER_CLEAN_DUE:
                self.filter_cleaned()
            case AlarmKind.FILTER_REPLACE_DUE:
                self.filter_replaced()
            case AlarmKind.SERVICE_DUE:
                self.service_done(part.removeprefix(SERVICE_PREFIX))
            case _:
                return False
        return True

    # What can be read off --------------------------------------------------------

    @property
    def seen(self) -> Look:
        """The state at the last look, less than a minute ago."""
        if self._look is None:
            self._look = self._take_look()
        return self._look

    def collector_sum(self, what: str) -> float:
        """Return the collector's total `energy` (J) or `cost`."""
        calendar = self.keeper.calendar
        spans = (calendar.earlier, *calendar.months.values(), *calendar.days.values())
        return math.fsum(getattr(span.collector, what) for span in spans)

    @callback
    def listen_to(self, listener: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `listener` when something may have changed; return how to remove it."""
        return self.system.listen(MAINTENANCE, listener)

    def when(self) -> datetime:
        """Return now, in the local time zone."""
        return dt_util.now()

    @callback
    def look(self) -> None:
        """Check what is due, and report it."""
        self._looked = self.system.now()
        self._look = self._take_look()
        self._report_bin()
        self._due.tell(self._look, self.parts.get(CONF_CLEANING))
        self.system.tell((MAINTENANCE,))

    # How it works ---------------------------------------------------------------

    def _set_price(self, keeper: Maintenance) -> None:
        price = self.system.described.system.energy_price
        keeper.meter.set_price(price, self.system.now())
        keeper.counters.price = price

    def _take_look(self) -> Look:
        when = self.when()
        core = self.keeper
        return Look(
            forecast=core.forecast(when),
            filter=None if core.filter is None else core.filter.state(),
            services={state.service_id: state for state in core.care.states(when)},
            needs=tuple(core.needs(when)),
        )

    def _done(self, *answers: AlarmKind, part: str | None = None) -> None:
        """Take what a person has done; the reason for it counts no more."""
        self.look()
        self.save_soon()
        self.system.handle(TimePassed())
        for condition in tuple(self.system.shop.alarms.standing):
            if condition.kind in answers and part in (None, condition.part):
                self.system.announcer.begin_anew(condition)

    def _state(self) -> object:
        """Return the state whose changes are checked at once."""
        core = self.keeper
        return (
            None if core.bin is None else (core.bin.looks, core.bin.full),
            None if core.filter is None else core.filter.cleaned_at,
            None if core.cleaning is None else core.cleaning.phase,
            None if core.room is None else core.room.wanted,
            core.cleaning is not None and core.cleaning.failed,
            frozenset(self.switches.faulty(self.system.now())),
        )

    def _report_bin(self) -> None:
        """Report whether the bin is full by its sensors, whichever it has."""
        bin_ = self.keeper.bin
        level = (
            bin_ is not None
            and bin_.seen_by is SeenBy.LEVEL_SENSOR
            and bin_.share >= bin_.plan.full_share
        )
        full = self._bin_sensor or level
        if full is not self.system.sequence.bin.full:
            self.system.handle(BinReported(full))

    def _plan_switches(self, layout: LoadedConfig) -> None:
        self.parts = {
            field: source.stored
            for field in MAINTENANCE_SWITCHES
            for source in layout.watched.get(field, ())
        }
        self.switches.plan(dict.fromkeys(sorted(self.parts.values()), SwitchTimes()))

    def _aim(self, now: float) -> None:
        """Set the switches' targets."""
        if self.system.watching:
            # Nothing is driven in monitor-only mode.
            return
        core = self.keeper
        allowed = self.system.sequence.allowed
        works = {
            CONF_CLEANING: core.cleaning is not None and core.cleaning.wanted,
            # With smoke in the room, the air is better left still.
            CONF_ROOM_CLEANER: core.room is not None and core.room.wanted and allowed,
        }
        wanted = {part for field, part in self.parts.items() if works[field]}
        self.switches.apply_demand(wanted, now)
