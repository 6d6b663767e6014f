"""Makes a file of a plan; what was left out stays left out."""

from collections.abc import Mapping
from typing import Any

from .document import (
    COLLECTOR,
    FORMAT,
    INLINE,
    USUAL_WYE,
    VERSION,
    DrawnDuct,
    DrawnGate,
    DrawnItem,
    DuctEnd,
    ElbowMake,
    ElbowRow,
    Opening,
    PlanData,
    ShopPlan,
    Typed,
    Vertex,
)


def write(plan: ShopPlan) -> PlanData:
    """Return a plan as the data of a file."""
    return {
        **plan.more,
        "format": FORMAT,
        "version": VERSION,
        **_given(name=plan.name or None),
        "grid": {"step": plan.step},
        "room": {
            "outline": [list(corner) for corner in plan.outline],
            **_given(height=plan.height),
        },
        "items": [_item(item) for item in plan.items],
        "ducts": [_duct(duct) for duct in plan.ducts],
        "gates": [_gate(gate) for gate in plan.gates],
    }


def write_row(row: ElbowRow) -> PlanData:
    """Return a row of elbows as the forms store it, too."""
    return {
        "count": row.count,
        "angle": row.angle,
        "radius": row.radius,
        "construction": row.construction,
    }


def _given(**values: Any) -> PlanData:
    return {key: value for key, value in values.items() if value is not None}


def _own(part: DrawnItem | DrawnDuct | DrawnGate) -> PlanData:
    more: Mapping[str, Any] = part.more
    return {
        **more,
        "id": part.id,
        "bound": part.bound,
        **_given(name=part.name or None),
    }


def _item(item: DrawnItem) -> PlanData:
    found = _own(item)
    if item.type == COLLECTOR and item.bound is None:
        del found["bound"]
    return {
        **found,
        "type": item.type,
        "x": item.x,
        "y": item.y,
        "z": item.z,
        **_given(
            kind=item.kind,
            width=item.width,
            depth=item.depth,
            turn=item.turn or None,
            required_flow=item.required_flow,
            size=item.size,
        ),
    }


def _duct(duct: DrawnDuct) -> PlanData:
    typed = _typed(duct.typed)
    return {
        **_own(duct),
        "points": [_vertex(vertex) for vertex in duct.points],
        "diameter": duct.diameter,
        "material": duct.material,
        "elbow": _make(duct.elbow),
        "end": None if duct.end is None else _end(duct.end),
        **_given(
            start=None if duct.start is None else {"item": duct.start},
            typed=typed or None,
        ),
    }


def _vertex(vertex: Vertex) -> PlanData:
    x, y, z = vertex.at
    pipe = _given(diameter=vertex.diameter, material=vertex.material)
    elbow = None if vertex.elbow is None else _make(vertex.elbow)
    return {
        **vertex.more,
        "x": x,
        "y": y,
        "z": z,
        **_given(elbow=elbow, pipe=pipe or None),
    }


def _make(make: ElbowMake) -> PlanData:
    return {"construction": make.construction, "radius": make.radius}


def _end(end: DuctEnd) -> PlanData:
    run = None if end.run is None else "run" if end.run else "branch"
    if end.duct is None:
        return {"to": "collector", **_given(**{"as": run})}
    found: PlanData = {"to": "duct", "duct": end.duct, **_given(**{"as": run})}
    if end.wye != USUAL_WYE:
        found["wye"] = end.wye
    return found


def _typed(typed: Typed) -> PlanData:
    rows = None if typed.elbows is None else [write_row(row) for row in typed.elbows]
    return _given(
        length=typed.length,
        elbows=rows,
        entry_angle=typed.entry_angle,
        vertical=typed.vertical,
    )


def _gate(gate: DrawnGate) -> PlanData:
    found = {
        **_own(gate),
        "duct": gate.duct,
        "mount": gate.mount,
        "at": gate.at,
        "items": list(gate.items),
        "seal": gate.seal,
        **_given(kind=gate.kind),
    }
    if gate.mount != INLINE and gate.opening is not None:
        found["opening"] = _opening(gate.opening)
    return found


def _opening(opening: Opening) -> PlanData:
    hose = drop = None
    if opening.hose is not None:
        hose = _given(length=opening.hose.length, diameter=opening.hose.diameter)
        hose["state"] = opening.hose.state
    if opening.drop is not None:
        drop = _given(
            length=opening.drop.length,
            diameter=opening.drop.diameter,
            elbows=opening.drop.elbows,
        )
    return {
        "hood": opening.hood,
        **_given(
            port=opening.port, hose=hose, drop=drop, entry_angle=opening.entry_angle
        ),
    }
