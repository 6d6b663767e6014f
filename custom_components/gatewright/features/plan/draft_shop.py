"""A drawing as a system that the airflow can be computed for."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from homeassistant.core import HomeAssistant

from ...core.airflow import Fan
from ...core.config import GateKind, IdlePosition
from ...core.kinds import MachineKind
from ...core.plan.checks import KnownParts, served_gates
from ...core.plan.document import MACHINE, DrawnItem, ShopPlan
from ...core.plan.pieces import Pieces
from ...core.plan.stored import DUCT, OF_PLACE
from ...core.plan.tree import DuctTree, read_tree
from ...core.stored.config import StoredConfig
from ...core.stored.parts import StoredDuct, StoredGate, StoredMachine, StoredPart
from ..airflow.data import Data
from ..airflow.ducts import AirShop, read_fan, read_shop

_PLANNED: Final = "plan:"


def is_planned(part_id: str) -> bool:
    """Return whether a part exists only in the drawing."""
    return part_id.startswith(_PLANNED)


@dataclass(frozen=True, kw_only=True)
class DraftShop:
    """A drawing to compute: its tree, and the system that it makes.

    `machines` and `gates` give the id in `config` of each drawn item and gate; `items`
    and `drawn` are the reverse.
    """

    plan: ShopPlan
    tree: DuctTree
    config: StoredConfig
    machines: Mapping[str, str]
    gates: Mapping[str, str]

    @property
    def items(self) -> dict[str, str]:
        """The drawn item of each machine."""
        return {machine: item for item, machine in self.machines.items()}

    @property
    def drawn(self) -> dict[str, str]:
        """The drawn gate of each gate."""
        return {gate: drawn for drawn, gate in self.gates.items()}

    @property
    def fan(self) -> Fan | None:
        """The collector's fan."""
        return read_fan(self.config.system.air)

    def air(self, hass: HomeAssistant, fan: Fan) -> AirShop | None:
        """Return what can be computed; None without a duct or an opening.

        Raises `AirflowError` for figures that contradict each other.
        """
        return read_shop(hass, self.config, fan)


def draft_shop(
    plan: ShopPlan,
    config: StoredConfig,
    known: KnownParts,
    pieces: Pieces | None = None,
) -> DraftShop:
    """Return a drawing as a system, without ducts that lead nowhere."""
    tree = read_tree(plan, pieces)
    gates = {
        gate.id: gate.bound
        if gate.bound is not None and gate.bound in known.gates
        else f"{_PLANNED}{gate.id}"
        for gate in plan.gates
    }
    machines = {
        item.id: item.bound
        if item.bound is not None and item.bound in known.machines
        else f"{_PLANNED}{item.id}"
        for item in plan.items
        if item.type == MACHINE
    }
    parts: list[StoredPart] = [
        StoredDuct.from_form(data, part_id=key, name=tree.names[key])
        for key, data in tree.ducts.items()
        if key not in tree.loose
    ]
    parts += _gates(plan, tree, config, gates)
    parts += _machines(plan, config, known, machines, gates)
    return DraftShop(
        plan=plan,
        tree=tree,
        machines=machines,
        gates=gates,
        config=replace(config, parts={part.part_id: part for part in parts}),
    )


def _gates(
    plan: ShopPlan, tree: DuctTree, config: StoredConfig, gates: Mapping[str, str]
) -> Iterator[StoredGate]:
    drawn = {gate: drawn_id for drawn_id, gate in gates.items()}

    def placed(drawn_id: str | None) -> Data:
        place = {} if drawn_id is None else tree.places[drawn_id]
        return {} if place.get(DUCT) in tree.loose else place

    for gate_id, gate in config.gates.items():
        own = {key: value for key, value in gate.kept.items() if key not in OF_PLACE}
        place = placed(drawn.get(gate_id))
        yield StoredGate.from_form(own | place, part_id=gate_id, name=gate.name)
    for one in plan.gates:
        if gates[one.id] not in config.gates:
            yield StoredGate.from_form(
                {
                    "gate_kind": one.kind or GateKind.HAND.value,
                    "travel": 0.0,
                    "rest": IdlePosition.CLOSED.value,
                    **placed(one.id),
                },
                part_id=gates[one.id],
                name=one.name,
            )


def _machines(
    plan: ShopPlan,
    config: StoredConfig,
    known: KnownParts,
    machines: Mapping[str, str],
    gates: Mapping[str, str],
) -> Iterator[StoredMachine]:
    served = served_gates(plan, known)
    drawn = {
        machines[item]: tuple(gates[gate] for gate in own)
        for item, own in served.items()
        if item in machines
    }
    for machine_id, machine in config.machines.items():
        more = (g for g in drawn.get(machine_id, ()) if g not in machine.gates)
        yield replace(machine, gates=(*machine.gates, *more))
    for item in plan.items:
        machine_id = machines.get(item.id, "")
        if machine_id and machine_id not in config.machines:
            yield _planned(item, machine_id, drawn[machine_id])


def _planned(item: DrawnItem, machine_id: str, gates: tuple[str, ...]) -> StoredMachine:
    return StoredMachine(
        part_id=machine_id,
        name=item.name,
        kind=MachineKind(item.kind or MachineKind.OTHER),
        gates=gates,
        collect_while_running=True,
        hold=0.0,
        size=item.size,
        required_flow=item.required_flow,
    )
