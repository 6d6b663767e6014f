"""One operating set, ready to be solved at any sizes.

A set is solved on the part of the tree that is live in it, with every gate closed
elsewhere taken as tight. So a branch that is made wider costs the solves of the sets
it is live in and no others.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from math import inf
from operator import itemgetter
from typing import Final

from ..advice import open_pickups
from ..compiled import CompiledRun, Element, body
from ..gate import SlideGate
from ..model import Duct, DuctSystem, Pickup
from ..network import Network
from ..pipe import Pipe
from ..solution import Solution
from ..solver import solve
from .balanced import balanced
from .problem import OperatingSet, Plan, resized_duct, resized_pickup

CLOSE: Final = 1e-6
"""How closely (as a share) the flow of a duty is found."""

type Choice = tuple[int, ...]
"""The number of a size for each segment of a plan."""


@dataclass(frozen=True, slots=True)
class SizedNeed:
    """What one element of a set has to have: flow (m3/s) and velocity (m/s), or 0.

    `rising` is the velocity in those of its pipes that are vertical.
    """

    index: int
    element: str
    flow: float
    velocity: float
    rising: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SetScore:
    """What a choice of sizes makes of one set.

    `ratio`: the lowest of all flows and velocities over what is needed, `rule`
    whether that is a flow or a velocity, and of which `element`. `flow` (m3/s)
    through the collector, `pressure` (Pa) total rise of the fan, `power` (W) that the
    fan takes (of the air, unless its curve of shaft power is known). `bleed` is the
    pickup that is opened as well, or empty.
    """

    ratio: float
    rule: str
    element: str
    flow: float
    pressure: float
    power: float
    bleed: str = ""


INDIFFERENT: Final = SetScore(
    ratio=inf, rule="", element="", flow=0.0, pressure=0.0, power=0.0
)


class LiveTree(Network):
    """The live part of the tree in one set, whose pipes can be exchanged in place."""

    def exchange(self, index: int, element: Element) -> None:
        """Put another element of the same id in a place."""
        old = self.elements[index]
        element.index, element.parent, element.children = (
            index,
            old.parent,
            old.children,
        )
        self.elements[index] = element
        self.terms.put(element)


def _through(gate: SlideGate | None) -> float:
    """Return the loss coefficient of an open gate."""
    return 0.0 if gate is None else gate.allowance


def live_system(network: Network, pickups: Iterable[str]) -> DuctSystem:
    """Return the part of a system that pickups draw through, its open gates as losses."""
    live = {element.id for name in pickups for element in network.path(name)}
    system = network.system

    def open_pickup(pickup: Pickup) -> Pickup:
        extra = _through(pickup.gate)
        if not pickup.pipes:
            return replace(pickup, gate=None, entry_k=pickup.entry_k + extra)
        last = pickup.pipes[-1]
        return replace(
            pickup,
            gate=None,
            pipes=(*pickup.pipes[:-1], replace(last, extra_k=last.extra_k + extra)),
        )

    return replace(
        system,
        ducts=tuple(
            replace(d, gate=None, extra_k=d.extra_k + _through(d.gate))
            for d in system.ducts
            if d.id in live
        ),
        pickups=tuple(open_pickup(p) for p in system.pickups if p.id in live),
    )


class LiveSet:
    """One operating set, perhaps with a bleed gate, ready to be tried at any sizes."""

    def __init__(self, plan: Plan, opened: OperatingSet, bleed: str = "") -> None:
        rules = plan.rules
        network = plan.network
        self.bleed = bleed
        self.plan = plan
        wanted = (*opened.pickups, bleed) if bleed else opened.pickups
        live = open_pickups(network, network.gates_for(*wanted))
        self.tree = tree = LiveTree(live_system(network, live))
        self.numbers = tuple(
            i for i, name in enumerate(plan.segments) if name in tree.index
        )
        """The segments that matter, by number."""
        self.pick = _picker(self.numbers)
        self._now: list[int | None] = [None] * len(self.numbers)
        self._variants: list[dict[int, Element]] = [{} for _ in tree.elements]
        # A hood straight on a duct draws at the duct's width.
        self._tied = {
            i: [
                child
                for child in tree.elements[tree.index[plan.segments[i]]].children
                if not _has_pipes(tree.elements[child])
            ]
            for i in self.numbers
        }
        transport: dict[int, float] = {}
        self.needs: list[SizedNeed] = []
        self.least = 0.0
        for name in opened.pickups:
            element = tree.element(name)
            part = element.part
            if not isinstance(part, Pickup):  # pragma: no cover - narrows the type
                continue
            own = part.pipes != ()
            self.needs.append(
                SizedNeed(
                    element.index,
                    name,
                    part.required,
                    part.needs(vertical=False) if own else 0.0,
                    part.needs(vertical=True) if own else 0.0,
                )
            )
            self.least += part.required
            for outer in tree.path(name)[1:]:
                known = transport.get(outer.index, 0.0)
                rises = outer.runs[0].pipe.vertical
                transport[outer.index] = max(known, part.needs(vertical=rises))
        self.needs += [
            SizedNeed(index, tree.elements[index].id, 0.0, velocity, velocity)
            for index, velocity in transport.items()
            if velocity > 0
        ]
        self.asks = any(need.flow > 0 or need.velocity > 0 for need in self.needs)
        self._flow = self.least * rules.margin
        fixed = opened.pickups if not bleed else (*opened.pickups, bleed)
        self._fixed_flows = fixed if rules.balanced else ()

    def resize(self, sizes: tuple[int, ...]) -> None:
        """Give the live segments the sizes of these numbers, in their order."""
        for at, (i, k) in enumerate(zip(self.numbers, sizes, strict=True)):
            if self._now[at] == k:
                continue
            self._now[at] = k
            index = self.tree.index[self.plan.segments[i]]
            self.tree.exchange(index, self._variant(index, k))
            for child in self._tied[i]:
                self.tree.exchange(child, self._variant(child, k))

    def _variant(self, index: int, k: int) -> Element:
        known = self._variants[index].get(k)
        if known is None:
            diameter = self.plan.rules.sizes[k]
            system = self.tree.system
            part = self.tree.elements[index].part
            if isinstance(part, Duct):
                part = resized_duct(part, diameter)
                runs = [CompiledRun(body(part), system)]
            else:
                part = resized_pickup(part, diameter)
                pipes = part.pipes or (Pipe(diameter=diameter),)
                runs = [CompiledRun(pipe, system) for pipe in pipes]
            known = self._variants[index][k] = Element(part, runs, system)
        return known

    def lowest(self, flow_of: Callable[[int], float]) -> tuple[float, str, str]:
        """Return the lowest ratio, its rule and element, at the flow of each element."""
        lowest, rule, where = inf, "", ""
        elements = self.tree.elements
        for need in self.needs:
            flow = flow_of(need.index)
            if need.flow > 0 and flow < lowest * need.flow:
                lowest, rule, where = flow / need.flow, "flow", need.element
            if need.velocity <= 0:
                continue
            for run in elements[need.index].runs:
                velocity = need.rising if run.pipe.vertical else need.velocity
                if flow < lowest * velocity * run.area:
                    lowest = flow / (velocity * run.area)
                    rule, where = "velocity", need.element
        return lowest, rule, where

    def rate(self) -> tuple[SetScore, int]:
        """Return the score at the sizes as they are, and how many solves it took."""
        rules = self.plan.rules
        if not self.asks:
            # Nothing is known to be needed here, so no pipe can be wrong.
            return INDIFFERENT, 0
        if rules.balanced:
            return self._rate_balanced(), 1
        if rules.fan:
            solution = solve(self.tree, ())
            return self._scored(solution), 1
        return self._rate_duty()

    def _scored(self, solution: Solution) -> SetScore:
        elements = self.tree.elements
        ratio, rule, element = self.lowest(
            lambda index: solution.flow_of(elements[index].id)
        )
        fan = self.tree.system.fan
        power = None
        if self.plan.rules.fan:
            density = self.tree.system.air.density
            power = fan.shaft_power(solution.flow, density=density)
        return SetScore(
            ratio=ratio,
            rule=rule,
            element=element,
            flow=solution.flow,
            pressure=solution.fan_pressure,
            power=solution.air_power if power is None else power,
            bleed=self.bleed,
        )

    def _rate_duty(self) -> tuple[SetScore, int]:
        """Find the least flow through the collector at which every rule has its margin."""
        flow = self._flow or 0.1
        margin = self.plan.rules.margin
        solves = 0
        found = INDIFFERENT
        for _ in range(12):
            solves += 1
            found = self._scored(solve(self.tree, (), flow=flow))
            if abs(found.ratio / margin - 1.0) <= CLOSE:
                break
            flow *= margin / found.ratio
        self._flow = flow
        return replace(found, ratio=margin), solves

    def _rate_balanced(self) -> SetScore:
        rules = self.plan.rules
        found = balanced(self.tree, self._fixed_flows, rules.margin)
        ratio, rule, element = self.lowest(found.flows.__getitem__)
        total = sum(found.flows[root] for root in self.tree.roots)
        return SetScore(
            ratio=ratio,
            rule=rule,
            element=element,
            flow=total,
            pressure=found.pressure,
            power=total * found.pressure,
            bleed=self.bleed,
        )


def _picker(numbers: tuple[int, ...]) -> Callable[[Choice], Choice]:
    """Return what takes the sizes of some segments out of those of all."""
    if len(numbers) < 2:
        return lambda choice: tuple(choice[i] for i in numbers)
    return itemgetter(*numbers)


def _has_pipes(element: Element) -> bool:
    part = element.part
    return isinstance(part, Duct) or bool(part.pipes)
