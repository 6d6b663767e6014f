"""Draws ducts that were entered by forms: flat, to scale, without crossings.

The main goes straight on from the collector, branches leave it square and take turns
on its sides, as on squared paper. Where that has no room, every duct goes out within a
wedge of its own, in which nothing crosses whatever the lengths are. What the straight
lines don't say (elbows, odd lengths) is kept as typed figures, so that the drawing
means what the forms hold.
"""

from collections.abc import Iterable, Mapping
from math import atan2, cos, hypot, pi, radians, sin
from typing import Final

from .document import COLLECTOR, DrawnItem, PlanData, ShopPlan
from .geometry import Point, apart
from .stored import DUCT, ENTRY_ANGLE, HOOD, INTO, LENGTH, NO_HOOD
from .stored_drawing import (
    HEIGHT,
    SIZE,
    Spot,
    Stock,
    drawn_duct,
    drawn_gate,
    with_figures,
    with_machines,
)

SHORTEST: Final = 0.3
"""Length (m) at which the shortest duct is drawn, so that it can be seen and taken."""

_REACH: Final = 0.9
"""How far (m) from the end of its duct a machine stands."""
_ROOM: Final = 0.25
"""Room (m) kept between what is drawn."""
_MOST_SQUARE: Final = 300
"""Ducts that are drawn within a tenth of a second; more has no room in any case."""
_FLAT: Final = radians(170)
_SQUARE: Final = (90, -90, 45, -45, 60, -60, 120, -120, 135, -135, 30, -30, 75, -75)


class NoRoomError(Exception):
    """Raised where what is to be drawn square doesn't fit."""


def lay_out(
    ducts: Mapping[str, PlanData], places: Mapping[str, PlanData], stock: Stock
) -> ShopPlan:
    """Return a drawing of ducts and gates (normal data, by id).

    The tree of the drawing is the data again. A duct must not flow into itself.
    """
    work = _Work(ducts, places)
    try:
        work.draw_square()
    except NoRoomError:
        # Begun anew: some of it is drawn already.
        work = _Work(ducts, places)
        work.draw_wedges()
    return _dressed(work, stock)


class _Work:
    """A drawing in the making: where the ends of each duct lie, in plan view."""

    def __init__(
        self, ducts: Mapping[str, PlanData], places: Mapping[str, PlanData]
    ) -> None:
        self.ducts = ducts
        self.places = places
        self.lines: dict[str, tuple[Spot, Spot]] = {}
        """The upstream and the downstream end of each duct."""
        self.gate_spots: dict[str, Spot] = {}
        """Where the machine of each gate stands."""
        self.above: dict[str | None, list[str]] = {None: []}
        for duct, data in ducts.items():
            self.above.setdefault(data.get(INTO), []).append(duct)
        self.gates: dict[str, list[str]] = {}
        for gate, place in places.items():
            if place and place[HOOD] != NO_HOOD:
                self.gates.setdefault(place[DUCT], []).append(gate)
        self.reach: dict[str, float] = {}
        for duct in self._upwards():
            inner = [self.reach[up] for up in self.above.get(duct, ())]
            self.reach[duct] = self.drawn(duct) + max(inner, default=0.0)

    def drawn(self, duct: str) -> float:
        """Return the length at which a duct is drawn."""
        return max(SHORTEST, float(self.ducts[duct][LENGTH]))

    def _upwards(self) -> list[str]:
        order: list[str] = []
        waiting = list(self.above[None])
        while waiting:
            duct = waiting.pop()
            order.append(duct)
            waiting += self.above.get(duct, ())
        return order[::-1]

    # Square ------------------------------------------------------------------------

    def draw_square(self) -> None:
        """Draw the mains first, then what joins them, side by side."""
        if len(self.ducts) > _MOST_SQUARE:
            raise NoRoomError
        waiting: list[tuple[str | None, Spot, float]] = [(None, (0.0, 0.0), 0.0)]
        turns = 0
        while waiting:
            # The longest runs first: they need the room.
            into, node, heading = waiting.pop(0)
            above = sorted(
                self.above.get(into, ()),
                key=lambda duct: (-float(not self._enters(duct)), -self.reach[duct]),
            )
            for number, duct in enumerate(above):
                angles = [*_SQUARE]
                if turns % 2:
                    angles = [-angle for angle in angles]
                straight = number == 0 and (into is None or not self._enters(duct))
                if straight:
                    angles = [0, *angles]
                else:
                    turns += 1
                chosen = self._fit(duct, node, heading, angles)
                waiting.append((duct, self.lines[duct][0], chosen))
        for duct, gates in self.gates.items():
            for gate in sorted(gates):
                self._stand(gate, duct)

    def _enters(self, duct: str) -> bool:
        return bool(self.ducts[duct][ENTRY_ANGLE])

    def _fit(
        self, duct: str, node: Spot, heading: float, angles: Iterable[float]
    ) -> float:
        length = self.drawn(duct)
        # Beyond its end a duct needs room for the machine.
        more = _REACH + SIZE if duct in self.gates else 0.0
        for angle in angles:
            along = heading + radians(angle)
            end = (node[0] + length * cos(along), node[1] + length * sin(along))
            far = (end[0] + more * cos(along), end[1] + more * sin(along))
            if self._is_free(node, far):
                self.lines[duct] = (_rounded(end), node)
                return along
        raise NoRoomError

    def _is_free(self, node: Spot, far: Spot) -> bool:
        whole = hypot(far[0] - node[0], far[1] - node[1])
        # What leaves from the same place is close to it there.
        share = min(0.5, _ROOM / whole)
        start = (
            node[0] + share * (far[0] - node[0]),
            node[1] + share * (far[1] - node[1]),
        )
        return all(
            apart(_flat(start), _flat(far), _flat(one), _flat(other)) >= _ROOM * 0.65
            for one, other in self.lines.values()
        ) and all(
            apart(_flat(start), _flat(far), _flat(at), _flat(at)) >= SIZE * 0.75
            for at in self.gate_spots.values()
        )

    def _stand(self, gate: str, duct: str) -> None:
        """Find a place for the machine of a gate, near the end of its duct."""
        node, before = self.lines[duct]
        heading = _heading(before, node)
        for reach in (_REACH, 1.5 * _REACH, 2.5 * _REACH, 4 * _REACH):
            for angle in (0, 45, -45, 90, -90, 135, -135, 22, -22, 67, -67):
                along = heading + radians(angle)
                spot = node[0] + reach * cos(along), node[1] + reach * sin(along)
                if self._has_room(spot):
                    self.gate_spots[gate] = _rounded(spot)
                    return
        raise NoRoomError

    def _has_room(self, spot: Spot) -> bool:
        at = _flat(spot)
        return all(
            apart(at, at, _flat(one), _flat(other)) >= SIZE * 0.75
            for one, other in self.lines.values()
        ) and all(
            apart(at, at, _flat(other), _flat(other)) >= SIZE * 1.45
            for other in (*self.gate_spots.values(), (0.0, 0.0))
        )

    # Wedges ------------------------------------------------------------------------

    def draw_wedges(self) -> None:
        """Draw every duct within a wedge of its own, as wide as what is upstream."""
        width: dict[str | None, int] = {}
        for duct in self._upwards():
            inner = sum(width[up] for up in self.above.get(duct, ()))
            width[duct] = max(1, inner + len(self.gates.get(duct, ())))
        waiting: list[tuple[str | None, Spot, float, float]] = [
            (None, (0.0, 0.0), -_FLAT / 2, _FLAT / 2)
        ]
        while waiting:
            into, node, low, high = waiting.pop()
            above = self.above.get(into, [])
            gates = sorted(self.gates.get(into or "", ()))
            whole = sum(width[duct] for duct in above) + len(gates)
            at = low
            for duct in above:
                to = at + (high - low) * width[duct] / whole
                length, along = self.drawn(duct), (at + to) / 2
                end = (node[0] + length * cos(along), node[1] + length * sin(along))
                self.lines[duct] = (end, node)
                waiting.append((duct, end, at, to))
                at = to
            for gate in gates:
                to = at + (high - low) / whole
                along = (at + to) / 2
                # Far enough out that machines side by side don't overlap.
                reach = max(_REACH, SIZE * 1.5 / max(1e-3, min(to - at, pi / 2)))
                reach = min(reach, 50.0)
                spot = node[0] + reach * cos(along), node[1] + reach * sin(along)
                self.gate_spots[gate] = _rounded(spot)
                at = to


def _heading(one: Spot, other: Spot) -> float:
    return atan2(other[1] - one[1], other[0] - one[0])


def _flat(spot: Spot) -> Point:
    return spot[0], spot[1], 0.0


def _rounded(spot: Spot) -> Spot:
    return round(spot[0], 6) + 0.0, round(spot[1], 6) + 0.0


def _dressed(work: _Work, stock: Stock) -> ShopPlan:
    """Return the plan of what was laid out, moved into the positive corner."""
    spots = [spot for line in work.lines.values() for spot in line]
    spots += [(0.0, 0.0), *work.gate_spots.values()]
    left = min(spot[0] for spot in spots) - 1.5
    top = min(spot[1] for spot in spots) - 1.5

    def moved(spot: Spot) -> Spot:
        return round(spot[0] - left, 6), round(spot[1] - top, 6)

    ducts = tuple(
        drawn_duct(
            duct, stock.ducts.get(duct, ""), work.ducts[duct], moved(up), moved(down)
        )
        for duct, (up, down) in work.lines.items()
    )
    gates = tuple(
        drawn_gate(gate, stock.gates.get(gate, ""), place)
        for gate, place in work.places.items()
        if place
    )
    gate_spots = {gate: moved(spot) for gate, spot in work.gate_spots.items()}
    items, gates = with_machines(gate_spots, gates, stock)
    x, y = moved((0.0, 0.0))
    collector = DrawnItem(
        id="collector", type=COLLECTOR, name=stock.name, x=x, y=y, z=HEIGHT
    )
    far = [moved(spot) for spot in spots]
    right = round(max(spot[0] for spot in far) + 1.5, 1)
    bottom = round(max(spot[1] for spot in far) + 1.5, 1)
    plan = ShopPlan(
        name=stock.name,
        outline=((0.0, 0.0), (right, 0.0), (right, bottom), (0.0, bottom)),
        items=(collector, *items),
        ducts=ducts,
        gates=gates,
    )
    return with_figures(plan, work.ducts)
