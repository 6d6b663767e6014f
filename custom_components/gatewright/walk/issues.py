"""Tells among the repairs what a walk found and nobody has mended yet."""

from collections.abc import Callable, Iterable

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir

from ..const import DOMAIN
from ..issues import take_back
from ..shop.commissioning.findings import Finding
from .report_text import placeholders, translation_key


@callback
def tell_issues(
    hass: HomeAssistant,
    entry: ConfigEntry,
    findings: Iterable[Finding],
    name: Callable[[str], str],
) -> None:
    """Raise an issue for each finding."""
    for found in findings:
        ir.async_create_issue(
            hass,
            DOMAIN,
            f"{_prefix(entry)}{found.part}_{found.kind.value}_{found.about}",
            is_fixable=False,
            severity=ir.IssueSeverity.WARNING,
            translation_key=translation_key(found.kind),
            translation_placeholders={
                **placeholders(hass, found, name),
                "system": entry.title,
            },
        )


@callback
def clear_issues(hass: HomeAssistant, entry: ConfigEntry) -> None:
    """Take back every issue of an entry's walks."""
    take_back(hass, _prefix(entry))


def _prefix(entry: ConfigEntry) -> str:
    return f"walk_{entry.entry_id}_"
