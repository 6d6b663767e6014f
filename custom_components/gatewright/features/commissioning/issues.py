"""Raises repairs for the open results of a system check."""

from collections.abc import Callable, Iterable

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ...core.commissioning.findings import CheckFinding
from ...runtime.issues import delete_issues, raise_issue
from .report_text import placeholders, translation_key


@callback
def raise_issues(
    hass: HomeAssistant,
    entry: ConfigEntry,
    findings: Iterable[CheckFinding],
    name: Callable[[str], str],
) -> None:
    """Raise an issue for each result."""
    for found in findings:
        raise_issue(
            hass,
            f"{_prefix(entry)}{found.part}_{found.kind.value}_{found.about}",
            translation_key(found.kind),
            {
                **placeholders(hass, found, name),
                "system": entry.title,
            },
        )


@callback
def clear_issues(hass: HomeAssistant, entry: ConfigEntry) -> None:
    """Delete all system check issues of an entry."""
    delete_issues(hass, _prefix(entry))


def _prefix(entry: ConfigEntry) -> str:
    return f"walk_{entry.entry_id}_"
