"""Takes up a system that version 0.1.0 has set up: its entities get their new keys.

Entity ids, names, areas and all that was recorded stay as they are.
"""

from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from .shown import CONF_OLD_NAMES
from .table import ENTITIES

MINOR_VERSION = 2
"""The first version of a config entry whose entities have the new keys."""


@callback
def migrate(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Take up a system; it shows the old names until it's known whether they are used."""
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
