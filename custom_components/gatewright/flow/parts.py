"""Stored data as parts of a plan, so that the core can judge what a form would store."""

from collections.abc import Iterable, Mapping
from typing import Any

from homeassistant.config_entries import ConfigEntry

from ..const import (
    CONF_CERTAIN,
    CONF_CLEARING,
    CONF_COMPANIONS,
    CONF_DURATION,
    CONF_GATE_KIND,
    CONF_GATES,
    CONF_GRACE,
    CONF_HOLD,
    CONF_KIND,
    CONF_NEEDS_AIR,
    CONF_REQUEST_LIMIT,
    CONF_START,
    CONF_START_SETTLE,
    CONF_STOP,
    CONF_STOP_SETTLE,
    SUBENTRY_GATE,
    SUBENTRY_MACHINE,
)
from ..shop.kinds import MachineKind
from ..shop.plan import (
    SIGNAL_LEVELS,
    ClearingStep,
    Collector,
    Companion,
    Gate,
    GateKind,
    Levels,
    Machine,
    Problem,
    find_problems,
)

NEW_PART = "new"
"""The id of the gate or machine in a form, while it is not stored yet."""


def gate_part(gate_id: str, data: Mapping[str, Any]) -> Gate:
    """Return a gate as the core knows it."""
    return Gate(gate_id=gate_id, name=gate_id, kind=GateKind(data[CONF_GATE_KIND]))


def machine_part(machine_id: str, data: Mapping[str, Any]) -> Machine:
    """Return a machine as the core knows it."""
    levels = None
    if CONF_GRACE in data:
        levels = Levels(
            start=data.get(CONF_START, SIGNAL_LEVELS.start),
            stop=data.get(CONF_STOP, SIGNAL_LEVELS.stop),
            start_settle=data[CONF_START_SETTLE],
            stop_settle=data[CONF_STOP_SETTLE],
            grace=data[CONF_GRACE],
            certain=data.get(CONF_CERTAIN),
        )
    return Machine(
        machine_id=machine_id,
        name=machine_id,
        kind=MachineKind(data[CONF_KIND]),
        gates=tuple(data[CONF_GATES]),
        levels=levels,
        needs_air=data[CONF_NEEDS_AIR],
        hold=data[CONF_HOLD],
        clearing=tuple(
            ClearingStep(gates=tuple(step[CONF_GATES]), duration=step[CONF_DURATION])
            for step in data[CONF_CLEARING]
        ),
        companions=tuple(data[CONF_COMPANIONS]),
        request_limit=data.get(CONF_REQUEST_LIMIT),
    )


def gate_parts(entry: ConfigEntry) -> dict[str, Gate]:
    """Return a system's gates as the core knows them, by their ids."""
    return {
        gate.subentry_id: gate_part(gate.subentry_id, gate.data)
        for gate in entry.get_subentries_of_type(SUBENTRY_GATE)
    }


def machine_parts(entry: ConfigEntry) -> dict[str, Machine]:
    """Return a system's machines as the core knows them, by their ids."""
    return {
        machine.subentry_id: machine_part(machine.subentry_id, machine.data)
        for machine in entry.get_subentries_of_type(SUBENTRY_MACHINE)
    }


def machine_problems(gates: Iterable[Gate], machine: Machine) -> list[Problem]:
    """Return what the core finds wrong with a machine in a shop with these gates."""
    found = find_problems(
        Collector(name=""),
        tuple(gates),
        (machine,),
        tuple(Companion(companion_id=c, name=c) for c in machine.companions),
    )
    return [problem for problem in found if problem.part == machine.machine_id]


def unused_gates(
    gates: Iterable[Gate], machines: Iterable[Machine], hand_gates: Iterable[str]
) -> set[str]:
    """Return the gates that no machine uses."""
    found = find_problems(
        Collector(name="", hand_gates=tuple(hand_gates)), tuple(gates), tuple(machines)
    )
    return {problem.part for problem in found if problem.code == "gate_without_machine"}
