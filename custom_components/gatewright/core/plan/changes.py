"""What a drawing would change of what is stored."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from .document import PlanData
from .stored import DUCT
from .tree import DuctTree

DUCT_ADDED: Final = "duct_added"
DUCT_CHANGED: Final = "duct_changed"
DUCT_REMOVED: Final = "duct_removed"
GATE_PLACED: Final = "gate_placed"
GATE_MOVED: Final = "gate_moved"
GATE_TAKEN_OFF: Final = "gate_taken_off"

NAME: Final = "name"


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredParts:
    """What is stored: ducts and places of gates (normal data) and their names, by id."""

    ducts: Mapping[str, PlanData]
    places: Mapping[str, PlanData]
    names: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class FieldChange:
    """One figure of a part, before and after; None for one that isn't there."""

    field: str
    before: Any
    after: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanChange:
    """One part that is changed: `part` is its id, `drawn` that in the drawing.

    `key` is the key of a duct's piece in the tree.
    """

    code: str
    part: str | None
    drawn: str | None
    key: str
    name: str
    fields: tuple[FieldChange, ...] = ()


def changes(tree: DuctTree, stored: StoredParts) -> list[PlanChange]:
    """Return what applying a drawing changes: ducts first, then places of gates."""
    return [*_ducts(tree, stored), *_gates(tree, stored)]


def _ducts(tree: DuctTree, stored: StoredParts) -> Iterator[PlanChange]:
    for key, data in tree.ducts.items():
        drawn = tree.pieces.pieces[key].duct.id
        name = tree.names[key]
        if key not in stored.ducts:
            yield PlanChange(
                code=DUCT_ADDED,
                part=None,
                drawn=drawn,
                key=key,
                name=name,
                fields=_differences({}, data),
            )
            continue
        before = stored.ducts[key]
        fields = _differences(before, data)
        if name and name != stored.names[key]:
            fields = (FieldChange(NAME, stored.names[key], name), *fields)
        if fields:
            yield PlanChange(
                code=DUCT_CHANGED,
                part=key,
                drawn=drawn,
                key=key,
                name=stored.names[key],
                fields=fields,
            )
    for duct in stored.ducts:
        if duct not in tree.ducts:
            yield PlanChange(
                code=DUCT_REMOVED,
                part=duct,
                drawn=None,
                key=duct,
                name=stored.names[duct],
            )


def _gates(tree: DuctTree, stored: StoredParts) -> Iterator[PlanChange]:
    drawn = {gate.bound: gate.id for gate in tree.pieces.plan.gates if gate.bound}
    for gate, before in stored.places.items():
        after = tree.places[drawn[gate]] if gate in drawn else {}
        if fields := _differences(before, after):
            code = GATE_MOVED
            if not before:
                code = GATE_PLACED
            elif not after:
                code = GATE_TAKEN_OFF
            yield PlanChange(
                code=code,
                part=gate,
                drawn=drawn.get(gate),
                key=after.get(DUCT, ""),
                name=stored.names[gate],
                fields=fields,
            )


def _differences(before: PlanData, after: PlanData) -> tuple[FieldChange, ...]:
    return tuple(
        FieldChange(key, before.get(key), after.get(key))
        for key in {**before, **after}
        if before.get(key) != after.get(key)
    )
