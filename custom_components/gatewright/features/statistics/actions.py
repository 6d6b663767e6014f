"""The summary on request: an action, and a command for the cards."""

from datetime import date
from typing import Any

from homeassistant.components import websocket_api
from homeassistant.const import ATTR_CONFIG_ENTRY_ID
from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import config_validation as cv
import voluptuous as vol

from ...core.statistics.summary import Period
from ...runtime.errors import validation_error
from ...runtime.parsing import day
from ...runtime.permissions import (
    Permission,
    Requester,
    register_action,
    register_command,
)
from ...runtime.system_context import GatewrightConfigEntry, system_of
from ..cards.subscription import system_asked_for
from .download import downloads
from .manager import StatisticsManager

SERVICE_SUMMARY = "get_summary"

ATTR_PERIOD = "period"
ATTR_DATE = "date"
ATTR_FIRST_DAY = "first_day"
ATTR_LAST_DAY = "last_day"
CUSTOM = "custom"

_ASKED: dict[Any, Any] = {
    vol.Optional(ATTR_PERIOD, default=Period.WEEK.value): vol.In(
        [*(period.value for period in Period), CUSTOM]
    ),
    vol.Optional(ATTR_DATE): day,
    vol.Optional(ATTR_FIRST_DAY): day,
    vol.Optional(ATTR_LAST_DAY): day,
}


@callback
def async_setup_asking(hass: HomeAssistant) -> None:
    """Register the action and the command."""
    register_action(
        hass,
        SERVICE_SUMMARY,
        _summary,
        vol.Schema({vol.Required(ATTR_CONFIG_ENTRY_ID): cv.string, **_ASKED}),
        deed=Permission.READ,
        supports_response=SupportsResponse.ONLY,
    )
    register_command(
        hass,
        "record",
        {vol.Required("entry_id"): str, **_ASKED},
        _record,
        deed=Permission.READ,
    )


@callback
def _summary(call: ServiceCall, asker: Requester) -> ServiceResponse:
    """Return the summary of a day, a week, a month or any range of days."""
    return _asked(asker, asker.system(call.data[ATTR_CONFIG_ENTRY_ID]), call.data)


@callback
def _record(
    hass: HomeAssistant,
    connection: websocket_api.ActiveConnection,
    msg: dict[str, Any],
    asker: Requester,
) -> None:
    """Send a system's summary, and the addresses of its tables."""
    if (entry := system_asked_for(asker, connection, msg)) is None:
        return
    try:
        found = _asked(asker, entry, msg)
    except ServiceValidationError as err:
        connection.send_error(msg["id"], websocket_api.ERR_INVALID_FORMAT, str(err))
        return
    connection.send_result(msg["id"], found)


def _asked(
    asker: Requester, entry: GatewrightConfigEntry, asked: dict[str, Any]
) -> dict[str, Any]:
    """Return the requested summary, and the addresses of the tables."""
    hass = asker.hass
    record = system_of(entry).of(StatisticsManager)
    if asked[ATTR_PERIOD] == CUSTOM:
        first: date | None = asked.get(ATTR_FIRST_DAY)
        last: date | None = asked.get(ATTR_LAST_DAY)
        if first is None or last is None or last < first:
            raise validation_error("days_wrong")
        found = record.summary_of_days(first, last, asker)
    else:
        found = record.summary(Period(asked[ATTR_PERIOD]), asked.get(ATTR_DATE), asker)
    return found | {"downloads": downloads(hass, entry.entry_id)}
