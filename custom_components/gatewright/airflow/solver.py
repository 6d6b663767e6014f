"""The solver: how much air flows where, for a set of open gates.

A tree needs no general network code. With loss = R q^2 for every element, the
conductances 1/sqrt(R) of what meets at a junction add up; so R is carried from the
pickups down to the collector, where one curve meets the fan, and the flow found
there is handed back up in proportion to the conductances. R changes a little with
the flow through Colebrook-White; the pass is repeated with R at the new flows until
nothing moves. Each repetition shrinks the error about tenfold, since friction goes
with about the -0.2th power of the Reynolds number at most.

With the static balance at junctions (see `Junction`) the R of an element includes
the velocity pressure at its end. What the air needs to speed up in the next duct
depends only on the shares of the streams, which the conductances give.
"""

from math import inf, log
from typing import Final

from .compiled import LEAST_REYNOLDS, momentum_regain
from .errors import require
from .friction import TURBULENT, TWO_LOG10, friction_factor
from .network import Network, OpenGates
from .solution import Solution

TOLERANCE: Final = 1e-5
"""Relative change of every flow below which the solver stops."""

MAX_PASSES: Final = 100

NEGLIGIBLE: Final = 1e-2
"""Share of the collector's flow below which a flow is only followed absolutely: to
`TOLERANCE` of that share. A trickle need not be known to as many digits."""


def solve(
    network: Network,
    open_gates: OpenGates,
    *,
    speed: float = 1.0,
    flow: float | None = None,
    tolerance: float = TOLERANCE,
) -> Solution:
    """Return the flows for a set of open gates.

    `speed` is the fan's, as a ratio to that of its curve. With `flow` (m3/s)
    the collector's flow is given instead and the fan's pressure is what that
    flow needs. `tolerance` is the relative change of the flows at which to stop (of
    less than a hundredth of the whole, that of the hundredth). With no way open for
    the air all flows are 0 and the fan is at shut-off. Raises `AirflowError`.
    """
    require(0 < speed < inf, "fan_speed", "The speed ratio must be positive and finite")
    require(flow is None or flow > 0, "flow_range", "A given flow must be positive")
    speed *= network.speed_scale
    losses = network.gate_losses(open_gates)
    active = [i for i, loss in enumerate(losses) if loss != inf]
    if not any(losses[root] != inf for root in network.roots):
        return Solution.at_rest(network, losses, speed)
    # A closed duct leaves what is upstream of it without flow.
    if any(loss == inf for loss in losses[network.pickup_count :]):
        reached = set()
        for i in reversed(active):
            parent = network.elements[i].parent
            if parent < 0 or parent in reached:
                reached.add(i)
        active = [i for i in active if i in reached]
    return _iterate(network, losses, active, speed, flow, tolerance)


def _iterate(
    network: Network,
    losses: list[float],
    active: list[int],
    speed: float,
    given: float | None,
    tolerance: float,
) -> Solution:
    """Repeat the pass of conductances down and flows up until nothing moves."""
    elements = network.elements
    terms = network.terms
    count = len(elements)
    parents = terms.parents
    fixed = terms.fixed
    pressure = terms.pressure
    root = terms.root
    simple = terms.simple
    first = terms.first
    roots_x = terms.starts.copy()
    pickups = network.pickup_count
    static = network.static
    regain = network.system.regain
    fan = network.system.fan
    ratio = network.fan_scale * network.system.air.density / fan.density
    scales, extra = network.scales, network.extra
    turbulent, two_log10, ln = TURBULENT, TWO_LOG10, log
    negligible, slowest = NEGLIGIBLE, LEAST_REYNOLDS

    flow = [0.0] * count
    conductance = [0.0] * count
    sums = [0.0] * (count + 1)
    total = given or 0.0
    quadratic = 0.0
    converged = False
    passes = 0
    for passes in range(1, MAX_PASSES + 1):
        sums = [0.0] * (count + 1)
        cubes = [0.0] * (count + 1)
        squares = [0.0] * (count + 1)
        for i in active:
            r = fixed[i] + losses[i]
            if passes == 1:
                # Friction as at a usual velocity, to have flows to start from.
                if simple[i]:
                    r += first[i][2] / roots_x[i] ** 2
                else:
                    for run in elements[i].runs:
                        r += run.friction / run.start**2 + run.miter
            elif simple[i]:
                per_flow, rough, friction = first[i]
                if friction:
                    re = per_flow * flow[i]
                    if re > turbulent:
                        # One Newton step of Colebrook-White from the last
                        # pass: both converge together.
                        smooth = 2.51 / re
                        x = roots_x[i]
                        inner = rough + smooth * x
                        x -= (x + two_log10 * ln(inner)) / (
                            1.0 + two_log10 * smooth / inner
                        )
                        roots_x[i] = x
                        r += friction / (x * x)
                    else:
                        r += friction * friction_factor(max(re, slowest), rough * 3.7)
            else:
                for run in elements[i].runs:
                    r += run.resistance(flow[i]) - run.fixed
            if scales is not None:
                r = r * scales[i] + extra[i]
            own = pressure[i]
            if i >= pickups:
                g = sums[i]
                whole = 1.0 / (g * g)
                if static:
                    change = own - cubes[i] / (g * g * g)
                    if change > 0.0:
                        whole += change
                    elif regain is None:
                        # `momentum_regain`, without the call.
                        back = squares[i] / (g * g) - root[i]
                        if back > 0.0:
                            whole -= 2.0 * root[i] * back
                    else:
                        whole += regain * change
                    # From here on the velocity pressure counts as spent; it
                    # has just been paid for, or came along.
                r += whole
            else:
                # A pickup without any loss (possible with total pressures only)
                # must not have an infinite conductance.
                r = r + own or 1e-9
            g = r**-0.5
            conductance[i] = g
            parent = parents[i]
            sums[parent] += g
            cubes[parent] += g * g * g * own
            squares[parent] += g * g * root[i]

        g = sums[-1]
        quadratic = 1.0 / (g * g)
        mixed = cubes[-1] / (g * g * g)
        if static:
            if network.inlet_pressure is not None:
                change = network.inlet_pressure - mixed
                if change > 0.0:
                    quadratic += change
                elif regain is None:
                    back = squares[-1] / (g * g)
                    quadratic -= momentum_regain(network.inlet_root, back)
                else:
                    quadratic += regain * change
                mixed = network.inlet_pressure
            quadratic -= mixed
        quadratic += _inlet_effect(network, flow, total, mixed)
        quadratic += network.separator + network.behind(total)
        if given is None:
            total = speed * fan.operating_flow(
                quadratic / ratio, network.filter / (ratio * speed), total / speed
            )
        else:
            total = given
        biggest = 0.0
        for i in reversed(active):
            parent = parents[i]
            new = (total if parent < 0 else flow[parent]) * (
                conductance[i] / sums[parent]
            )
            change = abs(new - flow[i]) / (new + negligible * total)
            biggest = max(biggest, change)
            flow[i] = new
        # Friction needs its third pass even where the flows are given.
        if biggest <= tolerance and passes > 2:
            converged = True
            break
    return Solution(
        network=network,
        speed=speed,
        total=total,
        flows=flow,
        losses=losses,
        sums=sums,
        needed=None if given is None else (quadratic * given + network.filter) * given,
        passes=passes,
        converged=converged,
    )


def _inlet_effect(
    network: Network, flow: list[float], total: float, mixed: float
) -> float:
    """Return what a disturbed inlet costs (Pa per (m3/s)^2)."""
    k = network.system.inlet_k
    if k == 0.0:
        return 0.0
    if network.inlet_pressure is not None:
        return k * network.inlet_pressure
    if network.static or total <= 0.0:
        return k * mixed
    # Where total pressures are shared, the roots' own velocity pressure counts.
    elements = network.elements
    cubes = sum(elements[i].pressure * flow[i] ** 3 for i in network.roots)
    return float(k * cubes / total**3)
