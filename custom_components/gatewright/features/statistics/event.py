"""The event of a finished day or week, for automations."""

from homeassistant.core import CALLBACK_TYPE

from ...core.statistics.summary import Period
from ..entities.descriptions import DISABLED, EventDescription, Fire
from ..entities.subjects import CollectorSubject
from .manager import SummaryNews


def _summaries(collector: CollectorSubject, fire: Fire) -> CALLBACK_TYPE:
    def over(news: SummaryNews) -> None:
        found = news.summary
        shop = found["shop"]
        # The complete summary is on the event bus, and the action returns it at any
        # time.
        fire(
            news.period.value,
            {
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
            },
        )

    return collector.statistics.read(over)


SUMMARY = EventDescription(
    key="summary",
    # A trigger that needs it enables it.
    **DISABLED,
    part=CollectorSubject,
    event_types=[Period.DAY, Period.WEEK],
    listen_fn=_summaries,
)
