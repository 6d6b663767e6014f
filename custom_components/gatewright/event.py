"""Events: alarms raised and cleared, and days and weeks that are over."""

from typing import Any, override

from homeassistant.components.event import EventEntity
from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .entity import GatewrightEntity, add_entities
from .features.entities.descriptions import EventDescription, Fire
from .features.entities.subjects import CollectorSubject
from .features.statistics.event import SUMMARY
from .runtime.events import AlarmNews
from .runtime.old_names.shown import shown_data
from .runtime.system_context import GatewrightConfigEntry, system_of

PARALLEL_UPDATES = 0

RAISED = "raised"
CLEARED = "cleared"


def _alarms(collector: CollectorSubject, fire: Fire) -> CALLBACK_TYPE:
    def changed(news: AlarmNews) -> None:
        fire(
            RAISED if news.raised else CLEARED,
            {
                "alarm": news.kind.value,
                "part": news.part,
                "title": news.text.title,
                "text": news.text.description,
                "occurrence": news.occurrence,
            },
        )

    return collector.system.announcer.listen(changed)


EVENTS: tuple[EventDescription[Any], ...] = (
    EventDescription(
        key="alarm",
        part=CollectorSubject,
        event_types=[RAISED, CLEARED],
        listen_fn=_alarms,
    ),
    SUMMARY,
)


async def async_setup_entry(
    hass: HomeAssistant,
    entry: GatewrightConfigEntry,
    async_add_entities: AddConfigEntryEntitiesCallback,
) -> None:
    """Add a system's events."""
    await add_entities(system_of(entry), async_add_entities, EVENTS, GatewrightEvent)


class GatewrightEvent(GatewrightEntity, EventEntity):
    """An event of a part; its state is written only when the event happens."""

    entity_description: EventDescription[Any]

    @override
    async def async_added_to_hass(self) -> None:
        """Subscribe to the event."""
        await super().async_added_to_hass()
        listen = self.entity_description.listen_fn
        self.async_on_remove(listen(self.subject, self._happened))

    @callback
    def _happened(self, event_type: str, attributes: dict[str, Any]) -> None:
        shown = shown_data(self.subject.entry, attributes)
        self._trigger_event(event_type, shown)
        self.async_write_ha_state()
