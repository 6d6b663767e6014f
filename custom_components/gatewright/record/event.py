"""A day or a week is over: an event to automate on."""

from typing import override

from homeassistant.components.event import EventEntity
from homeassistant.core import callback

from ..engine import Engine
from ..entity import CollectorEntity
from ..old_names.shown import shown_data
from ..shop.record.summary import Period
from .book import SummaryNews


class SummaryEvent(CollectorEntity, EventEntity):
    """What was done on the day, or in the week, that is over."""

    _attr_translation_key = "summary"

    def __init__(self, engine: Engine) -> None:
        """Belong to the collector."""
        super().__init__(engine, "summary")

    @property
    @override
    def event_types(self) -> list[str]:
        return [Period.DAY, Period.WEEK]

    @override
    async def async_added_to_hass(self) -> None:
        """Follow the record."""
        await super().async_added_to_hass()
        self.async_on_remove(self.engine.record.read(self._over))

    @callback
    def _over(self, news: SummaryNews) -> None:
        found = news.summary
        shop = found["shop"]
        # The whole is on the bus, and the action returns it any time.
        told = {
            "text": found["text"],
            "first_day": found["first_day"],
            "last_day": found["last_day"],
            "run_time": round(shop["run_time"], 1),
            "collecting_time": round(shop["collecting_time"], 1),
            "collected_share": None
            if shop["collected_share"] is None
            else round(100 * shop["collected_share"], 1),
            "starts": found["collector"]["starts"],
            "alarms": sum(row["times"] for row in found["alarms"]),
        }
        self._trigger_event(news.period.value, shown_data(self.engine.entry, told))
        self.async_write_ha_state()

    @callback
    @override
    def _part_changed(self) -> None:
        """Show nothing new: an event is written when it happens."""
