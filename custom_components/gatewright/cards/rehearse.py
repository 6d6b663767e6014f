"""The websocket command that returns a time as it would have been."""

from datetime import timedelta
from typing import Any

from homeassistant.components import websocket_api
from homeassistant.core import HomeAssistant
import voluptuous as vol

from ..gatekeeper import Asker
from ..given import moment
from ..rehearsing.answer import day_of
from ..rehearsing.rehearsal import CannotRehearse, period, rehearse_system
from ..shop.plan import PlanError
from ..system_context import system_of
from .feed import system_asked_for

LONGEST = timedelta(days=2)
"""How much a card may ask for: anybody who sees it can."""

ERR_CANNOT_REHEARSE = "cannot_rehearse"


REHEARSE_FIELDS: dict[Any, Any] = {
    vol.Required("entry_id"): str,
    vol.Required("start"): moment,
    vol.Optional("end"): moment,
}


async def rehearse(
    hass: HomeAssistant,
    connection: websocket_api.ActiveConnection,
    msg: dict[str, Any],
    asker: Asker,
) -> None:
    """Rehearse a system as it is set up; of its machines, those the user may see."""
    if (entry := system_asked_for(asker, connection, msg)) is None:
        return
    try:
        begins, ends = period(msg["start"], msg.get("end"), None)
        found = await rehearse_system(
            hass, system_of(entry).described, max(begins, ends - LONGEST), ends
        )
    except CannotRehearse as err:
        connection.send_error(msg["id"], ERR_CANNOT_REHEARSE, err.why)
        return
    except PlanError:
        connection.send_error(msg["id"], ERR_CANNOT_REHEARSE, "rehearse_bad_settings")
        return
    day = day_of(found)
    day["machines"] = {
        machine: spans
        for machine, spans in day["machines"].items()
        if asker.sees_machine(machine)
    }
    connection.send_result(msg["id"], day)
