"""What airflow each machine needs, and where the figure comes from."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from ...core.airflow import MACHINES, MATERIALS_CARRIED, Carried
from ...core.airflow.machines import DustSource as Need
from ...core.config import GateKind
from ...core.kinds import MachineKind
from ...core.stored.config import StoredConfig
from ...core.stored.parts import IN_DUCT, StoredGate, StoredMachine

__all__ = ["IN_DUCT"]

USUAL_CARRIED: Final = "sawdust"

OWNER: Final = "owner"
"""Status of a figure that the owner entered."""

NEEDS: Final[Mapping[MachineKind, Need | None]] = MappingProxyType(
    {
        MachineKind.TABLE_SAW: MACHINES["table_saw"],
        MachineKind.BAND_SAW: MACHINES["band_saw"],
        MachineKind.PLANER: MACHINES["planer"],
        MachineKind.JOINTER: MACHINES["jointer"],
        MachineKind.MITER_SAW: MACHINES["miter_saw"],
        MachineKind.DRUM_SANDER: MACHINES["drum_sander"],
        MachineKind.ROUTER_TABLE: MACHINES["router"],
        MachineKind.LATHE: MACHINES["lathe"],
        MachineKind.DRILL_PRESS: MACHINES["drill_press"],
        # A sander of no particular kind counts as a disc sander.
        MachineKind.SANDER: MACHINES["disc_sander"],
        MachineKind.FLOOR_SWEEP: MACHINES["floor_sweep"],
        # A bench hood's need depends on its open face; no figure is usual.
        MachineKind.BENCH_HOOD: None,
        MachineKind.TOOL_HOSE: MACHINES["hand_sander"],
        MachineKind.OTHER: None,
    }
)
"""What the airflow core knows about each kind of machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineNeed:
    """A machine's need, and the figure's source.

    `required` in m3/s (0: unknown), `transport` in m/s. `gates` are its gates in the
    network, `pickups` the openings among them. `placed`: whether all its gates are in
    the network. `status` is `owner`, `read`, `memory`, `practice` or `none`. `purge`
    are the gate sets of its purge steps.
    """

    machine_id: str
    name: str
    gates: frozenset[str]
    pickups: tuple[str, ...]
    placed: bool
    required: float
    status: str
    source: str
    material: str
    transport: float
    purge: tuple[frozenset[str], ...]


def usual_flow(kind: MachineKind, size: float | None) -> float:
    """Return the usual flow (m3/s) for a kind and size (m); 0 without one."""
    need = NEEDS[kind]
    return 0.0 if need is None else need.need(_measured(need, size)).flow


def _measured(need: Need, size: float | None) -> float | None:
    # A drum sander's figure goes by its surface, which is no length.
    return None if need.size == "drum_surface" else size


def read_needs(config: StoredConfig, ducts: frozenset[str]) -> dict[str, MachineNeed]:
    """Return each machine's need in a system with these ducts."""
    placed = {g: gate for g, gate in config.gates.items() if gate.duct in ducts}
    found: dict[str, MachineNeed] = {}
    for machine_id, machine in config.machines.items():
        own = [gate for gate in machine.gates if gate in config.gates]
        pickups = tuple(g for g in own if g in placed and placed[g].hood != IN_DUCT)
        kind = NEEDS[machine.kind]
        required, status, source = _required(machine, kind)
        material = config.system.air.carried or (
            USUAL_CARRIED if kind is None else kind.material
        )
        carried: Carried = MATERIALS_CARRIED[material]
        found[machine_id] = MachineNeed(
            machine_id=machine_id,
            name=machine.name,
            gates=frozenset(_moved(own, placed)),
            pickups=pickups,
            placed=bool(pickups) and all(gate in placed for gate in own),
            required=required,
            status=status,
            source=source,
            material=material,
            transport=carried.minimum,
            purge=tuple(
                frozenset(_moved(step.gates, placed))
                for step in machine.purge
                if all(gate in placed for gate in step.gates)
            ),
        )
    return found


def _moved(gates: Iterable[str], placed: Mapping[str, StoredGate]) -> Iterator[str]:
    for gate in gates:
        if gate in placed and placed[gate].kind is not GateKind.FIXED:
            yield gate


def _required(machine: StoredMachine, kind: Need | None) -> tuple[float, str, str]:
    if machine.required_flow is not None:
        return machine.required_flow, OWNER, ""
    if kind is None or not machine.collect_while_running:
        return 0.0, "none", ""
    need = kind.need(_measured(kind, machine.size))
    return need.flow, kind.status, kind.source
