"""References to entities that survive a rename.

A registered entity is stored by the id of its registry entry, which does not
change when its entity id does. Anything else (a template without a unique id)
is stored by its entity id.
"""

from homeassistant.core import HomeAssistant, valid_entity_id
from homeassistant.helpers import entity_registry as er


def to_stored(hass: HomeAssistant, entity_id: str) -> str:
    """Return what to store for an entity that somebody picked."""
    entry = er.async_get(hass).async_get(entity_id)
    return entity_id if entry is None else entry.id


def to_entity_id(hass: HomeAssistant, stored: str) -> str | None:
    """Return the entity id a stored reference stands for now.

    None when the registry entry has been removed.
    """
    registry = er.async_get(hass)
    if entry := registry.async_get(stored):
        return entry.entity_id
    return stored if valid_entity_id(stored) else None


def relay_beside(hass: HomeAssistant, entity_id: str) -> str | None:
    """Return the switch of the device that an entity belongs to, if it has just one.

    That is the relay of a metering plug; a device with several switches may measure
    anything.
    """
    registry = er.async_get(hass)
    entry = registry.async_get(entity_id)
    if entry is None or entry.device_id is None:
        return None
    switches = [
        other.entity_id
        for other in er.async_entries_for_device(registry, entry.device_id)
        if other.domain == "switch" and other.entity_category is None
    ]
    return switches[0] if len(switches) == 1 else None
