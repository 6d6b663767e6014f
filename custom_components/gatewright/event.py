"""Events: alarms, raised once and cleared once, in words; days and weeks that are over."""

from typing import override

from homeassistant.components.event import EventEntity
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .announce import AlarmNews
from .engine import GatewrightConfigEntry
from .entity import CollectorEntity, add_entities
from .old_names.shown import shown_data
from .record.event import SummaryEvent

PARALLEL_UPDATES = 0

RAISED = "raised"
CLEARED = "cleared"


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add the events of a system: its alarms, and days and weeks that are over."""
    add_entities(
        entry.runtime_data,
        async_add_entities,
        collector=lambda engine: [AlarmEvent(engine, "alarm"), SummaryEvent(engine)],
    )


class AlarmEvent(CollectorEntity, EventEntity):
    """An alarm of the system or one of its parts was raised or cleared."""

    _attr_translation_key = "alarm"

    @property
    @override
    def event_types(self) -> list[str]:
        return [RAISED, CLEARED]

    @override
    async def async_added_to_hass(self) -> None:
        """Follow the alarms."""
        await super().async_added_to_hass()
        self.async_on_remove(self.engine.announcer.listen(self._told))

    @callback
    def _told(self, news: AlarmNews) -> None:
        told = {
            "alarm": news.kind.value,
            "part": news.part,
            "title": news.text.title,
            "text": news.text.description,
            "occurrence": news.occurrence,
        }
        self._trigger_event(
            RAISED if news.raised else CLEARED, shown_data(self.engine.entry, told)
        )
        self.async_write_ha_state()

    @callback
    @override
    def _part_changed(self) -> None:
        """Show nothing new: an event is written when it happens."""
