"""A day or a week is over: an event to automate on."""

from typing import override

from homeassistant.components.event import EventEntity
from homeassistant.core import callback

from ..entity import CollectorEntity
from ..record.book import RecordBook
from ..shop.record.summary import Period
from ..system_context import SystemContext
from .book import SummaryNews


class SummaryEvent(CollectorEntity, EventEntity):
    """What was done on the day, or in the week, that is over."""

    _attr_translation_key = "summary"

    def __init__(self, system: SystemContext) -> None:
        """Belong to the collector."""
        super().__init__(system, "summary")

    @property
    @override
    def event_types(self) -> list[str]:
        return [Period.DAY, Period.WEEK]

    @override
    async def async_added_to_hass(self) -> None:
        """Follow the record."""
        await super().async_added_to_hass()
        self.async_on_remove(self.system.of(RecordBook).read(self._over))

    @callback
    def _over(self, news: SummaryNews) -> None:
        found = news.summary
        shop = found["shop"]
        # The whole is on the bus, and the action returns it any time.
        self._trigger_event(
            news.period.value,
            {
                "text": found["text"],
                "first_day": found["first_day"],
                "last_day": found["last_day"],
                "run_time": round(shop["run_time"], 1),
                "air_time": round(shop["air_time"], 1),
                "coverage": None
                if shop["coverage"] is None
                else round(100 * shop["coverage"], 1),
                "starts": found["collector"]["starts"],
                "alarms": sum(row["times"] for row in found["alarms"]),
            },
        )
        self.async_write_ha_state()

    @callback
    @override
    def _part_changed(self) -> None:
        """Show nothing new: an event is written when it happens."""
