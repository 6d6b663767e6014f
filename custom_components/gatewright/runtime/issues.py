"""Our issues among the repairs; those of one kind share an id prefix."""

from collections.abc import Container, Mapping
from typing import Final

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import issue_registry as ir

from ..const import DOMAIN

ERROR: Final = ir.IssueSeverity.ERROR


@callback
def raise_issue(
    hass: HomeAssistant,
    issue_id: str,
    key: str,
    placeholders: dict[str, str],
    *,
    data: dict[str, str | float | None] | None = None,
    fixable: bool | None = None,
    persistent: bool = False,
    severity: ir.IssueSeverity = ir.IssueSeverity.WARNING,
) -> None:
    """Raise an issue, or renew it; one with `data` is fixable by default.

    `key` is its translation key, with the text's `placeholders`.
    """
    ir.async_create_issue(
        hass,
        DOMAIN,
        issue_id,
        data=data,
        is_fixable=data is not None if fixable is None else fixable,
        is_persistent=persistent,
        severity=severity,
        translation_key=key,
        translation_placeholders=placeholders,
    )


@callback
def delete_issue(hass: HomeAssistant, issue_id: str) -> None:
    """Delete an issue, if it was raised."""
    ir.async_delete_issue(hass, DOMAIN, issue_id)


@callback
def delete_issues(
    hass: HomeAssistant, prefix: str, *, but: Container[str] = ()
) -> None:
    """Delete our issues with this id prefix, `but` some."""
    for domain, issue_id in list(ir.async_get(hass).issues):
        if domain == DOMAIN and issue_id.startswith(prefix) and issue_id not in but:
            ir.async_delete_issue(hass, DOMAIN, issue_id)


@callback
def keep_errors(
    hass: HomeAssistant, prefix: str, wanted: Mapping[str, tuple[str, dict[str, str]]]
) -> None:
    """Keep exactly these issues with an id prefix: errors to fix elsewhere.

    By issue id, each has its translation key and placeholders.
    """
    delete_issues(hass, prefix, but=wanted)
    for issue_id, (key, placeholders) in wanted.items():
        raise_issue(hass, issue_id, key, placeholders, severity=ERROR)


@callback
def ignored_issues(hass: HomeAssistant) -> set[str]:
    """Return the ids of our ignored issues."""
    return {
        issue_id
        for (domain, issue_id), issue in ir.async_get(hass).issues.items()
        if domain == DOMAIN and issue.dismissed_version is not None
    }
