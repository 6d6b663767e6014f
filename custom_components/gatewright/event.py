"""Events: alarms, raised once and cleared once, in words; days and weeks that are over."""

from typing import Any, override

from homeassistant.components.event import EventEntity
from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback
from homeassistant.helpers.entity_platform import AddConfigEntryEntitiesCallback

from .announce import AlarmNews
from .descriptions import EventDescription, Fire
from .engine import GatewrightConfigEntry
from .entity import GatewrightEntity, add_entities
from .record.event import SUMMARY
from .subjects import CollectorSubject

PARALLEL_UPDATES = 0

RAISED = "raised"
CLEARED = "cleared"


def _alarms(collector: CollectorSubject, fire: Fire) -> CALLBACK_TYPE:
    def told(news: AlarmNews) -> None:
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

    return collector.engine.announcer.listen(told)


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
    """Add the events of a system: its alarms, and days and weeks that are over."""
    add_entities(entry.runtime_data, async_add_entities, EVENTS, GatewrightEvent)


class GatewrightEvent(GatewrightEntity, EventEntity):
    """Something that happens to a part; written when it does, and only then."""

    entity_description: EventDescription[Any]

    @override
    async def async_added_to_hass(self) -> None:
        """Wait for it."""
        await super().async_added_to_hass()
        listen = self.entity_description.listen_fn
        self.async_on_remove(listen(self.subject, self._happened))

    @callback
    def _happened(self, event_type: str, attributes: dict[str, Any]) -> None:
        self._trigger_event(event_type, attributes)
        self.async_write_ha_state()
