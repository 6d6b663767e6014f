"""Tells starts, stops and alarms in the logbook, in plain words."""

from collections.abc import Callable
from typing import Any

from homeassistant.components.logbook import (
    LOGBOOK_ENTRY_ICON,
    LOGBOOK_ENTRY_MESSAGE,
    LOGBOOK_ENTRY_NAME,
)
from homeassistant.const import ATTR_NAME
from homeassistant.core import Event, HomeAssistant, callback

from .announce import EVENT_ALARM, EVENT_SWITCHING
from .const import DOMAIN
from .shop.words import Cause

type Described = Callable[[Event[dict[str, Any]]], dict[str, str]]

_SWITCHINGS: dict[Cause, str] = {
    Cause.MACHINE: "started because {machines} {runs}",
    Cause.REQUEST: "started because air was asked for at {machines}",
    Cause.CLEARING: "started to clear {machines}",
    Cause.HAND: "was started by hand",
    Cause.CAME_ON_BY_ITSELF: "came on by itself and is being stopped",
    Cause.RUN_ON_OVER: "stopped: nothing needs air and the duct is empty",
    Cause.LOCKOUT: "stopped: locked out",
    Cause.EMERGENCY: "stopped: emergency",
    Cause.NO_GATE_OPEN: "stopped: no gate is open",
    Cause.STOPPED_BY_HAND: "was stopped by hand",
    Cause.WENT_OFF_BY_ITSELF: "went off by itself",
}


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
        message = _SWITCHINGS[Cause(data["cause"])].format(
            machines=_listed(machines), runs="run" if len(machines) > 1 else "runs"
        )
        return {
            LOGBOOK_ENTRY_NAME: data[ATTR_NAME],
            LOGBOOK_ENTRY_MESSAGE: message,
            LOGBOOK_ENTRY_ICON: "mdi:fan" if data["on"] else "mdi:fan-off",
        }

    @callback
    def alarm(event: Event[dict[str, Any]]) -> dict[str, str]:
        data = event.data
        verb = "alarm" if data["raised"] else "alarm over"
        return {
            LOGBOOK_ENTRY_NAME: data[ATTR_NAME],
            LOGBOOK_ENTRY_MESSAGE: f"{verb}: {data['title']}",
            LOGBOOK_ENTRY_ICON: "mdi:alert" if data["raised"] else "mdi:check",
        }

    async_describe_event(DOMAIN, EVENT_SWITCHING, switching)
    async_describe_event(DOMAIN, EVENT_ALARM, alarm)


def _listed(names: list[str]) -> str:
    """Return names as a person lists them."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
