"""A drawing as a system that the airflow can be computed for."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from homeassistant.config_entries import ConfigSubentry
from homeassistant.core import HomeAssistant

from ...air.ducts import AirShop, read_fan, read_shop
from ...airflow import Fan
from ...const import (
    CONF_CLEARING,
    CONF_GATE_KIND,
    CONF_GATES,
    CONF_KIND,
    CONF_NEEDS_AIR,
    CONF_REQUIRED_FLOW,
    CONF_SIZE,
    SUBENTRY_DUCT,
    SUBENTRY_GATE,
    SUBENTRY_MACHINE,
)
from ...core.plan.checks import Known, served_gates
from ...core.plan.document import MACHINE, Item, Plan
from ...core.plan.pieces import Pieces
from ...core.plan.stored import DUCT, OF_PLACE
from ...core.plan.tree import Tree, read_tree
from ...planning import Described
from ...readable import Readable
from ...shop.kinds import MachineKind
from ...shop.plan import GateKind

_PLANNED: Final = "plan:"


def is_planned(part_id: str) -> bool:
    """Whether a part is only drawn."""
    return part_id.startswith(_PLANNED)


@dataclass(frozen=True, kw_only=True)
class DraftShop:
    """A drawing to be computed: its tree, and the system it makes.

    `machines` and `gates` give the id in `described` of each drawn item and gate;
    `items` and `drawn` lead back.
    """

    plan: Plan
    tree: Tree
    described: Described
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

    def air(self, hass: HomeAssistant, fan: Fan | None = None) -> AirShop | None:
        """Return what can be computed; None without a fan, a duct, or an opening.

        Raises `AirflowError` for figures that make no sense together.
        """
        fan = read_fan(self.described.data) if fan is None else fan
        return None if fan is None else read_shop(hass, self.described, fan)


def draft_shop(
    plan: Plan, described: Described, known: Known, pieces: Pieces | None = None
) -> DraftShop:
    """Return a drawing as a system; what leads nowhere is left out."""
    tree = read_tree(plan, pieces)
    gates = {
        gate.id: gate.bound
        if gate.bound is not None and gate.bound in known.gates
        else f"{_PLANNED}{gate.id}"
        for gate in plan.gates
    }
    bound = {gate: drawn for drawn, gate in gates.items()}
    machines = {
        item.id: item.bound
        if item.bound is not None and item.bound in known.machines
        else f"{_PLANNED}{item.id}"
        for item in plan.items
        if item.type == MACHINE
    }
    parts = [*_ducts(tree), *_gates(plan, tree, described, gates, bound)]
    parts += _machines(plan, described, known, machines, gates)
    return DraftShop(
        plan=plan,
        tree=tree,
        machines=machines,
        gates=gates,
        described=Readable(
            entry_id=described.entry_id,
            title=described.title,
            data=described.data,
            subentries={part.subentry_id: part for part in parts},
        ),
    )


def part(
    kind: str, part_id: str, title: str, data: Mapping[str, Any]
) -> ConfigSubentry:
    """Return a part of a system that is stored nowhere."""
    return ConfigSubentry(
        data=MappingProxyType(dict(data)),
        subentry_id=part_id,
        subentry_type=kind,
        title=title,
        unique_id=None,
    )


def _ducts(tree: Tree) -> Iterator[ConfigSubentry]:
    for key, data in tree.ducts.items():
        if key not in tree.loose:
            yield part(SUBENTRY_DUCT, key, tree.names[key], data)


def _gates(
    plan: Plan,
    tree: Tree,
    described: Described,
    gates: Mapping[str, str],
    drawn: Mapping[str, str],
) -> Iterator[ConfigSubentry]:
    def placed(drawn_id: str) -> dict[str, Any]:
        place = tree.places[drawn_id]
        return place if place.get(DUCT) not in tree.loose else {}

    for gate in described.get_subentries_of_type(SUBENTRY_GATE):
        own = {key: value for key, value in gate.data.items() if key not in OF_PLACE}
        place = placed(drawn[gate.subentry_id]) if gate.subentry_id in drawn else {}
        yield part(SUBENTRY_GATE, gate.subentry_id, gate.title, own | place)
    there = {
        gate.subentry_id for gate in described.get_subentries_of_type(SUBENTRY_GATE)
    }
    for one in plan.gates:
        if gates[one.id] in there:
            continue
        kind = one.kind or GateKind.HAND.value
        yield part(
            SUBENTRY_GATE,
            gates[one.id],
            one.name,
            {CONF_GATE_KIND: kind, **placed(one.id)},
        )


def _machines(
    plan: Plan,
    described: Described,
    known: Known,
    machines: Mapping[str, str],
    gates: Mapping[str, str],
) -> Iterator[ConfigSubentry]:
    served = served_gates(plan, known)
    items = {machines[item.id]: item for item in plan.items if item.id in machines}
    stored = {
        machine.subentry_id: machine
        for machine in described.get_subentries_of_type(SUBENTRY_MACHINE)
    }
    for machine_id, machine in stored.items():
        own = list(machine.data[CONF_GATES])
        if machine_id in items:
            more = [gates[gate] for gate in served[items[machine_id].id]]
            own += [gate for gate in more if gate not in own]
        yield part(
            SUBENTRY_MACHINE,
            machine_id,
            machine.title,
            {**machine.data, CONF_GATES: own},
        )
    for machine_id, item in items.items():
        if machine_id not in stored:
            data = _planned(item) | {CONF_GATES: [gates[g] for g in served[item.id]]}
            yield part(SUBENTRY_MACHINE, machine_id, item.name, data)


def _planned(item: Item) -> dict[str, Any]:
    data: dict[str, Any] = {
        CONF_KIND: item.kind or MachineKind.OTHER.value,
        CONF_NEEDS_AIR: True,
        CONF_CLEARING: [],
    }
    if item.required_flow is not None:
        data[CONF_REQUIRED_FLOW] = item.required_flow
    if item.size is not None:
        data[CONF_SIZE] = item.size
    return data
