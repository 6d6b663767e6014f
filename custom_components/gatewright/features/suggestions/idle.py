"""Suggests an open idle position for the gate that is most often needed next."""

from dataclasses import dataclass, replace
from typing import Any, override

from homeassistant.components.repairs import ConfirmRepairFlow, RepairsFlowResult
from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ...core.config import GateConfig, GateKind, IdlePosition
from ...core.statistics.next_machine import (
    LEAST_SAVED,
    NextMachine,
    most_often_next,
    saved_by_idling_open,
)
from ...core.stored.parts import StoredGate
from ...runtime.entry_data import read_part, update_entry
from ...runtime.issues import delete_issues, ignored_issues, raise_issue
from ...runtime.system_context import SystemContext
from ...texts.texts import Texts
from ..statistics.manager import StatisticsManager

ISSUE = "idle_open"
"""The id prefix of the issue, and the key of its texts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Idea:
    """The machine most often used next, its gates, and the s that they would save."""

    next: NextMachine
    gates: tuple[str, ...]
    saved: float


@callback
def suggest_idle(system: SystemContext) -> None:
    """Raise an issue if a gate had better idle open, unless it was ignored once."""
    hass, entry = system.hass, system.entry
    ignored = ignored_issues(hass)
    idea = _find(system)
    issue_id = "" if idea is None else _issue_id(entry, idea.next.machine_id)
    # An ignored issue stays, or it would be raised again as a new one.
    delete_issues(hass, _prefix(entry), but=ignored | {issue_id})
    if idea is None or issue_id in ignored:
        return
    raise_issue(
        hass,
        issue_id,
        ISSUE,
        _words(system, idea),
        data={
            "what": ISSUE,
            "entry_id": entry.entry_id,
            "machine": idea.next.machine_id,
        },
    )


@callback
def forget_idle(
    hass: HomeAssistant, entry: ConfigEntry[Any], *, for_good: bool
) -> None:
    """Delete the suggestion; `for_good` also forgets that it was ignored."""
    delete_issues(hass, _prefix(entry), but=() if for_good else ignored_issues(hass))


class IdleFlow(ConfirmRepairFlow):
    """Shows what a gate that idles open would save, and sets it when confirmed."""

    def __init__(self, system: SystemContext, machine_id: str) -> None:
        self._system = system
        self._machine_id = machine_id

    @override
    async def async_step_confirm(
        self, user_input: dict[str, str] | None = None
    ) -> RepairsFlowResult:
        """Set the gates to idle open."""
        idea = _find(self._system)
        if idea is None or idea.next.machine_id != self._machine_id:
            return self.async_abort(reason="gone")
        if user_input is None:
            return self.async_show_form(
                step_id="confirm",
                description_placeholders=_words(self._system, idea),
            )
        entry = self._system.entry
        for gate_id in idea.gates:
            gate = read_part(StoredGate, entry.subentries[gate_id])
            update_entry(
                self.hass, entry, replace(gate, idle_position=IdlePosition.OPEN)
            )
        return self.async_create_entry(data={})


def _find(system: SystemContext) -> _Idea | None:
    """Return the gates that had better idle open; None without any."""
    if system.watching:
        return None
    collector = system.layout.system.collector
    found = most_often_next(
        system.of(StatisticsManager).keeper.record.runs,
        collector.shutoff_delay + collector.spin_down,
        system.sequence.machines,
    )
    if found is None:
        return None
    gates = {gate.gate_id: gate for gate in system.layout.system.gates}
    machine = system.sequence.machines[found.machine_id].plan
    if not machine.collect_while_running:
        return None
    used = [gates[gate] for gate in machine.gates]
    closed = [
        gate for gate in used if gate.rest is IdlePosition.CLOSED and _is_driven(gate)
    ]
    if any(gate.rest is IdlePosition.LEAVE for gate in used) or not closed:
        return None
    strokes = [_stroke(system, gate) for gate in closed]
    known = [stroke for stroke in strokes if stroke is not None]
    if len(known) < len(strokes):
        return None
    spin_up = system.sequence.motor.spin_up
    saved = saved_by_idling_open(collector, spin_up, max(known))
    if saved < LEAST_SAVED:
        return None
    return _Idea(next=found, gates=tuple(gate.gate_id for gate in closed), saved=saved)


def _is_driven(gate: GateConfig) -> bool:
    return gate.kind is GateKind.POWERED


def _stroke(system: SystemContext, gate: GateConfig) -> float | None:
    """Return how long a gate takes to open: measured, or assumed without feedback."""
    travel = system.sequence.gates.travel(gate.gate_id)
    measured = None if travel is None else travel.stroke()
    return gate.travel if measured is None and not gate.feedback else measured


def _words(system: SystemContext, idea: _Idea) -> dict[str, str]:
    entry = system.entry
    texts = Texts.cached(system.hass)
    titles = [entry.subentries[gate].title for gate in idea.gates]
    return {
        "machine": entry.subentries[idea.next.machine_id].title,
        "system": entry.title,
        "gates": texts.join(titles),
        "times": str(idea.next.times),
        "first_runs": str(idea.next.first_runs),
        "saved": texts.seconds(idea.saved),
    }


def _prefix(entry: ConfigEntry[Any]) -> str:
    return f"idle_{entry.entry_id}_"


def _issue_id(entry: ConfigEntry[Any], machine_id: str) -> str:
    return f"{_prefix(entry)}{machine_id}"
