"""What the flows mean: enough air, moving material, what limits, what to do.

Judged are the pickups whose gates are open. A duct has to carry what they make:
its velocity is held against the highest transport velocity of the open pickups
upstream of it. Closed gates that leak take part in the flow, not in the judgement.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from math import inf

from .breakdown import StepKind, loss_breakdown, loss_shares
from .compiled import Element
from .errors import AirflowError
from .model import Pickup
from .network import Network, OpenGates
from .solution import Solution
from .solver import solve
from .verdict import MARGIN, ROUNDING, Verdict, ratio_of, verdict, worst

_MET = 1.0 - ROUNDING


@dataclass(frozen=True, slots=True, kw_only=True)
class PickupResult:
    """What an open pickup gets: flows in m3/s, velocities in m/s, suction in Pa.

    `velocity` is that in the one of its own pipes that falls shortest of what its
    material needs there, `transport`. `transit` is the time (s) that the air needs
    from it to the collector, `emptying` the time that the material needs.
    """

    pickup: str
    machine: str | None
    flow: float
    required: float
    velocity: float
    transport: float
    hood_suction: float
    transit: float
    emptying: float

    @property
    def enough(self) -> bool:
        """Whether it gets the flow it needs."""
        return self.flow >= self.required * _MET

    @property
    def carries(self) -> bool:
        """Whether its own pipes keep the material moving."""
        return self.velocity >= self.transport * _MET

    @property
    def ratio(self) -> float:
        """The lower of flow and velocity over what is needed, infinite for no need."""
        return min(
            ratio_of(self.flow, self.required), ratio_of(self.velocity, self.transport)
        )

    @property
    def satisfaction(self) -> float | None:
        """Flow over required flow; None where nothing is required."""
        return self.flow / self.required if self.required > 0 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctResult:
    """A duct with open pickups upstream: flow (m3/s), velocity and what is needed."""

    duct: str
    flow: float
    velocity: float
    transport: float
    main: bool

    @property
    def carries(self) -> bool:
        """Whether the duct keeps the material moving."""
        return self.velocity >= self.transport * _MET

    @property
    def ratio(self) -> float:
        """Velocity over what is needed, infinite for no need."""
        return ratio_of(self.velocity, self.transport)


@dataclass(frozen=True, slots=True)
class Limit:
    """What one kind of loss at one place takes: share of the whole, and Pa."""

    kind: StepKind
    element: str
    share: float
    pressure: float


@dataclass(frozen=True, kw_only=True)
class Assessment:
    """Whether a set of open gates works."""

    gates: frozenset[str]
    pickups: tuple[PickupResult, ...]
    ducts: tuple[DuctResult, ...]
    solution: Solution

    @property
    def machines(self) -> tuple[str, ...]:
        """Machines with an open pickup."""
        found = (result.machine for result in self.pickups)
        return tuple(dict.fromkeys(name for name in found if name is not None))

    @property
    def starved(self) -> tuple[str, ...]:
        """Open pickups that get less air than they need."""
        return tuple(result.pickup for result in self.pickups if not result.enough)

    @property
    def slow(self) -> tuple[str, ...]:
        """Ducts and pickups in which material may settle."""
        return tuple(
            [result.pickup for result in self.pickups if not result.carries]
            + [result.duct for result in self.ducts if not result.carries]
        )

    @property
    def ok(self) -> bool:
        """Whether every open pickup gets its air and everything keeps moving."""
        return bool(self.pickups) and not self.starved and not self.slow

    @property
    def ratio(self) -> float:
        """The lowest of what is over what should be, of all flows and velocities."""
        ratios = [pickup.ratio for pickup in self.pickups]
        ratios += [duct.ratio for duct in self.ducts]
        return min(ratios, default=inf)

    def verdict(self, margin: float = MARGIN) -> Verdict:
        """Return whether it is enough, inside the error of the figures, or not."""
        return verdict(self.ratio, margin) if self.pickups else Verdict.TOO_LITTLE

    def main_verdict(self, margin: float = MARGIN) -> Verdict:
        """Return the verdict on the ducts that reach the collector."""
        return worst(verdict(r.ratio, margin) for r in self.ducts if r.main)

    @property
    def main_velocity(self) -> float:
        """Lowest velocity (m/s) in the ducts with air that reach the collector."""
        return self.solution.main_velocity

    @property
    def main_ok(self) -> bool:
        """Whether the ducts that reach the collector keep their material moving."""
        return all(result.carries for result in self.ducts if result.main)

    @property
    def leakage(self) -> float:
        """Flow (m3/s) that enters through closed gates."""
        return max(0.0, self.solution.flow - sum(r.flow for r in self.pickups))

    @property
    def transit(self) -> float:
        """Longest time (s) that air needs from an open pickup to the collector."""
        return max((result.transit for result in self.pickups), default=0.0)

    @property
    def emptying(self) -> float:
        """Longest time (s) that material needs from an open pickup to the collector.

        The collector has to run on for at least as long.
        """
        return max((result.emptying for result in self.pickups), default=0.0)

    @property
    def neediest(self) -> PickupResult | None:
        """The open pickup with the smallest share of the flow it needs.

        Where none needs any, the one with the least flow.
        """
        return min(
            self.pickups,
            key=lambda r: (r.satisfaction or float("inf"), r.flow),
            default=None,
        )

    @cached_property
    def limits(self) -> tuple[Limit, ...]:
        """What eats the fan's pressure on the neediest pickup's way, largest first."""
        result = self.neediest
        if result is None:
            return ()
        steps = loss_breakdown(self.solution, result.pickup)
        whole = sum(
            step.loss
            for step in steps
            if step.loss > 0 and step.kind is not StepKind.FAN
        )
        return tuple(
            Limit(kind, element, share, share * whole)
            for kind, element, share in loss_shares(steps)
        )


def transit_time(solution: Solution, pickup: str, *, slip: float = 1.0) -> float:
    """Return the time (s) from a pickup to the collector.

    `slip` is the velocity of the material over that of the air, 1 for the air itself;
    see `Carried.velocity_ratio`. It holds for a steady run: the first metre behind the
    hood takes longer. Raises `AirflowError` for a pickup without flow.
    """
    elements = solution.network.path(pickup)
    if not isinstance(elements[0].part, Pickup) or solution.flow_of(pickup) <= 0:
        raise AirflowError("no_flow", f"No air enters at {pickup!r}", element=pickup)
    seconds = 0.0
    for element in elements:
        flow = solution.flow_of(element.id)
        seconds += sum(run.length * run.area / flow for run in element.runs)
    return seconds / slip


def open_pickups(network: Network, open_gates: OpenGates) -> tuple[str, ...]:
    """Return the pickups with an open way to the collector."""
    return tuple(
        element.id
        for element in network.elements[: network.pickup_count]
        if all(
            part.gate is None or part.gate.id in open_gates
            for part in network.path(element.id)
        )
    )


def assess(
    network: Network,
    open_gates: OpenGates,
    *,
    speed: float = 1.0,
    pickups: Collection[str] | None = None,
) -> Assessment:
    """Return whether a set of open gates works.

    `pickups` are those to judge, by default all that are open. Raises
    `AirflowError` for gates that do not exist.
    """
    solution = solve(network, open_gates, speed=speed)
    judged = [
        name
        for name in open_pickups(network, open_gates)
        if pickups is None or name in pickups
    ]
    results: list[PickupResult] = []
    transport: dict[str, float] = {}
    for name in judged:
        path = network.path(name)
        part = path[0].part
        if not isinstance(part, Pickup):  # pragma: no cover - narrows the type
            continue
        velocity, needed = _slowest(solution, path[0], part)
        results.append(
            PickupResult(
                pickup=name,
                machine=part.machine,
                flow=solution.flow_of(name),
                required=part.required,
                velocity=velocity,
                transport=needed,
                hood_suction=solution.hood_suction(name),
                transit=transit_time(solution, name),
                emptying=transit_time(solution, name, slip=part.velocity_ratio),
            )
        )
        for element in path[1:]:
            known = transport.get(element.id, 0.0)
            rises = element.runs[0].pipe.vertical
            transport[element.id] = max(known, part.needs(vertical=rises))
    return Assessment(
        gates=frozenset(open_gates),
        pickups=tuple(results),
        ducts=tuple(
            DuctResult(
                duct=name,
                flow=solution.flow_of(name),
                velocity=solution.duct_velocity(name),
                transport=needed,
                main=network.element(name).parent < 0,
            )
            for name, needed in transport.items()
        ),
        solution=solution,
    )


def _slowest(solution: Solution, element: Element, part: Pickup) -> tuple[float, float]:
    """Return velocity (m/s) and need of a pickup's pipe that falls shortest of it."""
    if not part.pipes:
        return part.transport, part.transport
    flow = solution.flow_of(part.id)
    runs = [
        (flow / run.area, part.needs(vertical=run.pipe.vertical))
        for run in element.runs
    ]
    return min(runs, key=lambda run: run[0] / run[1] if run[1] else run[0])


def assess_all(
    network: Network, sets: Iterable[OpenGates], *, speed: float = 1.0
) -> tuple[Assessment, ...]:
    """Return the assessment of each set of open gates."""
    return tuple(assess(network, gates, speed=speed) for gates in sets)


def assess_machines(network: Network, *machines: str, speed: float = 1.0) -> Assessment:
    """Return whether machines can run together. Raises `AirflowError`."""
    return assess(network, network.gates_for_machines(*machines), speed=speed)


def alone(network: Network) -> Iterator[tuple[str, Assessment]]:
    """Yield every machine by itself."""
    for machine in network.machines:
        yield machine, assess_machines(network, machine)


def pairs(network: Network) -> Iterator[tuple[tuple[str, str], Assessment]]:
    """Yield every pair of machines; one solve at each step, to be taken in pieces."""
    for one, other in combinations(network.machines, 2):
        yield (one, other), assess_machines(network, one, other)
