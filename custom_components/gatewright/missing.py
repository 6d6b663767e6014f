"""Tells the owner which machine or gate has lost an entity or a gate it needs."""

from collections.abc import Iterable

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from .issues import keep_errors
from .planning import Missing


@callback
def tell_missing(
    hass: HomeAssistant, entry: ConfigEntry, missing: Iterable[Missing]
) -> None:
    """Raise a repair issue for each loss, and take back those that are mended."""
    prefix = f"missing_{entry.entry_id}_"
    issues = {
        f"{prefix}{loss.part}_{loss.what}": (
            f"missing_{loss.what}",
            {"name": loss.name, "system": entry.title},
        )
        for loss in missing
    }
    keep_errors(hass, prefix, issues)
