"""Writes changed settings into a config entry; a form does that itself."""

from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from .stored import StoredPart, StoredSystem


@callback
def update_entry(
    hass: HomeAssistant, entry: ConfigEntry[Any], changed: StoredSystem | StoredPart
) -> None:
    """Store a system or a part of it that was read from the entry and then changed."""
    if isinstance(changed, StoredPart):
        hass.config_entries.async_update_subentry(
            entry, entry.subentries[changed.part_id], data=changed.to_data()
        )
    else:
        hass.config_entries.async_update_entry(entry, data=changed.to_data())
