"""The repair that gives a machine the figures that fit what it does now."""

from typing import Any, override

from homeassistant.components.repairs import ConfirmRepairFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntry
from homeassistant.helpers import issue_registry as ir

from ..const import (
    CONF_CERTAIN,
    CONF_SENSOR,
    CONF_UNIT,
    DOMAIN,
)
from .drift import issue_of
from .look import FIGURES, without_stale_certain


class DriftFlow(ConfirmRepairFlow):
    """Shows the old and the new figures, and takes the new ones on a confirmation."""

    def __init__(self, entry: ConfigEntry[Any], figures: dict[str, Any]) -> None:
        """Be about the machine of an issue; `figures` is the issue's data."""
        self._entry = entry
        self._figures = figures

    @override
    async def async_step_confirm(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Take the new figures."""
        machine_id = self._figures["machine"]
        machine = self._entry.subentries.get(machine_id)
        if (
            machine is None
            or CONF_UNIT not in machine.data
            or machine.data.get(CONF_SENSOR) != self._figures[CONF_SENSOR]
            or any(
                machine.data.get(name) != self._figures[f"was_{name}"]
                for name in FIGURES
                if f"was_{name}" in self._figures
            )
        ):
            return self.async_abort(reason="gone")
        if user_input is None:
            issue = ir.async_get(self.hass).async_get_issue(
                DOMAIN, issue_of(self._entry, machine_id)
            )
            placeholders = issue.translation_placeholders if issue else None
            return self.async_show_form(
                step_id="confirm", description_placeholders=placeholders
            )
        figures = {name: self._figures[name] for name in FIGURES}
        if CONF_CERTAIN in self._figures:
            figures[CONF_CERTAIN] = self._figures[CONF_CERTAIN]
        data = without_stale_certain({**machine.data, **figures})
        self.hass.config_entries.async_update_subentry(self._entry, machine, data=data)
        return self.async_create_entry(data={})
