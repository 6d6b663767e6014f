"""Stored data as parts of a plan, so that the core can judge what a form would store."""

from collections.abc import Iterable, Mapping
from typing import Any

from homeassistant.config_entries import ConfigEntry

from ..const import CONF_GATES
from ..entry_data import read_parts
from ..shop.plan import Collector, Companion, Gate, Machine, Problem, find_problems
from ..stored.parts import StoredGate, StoredMachine, StoredPart

NEW_PART = "new"
"""The id of the gate or machine in a form, while it is not stored yet."""


def gate_part(gate_id: str, data: Mapping[str, Any]) -> Gate:
    """Return a gate as the core knows it."""
    return StoredGate.from_form(data, part_id=gate_id, name=gate_id).plan()


def machine_part(machine_id: str, data: Mapping[str, Any]) -> Machine:
    """Return a machine as the core knows it."""
    return StoredMachine.from_form(data, part_id=machine_id, name=machine_id).plan()


def gate_parts(entry: ConfigEntry) -> dict[str, Gate]:
    """Return a system's gates as the core knows them, by their ids."""
    found = read_parts(entry, StoredGate)
    # One that cannot be read is still there, and may be used.
    return {
        i: found[i].plan() if i in found else Gate(gate_id=i, name=i)
        for i in _ids(entry, StoredGate)
    }


def machine_parts(entry: ConfigEntry) -> dict[str, Machine]:
    """Return a system's machines as the core knows them, by their ids."""
    found = read_parts(entry, StoredMachine)
    return {
        i: found[i].plan() if i in found else _unread_machine(i, entry)
        for i in _ids(entry, StoredMachine)
    }


def _ids(entry: ConfigEntry, kind: type[StoredPart]) -> list[str]:
    parts = entry.get_subentries_of_type(kind.SUBENTRY_TYPE)
    return [part.subentry_id for part in parts]


def _unread_machine(machine_id: str, entry: ConfigEntry) -> Machine:
    """Return a machine of which nothing counts but the gates that it uses."""
    gates = entry.subentries[machine_id].data.get(CONF_GATES)
    known = tuple(gates) if isinstance(gates, list) else ()
    return Machine(machine_id=machine_id, name=machine_id, gates=known)


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
