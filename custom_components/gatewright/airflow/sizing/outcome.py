"""What the chosen sizes make of each operating set, with what closed gates leak.

The search takes closed gates as tight. Here every set is solved on the whole sized
tree, with the gates as they are.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf, pi

from ..breakdown import StepKind, loss_breakdown
from ..errors import AirflowError
from ..model import Duct, Pickup, System
from ..network import Network
from ..solution import Solution
from ..solver import solve
from ..verdict import Verdict, verdict
from .balanced import balanced
from .live import CLOSE, live_system
from .problem import OperatingSet, Rules


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the sizing table: a segment of one set.

    `flow` in m3/s, `diameter` in m, `velocity` in m/s, `velocity_pressure` in Pa,
    `losses` in Pa by kind, `loss` their sum, `static` the cumulative static pressure
    (Pa, negative under suction) at the segment's end. `need` is what flow, or else
    velocity, it has to have (0: none), `transport` its velocity (m/s).
    """

    element: str
    flow: float
    diameter: float
    velocity: float
    velocity_pressure: float
    losses: dict[StepKind, float]
    loss: float
    static: float
    required: float
    transport: float


@dataclass(frozen=True, kw_only=True)
class SetOutcome:
    """One operating set at the chosen sizes.

    `ratio` is the lowest flow or velocity over what is needed, by `rule` ("flow" or
    "velocity") at `element`. `bleed` is the pickup opened as well, or empty. `flow`
    (m3/s) through the collector; `pressure` (Pa) total rise of the fan; `suction` (Pa)
    static at the collector's inlet; `power` (W). `stalled`: left of the fan's peak.
    """

    name: str
    pickups: tuple[str, ...]
    bleed: str
    gates: frozenset[str]
    ratio: float
    rule: str
    element: str
    verdict: Verdict
    flow: float
    pressure: float
    suction: float
    power: float
    stalled: bool
    rows: tuple[Row, ...]


def outcome(
    network: Network, opened: OperatingSet, bleed: str, rules: Rules
) -> SetOutcome:
    """Return what a sized network does for a set. Raises `AirflowError`."""
    wanted = (*opened.pickups, bleed) if bleed else opened.pickups
    gates = network.gates_for(*wanted)
    if rules.balanced:
        network = _throttled(network, wanted, rules.margin)
        gates = frozenset()
        flow = sum(
            balanced(network, wanted, rules.margin).flows[root]
            for root in network.roots
        )
        solution = solve(network, (), flow=flow)
    elif rules.fan:
        solution = solve(network, gates)
    else:
        solution = _duty(network, opened, gates, rules.margin)
    ratio, rule, element = lowest(solution, opened.pickups)
    ratio = min(ratio, 99.0)
    fan = network.system.fan
    power = None
    if rules.fan and not rules.balanced:
        power = fan.shaft_power(solution.flow, density=network.system.air.density)
    return SetOutcome(
        name=opened.name,
        pickups=opened.pickups,
        bleed=bleed,
        gates=gates,
        ratio=ratio,
        rule=rule,
        element=element,
        verdict=verdict(ratio, rules.margin),
        flow=solution.flow,
        pressure=solution.fan_pressure,
        suction=solution.suction,
        power=solution.air_power if power is None else power,
        stalled=rules.fan and not rules.balanced and solution.stalled,
        rows=tuple(_rows(solution, wanted, opened.pickups)),
    )


def lowest(solution: Solution, pickups: tuple[str, ...]) -> tuple[float, str, str]:
    """Return the lowest ratio of flow or velocity to what is needed, and of what."""
    network = solution.network
    ratios: list[tuple[float, str, str]] = [(inf, "", "")]
    transport: dict[str, float] = {}
    for name in pickups:
        path = network.path(name)
        part = path[0].part
        if not isinstance(part, Pickup):
            raise AirflowError(
                "unknown_element", f"{name!r} is no pickup", element=name
            )
        if part.required > 0:
            ratios.append((solution.flow_of(name) / part.required, "flow", name))
        for run in path[0].runs if part.pipes else ():
            velocity = part.needs(vertical=run.pipe.vertical)
            if velocity > 0:
                share = solution.flow_of(name) / run.area / velocity
                ratios.append((share, "velocity", name))
        for outer in path[1:]:
            known = transport.get(outer.id, 0.0)
            rises = outer.runs[0].pipe.vertical
            transport[outer.id] = max(known, part.needs(vertical=rises))
    ratios += [
        (solution.slowest_velocity(duct) / velocity, "velocity", duct)
        for duct, velocity in transport.items()
        if velocity > 0
    ]
    return min(ratios)


def _duty(
    network: Network, opened: OperatingSet, gates: frozenset[str], margin: float
) -> Solution:
    """Return the solution at the least flow at which every rule has its margin."""
    pickups = {p.id: p for p in network.system.pickups}
    flow = margin * sum(pickups[p].required for p in opened.pickups) or 0.1
    for _ in range(20):
        solution = solve(network, gates, flow=flow)
        ratio, _rule, _element = lowest(solution, opened.pickups)
        if ratio == inf or abs(ratio / margin - 1.0) <= CLOSE:
            break
        flow *= margin / ratio
    return solution


def _throttled(network: Network, pickups: tuple[str, ...], margin: float) -> Network:
    """Return the live tree with its gates set so that every pickup draws its flow."""
    live = Network(live_system(network, pickups))
    found = balanced(live, pickups, margin)
    by_id = {element.id: found.throttles[element.index] for element in live.elements}

    def pickup(part: Pickup) -> Pickup:
        k = by_id[part.id]
        if not part.pipes:
            return replace(part, entry_k=part.entry_k + k)
        last = part.pipes[-1]
        last = replace(last, extra_k=last.extra_k + k)
        return replace(part, pipes=(*part.pipes[:-1], last))

    def duct(part: Duct) -> Duct:
        return replace(part, extra_k=part.extra_k + by_id[part.id])

    system: System = live.system
    return Network(
        replace(
            system,
            ducts=tuple(duct(part) for part in system.ducts),
            pickups=tuple(pickup(part) for part in system.pickups),
        )
    )


def _rows(
    solution: Solution, drawn: tuple[str, ...], judged: tuple[str, ...]
) -> Iterator[Row]:
    """Yield the segments of a set, each pickup's way to where it meets a known one."""
    network = solution.network
    transport: dict[str, float] = {}
    for name in judged:
        for outer in network.path(name):
            part = network.element(name).part
            if isinstance(part, Pickup):
                known = transport.get(outer.id, 0.0)
                rises = outer.runs[-1].pipe.vertical
                transport[outer.id] = max(known, part.needs(vertical=rises))
    seen: set[str] = set()
    for name in drawn:
        steps = loss_breakdown(solution, name)
        for element in network.path(name):
            if element.id in seen:
                continue
            seen.add(element.id)
            own = [step for step in steps if step.element == element.id]
            losses: dict[StepKind, float] = {}
            for step in own:
                losses[step.kind] = losses.get(step.kind, 0.0) + step.loss
            flow = solution.flow_of(element.id)
            diameter = element.runs[-1].pipe.diameter
            velocity = flow / (pi / 4.0 * diameter * diameter)
            part = element.part
            required = part.required if isinstance(part, Pickup) else 0.0
            yield Row(
                element=element.id,
                flow=flow,
                diameter=diameter,
                velocity=velocity,
                velocity_pressure=element.pressure * flow * flow,
                losses=losses,
                loss=sum(losses.values()),
                static=-solution.suction_at(element.id),
                required=required if element.id in judged else 0.0,
                transport=transport.get(element.id, 0.0),
            )
