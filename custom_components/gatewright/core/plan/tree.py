"""From the drawing to what the forms of ducts and gates store."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from .document import SIDE, DrawnGate, ElbowMake, ElbowRow, PlanData, ShopPlan
from .geometry import CLOSE, turn
from .pieces import Piece, Pieces, rises
from .stored import duct_data, place_of

LEAST_TURN: Final = 3.0
"""A corner or entry of less (degrees) is taken as straight: nobody builds it."""

SIDE_ANGLE: Final = 45.0
"""Angle at which an opening's pipes meet the side of a duct where nobody said."""


@dataclass(frozen=True, kw_only=True)
class DuctTree:
    """A drawing as ducts and places of gates.

    `ducts` by the key of a piece, `places` by the id of the drawn gate, empty for one
    that is on no duct. `loose` are pieces whose air doesn't get to the collector.
    """

    pieces: Pieces
    ducts: Mapping[str, PlanData]
    names: Mapping[str, str]
    places: Mapping[str, PlanData]
    loose: frozenset[str]


@dataclass(frozen=True, slots=True)
class Joint:
    """How a piece meets what it flows into: entry angle, and what it still turns by."""

    entry: float
    elbow: float
    branch: bool
    drawn: float


def read_tree(plan: ShopPlan, pieces: Pieces | None = None) -> DuctTree:
    """Return the ducts and the places of the gates of a drawing."""
    pieces = Pieces(plan) if pieces is None else pieces
    ducts = {key: _duct(pieces, piece) for key, piece in pieces.pieces.items()}
    places: dict[str, PlanData] = {}
    for gate in plan.gates:
        piece = pieces.piece_of(gate)
        places[gate.id] = {} if piece is None else place_of(_sided(gate), piece.key)
    return DuctTree(
        pieces=pieces,
        ducts=ducts,
        names={key: name_of(piece) for key, piece in pieces.pieces.items()},
        places=places,
        loose=frozenset(key for key, p in pieces.pieces.items() if not p.leads),
    )


def name_of(piece: Piece) -> str:
    """Return the name of a piece: the duct's, where it is split with a number.

    Counted from the collector out, as people number a main.
    """
    duct = piece.duct
    if (piece.number == 0 and (piece.last or duct.bound is not None)) or not duct.name:
        return duct.name
    return f"{duct.name} {piece.count - piece.number}"


def _sided(gate: DrawnGate) -> DrawnGate:
    opening = gate.opening
    if gate.mount != SIDE or opening is None or opening.entry_angle is not None:
        return gate
    return replace(gate, opening=replace(opening, entry_angle=SIDE_ANGLE))


def _duct(pieces: Pieces, piece: Piece) -> PlanData:
    duct, typed = piece.duct, piece.duct.typed
    length = piece.end - piece.start
    if typed.length is not None:
        whole = duct.line.length
        length *= typed.length / whole if whole else 0.0
        if piece.number == 0 and piece.last:
            length = typed.length
    else:
        length = round(length, 4)
    elbows: tuple[ElbowRow, ...]
    if typed.elbows is None:
        elbows = tuple(corners(pieces, piece))
    else:
        elbows = typed.elbows if piece.number == 0 else ()
    entry = 0.0
    if piece.last:
        entry = joint(pieces, piece).entry
        if typed.entry_angle is not None:
            entry = typed.entry_angle
    vertical = rises(piece) if typed.vertical is None else typed.vertical
    return duct_data(
        into=piece.into,
        diameter=duct.width_of(piece.leg),
        length=length,
        material=duct.material_of(piece.leg),
        entry_angle=entry,
        vertical=vertical,
        elbows=elbows,
    )


def corners(pieces: Pieces, piece: Piece) -> list[ElbowRow]:
    """Return the elbows of a piece: its corners, and what turns where it ends."""
    duct = piece.duct
    line = duct.line
    found: list[ElbowRow] = []
    for number in range(1, len(duct.points) - 1):
        mark = line.marks[number]
        # A corner where the duct is split belongs to the piece above it.
        if piece.start + CLOSE < mark <= piece.end + CLOSE:
            angle = turn(line.direction(number - 1), line.direction(number))
            found += _elbow(angle, duct.points[number].elbow or duct.elbow)
    if piece.last:
        make = duct.points[-1].elbow or duct.elbow
        found += _elbow(joint(pieces, piece).elbow, make)
    return found


def _elbow(angle: float, make: ElbowMake) -> list[ElbowRow]:
    if angle < LEAST_TURN:
        return []
    return [
        ElbowRow(
            count=1,
            angle=_degrees(angle),
            radius=make.radius,
            construction=make.construction,
        )
    ]


def joint(pieces: Pieces, piece: Piece) -> Joint:
    """Return how the last piece of a duct meets what the duct flows into."""
    duct = piece.duct
    on = pieces.downstream(duct)
    if on is None or duct.end is None:
        return Joint(0.0, 0.0, branch=False, drawn=0.0)
    drawn = turn(duct.line.direction(len(duct.points) - 2), on)
    run = duct.end.run
    if run is None:
        run = pieces.meets_alone(duct)
    if run:
        # A typed entry angle comes with a fitting; the corner is no elbow then.
        elbow = 0.0 if duct.typed.entry_angle else drawn
        return Joint(0.0, elbow, branch=False, drawn=drawn)
    wye = duct.end.wye
    if wye is None:
        entry, rest = min(90.0, drawn), 0.0
    elif drawn <= wye + 0.05:
        entry, rest = drawn, 0.0
    else:
        entry, rest = wye, drawn - wye
    if wye is None or entry != wye:
        entry = _degrees(entry) if entry >= LEAST_TURN else 0.0
    return Joint(entry, rest, branch=True, drawn=drawn)


def _degrees(angle: float) -> float:
    return round(angle, 1)
