"""Gatewright runs a workshop's dust extraction."""

from homeassistant.const import Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers import config_validation as cv, device_registry as dr
from homeassistant.helpers.typing import ConfigType

from . import hiding
from .actions.pause import async_setup_pause, forget_pause
from .air.report import async_setup_report
from .air.tree import forget_ducts
from .alarm_issues import clear_all_issues
from .cards.panel import async_setup_panel
from .const import CONF_ACTUATOR, CONF_SWITCH, DOMAIN
from .devices import keep_devices
from .engine import KEEPS_ON, Engine, GatewrightConfigEntry
from .finding.drift import DriftWatch, forget_drift
from .leaving import let_go
from .missing import tell_missing
from .onlooking.mode import is_watching
from .onlooking.watcher import forget_question
from .record.asking import async_setup_asking
from .record.book import store_of
from .record.download import async_setup_downloads
from .services import async_setup_services
from .storage import MemoryStore, take
from .suggestions.suggester import Suggester, forget_suggestions
from .upkeep.store import UpkeepStore
from .voice.sentences import async_setup_sentences
from .walk.issues import clear_issues
from .walk.kept import WalkStore

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
    async_setup_asking(hass)
    if "http" in hass.config.components:
        async_setup_report(hass)
        async_setup_downloads(hass)
    return True


async def async_setup_entry(hass: HomeAssistant, entry: GatewrightConfigEntry) -> bool:
    """Set one system going, where it left off if it ran before."""
    store = MemoryStore(hass, entry.entry_id)
    left = take(hass, entry.entry_id) or await store.load()
    past = await UpkeepStore(hass, entry.entry_id).read()
    engine = entry.runtime_data = Engine(hass, entry, store, left, past)
    keep_devices(hass, entry, engine.layout)
    entry.async_on_unload(engine.stop)
    entry.async_on_unload(entry.add_update_listener(_entry_changed))
    # Before the entities are there: the shop does not wait for them, and they begin
    # with what is the case.
    engine.start()
    entry.async_on_unload(engine.air.stop)
    engine.air.start()
    entry.async_on_unload(await async_setup_pause(engine))
    await engine.record.load()
    await engine.walk.load()
    await hass.config_entries.async_forward_entry_setups(entry, PLATFORMS)
    engine.record.start()
    suggester = Suggester(engine)
    entry.async_on_unload(suggester.stop)
    suggester.start()
    drift = DriftWatch(hass, entry)
    entry.async_on_unload(drift.stop)
    await drift.start()
    return True


async def async_unload_entry(hass: HomeAssistant, entry: GatewrightConfigEntry) -> bool:
    """Let go of a system; a disabled one is stopped, a reloaded one goes on."""
    engine = entry.runtime_data
    if not await hass.config_entries.async_unload_platforms(entry, PLATFORMS):
        return False
    await engine.record.stop()
    engine.stop()
    if entry.disabled_by is None:
        await engine.save()
    else:
        await engine.retire()
    return True


async def async_remove_entry(hass: HomeAssistant, entry: GatewrightConfigEntry) -> None:
    """Stop what still runs for us, and leave no trace."""
    store = MemoryStore(hass, entry.entry_id)
    left = take(hass, entry.entry_id) or await store.load()
    # The gates stay open: the impeller still turns.
    for stored in () if left is None else left.memory.get(KEEPS_ON, ()):
        await let_go(hass, stored)
    hiding.show(
        hass,
        [
            entry.data[CONF_SWITCH],
            *(
                subentry.data[CONF_ACTUATOR]
                for subentry in entry.subentries.values()
                if CONF_ACTUATOR in subentry.data
            ),
        ],
    )
    tell_missing(hass, entry, ())
    clear_all_issues(hass, entry)
    clear_issues(hass, entry)
    forget_ducts(hass, entry)
    forget_question(hass, entry)
    forget_suggestions(hass, entry)
    forget_pause(hass, entry.entry_id)
    await store.remove()
    await UpkeepStore(hass, entry.entry_id).remove()
    await WalkStore(hass, entry.entry_id).remove()
    await store_of(hass, entry.entry_id).async_remove()
    await forget_drift(hass, entry)


async def async_remove_config_entry_device(
    hass: HomeAssistant, entry: GatewrightConfigEntry, device: dr.AnyDeviceEntry
) -> bool:
    """Allow to remove a device only when its machine or gate is gone."""
    known = {entry.entry_id, *entry.subentries}
    return not any(
        domain == DOMAIN and identifier in known
        for domain, identifier in device.identifiers
    )


async def _entry_changed(hass: HomeAssistant, entry: GatewrightConfigEntry) -> None:
    """Take up a change without a reload: a running collector is not disturbed.

    Only to begin or end to watch is to begin anew, from rest.
    """
    if is_watching(entry.data) is (entry.runtime_data.watcher is None):
        hass.config_entries.async_schedule_reload(entry.entry_id)
        return
    entry.runtime_data.replan()
