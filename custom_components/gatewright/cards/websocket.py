"""The websocket commands of the cards."""

from typing import Any

from homeassistant.components import websocket_api
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant, callback
import voluptuous as vol

from ..const import DOMAIN
from .feed import FEEDS, Feeds, send_absence
from .rehearse import rehearse


@callback
def async_setup_websocket(hass: HomeAssistant, version: str) -> None:
    """Register the commands; a card compares the `version` with its own."""
    hass.data[FEEDS] = Feeds(hass, version)
    websocket_api.async_register_command(hass, _systems)
    websocket_api.async_register_command(hass, _subscribe)
    websocket_api.async_register_command(hass, rehearse)


@websocket_api.websocket_command({vol.Required("type"): "gatewright/systems"})
@callback
def _systems(
    hass: HomeAssistant, connection: websocket_api.ActiveConnection, msg: dict[str, Any]
) -> None:
    """List the systems that the user may see."""
    feeds = hass.data[FEEDS]
    connection.send_result(
        msg["id"],
        [
            {
                "entry_id": entry.entry_id,
                "name": entry.title,
                "loaded": entry.state is ConfigEntryState.LOADED,
            }
            for entry in hass.config_entries.async_entries(DOMAIN)
            if feeds.may_see(connection.user, entry)
        ],
    )


@websocket_api.websocket_command(
    {
        vol.Required("type"): "gatewright/subscribe",
        vol.Optional("entry_id"): str,
    }
)
@callback
def _subscribe(
    hass: HomeAssistant, connection: websocket_api.ActiveConnection, msg: dict[str, Any]
) -> None:
    """Send the picture of a system, by default the first one, and its changes."""
    feeds = hass.data[FEEDS]
    wanted = msg.get("entry_id")
    entries = (
        entry
        for entry in hass.config_entries.async_entries(DOMAIN)
        if wanted in (None, entry.entry_id) and feeds.may_see(connection.user, entry)
    )
    if (entry := next(entries, None)) is None:
        send_absence(connection, msg)
        return

    @callback
    def send(picture: dict[str, Any]) -> None:
        connection.send_message(websocket_api.event_message(msg["id"], picture))

    connection.send_result(msg["id"])
    connection.subscriptions[msg["id"]] = feeds.of(entry).add(connection.user, send)
