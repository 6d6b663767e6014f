"""Tells the owner which machine or gate has lost an entity or a gate it needs."""

from collections.abc import Iterable

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir

from .const import DOMAIN
from .issues import take_back
from .planning import Missing


@callback
def tell_missing(
    hass: HomeAssistant, entry: ConfigEntry, missing: Iterable[Missing]
) -> None:
    """Raise a repair issue for each loss, and take back those that are mended."""
    prefix = f"missing_{entry.entry_id}_"
    wanted = {f"{prefix}{loss.part}_{loss.what}": loss for loss in missing}
    take_back(hass, prefix, but=wanted)
    for issue_id, loss in wanted.items():
        ir.async_create_issue(
            hass,
            DOMAIN,
            issue_id,
            is_fixable=False,
            severity=ir.IssueSeverity.ERROR,
            translation_key=f"missing_{loss.what}",
            translation_placeholders={"name": loss.name, "system": entry.title},
        )
