"""Stored ducts, gates and machines as parts of a drawing, meaning just the same."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from .document import (
    INLINE,
    MACHINE,
    START,
    DrawnDuct,
    DrawnGate,
    DrawnItem,
    DuctEnd,
    PlanData,
    ShopPlan,
    Typed,
    Vertex,
)
from .pieces import Pieces
from .stored import (
    DIAMETER,
    DUCT,
    ELBOWS,
    ENTRY_ANGLE,
    HOOD,
    INTO,
    LENGTH,
    MATERIAL,
    NO_HOOD,
    SEAL,
    VERTICAL,
    opening_of,
    stored_rows,
)
from .tree import read_tree

HEIGHT: Final = 2.4
"""Height (m) of ducts that nobody has drawn: below a usual ceiling."""

SIZE: Final = 0.6
"""Side (m) of a machine whose size nobody knows."""

type Spot = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """What a system has, by id: names, what machines are, and which gates they use."""

    name: str
    machines: Mapping[str, tuple[str, str]]
    """Name and kind."""
    served: Mapping[str, tuple[str, ...]]
    gates: Mapping[str, str]
    ducts: Mapping[str, str]


def drawn_duct(duct: str, name: str, data: PlanData, up: Spot, down: Spot) -> DrawnDuct:
    """Return a stored duct as a straight line."""
    entry = data[ENTRY_ANGLE]
    into = data.get(INTO)
    return DrawnDuct(
        id=f"duct {duct}",
        bound=duct,
        name=name,
        points=(Vertex(at=(*up, HEIGHT)), Vertex(at=(*down, HEIGHT))),
        diameter=data[DIAMETER],
        material=data[MATERIAL],
        end=DuctEnd()
        if into is None
        else DuctEnd(duct=f"duct {into}", wye=entry, run=False)
        if entry
        else DuctEnd(duct=f"duct {into}", run=True),
    )


def drawn_gate(gate: str, name: str, place: PlanData) -> DrawnGate:
    """Return a stored gate that has a place."""
    inline = place[HOOD] == NO_HOOD
    return DrawnGate(
        id=f"gate {gate}",
        bound=gate,
        name=name,
        duct=f"duct {place[DUCT]}",
        mount=INLINE if inline else START,
        at=0.1,
        seal=place.get(SEAL, "airtight"),
        opening=None if inline else opening_of(place),
    )


def with_machines(
    gate_spots: Mapping[str, Spot], gates: tuple[DrawnGate, ...], stock: Stock
) -> tuple[list[DrawnItem], tuple[DrawnGate, ...]]:
    """Return the machines at their gates, and the gates that serve them."""
    items: list[DrawnItem] = []
    serves: dict[str, list[str]] = {}
    for machine, (name, kind) in stock.machines.items():
        own = [gate for gate in stock.served.get(machine, ()) if gate in gate_spots]
        if not own:
            continue
        for gate in own:
            serves.setdefault(gate, []).append(f"machine {machine}")
        x, y = gate_spots[own[0]]
        # Of machines that share a gate, the second stands behind the first.
        behind = sum((item.x, item.y) == (x, y) for item in items)
        items.append(
            DrawnItem(
                id=f"machine {machine}",
                type=MACHINE,
                bound=machine,
                name=name,
                kind=kind,
                x=x,
                y=round(y + behind * 1.2 * SIZE, 6),
                z=0.9,
                width=SIZE,
                depth=SIZE,
            )
        )
    placed = tuple(
        replace(gate, items=tuple(serves.get(gate.bound or "", ()))) for gate in gates
    )
    return items, placed


def with_figures(
    plan: ShopPlan, ducts: Mapping[str, Mapping[str, Any]], only: set[str] | None = None
) -> ShopPlan:
    """Return a plan with typed figures wherever the drawing says something else.

    `ducts` is what is stored of the bound ducts (normal data); `only` some of them.
    """
    bare = replace(
        plan,
        ducts=tuple(
            replace(duct, typed=Typed()) if _meant(duct, ducts, only) else duct
            for duct in plan.ducts
        ),
    )
    pieces = Pieces(bare)
    tree = read_tree(bare, pieces)

    def typed(duct: DrawnDuct) -> DrawnDuct:
        if not _meant(duct, ducts, only) or duct.bound is None:
            return duct
        stored, drawn = ducts[duct.bound], tree.ducts[duct.bound]
        if len(pieces.breaks[duct.id]) > 2:
            return duct
        figures = Typed(
            length=stored[LENGTH] if stored[LENGTH] != drawn[LENGTH] else None,
            elbows=stored_rows(stored) if stored[ELBOWS] != drawn[ELBOWS] else None,
            entry_angle=stored[ENTRY_ANGLE]
            if stored[ENTRY_ANGLE] != drawn[ENTRY_ANGLE]
            else None,
            vertical=bool(stored.get(VERTICAL))
            if bool(stored.get(VERTICAL)) != bool(drawn.get(VERTICAL))
            else None,
        )
        return replace(duct, typed=figures)

    return replace(bare, ducts=tuple(map(typed, bare.ducts)))


def _meant(
    duct: DrawnDuct, ducts: Mapping[str, Mapping[str, Any]], only: set[str] | None
) -> bool:
    return duct.bound in ducts and (only is None or duct.bound in only)
