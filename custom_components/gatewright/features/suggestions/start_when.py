"""Asks the owner of an older system, once, whether the collector waits for its gate.

Before this choice existed, it always waited. Such a system may have pipe that can't
bear suction behind a closed gate, so only the owner decides.
"""

from dataclasses import replace
from typing import Any

from homeassistant.components.repairs import RepairsFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ...core.config import GateKind, StartWhen
from ...runtime.entry_data import read_system, update_entry
from ...runtime.issues import delete_issue, raise_issue
from ...runtime.system_context import SystemContext

ISSUE = "start_when"
"""The id prefix of the issue, and the key of its texts."""


@callback
def ask_start_when(system: SystemContext) -> None:
    """Ask if nothing was chosen and a gate is driven; otherwise delete the question."""
    hass, entry = system.hass, system.entry
    gates = system.layout.system.gates
    driven = any(gate.kind is GateKind.POWERED for gate in gates)
    if read_system(entry).timing.start_when is not None or not driven:
        forget_start_when(hass, entry)
        return
    raise_issue(
        hass,
        _issue_id(entry),
        ISSUE,
        {"system": entry.title},
        data={"what": ISSUE, "entry_id": entry.entry_id},
    )


@callback
def forget_start_when(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Delete the question."""
    delete_issue(hass, _issue_id(entry))


class StartWhenFlow(RepairsFlow):
    """Explains both choices, and stores the chosen one."""

    def __init__(self, entry: ConfigEntry[Any]) -> None:
        self._entry = entry

    async def async_step_init(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Ask."""
        if read_system(self._entry).timing.start_when is not None:
            return self.async_create_entry(data={})
        return self.async_show_menu(
            step_id="init",
            menu_options=[choice.value for choice in StartWhen],
            description_placeholders={"system": self._entry.title},
        )

    async def async_step_gate_opening(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Have the collector start while the gate opens."""
        return self._choose(StartWhen.GATE_OPENING)

    async def async_step_gate_open(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Have the collector wait for the gate, as it did."""
        return self._choose(StartWhen.GATE_OPEN)

    def _choose(self, choice: StartWhen) -> RepairsFlowResult:
        system = read_system(self._entry)
        timing = replace(system.timing, start_when=choice)
        update_entry(self.hass, self._entry, replace(system, timing=timing))
        return self.async_create_entry(data={})


def _issue_id(entry: ConfigEntry[Any]) -> str:
    return f"{ISSUE}_{entry.entry_id}"
