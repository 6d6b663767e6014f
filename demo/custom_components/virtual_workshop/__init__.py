"""A workshop that doesn't exist, with the entities that a real one would have.

Only for the demo and the end-to-end tests. Its world keeps running while Home Assistant
is down, like a real workshop: machines run, an impeller spins down.
"""

import json
from pathlib import Path
from typing import Any

from homeassistant import config_entries
from homeassistant.config_entries import SOURCE_IMPORT, ConfigEntry
from homeassistant.const import EVENT_HOMEASSISTANT_STOP
from homeassistant.core import Event, HomeAssistant, callback
from homeassistant.helpers.typing import ConfigType
import voluptuous as vol

from .const import DOMAIN, PLATFORMS, WORLD_FILE
from .driver import Workshop
from .layouts import build_layout
from .model.layout import LayoutError
from .services import async_setup_services

_RELOAD_DELAY = 1
"""How long Home Assistant waits for more entities to be enabled before it reloads [s]."""

type VirtualWorkshopConfigEntry = ConfigEntry[Workshop]


def _changes(value: Any) -> dict[str, Any]:
    """Check the changes to the standard workshop, and return them as plain data."""
    changes: dict[str, Any] = json.loads(json.dumps(value or {}))
    try:
        build_layout(changes)
    except LayoutError as err:
        raise vol.Invalid(str(err)) from err
    return changes


CONFIG_SCHEMA = vol.Schema({vol.Optional(DOMAIN): _changes}, extra=vol.ALLOW_EXTRA)


async def async_setup(hass: HomeAssistant, config: ConfigType) -> bool:
    """Register the services, and match the config entry to the configuration."""
    async_setup_services(hass)
    _reload_soon(hass)
    if DOMAIN not in config:
        return True
    changes: dict[str, Any] = config[DOMAIN]
    entries = hass.config_entries.async_entries(DOMAIN)
    if entries:
        # Not set up yet at this point, so no reload is needed.
        hass.config_entries.async_update_entry(entries[0], data=changes)
    else:
        hass.async_create_task(
            hass.config_entries.flow.async_init(
                DOMAIN, context={"source": SOURCE_IMPORT}, data=changes
            )
        )
    return True


def _reload_soon(hass: HomeAssistant) -> None:
    """Reload half a minute sooner after the entities for the demo's checks are enabled.

    The delay is Home Assistant's own, for the whole process: another instance in the
    same process, as in the tests, gets the original delay.
    """
    usual = config_entries.RELOAD_AFTER_UPDATE_DELAY

    @callback
    def take_back(_event: Event) -> None:
        config_entries.RELOAD_AFTER_UPDATE_DELAY = usual

    config_entries.RELOAD_AFTER_UPDATE_DELAY = _RELOAD_DELAY
    hass.bus.async_listen_once(EVENT_HOMEASSISTANT_STOP, take_back)


async def async_setup_entry(
    hass: HomeAssistant, entry: VirtualWorkshopConfigEntry
) -> bool:
    """Set up the workshop."""
    layout = build_layout(entry.data)
    workshop = Workshop(hass, layout, Path(hass.config.path(WORLD_FILE)))
    await workshop.async_start()
    entry.runtime_data = workshop
    entry.async_on_unload(workshop.async_stop)
    await hass.config_entries.async_forward_entry_setups(entry, PLATFORMS)
    return True


async def async_unload_entry(
    hass: HomeAssistant, entry: VirtualWorkshopConfigEntry
) -> bool:
    """Unload the workshop; its world continues in the file."""
    return await hass.config_entries.async_unload_platforms(entry, PLATFORMS)
