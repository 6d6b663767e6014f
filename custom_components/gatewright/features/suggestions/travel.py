"""Suggests a travel time where a gate's measured strokes differ much from it."""

from dataclasses import replace
from typing import Any, override

from homeassistant.components.repairs import ConfirmRepairFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ...core.calibration.travel_time import TravelProposal, propose_travel
from ...core.config import GateConfig, GateKind
from ...core.stored.parts import StoredGate
from ...runtime.entry_data import read_part, update_entry
from ...runtime.issues import delete_issues, raise_issue
from ...runtime.system_context import SystemContext
from ...texts.texts import Texts

ISSUE = "travel_differs"
"""The id prefix of the issue."""


@callback
def suggest_travel(system: SystemContext) -> None:
    """Raise an issue for each gate whose travel time doesn't fit; delete the others."""
    hass, entry = system.hass, system.entry
    found = {
        gate.gate_id: proposal
        for gate in system.layout.system.gates
        if (proposal := proposal_for(system, gate)) is not None
    }
    delete_issues(hass, _prefix(entry), but={_issue_id(entry, gate) for gate in found})
    for gate_id, proposal in found.items():
        gate = read_part(StoredGate, entry.subentries[gate_id])
        raise_issue(
            hass,
            _issue_id(entry, gate_id),
            proposal.misfit.value,
            _words(hass, entry, gate.name, proposal, gate.travel),
            data={"what": ISSUE, "entry_id": entry.entry_id, "gate": gate_id},
        )


@callback
def forget_travel(hass: HomeAssistant, entry: ConfigEntry[Any]) -> None:
    """Delete every suggestion."""
    delete_issues(hass, _prefix(entry))


def proposal_for(system: SystemContext, gate: GateConfig) -> TravelProposal | None:
    """Return a travel time that fits a gate better; None without one."""
    travel = system.sequence.gates.travel(gate.gate_id)
    if travel is None or gate.kind is not GateKind.POWERED or not gate.feedback:
        return None
    return propose_travel(
        gate.travel, travel.strokes(opening=True), travel.strokes(opening=False)
    )


class TravelFlow(ConfirmRepairFlow):
    """Shows the measured time, and stores it as the travel time when confirmed."""

    def __init__(self, system: SystemContext, gate_id: str) -> None:
        self._system = system
        self._gate_id = gate_id

    @override
    async def async_step_confirm(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Store the proposed time."""
        entry = self._system.entry
        plans = {gate.gate_id: gate for gate in self._system.layout.system.gates}
        plan = plans.get(self._gate_id)
        proposal = None if plan is None else proposal_for(self._system, plan)
        if proposal is None:
            return self.async_abort(reason="gone")
        gate = read_part(StoredGate, entry.subentries[self._gate_id])
        if user_input is None:
            placeholders = _words(self.hass, entry, gate.name, proposal, gate.travel)
            return self.async_show_form(
                step_id="confirm", description_placeholders=placeholders
            )
        update_entry(self.hass, entry, replace(gate, travel=proposal.travel))
        return self.async_create_entry(data={})


def _words(
    hass: HomeAssistant,
    entry: ConfigEntry[Any],
    gate: str,
    proposal: TravelProposal,
    entered: float,
) -> dict[str, str]:
    seconds = Texts.cached(hass).seconds
    return {
        "gate": gate,
        "system": entry.title,
        "longest": seconds(proposal.longest),
        "entered": seconds(entered),
        "travel": seconds(proposal.travel),
    }


def _prefix(entry: ConfigEntry[Any]) -> str:
    return f"travel_{entry.entry_id}_"


def _issue_id(entry: ConfigEntry[Any], gate_id: str) -> str:
    return f"{_prefix(entry)}{gate_id}"
