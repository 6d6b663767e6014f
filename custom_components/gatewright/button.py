"""Buttons: what was done to bin, filter and collector."""

from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .engine import GatewrightConfigEntry
from .entity import add_entities
from .upkeep.buttons import upkeep_buttons

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the buttons of one system."""
    add_entities(entry.runtime_data, async_add_entities, collector=upkeep_buttons)
