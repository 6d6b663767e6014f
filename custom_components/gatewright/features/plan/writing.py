"""Delays a system's update until all of its parts are written."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from homeassistant.core import HomeAssistant, callback
from homeassistant.util.hass_dict import HassKey

from ...const import DOMAIN

if TYPE_CHECKING:
    from ...runtime.system_context import GatewrightConfigEntry

_HELD: Final[HassKey[set[str]]] = HassKey(f"{DOMAIN}_plan_held")


@callback
def is_writing(hass: HomeAssistant, entry_id: str) -> bool:
    """Return whether a system's parts are being written."""
    return entry_id in hass.data.get(_HELD, ())


@contextmanager
def held(hass: HomeAssistant, entry: GatewrightConfigEntry) -> Iterator[None]:
    """Update a system once, after all of its parts are written.

    A half-written plan would have ducts that lead nowhere.
    """
    waiting = hass.data.setdefault(_HELD, set())
    waiting.add(entry.entry_id)
    try:
        yield
    finally:
        try:
            entry.runtime_data.replan()
        finally:
            waiting.discard(entry.entry_id)
