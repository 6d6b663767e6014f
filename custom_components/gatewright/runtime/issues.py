"""Our issues among the repairs: those of one kind have ids that begin alike."""

from collections.abc import Container, Mapping

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir

from ..const import DOMAIN


@callback
def delete_issues(
    hass: HomeAssistant, prefix: str, *, but: Container[str] = ()
) -> None:
    """Delete our issues whose ids begin so, `but` some."""
    for domain, issue_id in list(ir.async_get(hass).issues):
        if domain == DOMAIN and issue_id.startswith(prefix) and issue_id not in but:
            ir.async_delete_issue(hass, DOMAIN, issue_id)


@callback
def keep_errors(
    hass: HomeAssistant, prefix: str, wanted: Mapping[str, tuple[str, dict[str, str]]]
) -> None:
    """Have these issues, and no others whose ids begin so: errors to mend elsewhere.

    Each has the key of its text and what fills the text's gaps, by its id.
    """
    delete_issues(hass, prefix, but=wanted)
    for issue_id, (key, placeholders) in wanted.items():
        ir.async_create_issue(
            hass,
            DOMAIN,
            issue_id,
            is_fixable=False,
            severity=ir.IssueSeverity.ERROR,
            translation_key=key,
            translation_placeholders=placeholders,
        )


@callback
def ignored_issues(hass: HomeAssistant) -> set[str]:
    """Return the ids of our issues that were ignored."""
    return {
        issue_id
        for (domain, issue_id), issue in ir.async_get(hass).issues.items()
        if domain == DOMAIN and issue.dismissed_version is not None
    }
