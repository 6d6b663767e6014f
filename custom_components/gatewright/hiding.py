"""Keeps the wrapped actuators out of the way, as the hub's own wrapper helper does.

A relay that stands beside our entity under the same spoken name would be switched
by voice past the sequence. It is hidden, never disabled, and shown again when it is no
longer ours. What the owner hid is left alone.
"""

from collections.abc import Iterable

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er


def hide(hass: HomeAssistant, entity_ids: Iterable[str]) -> None:
    """Hide entities that are not hidden yet."""
    registry = er.async_get(hass)
    for entity_id in entity_ids:
        entry = registry.async_get(entity_id)
        if entry is not None and not entry.hidden:
            registry.async_update_entity(
                entity_id, hidden_by=er.RegistryEntryHider.INTEGRATION
            )


def unhide(hass: HomeAssistant, entity_ids: Iterable[str]) -> None:
    """Show entities again that `hide` has hidden."""
    registry = er.async_get(hass)
    for entity_id in entity_ids:
        entry = registry.async_get(entity_id)
        if entry is not None and entry.hidden_by is er.RegistryEntryHider.INTEGRATION:
            registry.async_update_entity(entity_id, hidden_by=None)
