"""References to the hub's entities that survive a rename.

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
