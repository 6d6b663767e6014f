"""Our issues among the repairs: those of one kind have ids that begin alike."""

from collections.abc import Container

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir

from .const import DOMAIN


@callback
def take_back(hass: HomeAssistant, prefix: str, *, but: Container[str] = ()) -> None:
    """Delete our issues whose ids begin so, `but` some."""
    for domain, issue_id in list(ir.async_get(hass).issues):
        if domain == DOMAIN and issue_id.startswith(prefix) and issue_id not in but:
            ir.async_delete_issue(hass, DOMAIN, issue_id)
