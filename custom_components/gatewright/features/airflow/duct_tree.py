"""Keeps the duct tree whole when the owner removes a duct.

Home Assistant can't veto the removal of a subentry. Whatever flowed into the removed
duct then flows into the next one downstream, and a repair notifies the owner.
"""

from collections.abc import Container
from typing import Any

from homeassistant.config_entries import ConfigEntry, ConfigSubentry
from homeassistant.core import HomeAssistant, callback

from ...const import CONF_DUCT, CONF_INTO, SUBENTRY_DUCT, SUBENTRY_GATE
from ...runtime.issues import delete_issues, raise_issue
from ...runtime.system_context import SystemContext

_FIELDS = {SUBENTRY_DUCT: CONF_INTO, SUBENTRY_GATE: CONF_DUCT}
"""The field that names the duct a part is on."""


class Tree:
    """The ducts of one system as last seen."""

    def __init__(self, system: SystemContext) -> None:
        self._system = system
        self._into: dict[str, str | None] = {}
        self._titles: dict[str, str] = {}

    @callback
    def mend(self) -> None:
        """Reconnect what a removed duct left behind."""
        entry = self._system.entry
        ducts = {d.subentry_id: d for d in entry.get_subentries_of_type(SUBENTRY_DUCT)}
        moved: dict[str, list[str]] = {}
        changes: list[tuple[ConfigSubentry, dict[str, Any]]] = []
        for part in entry.subentries.values():
            field = _FIELDS.get(part.subentry_type)
            at = None if field is None else part.data.get(field)
            if field is None or not isinstance(at, str) or at in ducts:
                continue
            moved.setdefault(at, []).append(part.title)
            data = {key: value for key, value in part.data.items() if key != field}
            if (following := self._following(at, ducts)) is not None:
                data[field] = following
            changes.append((part, data))
        for at, titles in moved.items():
            self._report_removed(at, titles, self._following(at, ducts))
        self._into = {duct: ducts[duct].data.get(CONF_INTO) for duct in ducts}
        self._titles |= {duct: ducts[duct].title for duct in ducts}
        # Each update triggers this listener again before it returns.
        for part, data in changes:
            self._system.hass.config_entries.async_update_subentry(
                entry, part, data=data
            )

    def _following(self, duct: str, ducts: Container[str]) -> str | None:
        """Return the first remaining duct downstream of a removed one."""
        following = self._into.get(duct)
        while following is not None and following not in ducts:
            following = self._into.get(following)
        return following

    def _report_removed(
        self, duct: str, titles: list[str], following: str | None
    ) -> None:
        entry = self._system.entry
        into = entry.title if following is None else entry.subentries[following].title
        raise_issue(
            self._system.hass,
            f"{_prefix(entry)}{duct}",
            "duct_removed",
            {
                "system": entry.title,
                "duct": self._titles.get(duct, "–"),
                "parts": ", ".join(sorted(titles)),
                "into": into,
            },
        )


@callback
def forget_ducts(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Delete the duct repairs of a removed system."""
    delete_issues(hass, _prefix(entry))


def _prefix(entry: ConfigEntry[Any]) -> str:
    return f"duct_removed_{entry.entry_id}_"
