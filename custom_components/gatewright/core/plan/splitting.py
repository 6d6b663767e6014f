"""Makes a duct of its own of each piece, and gives pieces other diameters."""

from collections.abc import Mapping
from dataclasses import replace

from .document import (
    SIDE,
    START,
    DrawnDuct,
    DrawnGate,
    Drop,
    DuctEnd,
    Hose,
    ShopPlan,
    Typed,
    Vertex,
)
from .geometry import CLOSE
from .pieces import Piece, Pieces
from .tree import SIDE_ANGLE, name_of


def split(plan: ShopPlan) -> ShopPlan:
    """Return the same drawing with every piece as a duct of its own.

    The uppermost piece keeps the duct's id and what it is bound to. The tree of it is
    the tree of the plan, with other keys.
    """
    pieces = Pieces(plan)
    ids = _ids(plan, pieces)
    return replace(
        plan,
        ducts=tuple(
            _duct(pieces, ids, piece)
            for duct in plan.ducts
            for piece in pieces.of(duct.id)
        ),
        gates=tuple(_gate(pieces, ids, gate) for gate in plan.gates),
    )


def _ids(plan: ShopPlan, pieces: Pieces) -> dict[str, str]:
    """Return the id of each piece as a duct."""
    taken = plan.ids
    found: dict[str, str] = {}
    for duct in plan.ducts:
        for piece in pieces.of(duct.id):
            name = duct.id
            while piece.number and name in taken:
                name = f"{name}+" if name != duct.id else f"{duct.id}/{piece.number}"
            taken.add(name)
            found[piece.key] = name
    return found


def _duct(pieces: Pieces, ids: Mapping[str, str], piece: Piece) -> DrawnDuct:
    duct, typed = piece.duct, piece.duct.typed
    first = piece.number == 0
    share = (piece.end - piece.start) / (duct.line.length or 1.0)
    return replace(
        duct,
        id=ids[piece.key],
        bound=duct.bound if first else None,
        name=name_of(piece),
        points=_points(piece),
        diameter=duct.width_of(piece.leg),
        material=duct.material_of(piece.leg),
        end=_end(pieces, ids, piece),
        start=duct.start if first else None,
        typed=typed
        if first and piece.last
        else Typed(
            length=None if typed.length is None else typed.length * share,
            elbows=typed.elbows if first or typed.elbows is None else (),
            entry_angle=typed.entry_angle if piece.last else None,
            vertical=typed.vertical,
        ),
    )


def _points(piece: Piece) -> tuple[Vertex, ...]:
    line, vertices = piece.duct.line, piece.duct.points

    def at(place: float) -> Vertex:
        for mark, vertex in zip(line.marks, vertices, strict=True):
            if abs(mark - place) <= CLOSE:
                return replace(vertex, diameter=None, material=None)
        return Vertex(at=line.point_at(place))

    inner = [
        replace(vertex, diameter=None, material=None)
        for mark, vertex in zip(line.marks, vertices, strict=True)
        if piece.start + CLOSE < mark < piece.end - CLOSE
    ]
    return (replace(at(piece.start), elbow=None), *inner, at(piece.end))


def _end(pieces: Pieces, ids: Mapping[str, str], piece: Piece) -> DuctEnd | None:
    if not piece.last:
        return DuctEnd(duct=ids[pieces.key(piece.duct, piece.number + 1)], run=True)
    end = piece.duct.end
    if end is None or end.duct is None or end.duct not in pieces.by_id:
        return end
    place, _ = pieces.by_id[end.duct].line.nearest(piece.duct.points[-1].at)
    target = pieces.at(end.duct, place)
    return end if target is None else replace(end, duct=ids[target.key])


def _gate(pieces: Pieces, ids: Mapping[str, str], gate: DrawnGate) -> DrawnGate:
    piece = pieces.piece_of(gate)
    if piece is None:
        return gate
    found = replace(gate, duct=ids[piece.key])
    if gate.mount == SIDE and gate.opening is not None:
        angle = gate.opening.entry_angle
        angle = SIDE_ANGLE if angle is None else angle
        opening = replace(gate.opening, entry_angle=angle)
        return replace(found, mount=START, at=0.0, opening=opening)
    return replace(found, at=round(min(max(0.0, gate.at - piece.start), piece.end), 6))


def with_widths(plan: ShopPlan, widths: Mapping[str, float]) -> ShopPlan:
    """Return a drawing with other diameters (m), of pieces by key and gates by id.

    A gate's are those of its hose and its drop.
    """
    pieces = Pieces(plan)
    return replace(
        plan,
        ducts=tuple(_widened(pieces, duct, widths) for duct in plan.ducts),
        gates=tuple(
            _hosed(gate, widths[gate.id]) if gate.id in widths else gate
            for gate in plan.gates
        ),
    )


def _widened(pieces: Pieces, duct: DrawnDuct, widths: Mapping[str, float]) -> DrawnDuct:
    own = list(pieces.of(duct.id))
    if not any(piece.key in widths for piece in own):
        return duct
    wanted = [widths.get(piece.key, duct.width_of(piece.leg)) for piece in own]
    breaks = [piece.start for piece in own]
    vertices = dict(zip(duct.line.marks, duct.points, strict=True))
    for place in breaks:
        if all(abs(mark - place) > CLOSE for mark in vertices):
            leg = duct.points[duct.line.leg_at(place)]
            at = duct.line.point_at(place)
            vertices[place] = replace(leg, at=at, elbow=None)
    marks = sorted(vertices)
    points: list[Vertex] = []
    main = wanted[-1]
    for mark in marks:
        number = max(i for i, place in enumerate(breaks) if mark >= place - CLOSE)
        width = wanted[number]
        last = mark == marks[-1]
        own_width = None if width == main or last else width
        points.append(replace(vertices[mark], diameter=own_width))
    return replace(duct, points=tuple(points), diameter=main)


def _hosed(gate: DrawnGate, width: float) -> DrawnGate:
    opening = gate.opening
    if opening is None:
        return gate
    hose: Hose | None = opening.hose
    drop: Drop | None = opening.drop
    if hose is not None:
        hose = replace(hose, diameter=width)
    if drop is not None:
        drop = replace(drop, diameter=width)
    return replace(gate, opening=replace(opening, hose=hose, drop=drop))
