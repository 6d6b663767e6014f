"""Buttons: report work on the bin, filter and collector as done."""

from typing import Any, override

from homeassistant.components.button import ButtonEntity
from homeassistant.core import HomeAssistant
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .entity import GatewrightEntity, add_entities
from .features.entities.descriptions import ButtonDescription
from .features.maintenance.buttons import BUTTONS
from .runtime.system_context import GatewrightConfigEntry, system_of

PARALLEL_UPDATES = 0


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the buttons of one system."""
    await add_entities(system_of(entry), async_add_entities, BUTTONS, GatewrightButton)


class GatewrightButton(GatewrightEntity, ButtonEntity):
    """A person reports something as done, or asks for it once."""

    entity_description: ButtonDescription[Any]

    @override
    async def async_press(self) -> None:
        """Perform the action."""
        self.entity_description.press_fn(self.subject)
