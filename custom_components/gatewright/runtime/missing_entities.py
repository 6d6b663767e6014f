"""Raises repairs for machines and gates that lost an entity or a gate."""

from collections.abc import Iterable

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from .config_loader import MissingEntity
from .issues import keep_errors


@callback
def report_missing(
    hass: HomeAssistant, entry: ConfigEntry, missing: Iterable[MissingEntity]
) -> None:
    """Raise an issue for each loss, and delete those that were resolved."""
    prefix = f"missing_{entry.entry_id}_"
    issues = {
        f"{prefix}{loss.part}_{loss.what}": (
            f"missing_{loss.what}",
            {"name": loss.name, "system": entry.title},
        )
        for loss in missing
    }
    keep_errors(hass, prefix, issues)
