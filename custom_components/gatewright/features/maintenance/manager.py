"""Keeps the maintenance of one system in step with its shop.

The core (`shop/maintenance/keeper.py`) is told what happens and when; here it is given the
hub's clock and its entities, what is due becomes alarms, and what it wants switched
is switched.
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
"""The part that entities follow to see what has changed here."""

_STEADY: Final = 10.0
"""Seconds from a start until the filter's loss counts: common practice, no source."""

_PACE: Final = 25.0
"""Seconds between two looks at what is due while nothing new has happened, just under
the system's tick."""

_WRITE_AT_WORK: Final = 300.0
"""Seconds until what work alone changes is written: flash memory wears out."""

_WRITE_SOON: Final = 1.0


class MaintenanceManager:
    """What is looked after in one system: created by its system."""

    def __init__(
        self,
        system: SystemContext,
        air: AirflowManager,
        kept: Mapping[str, Any] | None,
    ) -> None:
        """Go on from what was `kept`; the system's ledger has taken up its own."""
        self.system = system
        self._air = air
        self.store = MaintenanceStore(system.hass, system.entry)
        self.switches = SwitchController(off=Tries(count=2, persistent=True))
        """The filter's cleaning and the room's air cleaner."""
        self.keeper = self._recalled(kept)
        self.feeds = MaintenanceInputs(
            system, self.keeper, self.switches, self.read_pressure
        )
        self._due = Due(system, self.keeper, self.switches)
        """What of it is told as alarms."""
        self._look: Look | None = None
        self._looked = self.system.now()
        self._key: object = None
        self._bin_sensor = False
        self._turning_since: float | None = None
        self.parts: dict[str, str] = {}
        """What was stored for each field that names a switch."""
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
        """Hear the entities of a layout."""
        self._plan_switches(layout)
        self.feeds.listen(layout)

    @callback
    def close(self) -> None:
        """Stop hearing."""
        self.feeds.close()

    @callback
    def replan(self) -> None:
        """Take up what the owner changed, the shop having done so."""
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
        """Have everything written in so many seconds, or at a stop."""
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
        """Keep the runs that the ledger has finished."""
        if self.keeper.finish(runs, now, self.when()):
            # The list of runs makes this file large, and a small shop ends many.
            self.save_soon(_WRITE_AT_WORK)

    @callback
    def tick(self, now: float, *, active: bool) -> None:
        """Look at what goes on, every half minute; `active` says that anything runs."""
        if active:
            self.read_pressure()
            self.save_soon(_WRITE_AT_WORK)
        if active or now - self._looked >= _WRITE_AT_WORK:
            self.observe(now)

    @property
    def wake(self) -> float | None:
        """When time alone will change something."""
        return earliest((*self.switches.due_after(self.system.now()), self.keeper.wake))

    def orders(self) -> Iterable[tuple[str, Order]]:
        """Return the commands that are due."""
        return self.switches.orders()

    def actuator(self, part: str) -> Actuator | None:
        """Return what is known of a switch."""
        return self.switches.actuator(part)

    def name(self, part: str) -> str | None:
        """Return the name of a service by its part; None for what is no service."""
        return next(
            (
                service.name
                for service in self.keeper.plan.services
                if part == f"{SERVICE_PREFIX}{service.service_id}"
            ),
            None,
        )

    def service_parts(self) -> list[str]:
        """Return the parts that the services are told as."""
        return [f"{SERVICE_PREFIX}{s.service_id}" for s in self.keeper.plan.services]

    # What is heard --------------------------------------------------------------

    @callback
    def read_bin_sensor(self, full: bool | None) -> None:
        """Take what the bin's full sensor says."""
        if full is not None:
            self._bin_sensor = full
        if self.keeper.bin is not None:
            self.keeper.bin.read_full(full, self.system.now())
        with self.system.gather():
            self._tell_bin()
            self.system.handle(TimePassed())

    @callback
    def read_pressure(self) -> None:
        """Take the loss over the filter, measured or as the model has it."""
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
        """Note that the bin was emptied; `share` is how full it was, if that is said."""
        if self.keeper.bin is not None:
            self.observe(self.system.now())
            # Said on two phones, it was emptied once.
            if share is not None or not self.keeper.bin.untouched:
                self.keeper.bin.emptied(self.when(), share=share)
            self._done(AlarmKind.BIN_FULL, AlarmKind.BIN_NEARLY_FULL)

    @callback
    def filter_cleaned(self) -> None:
        """Note that the filter was cleaned."""
        self.observe(self.system.now())
        self.keeper.filter_cleaned(self.when())
        self._air.gauges.cleaned()
        self._done(AlarmKind.FILTER_CLEAN_DUE, AlarmKind.FILTER_PRESSURE_HIGH)

    @callback
    def filter_replaced(self) -> None:
        """Note that the filter was replaced by a new one."""
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
        """Note that something was done; raises `KeyError` for what is not planned."""
        self.observe(self.system.now())
        self.keeper.care.reset(service_id, self.when())
        self._done(AlarmKind.SERVICE_DUE, part=f"{SERVICE_PREFIX}{service_id}")

    @callback
    def answer(self, kind: AlarmKind, part: str) -> bool:
        """Note what a person has done about an alarm; False where it is not of ours."""
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
        """How things stood when they were last looked at, less than a minute ago."""
        if self._look is None:
            self._look = self._take_look()
        return self._look

    def collector_sum(self, what: str) -> float:
        """Return the sum of the collector's `energy` (J) or `cost` since ever."""
        calendar = self.keeper.calendar
        spans = (calendar.earlier, *calendar.months.values(), *calendar.days.values())
        return math.fsum(getattr(span.collector, what) for span in spans)

    @callback
    def listen_to(self, listener: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `listener` whenever something may have changed; returns how to stop."""
        return self.system.listen(MAINTENANCE, listener)

    def when(self) -> datetime:
        """Return now, in the local time zone."""
        return dt_util.now()

    @callback
    def look(self) -> None:
        """Look at what is due, and tell it."""
        self._looked = self.system.now()
        self._look = self._take_look()
        self._tell_bin()
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
        """Take up what a person has done; whatever asked for it counts no more."""
        self.look()
        self.save_soon()
        self.system.handle(TimePassed())
        for condition in tuple(self.system.shop.alarms.standing):
            if condition.kind in answers and part in (None, condition.part):
                self.system.announcer.begin_anew(condition)

    def _state(self) -> object:
        """Return what is worth a look as soon as it changes."""
        core = self.keeper
        return (
            None if core.bin is None else (core.bin.looks, core.bin.full),
            None if core.filter is None else core.filter.cleaned_at,
            None if core.cleaning is None else core.cleaning.phase,
            None if core.room is None else core.room.wanted,
            core.cleaning is not None and core.cleaning.failed,
            frozenset(self.switches.faulty(self.system.now())),
        )

    def _tell_bin(self) -> None:
        """Say whether the bin is full by its sensors, whichever it has."""
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
        """Say how the switches should stand."""
        if self.system.watching:
            # Who only watches has nothing to switch.
            return
        core = self.keeper
        allowed = self.system.sequence.allowed
        works = {
            CONF_CLEANING: core.cleaning is not None and core.cleaning.wanted,
            # Whatever moves the room's air is best off where there is smoke.
            CONF_ROOM_CLEANER: core.room is not None and core.room.wanted and allowed,
        }
        wanted = {part for field, part in self.parts.items() if works[field]}
        self.switches.apply_demand(wanted, now)
