"""Takes over into a drawing what was changed by forms since it was last compared."""

from collections.abc import Mapping
from dataclasses import replace
from math import cos, radians, sin

from .changes import StoredParts
from .document import (
    MACHINE,
    DrawnDuct,
    DrawnGate,
    DrawnItem,
    DuctEnd,
    PlanData,
    ShopPlan,
    Vertex,
)
from .geometry import Point, apart, minus
from .layout import SHORTEST
from .pieces import Pieces
from .stored import DIAMETER, DUCT, ENTRY_ANGLE, INTO, LENGTH, MATERIAL
from .stored_drawing import HEIGHT, SIZE, Stock, drawn_duct, drawn_gate, with_figures

_ANGLES = (90, -90, 0, 45, -45, 135, -135, 60, -60, 30, -30)
_REACH = 0.9


def follow(
    plan: ShopPlan, base: StoredParts, now: StoredParts, stock: Stock
) -> ShopPlan:
    """Return a drawing with what the forms changed between `base` and `now`.

    Whatever is drawn and not in either stays. What the forms removed goes; what they
    added is drawn where there is room; what they changed counts as they have it.
    """
    plan = _named(plan, base, now, stock)
    if base == now:
        return plan
    gone = base.ducts.keys() - now.ducts.keys()
    plan = _without(plan, gone)
    changed = {duct for duct in now.ducts if base.ducts.get(duct) != now.ducts[duct]}
    for duct in _downstream_first(changed, now.ducts):
        plan = _with_duct(plan, duct, now, stock)
    for gate, place in now.places.items():
        if base.places.get(gate, {}) != place:
            plan = _with_gate(plan, gate, place, stock)
    return with_figures(plan, now.ducts, changed)


def _named(
    plan: ShopPlan, base: StoredParts, now: StoredParts, stock: Stock
) -> ShopPlan:
    """Return a plan with the names of now, and nothing bound to what is gone."""

    def item(one: DrawnItem) -> DrawnItem:
        if one.type != MACHINE:
            return replace(one, name=stock.name)
        if one.bound is None:
            return one
        if one.bound not in stock.machines:
            return replace(one, bound=None)
        name, kind = stock.machines[one.bound]
        return replace(one, name=name, kind=kind)

    def gate(one: DrawnGate) -> DrawnGate:
        if one.bound is None:
            return one
        if one.bound not in stock.gates:
            return replace(one, bound=None)
        return replace(one, name=stock.gates[one.bound])

    def duct(one: DrawnDuct) -> DrawnDuct:
        if one.bound is None:
            return one
        if one.bound not in now.ducts:
            return one if one.bound in base.ducts else replace(one, bound=None)
        if one.name in ("", base.names.get(one.bound)):
            return replace(one, name=now.names[one.bound])
        return one

    return replace(
        plan,
        name=stock.name,
        items=tuple(map(item, plan.items)),
        gates=tuple(map(gate, plan.gates)),
        ducts=tuple(map(duct, plan.ducts)),
    )


def _without(plan: ShopPlan, gone: set[str]) -> ShopPlan:
    """Return a plan without the ducts of some ids; what led there leads nowhere."""
    drawn = {duct.id for duct in plan.ducts if duct.bound in gone}
    if not drawn:
        return plan
    return replace(
        plan,
        ducts=tuple(
            replace(duct, end=None) if duct.end and duct.end.duct in drawn else duct
            for duct in plan.ducts
            if duct.id not in drawn
        ),
        gates=tuple(
            replace(gate, duct=None, at=0.0) if gate.duct in drawn else gate
            for gate in plan.gates
        ),
    )


def _downstream_first(changed: set[str], ducts: Mapping[str, PlanData]) -> list[str]:
    def depth(duct: str) -> int:
        steps, at = 0, ducts[duct].get(INTO)
        while at is not None and steps <= len(ducts):
            steps, at = steps + 1, ducts[at].get(INTO)
        return steps

    return sorted(changed, key=lambda duct: (depth(duct), duct))


def _with_duct(plan: ShopPlan, duct: str, now: StoredParts, stock: Stock) -> ShopPlan:
    """Return a plan with a stored duct as it is now: changed, moved or added."""
    data = now.ducts[duct]
    own = next((one for one in plan.ducts if one.bound == duct), None)
    target = next((d for d in plan.ducts if d.bound == data.get(INTO)), None)
    if data.get(INTO) is None:
        target = None
    node = _node(plan, target)
    if own is None:
        name = now.names[duct]
        made = drawn_duct(duct, name, data, (0.0, 0.0), (1.0, 0.0))
        points = _stretch(plan, target, node, max(SHORTEST, data[LENGTH]))
        made = replace(
            made, id=_free_id(plan, made.id), points=points, end=_end(target, data)
        )
        return replace(plan, ducts=(*plan.ducts, made))
    figured = replace(
        own,
        diameter=data[DIAMETER],
        material=data[MATERIAL],
        points=tuple(replace(p, diameter=None, material=None) for p in own.points),
    )
    # Moved only where the drawing leads elsewhere than the form says.
    pieces = Pieces(plan)
    if pieces.pieces[duct].into != data.get(INTO) and len(list(pieces.of(own.id))) == 1:
        off = minus(node, own.points[-1].at)
        shifted = tuple(
            replace(p, at=(p.at[0] + off[0], p.at[1] + off[1], p.at[2] + off[2]))
            for p in own.points
        )
        figured = replace(figured, points=shifted, end=_end(target, data))
    ducts = tuple(figured if one.id == own.id else one for one in plan.ducts)
    return replace(plan, ducts=ducts)


def _end(target: DrawnDuct | None, data: PlanData) -> DuctEnd:
    if target is None:
        return DuctEnd()
    if data[ENTRY_ANGLE]:
        return DuctEnd(duct=target.id, wye=data[ENTRY_ANGLE], run=False)
    return DuctEnd(duct=target.id, run=True)


def _node(plan: ShopPlan, target: DrawnDuct | None) -> Point:
    """Return the place where something joins a duct, or the collector."""
    if target is not None:
        return target.points[0].at
    for duct in plan.ducts:
        if duct.end is not None and duct.end.duct is None:
            return duct.points[-1].at
    for item in plan.items:
        if item.type != MACHINE:
            return item.x, item.y, HEIGHT
    return 0.0, 0.0, HEIGHT


def _stretch(
    plan: ShopPlan, target: DrawnDuct | None, node: Point, length: float
) -> tuple[Vertex, Vertex]:
    """Return a line of a length that ends at a place, where there is most room."""
    on = (-1.0, 0.0, 0.0) if target is None else target.line.direction(0)
    size = (on[0] ** 2 + on[1] ** 2) ** 0.5
    x, y = (-1.0, 0.0) if size == 0 else (on[0] / size, on[1] / size)
    best = (-1.0, node)
    for angle in _ANGLES:
        c, s = cos(radians(angle)), sin(radians(angle))
        # Against the flow: a line is drawn from its upstream end.
        far = (
            round(node[0] - length * (c * x - s * y), 6),
            round(node[1] - length * (s * x + c * y), 6),
            node[2],
        )
        half = tuple((one + other) / 2 for one, other in zip(node, far, strict=True))
        room = min(
            (
                apart((half[0], half[1], half[2]), far, one, other)
                for duct in plan.ducts
                for one, other in zip(
                    duct.line.points, duct.line.points[1:], strict=False
                )
            ),
            default=1.0,
        )
        best = max(best, (min(room, 1.0), far), key=lambda found: found[0])
    return Vertex(at=best[1]), Vertex(at=node)


def _free_id(plan: ShopPlan, wanted: str) -> str:
    taken = plan.ids
    while wanted in taken:
        wanted += "+"
    return wanted


def _with_gate(plan: ShopPlan, gate: str, place: PlanData, stock: Stock) -> ShopPlan:
    """Return a plan with a gate where its form has it now."""
    own = next((one for one in plan.gates if one.bound == gate), None)
    if not place:
        kept = tuple(
            replace(one, duct=None, at=0.0) if one.bound == gate else one
            for one in plan.gates
        )
        return replace(plan, gates=kept)
    target = next((d for d in plan.ducts if d.bound == place[DUCT]), None)
    made = drawn_gate(gate, stock.gates.get(gate, ""), place)
    made = replace(made, duct=None if target is None else target.id)
    if own is None:
        made = replace(made, id=_free_id(plan, made.id))
        plan, serves = _with_users(plan, gate, target, stock)
        return replace(plan, gates=(*plan.gates, replace(made, items=serves)))
    same = own.duct == made.duct and own.mount == made.mount
    moved = replace(
        own,
        duct=made.duct,
        mount=made.mount,
        at=own.at if same else made.at,
        seal=made.seal,
        opening=made.opening,
    )
    gates = tuple(moved if one.id == own.id else one for one in plan.gates)
    return replace(plan, gates=gates)


def _with_users(
    plan: ShopPlan, gate: str, target: DrawnDuct | None, stock: Stock
) -> tuple[ShopPlan, tuple[str, ...]]:
    """Return a plan with the machines of a gate, and their ids on it."""
    serves: list[str] = []
    for machine, (name, kind) in stock.machines.items():
        if gate not in stock.served.get(machine, ()):
            continue
        item = next((one for one in plan.items if one.bound == machine), None)
        if item is None:
            x, y, _ = _node(plan, target)
            item = DrawnItem(
                id=_free_id(plan, f"machine {machine}"),
                type=MACHINE,
                bound=machine,
                name=name,
                kind=kind,
                x=round(x + _REACH, 6),
                y=round(y + _REACH, 6),
                z=_REACH,
                width=SIZE,
                depth=SIZE,
            )
            plan = replace(plan, items=(*plan.items, item))
        serves.append(item.id)
    return plan, tuple(serves)
