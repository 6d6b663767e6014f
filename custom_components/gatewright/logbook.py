"""Describes starts, stops and alarms for the logbook, in Home Assistant's language."""

from collections.abc import Callable
from typing import Any

from homeassistant.components.logbook import (
    LOGBOOK_ENTRY_ICON,
    LOGBOOK_ENTRY_MESSAGE,
    LOGBOOK_ENTRY_NAME,
)
from homeassistant.const import ATTR_NAME
from homeassistant.core import Event, HomeAssistant, callback

from .const import DOMAIN
from .core.control.enums import Cause
from .runtime.events import EVENT_ALARM, EVENT_SWITCHING
from .runtime.old_names.table import CAUSES
from .texts.spoken_texts import SpokenTexts
from .texts.texts import Texts

type Described = Callable[[Event[dict[str, Any]]], dict[str, str]]

_LOGBOOK = "logbook"
"""The list of its texts; the logbook may ask for them from a thread of its own."""


@callback
def async_describe_events(
    hass: HomeAssistant,
    async_describe_event: Callable[[str, str, Described], None],
) -> None:
    """Describe our events for the logbook."""

    @callback
    def switching(event: Event[dict[str, Any]]) -> dict[str, str]:
        data = event.data
        machines = data["machines"]
        # Events recorded before version 0.2 have the old names.
        key = CAUSES.get(data["cause"], data["cause"])
        if key == Cause.MACHINE and len(machines) > 1:
            key = "machines"
        spoken = SpokenTexts(hass, hass.config.language)
        message = Texts.cached(hass)(
            _LOGBOOK, key, machines=spoken.join(machines or [""])
        )
        return {
            LOGBOOK_ENTRY_NAME: data[ATTR_NAME],
            LOGBOOK_ENTRY_MESSAGE: message,
            LOGBOOK_ENTRY_ICON: "mdi:fan" if data["on"] else "mdi:fan-off",
        }

    @callback
    def alarm(event: Event[dict[str, Any]]) -> dict[str, str]:
        data = event.data
        key = "alarm_raised" if data["raised"] else "alarm_cleared"
        return {
            LOGBOOK_ENTRY_NAME: data[ATTR_NAME],
            LOGBOOK_ENTRY_MESSAGE: Texts.cached(hass)(
                _LOGBOOK, key, title=data["title"]
            ),
            LOGBOOK_ENTRY_ICON: "mdi:alert" if data["raised"] else "mdi:check",
        }

    async_describe_event(DOMAIN, EVENT_SWITCHING, switching)
    async_describe_event(DOMAIN, EVENT_ALARM, alarm)
