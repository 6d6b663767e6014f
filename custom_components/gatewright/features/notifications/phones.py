"""Sends a message to one phone, or to any other notifier."""

import asyncio
from typing import Final

from homeassistant.const import ATTR_ENTITY_ID
from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import device_registry as dr, entity_registry as er
from homeassistant.util import slugify

from ...runtime.entity_references import to_entity_id
from .message import Message

_NOTIFY: Final = "notify"
_APP: Final = "mobile_app"
_PATIENCE: Final = 20.0
"""The longest time for sending, in s."""


class PhoneGoneError(HomeAssistantError):
    """Raised for a phone that Home Assistant no longer has."""


@callback
def app_action(hass: HomeAssistant, entity_id: str) -> str | None:
    """Return the notify action of a phone with the app, which takes buttons and tags.

    None for a notifier that takes only a title and a text.
    """
    entry = er.async_get(hass).async_get(entity_id)
    if entry is None or entry.platform != _APP or entry.device_id is None:
        return None
    device = dr.async_get(hass).async_get(entry.device_id)
    action = f"{_APP}_{slugify(device.name if device else '')}"
    return action if hass.services.has_service(_NOTIFY, action) else None


@callback
def is_ready(hass: HomeAssistant, stored: str) -> bool:
    """Return whether what a phone is reached by is there yet."""
    entity_id = to_entity_id(hass, stored)
    if entity_id is None:
        return False
    entry = er.async_get(hass).async_get(entity_id)
    if entry is not None and entry.platform == _APP:
        return app_action(hass, entity_id) is not None
    return hass.states.get(entity_id) is not None


async def send(hass: HomeAssistant, stored: str, message: Message, sender: str) -> None:
    """Send a message; `sender` is the system's name.

    Raises whatever the phone's integration raises, and `TimeoutError`.
    """
    entity_id = to_entity_id(hass, stored)
    if entity_id is None or not _is_there(hass, entity_id):
        raise PhoneGoneError(stored)
    action = app_action(hass, entity_id)
    if action is not None:
        data = message.for_app(sender)
    elif not message.text:
        # It can't be withdrawn.
        return
    else:
        action = "send_message"
        data = {
            ATTR_ENTITY_ID: entity_id,
            "title": message.title,
            "message": message.text,
        }
    async with asyncio.timeout(_PATIENCE):
        await hass.services.async_call(_NOTIFY, action, data, blocking=True)


def _is_there(hass: HomeAssistant, entity_id: str) -> bool:
    return (
        hass.states.get(entity_id) is not None
        or er.async_get(hass).async_get(entity_id) is not None
    )
