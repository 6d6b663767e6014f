"""The repair that applies new figures to a machine."""

from dataclasses import replace
from typing import Any, override

from homeassistant.components.repairs import ConfirmRepairFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntry
from homeassistant.helpers import issue_registry as ir

from ...const import (
    CONF_CERTAIN,
    CONF_SENSOR,
    CONF_START,
    CONF_START_CONFIRM,
    CONF_STOP,
    CONF_STOP_CONFIRM,
    DOMAIN,
)
from ...core.stored.parts import StoredMachine
from ...runtime.entry_data import read_parts, update_entry
from .evaluation import stored_figures
from .manager import issue_of


class DriftFlow(ConfirmRepairFlow):
    """Shows the old and the new figures, and applies the new ones when confirmed."""

    def __init__(self, entry: ConfigEntry[Any], figures: dict[str, Any]) -> None:
        """Fix the issue of a machine; `figures` is the issue's data."""
        self._entry = entry
        self._figures = figures

    @override
    async def async_step_confirm(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Apply the new figures."""
        machine_id = self._figures["machine"]
        machine = read_parts(self._entry, StoredMachine).get(machine_id)
        if (
            machine is None
            or machine.unit is None
            or machine.sensor != self._figures[CONF_SENSOR]
            or any(
                was != self._figures.get(f"was_{key}", was)
                for key, was in stored_figures(machine).items()
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
        figures = self._figures
        certain = figures.get(CONF_CERTAIN, machine.certain)
        changed = replace(
            machine,
            start=figures[CONF_START],
            stop=figures[CONF_STOP],
            start_confirm=figures[CONF_START_CONFIRM],
            stop_confirm=figures[CONF_STOP_CONFIRM],
            # A level below the start level was found for other levels.
            certain=certain if certain and certain >= figures[CONF_START] else None,
        )
        update_entry(self.hass, self._entry, changed)
        return self.async_create_entry(data={})
