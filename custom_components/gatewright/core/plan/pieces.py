"""Splits what is drawn into the ducts of a tree: at junctions, and where pipe changes."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Final

from .document import SIDE, START, DrawnDuct, DrawnGate, ShopPlan
from .geometry import CLOSE, Point

NOWHERE: Final = "nowhere"
UNKNOWN: Final = "unknown"
OFF: Final = "off"
LOOP: Final = "loop"
"""Why a duct's end leads to no place."""


@dataclass(frozen=True, slots=True)
class Landing:
    """Where a duct's end leads: to a place (m) on a duct, or to the collector.

    `duct` None is the collector; `fault` says why it leads nowhere, at the end of the
    duct `culprit`, and `distance` (m) how far beside its duct that one ends.
    """

    duct: str | None = None
    place: float = 0.0
    fault: str = ""
    culprit: str = ""
    distance: float = 0.0

    @property
    def collector(self) -> bool:
        """Whether it leads to the collector."""
        return self.duct is None and not self.fault


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a drawn duct, from `start` to `end` (m) along its line.

    It flows into the next piece of the same duct or, at the last one, where the duct
    leads: `into` is that piece's key, None for the collector. `leads`: whether its air
    gets to the collector at all.
    """

    key: str
    duct: DrawnDuct
    number: int
    count: int
    start: float
    end: float
    into: str | None
    leads: bool

    @property
    def last(self) -> bool:
        """Whether it is the one that ends where the duct ends."""
        return self.number == self.count - 1

    @property
    def leg(self) -> int:
        """The leg that it begins with."""
        return self.duct.line.leg_at(self.start)


class Pieces:
    """The pieces of a plan, and how they hang together."""

    def __init__(self, plan: ShopPlan) -> None:
        self.plan = plan
        self.by_id = {duct.id: duct for duct in plan.ducts}
        self._bound = {duct.bound: duct.id for duct in reversed(plan.ducts)}
        self.landings = {duct.id: self._landing(duct) for duct in plan.ducts}
        self.breaks = {duct.id: self._breaks(duct) for duct in plan.ducts}
        self._into: dict[str, str | None] = {}
        for duct in plan.ducts:
            self._join(duct)
        self._leads: dict[str, bool] = {}
        self.looped: set[str] = set()
        for key in self._into:
            self._follow(key)
        self.pieces = {
            piece.key: piece for duct in plan.ducts for piece in self._of(duct)
        }

    def key(self, duct: DrawnDuct, number: int) -> str:
        """Return what a piece is called: the bound id for the uppermost piece."""
        if (
            number == 0
            and duct.bound is not None
            and self._bound[duct.bound] == duct.id
        ):
            return duct.bound
        return f"plan:{duct.id}/{number}"

    def at(self, duct_id: str, place: float) -> Piece | None:
        """Return the piece that leads on from a place of a duct."""
        number = self._number(duct_id, place)
        return self.pieces.get(self.key(self.by_id[duct_id], number))

    def piece_of(self, gate: DrawnGate) -> Piece | None:
        """Return the piece that a gate sits on; None for one that is on none."""
        duct = self.by_id.get(gate.duct or "")
        if duct is None or gate.at > duct.line.length + CLOSE:
            return None
        if gate.mount == START:
            return self.at(duct.id, 0.0)
        if gate.mount == SIDE:
            return self.at(duct.id, gate.at)
        # One that stands just at a junction is taken to be above it.
        return self.at(duct.id, max(0.0, gate.at - 2 * CLOSE))

    def of(self, duct_id: str) -> Iterator[Piece]:
        """Yield the pieces of a duct, from its upstream end."""
        duct = self.by_id[duct_id]
        for number in range(len(self.breaks[duct_id]) - 1):
            yield self.pieces[self.key(duct, number)]

    @cached_property
    def inflows(self) -> dict[tuple[str, float], list[str]]:
        """What meets at each upstream end of a piece: ids of ducts and gates."""
        found: dict[tuple[str, float], list[str]] = {}
        for duct in self.plan.ducts:
            landing = self.landings[duct.id]
            if landing.duct is not None and not landing.fault:
                place = self._snapped(landing.duct, landing.place)
                found.setdefault((landing.duct, place), []).append(duct.id)
        for gate in self.plan.gates:
            if gate.duct in self.by_id and gate.mount in (START, SIDE):
                place = 0.0
                if gate.mount == SIDE:
                    place = self._snapped(gate.duct, gate.at)
                found.setdefault((gate.duct, place), []).append(gate.id)
        return found

    def downstream(self, duct: DrawnDuct) -> Point | None:
        """Return the direction of what a duct flows into; None for the collector."""
        landing = self.landings[duct.id]
        if landing.duct is None:
            return None
        line = self.by_id[landing.duct].line
        return line.direction(line.leg_at(landing.place))

    def meets_alone(self, duct: DrawnDuct) -> bool:
        """Whether a duct is all that flows into the upstream end of another."""
        landing = self.landings[duct.id]
        if landing.duct is None:
            return False
        place = self._snapped(landing.duct, landing.place)
        return place == 0.0 and self.inflows[landing.duct, place] == [duct.id]

    def _landing(self, duct: DrawnDuct) -> Landing:
        seen = {duct.id}
        at = duct
        while True:
            if at.end is None:
                return Landing(fault=NOWHERE, culprit=at.id)
            if at.end.duct is None:
                return Landing()
            target = self.by_id.get(at.end.duct)
            if target is None:
                return Landing(fault=UNKNOWN, culprit=at.id)
            place, distance = target.line.nearest(at.points[-1].at)
            if distance > CLOSE:
                return Landing(fault=OFF, culprit=at.id, distance=distance)
            if place < target.line.length - CLOSE:
                return Landing(target.id, place if place > CLOSE else 0.0)
            # At another duct's end it flows on into what that one flows into.
            if target.id in seen:
                return Landing(fault=LOOP, culprit=duct.id)
            seen.add(target.id)
            at = target

    def _breaks(self, duct: DrawnDuct) -> list[float]:
        length = duct.line.length
        places = [
            landing.place
            for landing in self.landings.values()
            if landing.duct == duct.id and not landing.fault
        ]
        places += [
            gate.at
            for gate in self.plan.gates
            if gate.duct == duct.id and gate.mount == SIDE
        ]
        places += [
            duct.line.marks[leg]
            for leg in range(1, len(duct.points) - 1)
            if duct.width_of(leg) != duct.width_of(leg - 1)
            or duct.material_of(leg) != duct.material_of(leg - 1)
        ]
        found = [0.0]
        for place in sorted(places):
            if found[-1] + CLOSE < place < length - CLOSE:
                found.append(place)
        return [*found, length]

    def _number(self, duct_id: str, place: float) -> int:
        breaks = self.breaks[duct_id]
        for number in range(len(breaks) - 2, -1, -1):
            if place >= breaks[number] - CLOSE:
                return number
        return 0

    def _snapped(self, duct_id: str, place: float) -> float:
        return self.breaks[duct_id][self._number(duct_id, place)]

    def _join(self, duct: DrawnDuct) -> None:
        count = len(self.breaks[duct.id]) - 1
        keys = [self.key(duct, number) for number in range(count)]
        for one, other in pairwise(keys):
            self._into[one] = other
        landing = self.landings[duct.id]
        if landing.collector:
            self._into[keys[-1]] = None
        elif landing.duct is not None:
            target = self.by_id[landing.duct]
            number = self._number(landing.duct, landing.place)
            self._into[keys[-1]] = self.key(target, number)
        else:
            self._into[keys[-1]] = ""

    def _follow(self, key: str) -> None:
        path: dict[str, None] = {}
        at: str | None = key
        while at is not None and at in self._into and at not in self._leads:
            if at in path:
                names = list(path)
                self.looped.update(names[names.index(at) :])
                break
            path[at] = None
            at = self._into[at]
        leads = at is None or self._leads.get(at, False)
        self._leads.update(dict.fromkeys(path, leads))

    def _of(self, duct: DrawnDuct) -> Iterator[Piece]:
        breaks = self.breaks[duct.id]
        for number, (start, end) in enumerate(pairwise(breaks)):
            key = self.key(duct, number)
            yield Piece(
                key=key,
                duct=duct,
                number=number,
                count=len(breaks) - 1,
                start=start,
                end=end,
                into=self._into[key] or None,
                leads=self._leads[key],
            )


def rises(piece: Piece) -> bool:
    """Whether a leg of a piece leads up: at 45 degrees or more, over 0.3 m or more."""
    points = piece.duct.line.between(piece.start, piece.end)
    for one, other in pairwise(points):
        up = other[2] - one[2]
        across = ((other[0] - one[0]) ** 2 + (other[1] - one[1]) ** 2) ** 0.5
        if up >= _RISE - 1e-9 and up >= across - 1e-9:
            return True
    return False


_RISE: Final = 0.3
