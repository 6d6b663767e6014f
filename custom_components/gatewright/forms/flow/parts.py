"""Stored data as parts of a plan, so that the core can check a form's result."""

from collections.abc import Iterable, Mapping
from typing import Any

from homeassistant.config_entries import ConfigEntry

from ...const import CONF_GATES
from ...core.config import (
    CollectorConfig,
    ConfigProblem,
    GateConfig,
    LinkedDeviceConfig,
    MachineConfig,
    find_problems,
)
from ...core.stored.parts import StoredGate, StoredMachine, StoredPart
from ...runtime.entry_data import read_parts

NEW_PART = "new"
"""The id of the edited gate or machine while it isn't stored."""


def gate_part(gate_id: str, data: Mapping[str, Any]) -> GateConfig:
    """Return a gate as the core's configuration."""
    return StoredGate.from_form(data, part_id=gate_id, name=gate_id).plan()


def machine_part(machine_id: str, data: Mapping[str, Any]) -> MachineConfig:
    """Return a machine as the core's configuration."""
    return StoredMachine.from_form(data, part_id=machine_id, name=machine_id).plan()


def gate_parts(entry: ConfigEntry) -> dict[str, GateConfig]:
    """Return a system's gates as the core's configuration, by their ids."""
    found = read_parts(entry, StoredGate)
    # An unreadable gate still exists, and may be used.
    return {
        i: found[i].plan() if i in found else GateConfig(gate_id=i, name=i)
        for i in _ids(entry, StoredGate)
    }


def machine_parts(entry: ConfigEntry) -> dict[str, MachineConfig]:
    """Return a system's machines as the core's configuration, by their ids."""
    found = read_parts(entry, StoredMachine)
    return {
        i: found[i].plan() if i in found else _unread_machine(i, entry)
        for i in _ids(entry, StoredMachine)
    }


def _ids(entry: ConfigEntry, kind: type[StoredPart]) -> list[str]:
    parts = entry.get_subentries_of_type(kind.SUBENTRY_TYPE)
    return [part.subentry_id for part in parts]


def _unread_machine(machine_id: str, entry: ConfigEntry) -> MachineConfig:
    """Return a machine with nothing but the gates that it uses."""
    gates = entry.subentries[machine_id].data.get(CONF_GATES)
    known = tuple(gates) if isinstance(gates, list) else ()
    return MachineConfig(machine_id=machine_id, name=machine_id, gates=known)


def machine_problems(
    gates: Iterable[GateConfig], machine: MachineConfig
) -> list[ConfigProblem]:
    """Return the core's problems with a machine in a shop with these gates."""
    found = find_problems(
        CollectorConfig(name=""),
        tuple(gates),
        (machine,),
        tuple(
            LinkedDeviceConfig(linked_device_id=c, name=c)
            for c in machine.linked_devices
        ),
    )
    return [problem for problem in found if problem.part == machine.machine_id]


def unused_gates(
    gates: Iterable[GateConfig],
    machines: Iterable[MachineConfig],
    hand_gates: Iterable[str],
) -> set[str]:
    """Return the gates that no machine uses."""
    found = find_problems(
        CollectorConfig(name="", hand_gates=tuple(hand_gates)),
        tuple(gates),
        tuple(machines),
    )
    return {problem.part for problem in found if problem.code == "gate_without_machine"}
