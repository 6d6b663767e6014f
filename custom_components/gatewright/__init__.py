"""Gatewright runs a workshop's dust extraction."""

from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import STATE_ON, Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers import config_validation as cv, device_registry as dr
from homeassistant.helpers.typing import ConfigType

from . import hiding
from .const import CONF_ACTUATOR, CONF_SWITCH, DOMAIN, SUBENTRY_GATE
from .devices import keep_devices
from .engine import Engine, GatewrightConfigEntry, switch_off
from .entities import to_entity_id
from .missing import tell_missing
from .shop.words import Phase
from .storage import MemoryStore, take

CONFIG_SCHEMA = cv.config_entry_only_config_schema(DOMAIN)

PLATFORMS = [
    Platform.BINARY_SENSOR,
    Platform.COVER,
    Platform.SELECT,
    Platform.SENSOR,
    Platform.SWITCH,
]


async def async_setup(hass: HomeAssistant, config: ConfigType) -> bool:
    """Set up what all systems share."""
    return True


async def async_setup_entry(hass: HomeAssistant, entry: GatewrightConfigEntry) -> bool:
    """Set one system going, where it left off if it ran before."""
    store = MemoryStore(hass, entry.entry_id)
    engine = Engine(hass, entry, store)
    if handover := take(hass, entry.entry_id):
        engine.remember(handover.memory, handover.at)
    elif memory := await store.load():
        engine.remember(memory, None)
    entry.runtime_data = engine
    keep_devices(hass, entry, engine.layout)
    entry.async_on_unload(entry.add_update_listener(_entry_changed))
    await hass.config_entries.async_forward_entry_setups(entry, PLATFORMS)
    engine.start()
    return True


async def async_unload_entry(hass: HomeAssistant, entry: GatewrightConfigEntry) -> bool:
    """Let go of a system; a disabled one is stopped, a reloaded one goes on."""
    engine = entry.runtime_data
    unloaded = await hass.config_entries.async_unload_platforms(entry, PLATFORMS)
    if not unloaded:
        return False
    engine.stop()
    await engine.save()
    if entry.disabled_by is not None:
        _stop_collector(hass, entry, wanted=engine.sequence.collector_wanted)
    return True


async def async_remove_entry(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Stop the collector if it still runs for us, and leave no trace."""
    store = MemoryStore(hass, entry.entry_id)
    left = take(hass, entry.entry_id)
    memory = left.memory if left is not None else await store.load()
    running = memory is not None and memory["phase"] in (
        Phase.COLLECTING,
        Phase.RUN_ON,
    )
    # The gates stay open: the impeller still turns.
    _stop_collector(hass, entry, wanted=running)
    wrapped = [
        entry.data[CONF_SWITCH],
        *(
            subentry.data[CONF_ACTUATOR]
            for subentry in entry.subentries.values()
            if subentry.subentry_type == SUBENTRY_GATE
            and CONF_ACTUATOR in subentry.data
        ),
    ]
    hiding.unhide(
        hass,
        [found for ref in wrapped if (found := to_entity_id(hass, ref)) is not None],
    )
    tell_missing(hass, entry, ())
    await store.remove()


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
    """Take up a change without a reload: a running collector is not disturbed."""
    entry.runtime_data.replan()


def _stop_collector(
    hass: HomeAssistant, entry: ConfigEntry[Any], *, wanted: bool
) -> None:
    entity_id = to_entity_id(hass, entry.data[CONF_SWITCH])
    state = None if entity_id is None else hass.states.get(entity_id)
    if (
        wanted
        and entity_id is not None
        and state is not None
        and state.state == STATE_ON
    ):
        switch_off(hass, entity_id)
