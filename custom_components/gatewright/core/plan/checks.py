"""Everything in a drawing that doesn't fit, each with a code and the part it is at."""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import cos, radians, sin
from typing import Final

from .document import (
    COLLECTOR,
    INLINE,
    MACHINE,
    SIDE,
    DrawnDuct,
    DrawnGate,
    DrawnItem,
    ShopPlan,
)
from .geometry import CLOSE, Point, apart
from .pieces import NOWHERE, OFF, UNKNOWN, Pieces
from .tree import joint

ERROR: Final = "error"
WARNING: Final = "warning"

WARNINGS: Final = frozenset(
    {
        "start_nowhere",
        "start_without_gate",
        "gate_without_machine",
        "gate_with_machines",
        "gate_not_placed",
        "machine_without_gate",
        "overlapping",
        "name_missing",
        "name_taken",
    }
)
ERRORS: Final = frozenset(
    {
        "unknown_duct",
        "unknown_item",
        "two_collectors",
        "no_collector",
        "duct_loop",
        "end_nowhere",
        "end_off_duct",
        "two_gates_inline",
        "bound_twice",
        "bound_unknown",
        "gate_off_duct",
        "tee_against_flow",
        "no_length",
    }
)

_OF_ENDS: Final = {
    UNKNOWN: "unknown_duct",
    NOWHERE: "end_nowhere",
    OFF: "end_off_duct",
}
_AGAINST: Final = 91.0
"""Degrees from which a tee is told to meet the flow; the rest is rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanProblem:
    """Something wrong with a drawing.

    `kind` is `item`, `duct`, `gate` or `plan`, `part` the id there; `other` another
    part of it. `distance` in m. `severity` says whether it can be applied.
    """

    code: str
    kind: str
    part: str = ""
    other: str = ""
    point: int | None = None
    distance: float | None = None

    @property
    def severity(self) -> str:
        """Whether it keeps the plan from being applied."""
        return WARNING if self.code in WARNINGS else ERROR


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownParts:
    """What there is to be bound: ids of machines, gates and ducts, and their names.

    `served` are the gates of each machine. None of it matters to a plan by itself.
    """

    machines: Mapping[str, str]
    gates: Mapping[str, str]
    ducts: Mapping[str, str]
    served: Mapping[str, Collection[str]]


def check(
    plan: ShopPlan, pieces: Pieces, known: KnownParts | None = None
) -> list[PlanProblem]:
    """Return everything that is wrong with a plan."""
    found = [
        *_ducts(plan, pieces),
        *_gates(plan, pieces, known),
        *_items(plan, pieces, known),
        *_crossings(pieces),
        *_names(plan, known),
    ]
    if known is not None:
        found += _bindings(plan, known)
    return sorted(found, key=lambda problem: problem.code in WARNINGS)


def served_gates(plan: ShopPlan, known: KnownParts | None) -> dict[str, list[str]]:
    """Return the drawn gates of each item.

    Of a machine and a gate that both exist the system's own list counts.
    """
    found: dict[str, list[str]] = {item.id: [] for item in plan.items}
    items = {item.id: item for item in plan.items}
    machines = {i.bound: i.id for i in plan.items if i.bound and i.type == MACHINE}
    for gate in plan.gates:
        exists = known is not None and gate.bound in known.gates
        for item_id in dict.fromkeys(gate.items):
            item = items.get(item_id)
            if item is None or item.type != MACHINE:
                continue
            if exists and known is not None and item.bound in known.machines:
                continue
            found[item_id].append(gate.id)
        if exists and known is not None:
            for machine, gates in known.served.items():
                if gate.bound in gates and machine in machines:
                    found[machines[machine]].append(gate.id)
    return found


def _ducts(plan: ShopPlan, pieces: Pieces) -> Iterator[PlanProblem]:
    items = {item.id for item in plan.items}
    looped = {pieces.pieces[key].duct.id for key in pieces.looped}
    for duct in plan.ducts:
        landing = pieces.landings[duct.id]
        last = len(duct.points) - 1
        if duct.line.length < CLOSE:
            yield PlanProblem(code="no_length", kind="duct", part=duct.id)
        if landing.fault and landing.culprit != duct.id:
            # It is told at the duct that this one follows.
            pass
        elif landing.fault in _OF_ENDS:
            yield PlanProblem(
                code=_OF_ENDS[landing.fault],
                kind="duct",
                part=duct.id,
                other=(duct.end.duct or "")
                if landing.fault == OFF and duct.end
                else "",
                point=last,
                distance=landing.distance if landing.fault == OFF else None,
            )
        elif landing.fault or duct.id in looped:
            yield PlanProblem(code="duct_loop", kind="duct", part=duct.id, point=last)
        elif duct.end is not None and duct.end.wye is None:
            *_, piece = pieces.of(duct.id)
            if joint(pieces, piece).drawn > _AGAINST and joint(pieces, piece).branch:
                yield PlanProblem(
                    code="tee_against_flow", kind="duct", part=duct.id, point=last
                )
        if duct.start is not None and duct.start not in items:
            yield PlanProblem(code="unknown_item", kind="duct", part=duct.id, point=0)
        elif (duct.id, 0.0) not in pieces.inflows:
            yield PlanProblem(
                code="start_nowhere" if duct.start is None else "start_without_gate",
                kind="duct",
                part=duct.id,
                other=duct.start or "",
                point=0,
            )


def _gates(
    plan: ShopPlan, pieces: Pieces, known: KnownParts | None
) -> Iterator[PlanProblem]:
    items = {item.id: item for item in plan.items}
    owners: dict[str, list[str]] = {gate.id: [] for gate in plan.gates}
    for item_id, gates in served_gates(plan, known).items():
        for gate_id in gates:
            owners[gate_id].append(item_id)
    inline: dict[str, DrawnGate] = {}
    for gate in plan.gates:
        duct = pieces.by_id.get(gate.duct or "")
        if gate.duct is None:
            yield PlanProblem(code="gate_not_placed", kind="gate", part=gate.id)
        elif duct is None:
            yield PlanProblem(code="unknown_duct", kind="gate", part=gate.id)
        elif _beyond(gate, duct):
            yield PlanProblem(
                code="gate_off_duct", kind="gate", part=gate.id, other=duct.id
            )
        for item_id in gate.items:
            if item_id not in items or items[item_id].type != MACHINE:
                yield PlanProblem(
                    code="unknown_item", kind="gate", part=gate.id, other=item_id
                )
        if gate.mount == INLINE:
            piece = pieces.piece_of(gate)
            if piece is not None and piece.key in inline:
                yield PlanProblem(
                    code="two_gates_inline",
                    kind="gate",
                    part=gate.id,
                    other=inline[piece.key].id,
                )
            elif piece is not None:
                inline[piece.key] = gate
            continue
        serves = owners[gate.id]
        elsewhere = known is not None and any(
            gate.bound in gates for gates in known.served.values()
        )
        if not serves and not elsewhere:
            yield PlanProblem(code="gate_without_machine", kind="gate", part=gate.id)
        elif len(serves) > 1:
            yield PlanProblem(
                code="gate_with_machines",
                kind="gate",
                part=gate.id,
                other=serves[1],
            )


def _beyond(gate: DrawnGate, duct: DrawnDuct) -> bool:
    room = -CLOSE if gate.mount == SIDE else CLOSE
    return gate.at > duct.line.length + room


def _items(
    plan: ShopPlan, pieces: Pieces, known: KnownParts | None
) -> Iterator[PlanProblem]:
    collectors = [item for item in plan.items if item.type == COLLECTOR]
    for item in collectors[1:]:
        yield PlanProblem(
            code="two_collectors", kind="item", part=item.id, other=collectors[0].id
        )
    if not collectors:
        yield PlanProblem(code="no_collector", kind="plan")
    on_ducts = {gate.id for gate in plan.gates if pieces.piece_of(gate) is not None}
    served = served_gates(plan, known)
    for item in plan.items:
        if item.type == MACHINE and not on_ducts & set(served[item.id]):
            yield PlanProblem(code="machine_without_gate", kind="item", part=item.id)
    boxes = [(item, box) for item in plan.items if (box := _box(item)) is not None]
    boxes.sort(key=lambda pair: pair[1][0])
    for number, (item, box) in enumerate(boxes):
        for other, its in boxes[number + 1 :]:
            if its[0] >= box[2] - CLOSE:
                break
            if its[1] < box[3] - CLOSE and box[1] < its[3] - CLOSE:
                yield PlanProblem(
                    code="overlapping", kind="item", part=other.id, other=item.id
                )


def _box(item: DrawnItem) -> tuple[float, float, float, float] | None:
    """Return the rectangle along the axes around an item that has a size."""
    if not item.width or not item.depth:
        return None
    across, along = abs(cos(radians(item.turn))), abs(sin(radians(item.turn)))
    x = (item.width * across + item.depth * along) / 2
    y = (item.width * along + item.depth * across) / 2
    return item.x - x, item.y - y, item.x + x, item.y + y


def _crossings(pieces: Pieces) -> Iterator[PlanProblem]:
    """Yield the ducts that run through each other, each pair once.

    Not those that meet: what ends at one is close to it. What leads nowhere is told as
    that.
    """
    legs: list[tuple[float, float, DrawnDuct, Point, Point, float]] = []
    for duct in pieces.plan.ducts:
        if pieces.landings[duct.id].fault:
            continue
        for leg, (one, other) in enumerate(pairwise(duct.line.points)):
            width = duct.width_of(leg) / 2
            low, high = sorted((one[0], other[0]))
            legs.append((low - width, high + width, duct, one, other, width))
    legs.sort(key=lambda leg: leg[0])
    meets = {
        frozenset((duct.id, landing.duct))
        for duct in pieces.plan.ducts
        if (landing := pieces.landings[duct.id]).duct is not None
    }
    for ids in pieces.inflows.values():
        meets |= {frozenset((one, other)) for one in ids for other in ids}
    told: set[frozenset[str]] = set()
    for number, (_, high, duct, one, other, width) in enumerate(legs):
        for low, _, crossed, start, end, its in legs[number + 1 :]:
            if low > high:
                break
            pair = frozenset((duct.id, crossed.id))
            if duct.id == crossed.id or pair in meets or pair in told:
                continue
            room = width + its - CLOSE
            if (
                min(start[1], end[1]) - max(one[1], other[1]) < room
                and min(one[1], other[1]) - max(start[1], end[1]) < room
                and apart(one, other, start, end) < room
                and not _touch_at_end(pieces, duct, crossed, room)
            ):
                told.add(pair)
                yield PlanProblem(
                    code="overlapping", kind="duct", part=duct.id, other=crossed.id
                )


def _touch_at_end(
    pieces: Pieces, one: DrawnDuct, other: DrawnDuct, room: float
) -> bool:
    """Whether two ducts meet at one place of a third, or at the collector."""
    ends = one.points[-1].at, other.points[-1].at
    both = [pieces.landings[duct.id] for duct in (one, other)]
    near = apart(ends[0], ends[0], ends[1], ends[1]) < room
    return near and not both[0].fault and both[0].duct == both[1].duct


def _names(plan: ShopPlan, known: KnownParts | None) -> Iterator[PlanProblem]:
    new = [duct for duct in plan.ducts if duct.bound is None]
    taken = Counter(duct.name.strip().casefold() for duct in plan.ducts)
    if known is not None:
        others = {**known.machines, **known.gates}
        taken.update(name.strip().casefold() for name in others.values())
    for duct in new:
        name = duct.name.strip().casefold()
        if not name:
            yield PlanProblem(code="name_missing", kind="duct", part=duct.id)
        elif taken[name] > 1:
            yield PlanProblem(code="name_taken", kind="duct", part=duct.id)


def _bindings(plan: ShopPlan, known: KnownParts) -> Iterator[PlanProblem]:
    parts: tuple[
        tuple[str, tuple[DrawnItem | DrawnDuct | DrawnGate, ...], Mapping[str, str]],
        ...,
    ] = (
        (
            "item",
            tuple(item for item in plan.items if item.type == MACHINE),
            known.machines,
        ),
        ("gate", plan.gates, known.gates),
        ("duct", plan.ducts, known.ducts),
    )
    for kind, drawn, there in parts:
        seen: dict[str, str] = {}
        for part in drawn:
            if part.bound is None:
                continue
            if part.bound not in there:
                yield PlanProblem(code="bound_unknown", kind=kind, part=part.id)
            elif part.bound in seen:
                yield PlanProblem(
                    code="bound_twice", kind=kind, part=part.id, other=seen[part.bound]
                )
            else:
                seen[part.bound] = part.id
