"""The websocket command that simulates a recorded time."""

from datetime import timedelta
from typing import Any

from homeassistant.components import websocket_api
from homeassistant.core import HomeAssistant
import voluptuous as vol

from ...core.config import ConfigError
from ...runtime.parsing import moment
from ...runtime.permissions import Requester
from ...runtime.system_context import system_of
from ..simulation.manager import CannotSimulateError, period, simulate_system
from ..simulation.response import day_of
from .subscription import system_asked_for

LONGEST = timedelta(days=2)
"""The longest time that a card may ask for: everybody who sees the card can."""

ERR_CANNOT_SIMULATE = "cannot_rehearse"


SIMULATE_FIELDS: dict[Any, Any] = {
    vol.Required("entry_id"): str,
    vol.Required("start"): moment,
    vol.Optional("end"): moment,
}


async def simulate(
    hass: HomeAssistant,
    connection: websocket_api.ActiveConnection,
    msg: dict[str, Any],
    asker: Requester,
) -> None:
    """Simulate a system as it is set up; report only machines that the user may see."""
    if (entry := system_asked_for(asker, connection, msg)) is None:
        return
    try:
        begins, ends = period(msg["start"], msg.get("end"), None)
        found = await simulate_system(
            hass, system_of(entry).described, max(begins, ends - LONGEST), ends
        )
    except CannotSimulateError as err:
        connection.send_error(msg["id"], ERR_CANNOT_SIMULATE, err.why)
        return
    except ConfigError:
        connection.send_error(msg["id"], ERR_CANNOT_SIMULATE, "simulate_bad_settings")
        return
    day = day_of(found)
    day["machines"] = {
        machine: spans
        for machine, spans in day["machines"].items()
        if asker.sees_machine(machine)
    }
    connection.send_result(msg["id"], day)
