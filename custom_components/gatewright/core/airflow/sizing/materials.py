"""What to buy: pipe and hose by the meter, fittings and gates by the piece."""

from collections import Counter
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from math import ceil, isclose
from typing import Final

from ..errors import require
from ..model import Duct, DuctSystem, Pickup
from ..pipe import Elbow, Pipe

USUAL_WASTE: Final = 0.1
"""Share of pipe and hose that is cut off and thrown away. Common practice, no
source."""

PIECE_LENGTH: Final = 3.0
"""Length (m) in which straight duct is sold (a duct maker's manual: 3 or 6 m)."""

_HOSE_ROUGHNESS: Final = 0.0005
"""Roughness (m) above which a pipe is a hose."""

_SAME: Final = 0.003
"""Widths (m) closer than this fit each other."""


class ItemKind(StrEnum):
    """What a line of the list is."""

    PIPE = "pipe"
    HOSE = "hose"
    ELBOW = "elbow"
    BRANCH = "branch"
    REDUCER = "reducer"
    GATE = "gate"
    PIPE_CLAMP = "pipe_clamp"
    HOSE_CLAMP = "hose_clamp"


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A line of the list.

    `diameter` in m; `other` (m) is a branch's or a reducer's second width; `angle` in
    degrees of an elbow or branch, `radius` an elbow's bend radius over its diameter.
    `count` pieces; pipe and hose have a `length` (m), the waste included.
    """

    kind: ItemKind
    diameter: float
    count: int
    other: float = 0.0
    angle: float = 0.0
    radius: float = 0.0
    length: float = 0.0


type _Key = tuple[ItemKind, float, float, float, float]


class _List:
    """Counts what is needed."""

    def __init__(self) -> None:
        self.pieces: Counter[_Key] = Counter()
        self.lengths: dict[tuple[ItemKind, float], float] = {}

    def add(
        self,
        kind: ItemKind,
        diameter: float,
        count: int = 1,
        *,
        other: float = 0.0,
        angle: float = 0.0,
        radius: float = 0.0,
    ) -> None:
        if count:
            self.pieces[kind, diameter, other, angle, radius] += count

    def run(self, kind: ItemKind, diameter: float, length: float) -> None:
        key = kind, diameter
        self.lengths[key] = self.lengths.get(key, 0.0) + length

    def elbows(self, elbows: tuple[Elbow, ...], diameter: float) -> int:
        for elbow in elbows:
            self.add(
                ItemKind.ELBOW,
                diameter,
                elbow.count,
                angle=elbow.angle,
                radius=elbow.radius_ratio,
            )
        return sum(elbow.count for elbow in elbows)

    def reducer(self, one: float, other: float) -> None:
        if not isclose(one, other, abs_tol=_SAME):
            wide, narrow = max(one, other), min(one, other)
            self.add(ItemKind.REDUCER, wide, other=narrow)


def material_list(
    system: DuctSystem, *, waste: float = USUAL_WASTE, piece: float = PIECE_LENGTH
) -> tuple[Item, ...]:
    """Return what a system is built of, by kind and width.

    `waste` is a share added to pipe and hose, `piece` the length (m) pipe comes in.
    A stream that enters a duct at an angle takes a branch as wide as the duct; of
    those that are straight the first goes on into it, over a reducer where it is
    narrower. Each hose takes a clamp at either end, and rigid parts one where two
    meet. Raises `AirflowError` for a waste or piece that makes no sense.
    """
    require(0.0 <= waste <= 1.0, "waste_range", "A waste must be between 0 and 1")
    require(0.3 <= piece <= 12.0, "piece_range", "Pipe comes in 0.3 to 12 m")
    parts = _List()
    joints: Counter[float] = Counter()
    for duct in system.ducts:
        pieces = ceil(duct.length / piece - 1e-9)
        parts.run(ItemKind.PIPE, duct.diameter, duct.length)
        bends = parts.elbows(duct.elbows, duct.diameter)
        joints[duct.diameter] += max(0, pieces + bends)
        if duct.gate is not None:
            parts.add(ItemKind.GATE, duct.diameter)
            joints[duct.diameter] += 1
        _junction(parts, system, duct)
        if duct.into is None and system.inlet_diameter is not None:
            parts.reducer(duct.diameter, system.inlet_diameter)
    for pickup in system.pickups:
        _pickup(parts, joints, pickup, piece)
    for diameter, count in joints.items():
        parts.add(ItemKind.PIPE_CLAMP, diameter, count)
    items = [
        Item(
            kind=kind,
            diameter=diameter,
            length=length * (1.0 + waste),
            count=ceil(length * (1.0 + waste) / piece - 1e-9)
            if kind is ItemKind.PIPE
            else 1,
        )
        for (kind, diameter), length in parts.lengths.items()
        if length > 0
    ]
    items += [
        Item(
            kind=kind,
            diameter=diameter,
            other=other,
            angle=angle,
            radius=radius,
            count=count,
        )
        for (kind, diameter, other, angle, radius), count in parts.pieces.items()
    ]
    order = list(ItemKind)
    return tuple(
        sorted(
            items,
            key=lambda i: (order.index(i.kind), -i.diameter, -i.other, -i.angle),
        )
    )


def _pickup(parts: _List, joints: Counter[float], pickup: Pickup, piece: float) -> None:
    for pipe in pickup.pipes:
        if _is_hose(pipe):
            parts.run(ItemKind.HOSE, pipe.diameter, pipe.length)
            parts.add(ItemKind.HOSE_CLAMP, pipe.diameter, 2)
            continue
        parts.run(ItemKind.PIPE, pipe.diameter, pipe.length)
        bends = parts.elbows(pipe.elbows, pipe.diameter)
        joints[pipe.diameter] += ceil(pipe.length / piece - 1e-9) + bends
    for one, other in pairwise(pickup.pipes):
        parts.reducer(one.diameter, other.diameter)
    if pickup.gate is not None and pickup.pipes:
        parts.add(ItemKind.GATE, pickup.pipes[-1].diameter)


def _is_hose(pipe: Pipe) -> bool:
    return pipe.length > 0 and pipe.roughness > _HOSE_ROUGHNESS


def _junction(parts: _List, system: DuctSystem, duct: Duct) -> None:
    """Add the branches and reducers at a duct's upstream end, and a hood's gate."""
    streams = [
        (other.entry_angle, other.diameter)
        for other in system.ducts
        if other.into == duct.id
    ]
    for pickup in system.pickups:
        if pickup.duct != duct.id:
            continue
        width = pickup.pipes[-1].diameter if pickup.pipes else duct.diameter
        streams.append((pickup.entry_angle, width))
        if pickup.gate is not None and not pickup.pipes:
            parts.add(ItemKind.GATE, duct.diameter)
    streams.sort()
    for angle, diameter in streams[1:]:
        # Where all are straight the others still need an opening of their own.
        parts.add(
            ItemKind.BRANCH, duct.diameter, other=diameter, angle=angle or _USUAL_ENTRY
        )
    if streams:
        parts.reducer(streams[0][1], duct.diameter)


_USUAL_ENTRY: Final = 45.0
