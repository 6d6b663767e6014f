"""Takes back what phones show of a system that is disabled or removed."""

import logging
from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ...const import CONF_PHONES
from .message import Message
from .on_show import OnShow
from .phones import send

_LOGGER = logging.getLogger(__name__)


@callback
def take_back_all(hass: HomeAssistant, entry: ConfigEntry[Any], kept: Any) -> None:
    """Have everything vanish that was on show; `kept` is what was saved of it.

    Nothing waits for the phones, and one that can't be reached is left as it is.
    """
    phones = entry.data.get(CONF_PHONES)
    for tag in OnShow.read(kept).tags.values():
        for stored in phones if isinstance(phones, list) else ():
            hass.async_create_background_task(
                _take_back(hass, str(stored), tag, entry.title),
                "gatewright takes a message back",
            )


async def _take_back(hass: HomeAssistant, stored: str, tag: str, sender: str) -> None:
    try:
        await send(hass, stored, Message(tag=tag), sender)
    except Exception as err:  # noqa: BLE001 - whatever an integration raises
        _LOGGER.warning("%s can't take back a phone's message: %r", sender, err)
