"""Hides the wrapped actuators, like Home Assistant's own wrapper helper.

A relay beside our entity under the same spoken name could be turned on by voice, past
the sequence. It's hidden and removed from the assistants, never disabled, and restored
when it's no longer ours. What the owner hides or shows is left alone.
"""

from collections.abc import Iterable

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er

from .assist_names import conceal, reveal
from .entity_references import to_entity_id


class WrappedEntities:
    """Hides what one system wraps, each entity once."""

    def __init__(self, hass: HomeAssistant, hidden: Iterable[str] = ()) -> None:
        self._hass = hass
        self._hidden = dict.fromkeys(hidden)

    @property
    def hidden(self) -> list[str]:
        """The stored references that were hidden, whatever the owner did later."""
        return list(self._hidden)

    def keep(self, wrapped: Iterable[str]) -> None:
        """Hide these stored references, and show those that are no longer wrapped."""
        wanted = dict.fromkeys(wrapped)
        show(self._hass, self._hidden.keys() - wanted.keys())
        registry = er.async_get(self._hass)
        before, self._hidden = self._hidden, {}
        for stored in wanted:
            entity_id = to_entity_id(self._hass, stored)
            entry = None if entity_id is None else registry.async_get(entity_id)
            if entry is None:
                continue  # Not registered (yet): nothing to hide.
            if stored not in before and not entry.hidden:
                if not conceal(self._hass, entry.entity_id):
                    continue  # Retried at the next load.
                registry.async_update_entity(
                    entry.entity_id, hidden_by=er.RegistryEntryHider.INTEGRATION
                )
            self._hidden[stored] = None


def show(hass: HomeAssistant, stored: Iterable[str]) -> None:
    """Show the entities behind stored references, unless their owner hid them."""
    registry = er.async_get(hass)
    for reference in stored:
        entity_id = to_entity_id(hass, reference)
        entry = None if entity_id is None else registry.async_get(entity_id)
        if entry and entry.hidden_by is er.RegistryEntryHider.INTEGRATION:
            registry.async_update_entity(entry.entity_id, hidden_by=None)
            reveal(hass, entry.entity_id)
