"""Buttons: what was done to bin, filter and collector."""

from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .entity import add_entities
from .system_context import GatewrightConfigEntry, system_of
from .upkeep.buttons import upkeep_buttons

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the buttons of one system."""
    add_entities(system_of(entry), async_add_entities, collector=upkeep_buttons)
