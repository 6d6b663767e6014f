"""The fittings of a drawing, where they are: elbows, branches, reducers."""

from collections.abc import Iterator
from dataclasses import dataclass

from .document import DrawnDuct, ElbowMake
from .geometry import Point, turn
from .pieces import Piece, Pieces
from .tree import LEAST_TURN, joint

ELBOW = "elbow"
WYE = "wye"
TEE = "tee"
REDUCER = "reducer"

_TEE = 85.0
"""Angle (degrees) from which a branch is called a tee."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """One fitting: angle in degrees, diameters in m; `to` that of a reducer's end."""

    kind: str
    duct: str
    at: Point
    diameter: float
    angle: float = 0.0
    to: float | None = None
    make: ElbowMake | None = None


def fittings(pieces: Pieces) -> Iterator[Fitting]:
    """Yield every fitting of a drawing; of typed elbows nobody knows where they are."""
    for duct in pieces.plan.ducts:
        if duct.typed.elbows is None:
            yield from _corners(duct)
        *_, last = pieces.of(duct.id)
        yield from _joint(pieces, last)
        for piece in pieces.of(duct.id):
            yield from _reducer(pieces, piece)


def _corners(duct: DrawnDuct) -> Iterator[Fitting]:
    for number in range(1, len(duct.points) - 1):
        angle = turn(duct.line.direction(number - 1), duct.line.direction(number))
        if angle >= LEAST_TURN:
            yield Fitting(
                kind=ELBOW,
                duct=duct.id,
                at=duct.points[number].at,
                diameter=duct.width_of(number - 1),
                angle=round(angle, 1),
                make=duct.points[number].elbow or duct.elbow,
            )


def _joint(pieces: Pieces, piece: Piece) -> Iterator[Fitting]:
    duct = piece.duct
    met = joint(pieces, piece)
    at, width = duct.points[-1].at, duct.width_of(piece.leg)
    if met.elbow >= LEAST_TURN and duct.typed.elbows is None:
        yield Fitting(
            kind=ELBOW,
            duct=duct.id,
            at=at,
            diameter=width,
            angle=round(met.elbow, 1),
            make=duct.points[-1].elbow or duct.elbow,
        )
    if not met.branch:
        return
    entry = met.entry if duct.typed.entry_angle is None else duct.typed.entry_angle
    if entry >= LEAST_TURN:
        yield Fitting(
            kind=TEE if entry >= _TEE else WYE,
            duct=duct.id,
            at=at,
            diameter=width,
            angle=entry,
        )


def _reducer(pieces: Pieces, piece: Piece) -> Iterator[Fitting]:
    """Yield the reducer where a piece goes straight on into another width."""
    into = None if piece.into is None else pieces.pieces.get(piece.into)
    if into is None or (piece.last and joint(pieces, piece).branch):
        return
    width, following = (one.duct.width_of(one.leg) for one in (piece, into))
    if width != following:
        yield Fitting(
            kind=REDUCER,
            duct=piece.duct.id,
            at=piece.duct.line.point_at(piece.end),
            diameter=width,
            to=following,
        )
