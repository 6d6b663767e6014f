"""The websocket commands of the cards."""

from typing import Any

from homeassistant.components import websocket_api
from homeassistant.config_entries import ConfigEntryState
from homeassistant.core import HomeAssistant, callback
import voluptuous as vol

from ...const import DOMAIN
from ...runtime.permissions import Permission, Requester, register_command
from .simulate import SIMULATE_FIELDS, simulate
from .subscription import FEEDS, Subscriptions, send_absence


@callback
def async_setup_websocket(hass: HomeAssistant, version: str) -> None:
    """Register the commands; a card compares the `version` with its own."""
    hass.data[FEEDS] = Subscriptions(hass, version)
    register_command(hass, "systems", {}, _systems, deed=Permission.READ)
    register_command(
        hass,
        "subscribe",
        {vol.Optional("entry_id"): str},
        _subscribe,
        deed=Permission.READ,
    )
    register_command(hass, "rehearse", SIMULATE_FIELDS, simulate, deed=Permission.READ)


@callback
def _systems(
    hass: HomeAssistant,
    connection: websocket_api.ActiveConnection,
    msg: dict[str, Any],
    asker: Requester,
) -> None:
    """List the systems that the user may see."""
    connection.send_result(
        msg["id"],
        [
            {
                "entry_id": entry.entry_id,
                "name": entry.title,
                "loaded": entry.state is ConfigEntryState.LOADED,
            }
            for entry in hass.config_entries.async_entries(DOMAIN)
            if asker.sees(entry)
        ],
    )


@callback
def _subscribe(
    hass: HomeAssistant,
    connection: websocket_api.ActiveConnection,
    msg: dict[str, Any],
    asker: Requester,
) -> None:
    """Send a system's snapshot, by default the first system's, and its changes."""
    feeds = hass.data[FEEDS]
    wanted = msg.get("entry_id")
    entries = (
        entry
        for entry in hass.config_entries.async_entries(DOMAIN)
        if wanted in (None, entry.entry_id) and asker.sees(entry)
    )
    if (entry := next(entries, None)) is None:
        send_absence(connection, msg)
        return

    @callback
    def send(picture: dict[str, Any]) -> None:
        connection.send_message(websocket_api.event_message(msg["id"], picture))

    connection.send_result(msg["id"])
    connection.subscriptions[msg["id"]] = feeds.of(entry).add(asker, send)
