"""Reports to Home Assistant what one system did: starts, stops and alarms.

They go to the event bus, and from there to the logbook; alarms also to our event entity
and, if they need work, to the repairs.
"""

from collections.abc import Callable
import logging
from typing import Any, NamedTuple

from homeassistant.config_entries import ConfigEntry
from homeassistant.const import ATTR_DEVICE_ID, ATTR_ENTITY_ID, ATTR_NAME, Platform
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from ..const import DOMAIN
from ..core.config import COLLECTOR
from ..core.control.alarms import AlarmKind, Condition
from ..core.control.enums import HAND
from ..core.control.shop import ShopControl
from ..texts.alarm_texts import AlarmText, alarm_text
from .alarm_issues import clear_all_issues, clear_issue, tell_issue
from .alarm_occurrences import Occurrences
from .devices import collector_device_id
from .entity_references import to_entity_id
from .listeners import Listeners
from .old_names.shown import shown_data

_LOGGER = logging.getLogger(__name__)

EVENT_SWITCHING = f"{DOMAIN}_switching"
EVENT_ALARM = f"{DOMAIN}_alarm"


class AlarmNews(NamedTuple):
    """A raised or cleared alarm, with its texts."""

    raised: bool
    kind: AlarmKind
    part: str
    text: AlarmText
    occurrence: str
    condition: Condition


class EventReporter:
    """Reports to Home Assistant what one system did."""

    def __init__(
        self, hass: HomeAssistant, entry: ConfigEntry, shop: ShopControl
    ) -> None:
        self._hass = hass
        self._entry = entry
        self._shop = shop
        self._listeners = Listeners[[AlarmNews]]("An alarm cannot be reported")
        self.listen = self._listeners.add
        """Calls a listener for every alarm raised or cleared; returns how to remove
        it."""
        self._also: list[Callable[[str], str | None]] = []
        self.details: dict[str, str] = {}
        self.occurrences = Occurrences()

    def name_also(self, also: Callable[[str], str | None]) -> None:
        """Ask `also` for the names of parts that are neither gates nor machines."""
        self._also.append(also)

    @callback
    def recall(self) -> None:
        """Raise the issues of the alarms that were active before a restart."""
        clear_all_issues(self._hass, self._entry)
        for condition in self._shop.alarms.standing:
            self._update_issue(condition)

    @callback
    def begin_anew(self, condition: Condition) -> None:
        """Begin another occurrence of an active alarm.

        Somebody has acted on it, which works once; or its cause came back before it was
        cleared.
        """
        if condition in self._shop.alarms.standing:
            self.occurrences.begin(condition)
            self._update_issue(condition)

    @callback
    def retire(self) -> None:
        """Delete what Home Assistant shows of the alarms."""
        clear_all_issues(self._hass, self._entry)

    @callback
    def tell(self) -> None:
        """Report everything since the last call."""
        for switching in self._shop.sequence.drain_switchings():
            self._fire(
                EVENT_SWITCHING,
                {
                    "on": switching.on,
                    "cause": switching.cause.value,
                    "machines": [
                        self.name(machine)
                        for machine in switching.machines
                        if machine != HAND
                    ],
                },
            )
        for change in self._shop.alarms.drain():
            self._report_alarm(change.condition, raised=change.raised)

    def text(self, condition: Condition, language: str | None = None) -> AlarmText:
        """Return the texts of an alarm; in another language only if it's loaded."""
        names = self._placeholders(condition)
        return alarm_text(self._hass, condition.kind, names, language)

    def name(self, part: str) -> str:
        """Return the name that the owner gave a part of the system."""
        if part == COLLECTOR:
            return self._entry.title
        if (subentry := self._entry.subentries.get(part)) is not None:
            return subentry.title
        if (name := self.also_name(part)) is not None:
            return name
        # A linked device goes by its entity's name.
        entity_id = to_entity_id(self._hass, part) or part
        state = self._hass.states.get(entity_id)
        return entity_id if state is None else state.name

    def also_name(self, part: str) -> str | None:
        """Return the name of a part that is neither a gate nor a machine."""
        names = (also(part) for also in self._also)
        return next((name for name in names if name is not None), None)

    def _report_alarm(self, condition: Condition, *, raised: bool) -> None:
        text = self.text(condition)
        name = self.name(condition.part)
        _LOGGER.info(
            "%s: alarm %s of %s %s",
            self._entry.title,
            condition.kind.value,
            name,
            "raised" if raised else "cleared",
        )
        occurrence = self.occurrences.of(condition)
        if raised:
            self._update_issue(condition)
        else:
            self.occurrences.end(condition)
            clear_issue(self._hass, self._entry, condition)
        self._fire(
            EVENT_ALARM,
            {
                "raised": raised,
                "kind": condition.kind.value,
                "part": name,
                "title": text.title,
                "occurrence": occurrence,
            },
        )
        news = AlarmNews(raised, condition.kind, name, text, occurrence, condition)
        self._listeners.call(news)

    def _update_issue(self, condition: Condition) -> None:
        tell_issue(
            self._hass,
            self._entry,
            condition,
            self._placeholders(condition),
            self.occurrences.of(condition),
        )

    def _placeholders(self, condition: Condition) -> dict[str, str]:
        return {
            "part": self.name(condition.part),
            "system": self._entry.title,
            "detail": self.details.get(condition.part, ""),
        }

    def _fire(self, event: str, data: dict[str, Any]) -> None:
        registry = er.async_get(self._hass)
        unique_id = f"{self._entry.entry_id}_collector"
        self._hass.bus.async_fire(
            event,
            {
                "entry_id": self._entry.entry_id,
                ATTR_NAME: self._entry.title,
                ATTR_DEVICE_ID: collector_device_id(self._hass, self._entry),
                # A logbook card finds only events with an entity.
                ATTR_ENTITY_ID: registry.async_get_entity_id(
                    Platform.SWITCH, DOMAIN, unique_id
                ),
                **shown_data(self._entry, data),
            },
        )
