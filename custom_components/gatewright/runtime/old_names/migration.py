"""Migrates a system that was set up with version 0.1.0 to the new unique ids.

Entity ids, names, areas and history stay.
"""

from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from .shown import CONF_OLD_NAMES
from .table import ENTITIES

MINOR_VERSION = 2
"""The first config entry version with the new unique ids."""


@callback
def migrate(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Migrate a system; it shows the old names until their uses are known."""
    registry = er.async_get(hass)
    for known in er.async_entries_for_config_entry(registry, entry.entry_id):
        owner = known.config_subentry_id or entry.entry_id
        key = known.unique_id.removeprefix(f"{owner}_")
        renamed = ENTITIES.get(known.domain, {}).get(key)
        if renamed is None:
            continue
        unique_id = f"{owner}_{renamed}"
        if (
            registry.async_get_entity_id(known.domain, known.platform, unique_id)
            is None
        ):
            registry.async_update_entity(known.entity_id, new_unique_id=unique_id)
    hass.config_entries.async_update_entry(
        entry, data={**entry.data, CONF_OLD_NAMES: True}, minor_version=MINOR_VERSION
    )
