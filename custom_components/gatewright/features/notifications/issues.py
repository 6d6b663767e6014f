"""Repairs for phones that couldn't be reached."""

from typing import Any

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ...runtime.entity_references import to_entity_id
from ...runtime.issues import delete_issue, delete_issues, raise_issue


@callback
def raise_unreachable(
    hass: HomeAssistant, entry: ConfigEntry[Any], stored: str
) -> None:
    """Raise the issue of a phone that a message couldn't be sent to."""
    entity_id = to_entity_id(hass, stored) or stored
    state = hass.states.get(entity_id)
    raise_issue(
        hass,
        _issue_id(entry, stored),
        "phone_unreachable",
        {
            "phone": entity_id if state is None else state.name,
            "system": entry.title,
        },
    )


@callback
def clear_unreachable(
    hass: HomeAssistant, entry: ConfigEntry[Any], stored: str
) -> None:
    """Delete the issue of a phone."""
    delete_issue(hass, _issue_id(entry, stored))


@callback
def forget_phones(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Delete the issues of all phones."""
    delete_issues(hass, _prefix(entry))


def _prefix(entry: ConfigEntry[Any]) -> str:
    return f"phone_{entry.entry_id}_"


def _issue_id(entry: ConfigEntry[Any], stored: str) -> str:
    return f"{_prefix(entry)}{stored}"
