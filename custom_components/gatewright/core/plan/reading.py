"""Makes a plan of a file, or says everything that is wrong with it, and where."""

from collections.abc import Mapping
from itertools import pairwise
import json
from typing import Any, Final

from ..airflow import HOODS, MATERIALS, HoseState, Seal
from ..config import GateKind
from ..kinds import MachineKind
from .document import (
    COLLECTOR,
    FORMAT,
    INLINE,
    MACHINE,
    SIDE,
    START,
    USUAL_WYE,
    VERSION,
    DrawnDuct,
    DrawnGate,
    DrawnItem,
    Drop,
    DuctEnd,
    ElbowMake,
    ElbowRow,
    Hose,
    Opening,
    ShopPlan,
    Typed,
    Vertex,
)
from .fields import Fields, PlanRefusal, UnreadablePlanError, optional

CONSTRUCTIONS: Final = (
    "stamped",
    "five_piece",
    "four_piece",
    "three_piece",
    "pleated",
    "mitered",
)

MOST_PARTS: Final = 1000
"""More items, ducts or gates than any shop has; no source."""

_MOST_POINTS: Final = 500
_MOST_POINTS_OF_ALL: Final = 5000
_MOST_ROWS: Final = 20
_MOST_TOLD: Final = 50
_REACH: Final = 1e6
_LONGEST: Final = 1000.0
_NARROWEST, _WIDEST = 0.01, 3.0
"""m: what the airflow can be computed for."""
_STORED: Final = 1e7
"""What is stored of a part may be as large as this; figures that make no sense are told
where they are computed."""


def read_text(text: str) -> ShopPlan:
    """Return the plan of a file's text. Raises `UnreadablePlanError`."""
    try:
        raw = json.loads(text)
    except (ValueError, RecursionError) as err:
        line = str(getattr(err, "lineno", "1"))
        column = str(getattr(err, "colno", "1"))
        values = {"line": line, "column": column}
        raise UnreadablePlanError(
            (PlanRefusal(code="not_json", values=values),)
        ) from err
    return read(raw)


def read(raw: Any) -> ShopPlan:
    """Return the plan of a file's data. Raises `UnreadablePlanError`."""
    if not isinstance(raw, Mapping) or raw.get("format") != FORMAT:
        raise UnreadablePlanError(
            (PlanRefusal(code="not_a_plan", path="format", values={}),)
        )
    version = raw.get("version")
    if version != VERSION or isinstance(version, bool):
        values = {"version": str(version), "newest": str(VERSION)}
        raise UnreadablePlanError(
            (PlanRefusal(code="wrong_version", path="version", values=values),)
        )
    refusals: list[PlanRefusal] = []
    fields = Fields(raw, "", refusals)
    fields.given("format")
    fields.given("version")
    grid = optional(fields.inner("grid"), lambda grid: grid.number("step", 0.001, 10))
    outline: tuple[tuple[float, float], ...] = ()
    height = None
    if (room := fields.inner("room")) is not None:
        outline = room.pairs("outline", _MOST_POINTS, _REACH)
        height = room.number("height", 0, 100)
    plan = ShopPlan(
        name=fields.text("name") or "",
        step=grid or 0.1,
        outline=outline,
        height=height,
        items=tuple(
            _item(row) for row in fields.rows("items", MOST_PARTS, needed=True)
        ),
        ducts=tuple(
            _duct(row) for row in fields.rows("ducts", MOST_PARTS, needed=True)
        ),
        gates=tuple(
            _gate(row) for row in fields.rows("gates", MOST_PARTS, needed=True)
        ),
        more=fields.more,
    )
    _refuse_twice(plan, refusals)
    if sum(len(duct.points) for duct in plan.ducts) > _MOST_POINTS_OF_ALL:
        fields.refuse("too_many", "ducts", most=str(_MOST_POINTS_OF_ALL))
    if refusals:
        raise UnreadablePlanError(tuple(refusals[:_MOST_TOLD]))
    return plan


def _refuse_twice(plan: ShopPlan, refusals: list[PlanRefusal]) -> None:
    seen: set[str] = set()
    parts: dict[str, tuple[DrawnItem | DrawnDuct | DrawnGate, ...]] = {
        "items": plan.items,
        "ducts": plan.ducts,
        "gates": plan.gates,
    }
    for kind, rows in parts.items():
        for number, part in enumerate(rows):
            if part.id and part.id in seen:
                refusals.append(
                    PlanRefusal(
                        code="duplicate_id",
                        path=f"{kind}[{number}].id",
                        values={"id": part.id},
                    )
                )
            seen.add(part.id)


def _id(fields: Fields) -> str:
    found = fields.text("id", needed=True)
    if found == "":
        fields.refuse("missing", "id")
    return found or ""


def _item(fields: Fields) -> DrawnItem:
    return DrawnItem(
        id=_id(fields),
        type=fields.choice("type", (COLLECTOR, MACHINE), needed=True) or MACHINE,
        bound=fields.text("bound") or None,
        name=fields.text("name") or "",
        kind=fields.choice("kind", [kind.value for kind in MachineKind]),
        x=fields.number("x", -_REACH, _REACH, needed=True) or 0.0,
        y=fields.number("y", -_REACH, _REACH, needed=True) or 0.0,
        z=fields.number("z", -_REACH, _REACH) or 0.0,
        width=fields.number("width", 0, 100),
        depth=fields.number("depth", 0, 100),
        turn=fields.number("turn", -360, 360) or 0.0,
        required_flow=fields.number("required_flow", 0, 100),
        size=fields.number("size", 0, 10),
        more=fields.more,
    )


def _duct(fields: Fields) -> DrawnDuct:
    points = [_vertex(row) for row in fields.rows("points", _MOST_POINTS, needed=True)]
    if len(points) < 2:
        fields.refuse("missing", f"points[{len(points)}]")
        points = [*points, *(Vertex(at=(n, 0.0, 0.0)) for n in range(2))]
    for number, (one, other) in enumerate(pairwise(points), 1):
        if one.at == other.at:
            fields.refuse("point_twice", f"points[{number}]")
    return DrawnDuct(
        id=_id(fields),
        bound=fields.text("bound") or None,
        name=fields.text("name") or "",
        points=tuple(points),
        diameter=fields.number("diameter", _NARROWEST, _WIDEST, needed=True) or 0.1,
        material=fields.choice("material", MATERIALS) or "galvanized",
        elbow=optional(fields.inner("elbow"), _make) or ElbowMake(),
        end=optional(fields.inner("end"), _end),
        start=optional(fields.inner("start"), lambda start: start.text("item")),
        typed=optional(fields.inner("typed"), _typed) or Typed(),
        more=fields.more,
    )


def _vertex(fields: Fields) -> Vertex:
    x, y, z = (
        fields.number(key, -_REACH, _REACH, needed=key != "z") or 0.0 for key in "xyz"
    )
    diameter = material = None
    if (pipe := fields.inner("pipe")) is not None:
        diameter = pipe.number("diameter", _NARROWEST, _WIDEST)
        material = pipe.choice("material", MATERIALS)
    return Vertex(
        at=(x, y, z),
        elbow=optional(fields.inner("elbow"), _make),
        diameter=diameter,
        material=material,
        more=fields.more,
    )


def _make(fields: Fields) -> ElbowMake:
    return ElbowMake(
        construction=fields.choice("construction", CONSTRUCTIONS) or "stamped",
        radius=fields.number("radius", 0.5, 5) or 1.5,
    )


def _end(fields: Fields) -> DuctEnd:
    to = fields.choice("to", ("collector", "duct"), needed=True)
    run = fields.choice("as", ("run", "branch"))
    wye = None if fields.null("wye") else (fields.number("wye", 0, 90))
    if wye is None and not fields.null("wye"):
        wye = USUAL_WYE
    duct = fields.text("duct", needed=True) if to == "duct" else None
    return DuctEnd(duct=duct, wye=wye, run=None if run is None else run == "run")


def _typed(fields: Fields) -> Typed:
    rows = None
    if fields.given("elbows"):
        rows = tuple(
            ElbowRow(
                count=int(row.number("count", 1, _STORED, needed=True) or 1),
                angle=row.number("angle", 0, _STORED, needed=True) or 0.0,
                radius=row.number("radius", 0, _STORED, needed=True) or 0.0,
                construction=row.text("construction", needed=True) or "",
            )
            for row in fields.rows("elbows", _MOST_ROWS)
        )
    return Typed(
        length=fields.number("length", 0, _LONGEST),
        elbows=rows,
        entry_angle=fields.number("entry_angle", 0, 90),
        vertical=fields.flag("vertical"),
    )


def _gate(fields: Fields) -> DrawnGate:
    mount = fields.choice("mount", (START, SIDE, INLINE)) or START
    opening = optional(fields.inner("opening"), _opening) or Opening()
    return DrawnGate(
        id=_id(fields),
        bound=fields.text("bound") or None,
        name=fields.text("name") or "",
        kind=fields.choice("kind", [kind.value for kind in GateKind]),
        duct=fields.text("duct"),
        mount=mount,
        at=fields.number("at", 0, _REACH) or 0.0,
        items=fields.texts("items", MOST_PARTS),
        seal=fields.choice("seal", [seal.value for seal in Seal])
        or Seal.AIRTIGHT.value,
        opening=None if mount == INLINE else opening,
        more=fields.more,
    )


def _opening(fields: Fields) -> Opening:
    hose = drop = None
    if (inner := fields.inner("hose")) is not None:
        hose = Hose(
            length=inner.number("length", 0, _STORED),
            diameter=inner.number("diameter", 0, _STORED),
            state=inner.choice("state", [state.value for state in HoseState])
            or HoseState.STRETCHED.value,
        )
    if (inner := fields.inner("drop")) is not None:
        elbows = inner.number("elbows", 0, _STORED)
        drop = Drop(
            length=inner.number("length", 0, _STORED),
            diameter=inner.number("diameter", 0, _STORED),
            elbows=None if elbows is None else int(elbows),
        )
    return Opening(
        hood=fields.choice("hood", HOODS) or "machine_port",
        port=fields.number("port", 0, _STORED),
        hose=hose,
        drop=drop,
        entry_angle=fields.number("entry_angle", 0, _STORED),
    )
