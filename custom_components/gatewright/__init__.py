"""Gatewright runs a workshop's dust extraction."""

import asyncio
from contextlib import suppress
from dataclasses import replace

from homeassistant.const import Platform
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ConfigEntryError
from homeassistant.helpers import config_validation as cv, device_registry as dr
from homeassistant.helpers.typing import ConfigType

from .const import DOMAIN
from .core.inputs import Mode, ModeSet
from .core.stored.config import StoredConfig
from .core.stored.table import UnreadableError
from .features.actions.pause import async_setup_pause
from .features.airflow.actions import async_setup_sizing_page
from .features.airflow.readable_config import load_readable
from .features.airflow.report import async_setup_report
from .features.calibration.manager import DriftMonitor
from .features.cards.panel import async_setup_panel
from .features.maintenance.store import MaintenanceStore
from .features.monitor_only.mode import is_monitor_only
from .features.plan.commands import async_setup_reading
from .features.plan.drafts import async_setup_plan
from .features.plan.writing import is_writing
from .features.plan.writing_commands import async_setup_writing
from .features.setup_file.download import async_setup_download
from .features.statistics.actions import async_setup_asking
from .features.statistics.download import async_setup_downloads
from .features.suggestions.manager import SuggestionsManager
from .features.voice.collection import async_setup_collection
from .features.voice.hints import MachineHints
from .features.voice.sentences import async_setup_sentences
from .removal import leave_for_good
from .restore_check import load_memory, load_past
from .runtime.config_loader import LoadedConfig
from .runtime.devices import devices_kept
from .runtime.entry_data import read_system, update_entry, written
from .runtime.journaled_file import MemoryStore
from .runtime.old_names.migration import MINOR_VERSION, migrate
from .runtime.old_names.notice import async_setup_notice
from .runtime.store import take
from .runtime.system_context import GatewrightConfigEntry
from .services import async_setup_services
from .system import System, running

CONFIG_SCHEMA = cv.config_entry_only_config_schema(DOMAIN)

PLATFORMS = [
    Platform.BINARY_SENSOR,
    Platform.BUTTON,
    Platform.COVER,
    Platform.EVENT,
    Platform.SELECT,
    Platform.SENSOR,
    Platform.SWITCH,
]


async def async_setup(hass: HomeAssistant, config: ConfigType) -> bool:
    """Set up what all systems share."""
    await async_setup_panel(hass)
    async_setup_services(hass)
    async_setup_sentences(hass)
    async_setup_collection(hass)
    async_setup_asking(hass)
    async_setup_reading(hass)
    async_setup_writing(hass)
    async_setup_notice(hass)
    if "http" in hass.config.components:
        async_setup_report(hass)
        async_setup_sizing_page(hass)
        async_setup_downloads(hass)
        async_setup_download(hass)
    return True


async def async_migrate_entry(
    hass: HomeAssistant, entry: GatewrightConfigEntry
) -> bool:
    """Migrate an entry from an earlier version; refuse one from a later version."""
    if entry.version > 1:
        return False
    if entry.minor_version < MINOR_VERSION:
        migrate(hass, entry)
    return True


async def async_setup_entry(hass: HomeAssistant, entry: GatewrightConfigEntry) -> bool:
    """Start one system, where it left off if it ran before.

    Raises `ConfigEntryError` if its collector can't be read.
    """
    described, layout = _load(hass, entry)
    seen = written(entry)
    store = MemoryStore(hass, entry)
    left = take(hass, entry.entry_id)
    if left is None:
        left = await load_memory(hass, store, described.system, layout.system)
    maintenance = MaintenanceStore(hass, entry)
    past = await load_past(hass, maintenance, described.system, layout.system, left)
    if written(entry) != seen:
        described, layout = _load(hass, entry)
    system = entry.runtime_data = System(
        hass, entry, store, described, layout, left, past
    )
    if store.lost or (left is None and described.system.remembers):
        # Whether the owner had blocked starts is unknown, so starts are blocked.
        system.loop.handle(ModeSet(Mode.START_BLOCK, on=True))
        if not store.lost:
            store.tell()
    if not described.system.remembers:
        await store.write(system.memory())
        if await store.read() is not None:
            update_entry(hass, entry, replace(read_system(entry), remembers=True))
    seen = written(entry)
    for _ in devices_kept(hass, entry, layout):
        # A large system would block the event loop.
        await asyncio.sleep(0)
    entry.async_on_unload(system.stop)
    entry.async_on_unload(entry.add_update_listener(_entry_changed))
    # Before the entities exist: dust collection doesn't wait for them, and they start
    # from the current state.
    system.start()
    if written(entry) != seen:
        system.replan()
    entry.async_on_unload(system.air.stop)
    system.air.start()
    entry.async_on_unload(await async_setup_pause(system.context))
    entry.async_on_unload(await async_setup_plan(system.context))
    await system.record.load()
    await system.system_check.load()
    suggester = SuggestionsManager(system.context)
    entry.async_on_unload(suggester.stop)
    hints = MachineHints(system.context)
    entry.async_on_unload(hints.stop)
    drift = DriftMonitor(hass, entry)
    entry.async_on_unload(drift.stop)
    try:
        await hass.config_entries.async_forward_entry_setups(entry, PLATFORMS)
        system.record.start()
        suggester.start()
        await drift.start()
        await hints.start()
    except BaseException:
        # No entity outlives the system that it shows.
        system.stop()
        for platform in PLATFORMS:
            with suppress(ValueError):
                # Not every platform was loaded yet.
                await hass.config_entries.async_forward_entry_unload(entry, platform)
        raise
    return True


def _load(
    hass: HomeAssistant, entry: GatewrightConfigEntry
) -> tuple[StoredConfig, LoadedConfig]:
    """Return the usable part of a system; raise if its collector can't be read."""
    try:
        return load_readable(hass, entry)
    except UnreadableError as err:
        raise ConfigEntryError(
            translation_domain=DOMAIN,
            translation_key="collector_unreadable",
            translation_placeholders={"name": entry.title, "value": err.what},
        ) from err


async def async_unload_entry(hass: HomeAssistant, entry: GatewrightConfigEntry) -> bool:
    """Unload a system: stop it if it's disabled, keep it running on a reload."""
    system = running(entry)
    # First, whatever happens next: half a system must not drive anything.
    system.stop()
    if not await hass.config_entries.async_unload_platforms(entry, PLATFORMS):
        # The platforms that are still loaded still show something.
        take(hass, entry.entry_id)
        system.start()
        return False
    await system.record.stop()
    if entry.disabled_by is None:
        await system.save()
    else:
        await system.retire()
    return True


async def async_remove_entry(hass: HomeAssistant, entry: GatewrightConfigEntry) -> None:
    """Stop what still runs for us and leave no trace, however broken the entry is."""
    await leave_for_good(hass, entry)


async def async_remove_config_entry_device(
    hass: HomeAssistant, entry: GatewrightConfigEntry, device: dr.AnyDeviceEntry
) -> bool:
    """Allow removing a device only after its machine or gate is gone."""
    known = {entry.entry_id, *entry.subentries}
    return not any(
        domain == DOMAIN and identifier in known
        for domain, identifier in device.identifiers
    )


async def _entry_changed(hass: HomeAssistant, entry: GatewrightConfigEntry) -> None:
    """Apply a change without a reload, so that a running collector isn't disturbed.

    Only starting or ending monitor-only mode reloads the system, from rest.
    """
    if is_writing(hass, entry.entry_id):
        return
    if is_monitor_only(entry.data) is not entry.runtime_data.context.watching:
        hass.config_entries.async_schedule_reload(entry.entry_id)
        return
    running(entry).replan()
