"""One system: its composition, and its life from start to stop."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import CALLBACK_TYPE, Event, HomeAssistant, callback
from homeassistant.helpers.event import async_track_time_interval

from .core.config import COLLECTOR
from .core.control.persistence import save
from .core.control.sequence import Sequence
from .core.control.shop import ShopControl
from .core.inputs import (
    ActuatorExchanged,
    EntitiesDisabled,
    HandGatesChosen,
    PlanChanged,
    TimePassed,
)
from .core.simulation.shadow_control import MonitoredShop
from .core.stored.config import StoredConfig, Unread
from .core.stored.table import UnreadableError
from .features.airflow.manager import AirflowManager
from .features.airflow.readable_config import load_readable, report_unreadable
from .features.commissioning.manager import SystemCheckManager
from .features.maintenance.manager import MaintenanceManager
from .features.monitor_only.manager import start_monitor_only
from .features.monitor_only.mode import WATCHED, recalled_shop
from .features.notifications.manager import NotificationManager
from .features.statistics.manager import StatisticsManager
from .runtime.actuator_driver import OwnContexts
from .runtime.config_loader import LoadedConfig
from .runtime.control_loop import ControlLoop
from .runtime.decoding import CoverPosition
from .runtime.devices import keep_devices
from .runtime.disabled_entities import report_disabled
from .runtime.events import EventReporter
from .runtime.inputs import InputListener
from .runtime.journaled_file import MemoryStore
from .runtime.missing_entities import report_missing
from .runtime.outputs import outputs_of
from .runtime.release import (
    KEEPS_ON,
    keeps_on,
    let_go_of,
    release_device,
    release_linked_devices,
    was_replaced,
)
from .runtime.safety_inputs import SafetyInputs
from .runtime.store import Handover, leave, take
from .runtime.system_context import SystemContext
from .runtime.totals_clock import TotalsClock
from .runtime.updates import Updates
from .runtime.wrapped_entities import WrappedEntities

_HIDDEN = "hidden"
_PHONES = "phones"
_OCCURRENCES = "occurrences"
_TICK = timedelta(seconds=30)
"""How often running totals are shown and saved while anything runs."""


class System:
    """The runtime data of a config entry: one system's parts, active after `start`.

    `watcher` exists only in monitor-only mode.
    """

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry,
        store: MemoryStore,
        described: StoredConfig,
        layout: LoadedConfig,
        left: Handover | None,
        past: Mapping[str, Any] | None = None,
    ) -> None:
        """Compose a system from what was left, and its maintenance from its `past`."""
        kept = {} if left is None else left.memory
        shop = recalled_shop(layout.system, described.system, left)
        contexts = OwnContexts()
        slides: dict[str, CoverPosition] = {}
        announcer = EventReporter(hass, entry, shop)
        announcer.occurrences.restore(kept.get(_OCCURRENCES), shop.alarms.standing)
        updates = Updates(shop, slides)
        loop = ControlLoop(
            hass, entry, shop, contexts, announcer, updates, self._save_soon
        )
        context = SystemContext(
            hass=hass,
            entry=entry,
            described=described,
            layout=layout,
            shop=shop,
            watching=isinstance(shop, MonitoredShop),
            contexts=contexts,
            slides=slides,
            announcer=announcer,
            updates=updates,
            handle=loop.handle,
            gather=loop.gather,
            now=loop.now,
        )
        self.context = context
        self.loop = loop
        self.watcher = start_monitor_only(context, kept)
        self.air = AirflowManager(context)
        self.maintenance = MaintenanceManager(context, self.air, past)
        self.system_check = SystemCheckManager(context, loop.outputs)
        self.record = StatisticsManager(context, self.air, self.maintenance)
        self.phones = NotificationManager(context, kept.get(_PHONES), self._save_soon)
        self._totals = TotalsClock(context)
        for feature in (
            self.air,
            self.maintenance,
            self.system_check,
            self.record,
            self._totals,
        ):
            context.add(feature)
        if self.watcher is not None:
            context.add(self.watcher)
        self._inputs = InputListener(context, self.replan)
        self._watch = SafetyInputs(context, self.maintenance.read_bin_sensor)
        self._store = store
        self._wrapped_entities = WrappedEntities(hass, kept.get(_HIDDEN, ()))
        self._unsubs: list[CALLBACK_TYPE] = []
        self._started = False
        self._introduce()

    def _introduce(self) -> None:
        """Connect the parts with each other."""
        maintenance, watcher = self.maintenance, self.watcher
        self.sequence.beside = maintenance.actuator
        self.air.gauges.recall(maintenance.keeper)
        self.context.announcer.name_also(maintenance.name)
        if watcher is not None:
            self.context.updates.beside = lambda: watcher.look

    @property
    def shop(self) -> ShopControl:
        """The core."""
        return self.context.shop

    @property
    def sequence(self) -> Sequence:
        """The behavior of the system."""
        return self.context.shop.sequence

    @property
    def layout(self) -> LoadedConfig:
        """The plan, and the entities behind it."""
        return self.context.layout

    # Life -----------------------------------------------------------------------

    @callback
    def start(self) -> None:
        """Subscribe to the entities and begin to work."""
        hass = self.context.hass
        self._unsubs = [
            async_track_time_interval(hass, self._tick, _TICK, cancel_on_shutdown=True),
            hass.bus.async_listen(EVENT_HOMEASSISTANT_STOP, self._home_assistant_stops),
            self._totals.start(),
        ]
        self._started = True
        # Report the present state before anything can be raised.
        self.phones.start()
        self.loop.start(self.maintenance)
        self.context.announcer.recall()
        with self.loop.gather():
            self._connect()
            self.loop.handle(TimePassed())
        if self.watcher is not None:
            self.watcher.start()

    @callback
    def stop(self) -> None:
        """Unsubscribe and leave everything as it is, for the next load."""
        if not self._started:
            return
        self.system_check.stop()
        self._started = False
        self._inputs.close()
        self._watch.close()
        self.phones.stop()
        self.maintenance.close()
        if self.watcher is not None:
            self.watcher.stop()
        while self._unsubs:
            self._unsubs.pop()()
        self.loop.stop()
        handover = Handover(self.memory(), self.loop.now())
        leave(self.context.hass, self.context.entry.entry_id, handover)

    def memory(self) -> dict[str, Any]:
        """Return what has to survive a restart."""
        return {
            **save(self.shop, self.loop.now()),
            _HIDDEN: self._wrapped_entities.hidden,
            KEEPS_ON: keeps_on(self.context, self.maintenance.switches.at_work()),
            _OCCURRENCES: self.context.announcer.occurrences.save(),
            _PHONES: self.phones.memory(),
            **({WATCHED: self.watcher.memory()} if self.watcher is not None else {}),
        }

    async def save(self) -> None:
        """Write the memory at once."""
        await self._store.write(self.memory())
        await self.maintenance.save()

    async def retire(self) -> None:
        """End the work of a system that isn't loaded again: only its totals are kept.

        The gates stay as they are: the impeller still turns.
        """
        hass, entry = self.context.hass, self.context.entry
        take(hass, entry.entry_id)
        kept = self.memory()
        now = self.loop.now()
        blank = save(ShopControl(self.layout.system, now), now)
        blank["motor"] |= {key: kept["motor"][key] for key in ("starts", "stopped")}
        blank["ledger"] = {**kept["ledger"], "open": {}, "turning": False}
        for key in ("automatic", "start_block", "fire_shutdown", "hand_gates"):
            blank[key] = kept[key]
        self._wrapped_entities.keep(())
        report_missing(hass, entry, ())
        report_disabled(hass, entry, None)
        self.context.announcer.retire()
        await self._store.write(
            blank if self.watcher is None else blank | {WATCHED: kept[WATCHED]}
        )
        await self.maintenance.save()
        for stored in kept[KEEPS_ON]:
            await release_device(hass, stored)

    @callback
    def replan(self) -> None:
        """Apply the owner's changes while everything keeps running."""
        context = self.context
        try:
            described, layout = load_readable(context.hass, context.entry)
        except UnreadableError as err:
            # It keeps working as it was.
            unread = Unread(None, context.entry.title, err.what)
            report_unreadable(context.hass, context.entry, (unread,))
            return
        before = context.layout
        context.described = described
        context.layout = layout
        with self.loop.gather():
            release_linked_devices(context, before, self.maintenance.switches.at_work())
            self._take_plan(before)
            self.maintenance.replan()
            keep_devices(context.hass, context.entry, context.layout)
            self._connect()
            context.replanned()
            self.loop.handle(TimePassed())

    # How it works ----------------------------------------------------------------

    def _take_plan(self, before: LoadedConfig) -> None:
        """Give the core the changed plan, and the replaced entities."""
        layout, handle = self.context.layout, self.loop.handle
        handle(PlanChanged(layout.system))
        was = before.system.collector.hand_gates
        if layout.system.collector.hand_gates != was:
            # New settings override earlier choices.
            handle(HandGatesChosen(()))
        for gate_id, sources in layout.gates.items():
            old = before.gates.get(gate_id)
            if (
                old is not None
                and was_replaced(old.actuator, sources.actuator)
                and self.sequence.gates.actuator(gate_id) is not None
            ):
                handle(ActuatorExchanged(gate_id))
        if was_replaced(before.switch, layout.switch):
            # It's no longer ours, and may be running.
            on = self.sequence.motor.actuator.reported is not False
            if self.sequence.collector_wanted or on:
                let_go_of(self.context, before.switch)
            handle(ActuatorExchanged(COLLECTOR))

    def _connect(self) -> None:
        """Connect drivers and listeners to the present layout's entities."""
        context = self.context
        hass, entry, layout = context.hass, context.entry, context.layout
        # Nothing is driven in monitor-only mode.
        outputs = {} if context.watching else outputs_of(layout)
        self.loop.outputs.connect(outputs, self.sequence.actuator)
        hide = context.described.system.hide_wrapped and not context.watching
        self._wrapped_entities.keep(
            source.stored for source in (layout.wrapped() if hide else ())
        )
        report_missing(hass, entry, layout.missing)
        self.loop.handle(EntitiesDisabled(report_disabled(hass, entry, layout)))
        report_unreadable(hass, entry, context.described.unread)
        self._inputs.listen(layout)
        self.maintenance.listen(layout)
        self._watch.listen(layout.watched)

    def _save_soon(self) -> None:
        self._store.write_soon(self.memory)

    @callback
    def _tick(self, _now: datetime) -> None:
        """Show and save the totals while anything runs."""
        in_use = self.sequence.machine_set.in_use
        active = bool(in_use) or self.sequence.motor.turning
        now = self.loop.now()
        if active:
            self.shop.ledger.book(now)
        self.maintenance.tick(now, active=active)
        if active:
            self.context.tell((COLLECTOR, *in_use))
            self._save_soon()

    @callback
    def _home_assistant_stops(self, _event: Event) -> None:
        """Write the memory once more, just before Home Assistant's final write."""
        self._save_soon()
        self.maintenance.save_soon()


def running(entry: ConfigEntry[Any]) -> System:
    """Return the runtime data of a loaded config entry."""
    system: System = entry.runtime_data
    return system
