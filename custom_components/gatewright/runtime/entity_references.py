"""References to entities that survive a rename.

A registered entity is stored by the id of its registry entry, which does not
change when its entity id does. Anything else (a template without a unique id)
is stored by its entity id.
"""

from itertools import takewhile

from homeassistant.components.sensor import (
    ATTR_STATE_CLASS,
    SensorDeviceClass,
    SensorStateClass,
)
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
    """Return the switch of an entity's device, if it has exactly one.

    That is a metering plug's relay; a device with several switches may measure
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


def energy_beside(hass: HomeAssistant, entity_id: str) -> str | None:
    """Return the energy counter of an entity's device, if it has one.

    Of several, the one whose name has most in common with the entity's: a plug may have
    a reading and a counter for each socket. Yesterday's energy doesn't count.
    """
    registry = er.async_get(hass)
    entry = registry.async_get(entity_id)
    if entry is None or entry.device_id is None:
        return None
    counters = [
        other
        for other in er.async_entries_for_device(registry, entry.device_id)
        if other.domain == "sensor"
        and SensorDeviceClass.ENERGY
        in (other.device_class, other.original_device_class)
        and (other.capabilities or {}).get(ATTR_STATE_CLASS) in _COUNTS
    ]

    def fits(other: er.RegistryEntry) -> tuple[int, int, int, str]:
        pairs = zip(entity_id, other.entity_id, strict=False)
        common = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], pairs))
        growing = (other.capabilities or {})[ATTR_STATE_CLASS] != _COUNTS[0]
        return -common, growing, len(other.entity_id), other.entity_id

    return min(counters, key=fits).entity_id if counters else None


_COUNTS = (SensorStateClass.TOTAL_INCREASING, SensorStateClass.TOTAL)
"""The state classes of a counter, likelier first."""
