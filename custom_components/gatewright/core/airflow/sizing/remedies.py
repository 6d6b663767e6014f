"""The smallest change that would do where no choice of pipes does.

Tried in this order: a bleed gate, wider ports at the machines that fall short, a main
of its own for the one that is worst off, a stronger fan. What helps is kept while the
next is tried, so that the list is one of steps: with each of them the shop is better
off, and with the last it has what it needs.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from ..model import Duct, DuctSystem, Pickup
from ..verdict import Verdict, verdict
from .live import Choice
from .problem import Plan, Rules, is_port
from .search import Search
from .trial import Score, Trials

_PORTS: Final = 6
"""How often a port is made a size wider before another change is tried."""

_SOLVES: Final = 1_500
"""Solves that each try may take: it begins at what was found before."""

_HELPS: Final = 0.005
"""By how much a change has to raise the worst ratio to be worth a word."""


class RemedyKind(StrEnum):
    """What would be changed."""

    BLEED = "bleed"
    LARGER_PORT = "larger_port"
    OWN_MAIN = "own_main"
    STRONGER_FAN = "stronger_fan"


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """A change, and what it makes of the worst set with those before it.

    `elements`: pickups opened as well, with a wider port, or on a main of their own;
    `widths` (m) of the ports by pickup. For a stronger fan `flow` (m3/s) and
    `pressure` (Pa, total rise) at the point that asks most of it. `ratio` as in
    `SetOutcome`.
    """

    kind: RemedyKind
    ratio: float
    verdict: Verdict
    elements: tuple[str, ...] = ()
    widths: Mapping[str, float] = field(default=MappingProxyType({}))
    flow: float = 0.0
    pressure: float = 0.0


@dataclass(frozen=True, slots=True)
class _State:
    """A plan with the best choice known for it."""

    plan: Plan
    choice: Choice
    score: Score

    @property
    def margin(self) -> float:
        return self.plan.rules.margin

    @property
    def enough(self) -> bool:
        return verdict(self.score.worst, self.margin) is Verdict.ENOUGH

    def changed(
        self, most: int, *, system: DuctSystem | None = None, rules: Rules | None = None
    ) -> _State:
        """Return the best found near for another system or other rules."""
        plan = Plan(
            self.plan.system if system is None else system,
            self.plan.sets,
            self.plan.rules if rules is None else rules,
        )
        before = dict(zip(self.plan.segments, self.choice, strict=True))
        widest = max(self.choice)
        start = tuple(before.get(name, widest) for name in plan.segments)
        search = Search(Trials(plan), most=most)
        choice, score = search.improved(start)
        return _State(plan, choice, score)

    def helps(self, other: _State) -> bool:
        """Return whether another state is better by enough."""
        return min(other.score.worst, self.margin) > self.score.worst + _HELPS


def remedies(
    plan: Plan, choice: Choice, score: Score, *, most: int = _SOLVES
) -> tuple[Remedy, ...]:
    """Return the changes that help, up to the one with which all is well."""
    state = _State(plan, choice, score)
    found: list[Remedy] = []
    for step in (_bleed, _larger_ports, _own_main):
        if state.enough:
            break
        new, remedy = step(state, most)
        if remedy is not None:
            state = new
            found.append(remedy)
    if not state.enough and plan.rules.fan:
        found.append(_stronger_fan(state, most))
    return tuple(found)


def _remedy(
    kind: RemedyKind,
    state: _State,
    elements: tuple[str, ...],
    widths: Mapping[str, float] | None = None,
) -> Remedy:
    return Remedy(
        kind=kind,
        ratio=state.score.worst,
        verdict=verdict(state.score.worst, state.margin),
        elements=elements,
        widths=MappingProxyType(dict(widths or {})),
    )


def _bleed(state: _State, most: int) -> tuple[_State, Remedy | None]:
    """Try to open another gate where a main is too slow."""
    rules = state.plan.rules
    if rules.bleed or rules.balanced:
        return state, None
    new = state.changed(most, rules=replace(rules, bleed=True))
    opened = tuple(dict.fromkeys(one.bleed for one in new.score.sets if one.bleed))
    if not opened or not state.helps(new):
        return state, None
    return new, _remedy(RemedyKind.BLEED, new, opened)


def _worst_pickups(state: _State) -> tuple[str, ...]:
    """Return the pickups of the worst set, or the one of them that is at fault."""
    sets = state.score.sets
    worst = min(range(len(sets)), key=lambda n: sets[n].ratio)
    pickups = state.plan.sets[worst].pickups
    return (sets[worst].element,) if sets[worst].element in pickups else pickups


def _larger_ports(state: _State, most: int) -> tuple[_State, Remedy | None]:
    """Make ports of the worst set a size wider, again and again while that helps."""
    widths: dict[str, float] = {}
    for _ in range(_PORTS):
        if state.enough:
            break
        wider = {
            pickup.id: _wider(state.plan.rules, port)
            for pickup in state.plan.system.pickups
            if pickup.id in _worst_pickups(state)
            and (port := _port(pickup)) is not None
        }
        pickups = tuple(
            _with_port(pickup, wider[pickup.id]) if pickup.id in wider else pickup
            for pickup in state.plan.system.pickups
        )
        if pickups == state.plan.system.pickups:
            break
        new = state.changed(most, system=replace(state.plan.system, pickups=pickups))
        if not state.helps(new):
            break
        state = new
        widths |= wider
    if not widths:
        return state, None
    return state, _remedy(RemedyKind.LARGER_PORT, state, tuple(widths), widths)


def _port(pickup: Pickup) -> float | None:
    return max((pipe.diameter for pipe in pickup.pipes if is_port(pipe)), default=None)


def _wider(rules: Rules, port: float) -> float:
    """Return the next size (m) wider than a port by more than what slips over it."""
    return next((size for size in rules.sizes if size > port * 1.05), port)


def _with_port(pickup: Pickup, diameter: float) -> Pickup:
    return replace(
        pickup,
        pipes=tuple(
            replace(pipe, diameter=diameter) if is_port(pipe) else pipe
            for pipe in pickup.pipes
        ),
    )


def _own_main(state: _State, most: int) -> tuple[_State, Remedy | None]:
    """Give a machine of the worst set a main of its own, as long as its way is now."""
    plan = state.plan
    pickup_id = _worst_pickups(state)[-1]
    machine = next(p.machine for p in plan.system.pickups if p.id == pickup_id)
    moved = tuple(
        p.id
        for p in plan.system.pickups
        if p.id == pickup_id or (machine is not None and p.machine == machine)
    )
    way = [
        element.part
        for element in plan.network.path(pickup_id)[1:]
        if isinstance(element.part, Duct)
    ]
    if len(moved) == len(plan.system.pickups):
        return state, None
    own = replace(
        way[0],
        id=f"{pickup_id} own main",
        into=None,
        length=sum(duct.length for duct in way),
        elbows=tuple(elbow for duct in way for elbow in duct.elbows),
        entry_angle=0.0,
        gate=None,
    )
    pickups = tuple(
        replace(p, duct=own.id, entry_angle=0.0) if p.id in moved else p
        for p in plan.system.pickups
    )
    ducts = _used((*plan.system.ducts, own), {p.duct for p in pickups})
    new = state.changed(most, system=replace(plan.system, ducts=ducts, pickups=pickups))
    if not state.helps(new):
        return state, None
    return new, _remedy(RemedyKind.OWN_MAIN, new, moved)


def _used(ducts: tuple[Duct, ...], drawn: set[str]) -> tuple[Duct, ...]:
    """Return the ducts that something flows through."""
    into = {duct.id: duct.into for duct in ducts}
    live: set[str] = set()
    for name in drawn:
        at: str | None = name
        while at is not None and at not in live:
            live.add(at)
            at = into[at]
    return tuple(duct for duct in ducts if duct.id in live)


def _stronger_fan(state: _State, most: int) -> Remedy:
    """Return the duty at which the shop has everything it needs."""
    new = state.changed(most, rules=replace(state.plan.rules, fan=False))
    hardest = max(new.score.sets, key=lambda one: one.power)
    return Remedy(
        kind=RemedyKind.STRONGER_FAN,
        ratio=state.margin,
        verdict=Verdict.ENOUGH,
        flow=hardest.flow,
        pressure=hardest.pressure,
    )
