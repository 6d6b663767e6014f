"""Which machines a new gate is for.

From the first gate on, every machine needs one: the collector no longer simply runs
with the machines.
"""

from collections.abc import Iterable, Mapping
from typing import Any, override

from homeassistant.config_entries import ConfigEntry, ConfigSubentry
from homeassistant.core import HomeAssistant

from ...const import CONF_GATES, CONF_PURGE, SUBENTRY_MACHINE
from ...core.config import GateConfig
from ..field import Answers, FormContext
from ..kinds import PartsField
from .part_steps import machine_names
from .parts import gate_parts, machine_part, machine_problems
from .purge import steps_left

CONF_USERS = "machines"

_LACKING = ("machine_without_gates", "clearing_without_gates")
_NEW = GateConfig(gate_id="", name="")


def machines_lacking(entry: ConfigEntry) -> list[str]:
    """Return the machines that need another gate once the shop has one."""
    return _lacking(entry, [*gate_parts(entry).values(), _NEW])


def _machines_for_new(context: FormContext) -> Mapping[str, str]:
    return machine_names(context.entry) if context.entry and context.new else {}


class UsersField(PartsField):
    """The machines that a new gate is for: at least those that need one now."""

    faults = ("machines_without_gates",)

    @override
    def begin(self, context: FormContext) -> list[str]:
        return machines_lacking(context.entry) if context.entry else []

    @override
    def load(self, context: FormContext) -> list[str]:
        return []

    @override
    def dump(self, answers: Answers) -> list[str]:
        chosen = super().dump(answers)
        names = self.names(answers.context)
        if not names:
            return chosen
        entry = answers.context.system
        before = _lacking(entry, gate_parts(entry).values())
        for machine in machines_lacking(entry):
            if machine not in chosen and machine not in before:
                answers.refuse(self.key, "machines_without_gates", names[machine])
        return chosen


USERS = UsersField(
    CONF_USERS, names=_machines_for_new, unknown="unknown_machine", stored=False
)


def add_gate(
    hass: HomeAssistant, entry: ConfigEntry, gate: ConfigSubentry, users: Iterable[str]
) -> None:
    """Add a gate to a system, and to the machines that use it."""
    gates = gate_parts(entry)
    # The machines first: a missing gate is ignored, but a machine without a gate in a
    # shop with gates would lose its dust collection for a moment.
    for machine_id in users:
        machine = entry.subentries[machine_id]
        hass.config_entries.async_update_subentry(
            entry, machine, data=_with_gate(machine.data, gate.subentry_id, gates)
        )
    hass.config_entries.async_add_subentry(entry, gate)


def _lacking(entry: ConfigEntry, gates: Iterable[GateConfig]) -> list[str]:
    """Return the machines that need a gate in a shop with these."""
    gates = list(gates)
    present = gate_parts(entry)
    return [
        machine.subentry_id
        for machine in entry.get_subentries_of_type(SUBENTRY_MACHINE)
        if any(
            problem.code in _LACKING
            for problem in machine_problems(
                gates,
                machine_part(machine.subentry_id, _present(machine.data, present)),
            )
        )
    ]


def _present(
    data: Mapping[str, Any], gates: Mapping[str, GateConfig]
) -> dict[str, Any]:
    """Return a machine's data without removed gates."""
    steps = data.get(CONF_PURGE, ())
    return {
        **data,
        CONF_GATES: [gate for gate in data[CONF_GATES] if gate in gates],
        # In a shop without gates a step runs only the collector.
        CONF_PURGE: steps_left(steps, gates)
        if gates
        else [{**step, CONF_GATES: []} for step in steps],
    }


def _with_gate(
    data: Mapping[str, Any], gate_id: str, gates: Mapping[str, GateConfig]
) -> dict[str, Any]:
    """Return a machine's data with one more gate, also in purge steps without one."""
    present = _present(data, gates)
    return {
        **present,
        CONF_GATES: [*present[CONF_GATES], gate_id],
        CONF_PURGE: [
            {**step, CONF_GATES: step[CONF_GATES] or [gate_id]}
            for step in present[CONF_PURGE]
        ],
    }
