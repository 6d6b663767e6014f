"""Holds a system's look at its parts until all of them are written."""

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
    """Whether a system's parts are just being written."""
    return entry_id in hass.data.get(_HELD, ())


@contextmanager
def held(hass: HomeAssistant, entry: GatewrightConfigEntry) -> Iterator[None]:
    """Have a system look at its parts once, after all of them are written.

    Half of them would be ducts that lead into nothing.
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
