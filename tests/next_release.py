"""Lets the test plugin run on a later release: `scripts/test --next` loads this first.

Delete it once the plugin has caught up and the pins have moved.
"""

from typing import Any

# It replaces `httpx`, and fails once the old one has been imported.
import homeassistant  # noqa: F401
from homeassistant.components import logger
from homeassistant.components.logger import helpers
from homeassistant.core import Event, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.restore_state import RestoreStateData

# The plugin imports it from its old place.
if not hasattr(logger, "_clear_logger_overwrites"):
    logger._clear_logger_overwrites = helpers._clear_logger_overwrites  # type: ignore[attr-defined,unused-ignore]


def _states(data: Any) -> dict[str, Any]:
    """Return the states of unregistered entities, by the old name."""
    found: dict[str, Any] = data.last_states_by_entity_id
    return found


def _take_states(data: Any, states: dict[str, Any]) -> None:
    """Take the states that a test restores, like a start of Home Assistant."""
    data.last_states_by_entity_id = states
    registered = data._async_entity_registry_entry_created

    @callback
    def created(event: Event[er.EventEntityRegistryUpdatedData]) -> None:
        if event.data["action"] == "create":
            registered(event)

    data.hass.bus.async_listen(er.EVENT_ENTITY_REGISTRY_UPDATED, created)


if "last_states" not in vars(RestoreStateData):
    RestoreStateData.last_states = property(_states, _take_states)  # type: ignore[assignment,attr-defined,unused-ignore]
