"""Raises a repair for uses of old names, and drops the names when there are none."""

from datetime import datetime, timedelta
from typing import Final, override

from homeassistant.components.repairs import ConfirmRepairFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntry
from homeassistant.core import Event, HomeAssistant, callback
from homeassistant.helpers.event import async_track_time_interval
from homeassistant.helpers.start import async_at_started
from homeassistant.util.hass_dict import HassKey

from ...const import DOMAIN
from ...texts.texts import Texts
from ..issues import delete_issue, raise_issue
from ..timer import Timer
from .places import find_uses
from .shown import CONF_OLD_NAMES, shows_old

ISSUE: Final = "old_names"
"""The issue's id, and its translation key while old states are shown."""

LEFT: Final = "old_names_left"
"""Its translation key when the new states are shown."""

_EVENTS: Final = ("automation_reloaded", "lovelace_updated")
_SOON: Final = 2.0
_AGAIN: Final = timedelta(hours=6)
"""How often to search what reports no changes, such as a script."""

_CALLED: HassKey[dict[str, str]] = HassKey(f"{DOMAIN}_called_by_old_name")
_NOTICE: HassKey[Notice] = HassKey(f"{DOMAIN}_old_names")


@callback
def note_call(hass: HomeAssistant, old: str, new: str) -> None:
    """Note a call by an old name, whose source may not be found anywhere."""
    called = hass.data.setdefault(_CALLED, {})
    if old not in called:
        called[old] = new
        if (notice := hass.data.get(_NOTICE)) is not None:
            notice.look_soon()


@callback
def async_setup_notice(hass: HomeAssistant) -> None:
    """Search for old names after startup, and after each change."""
    hass.data[_NOTICE] = Notice(hass)


@callback
def show_new_names(hass: HomeAssistant) -> None:
    """Show the new names in all systems."""
    for entry in _old_systems(hass):
        data = {key: kept for key, kept in entry.data.items() if key != CONF_OLD_NAMES}
        hass.config_entries.async_update_entry(entry, data=data)


class Notice:
    """Searches for uses of old names."""

    def __init__(self, hass: HomeAssistant) -> None:
        self._hass = hass
        self._timer = Timer(hass, "gatewright old names", self._look)
        async_at_started(hass, self._started)

    @callback
    def _started(self, hass: HomeAssistant) -> None:
        for event in _EVENTS:
            hass.bus.async_listen(event, self._changed)
        async_track_time_interval(hass, self._later, _AGAIN, cancel_on_shutdown=True)
        self.look_soon()

    @callback
    def look_soon(self) -> None:
        """Search once nothing has changed for a moment."""
        self._timer.arm(_SOON)

    @callback
    def _changed(self, _event: Event) -> None:
        self.look_soon()

    @callback
    def _later(self, _now: datetime) -> None:
        self.look_soon()

    @callback
    def _look(self) -> None:
        self._hass.async_create_background_task(self.look(), "gatewright old names")

    async def look(self) -> None:
        """Raise the repair, or delete it and show the new names."""
        hass = self._hass
        if not hass.config_entries.async_entries(DOMAIN):
            delete_issue(hass, ISSUE)
            return
        found = await find_uses(hass)
        known = {name for use in found.uses for name in use.names}
        elsewhere = hass.data.setdefault(_CALLED, {})
        for name in known & elsewhere.keys():
            # It was called from there, and may be changed before the next search.
            del elsewhere[name]
        if found.whole and not found.uses:
            show_new_names(hass)
        old = bool(_old_systems(hass))
        lines = [
            f"- {linked(use.name, use.address)}: {_told(use.names)}"
            for use in found.uses
        ]
        texts = Texts.cached(hass)
        if elsewhere:
            lines.append(f"- {texts(ISSUE, 'elsewhere')}: {_told(elsewhere)}")
        if old and not found.whole:
            lines.append(f"- {texts(ISSUE, 'not_searched')}")
        if not lines:
            delete_issue(hass, ISSUE)
            return
        raise_issue(
            hass,
            ISSUE,
            ISSUE if old else LEFT,
            {"uses": "\n".join(lines)},
            data={"what": ISSUE},
            fixable=old,
        )


class OldNamesFlow(ConfirmRepairFlow):
    """Lists the uses of old names, and shows the new names once they were changed."""

    @override
    async def async_step_confirm(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Show the new names, and search again."""
        if user_input is not None:
            show_new_names(self.hass)
            if (notice := self.hass.data.get(_NOTICE)) is not None:
                notice.look_soon()
        return await super().async_step_confirm(user_input)


def _old_systems(hass: HomeAssistant) -> list[ConfigEntry]:
    return [e for e in hass.config_entries.async_entries(DOMAIN) if shows_old(e)]


def linked(name: str, address: str | None) -> str:
    """Return the name of something that the owner wrote, linked if possible."""
    plain = name.replace("[", "(").replace("]", ")")
    return f"`{plain}`" if address is None else f"[{plain}]({address})"


def _told(names: dict[str, str]) -> str:
    return ", ".join(f"`{old}` → `{new}`" for old, new in names.items())
