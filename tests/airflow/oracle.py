"""The full nonlinear equations of a system, solved by SciPy.

Written from the equations alone, sharing no code with the solver. Unknowns are the flow
in every pickup and duct, the pressure at the upstream end of every duct and at the
collector's inlet, and the collector's flow. Equations are the balance of flows at each
of those places, the loss of each pickup and duct between its ends, and the fan.
Friction factors come from the package `fluids`.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from itertools import pairwise
from math import inf, log, pi

from fluids.friction import friction_factor
import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import least_squares

from custom_components.gatewright.core.airflow import (
    Duct,
    DuctSystem,
    Fan,
    Junction,
    Pickup,
    Pipe,
)

# ACGIH branch entries (see tables/fittings.csv) that the random systems use.
_ENTRY = {0.0: 0.0, 30.0: 0.18, 45.0: 0.28, 90.0: 1.0}

# Elbow coefficients by diameter (m), r/D 1.5: ASHRAE Handbook - Fundamentals (SI),
# 2009, chapter 21, CD3-1 and CD3-9, and the share of SMACNA Table A-7 by angle.
_STAMPED = (
    [0.075, 0.1, 0.125, 0.15, 0.18, 0.2, 0.23, 0.25],
    [0.30, 0.21, 0.16, 0.14, 0.12, 0.11, 0.11, 0.11],
)
_FIVE_GORES = (
    [0.075, 0.15, 0.23, 0.3, 0.38, 0.45, 0.53, 0.6, 0.69, 0.75],
    [0.51, 0.28, 0.21, 0.18, 0.16, 0.15, 0.14, 0.13, 0.12, 0.12],
)
# ... pleated elbows of 45 degrees, CD3-7.
_PLEATED = (
    [0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4],
    [0.34, 0.26, 0.21, 0.17, 0.16, 0.15, 0.15],
)
_ELBOW = {
    ("stamped", 90.0): (_STAMPED, 1.0),
    ("five_piece", 90.0): (_FIVE_GORES, 1.0),
    ("five_piece", 45.0): (_FIVE_GORES, 0.60),
    ("pleated", 45.0): (_PLEATED, 1.0),
}
_MITER = 0.55
_MITER_RE = [1e4, 2e4, 3e4, 4e4, 6e4, 8e4, 1e5, 1.4e5]
_MITER_K = [1.40, 1.26, 1.19, 1.14, 1.09, 1.06, 1.04, 1.00]


def area(diameter: float) -> float:
    """Return a circle's area."""
    return pi * diameter**2 / 4.0


def darcy(reynolds: float, relative: float) -> float:
    """Return the friction factor, with the solver's rule for the transition."""
    if reynolds <= 2300.0:
        return 64.0 / max(reynolds, 1e-3)
    if reynolds < 4000.0:
        low = 64.0 / 2300.0
        high = friction_factor(4000.0, relative, Method="Colebrook")
        return float(low + (high - low) * (reynolds - 2300.0) / 1700.0)
    return float(friction_factor(reynolds, relative, Method="Clamond"))


def pipe_loss(pipe: Pipe | Duct, q: float, density: float, viscosity: float) -> float:
    """Return the loss (Pa) of a pipe at a flow."""
    v = q / area(pipe.diameter)
    dynamic = 0.5 * density * v * v
    reynolds = density * v * pipe.diameter / viscosity
    k = pipe.extra_k
    for elbow in pipe.elbows:
        if elbow.construction == "mitered":
            each = _MITER * float(np.interp(reynolds, _MITER_RE, _MITER_K))
        else:
            (widths, values), share = _ELBOW[elbow.construction, elbow.angle]
            each = share * float(np.interp(pipe.diameter, widths, values))
        k += each * elbow.count
    friction = darcy(reynolds, pipe.roughness / pipe.diameter)
    scale = pipe.friction_scale if isinstance(pipe, Pipe) else 1.0
    k += friction * scale * pipe.length / pipe.diameter
    return k * dynamic


def log_ratio(ratio: float) -> float:
    """Return the logarithm, continued as a straight line below a tenth.

    On its way to the solution SciPy may try flows for which a pressure has the wrong
    sign; this doesn't affect the equation's root.
    """
    return log(ratio) if ratio > 0.1 else log(0.1) + (ratio - 0.1) / 0.1


class FanModel:
    """A fan's curve, by SciPy's own monotone interpolation or by its formula."""

    def __init__(self, fan: Fan) -> None:
        self.fan = fan
        xs = [q for q, _ in fan.points]
        ys = [p for _, p in fan.points]
        self.last = xs[-1]
        if fan.slopes is None:
            smooth = PchipInterpolator(xs, ys)
            self.inside: Callable[[float], float] = lambda q: float(smooth(q))
            slope = float(smooth.derivative()(xs[-1]))
        else:
            top, free = ys[0], xs[-1]
            self.inside = lambda q: top * (1.0 - (q / free) ** 2)
            slope = -2.0 * top / free
        self.slope = min(slope, (ys[-1] - ys[-2]) / (xs[-1] - xs[-2]))

    def pressure(self, q: float, density: float, speed: float) -> float:
        """Return the total pressure rise."""
        x = q / speed
        if x > self.last:
            value = self.fan.points[-1][1] + self.slope * (x - self.last)
        else:
            value = self.inside(max(x, 0.0))
        if self.fan.kind == "static" and self.fan.outlet_diameter is not None:
            v = x / area(self.fan.outlet_diameter)
            value += 0.5 * self.fan.density * v * v
        return value * speed**2 * density / self.fan.density


@dataclass
class Answer:
    """SciPy's solution."""

    flows: dict[str, float]
    total: float
    suctions: dict[str, float]


class Equations:
    """The equations of one system with one set of open gates."""

    def __init__(
        self, system: DuctSystem, open_gates: Collection[str], speed: float
    ) -> None:
        self.system = system
        self.open_gates = open_gates
        self.speed = speed
        self.density, self.viscosity = system.air.density, system.air.viscosity
        self.static = system.junction is Junction.STATIC
        self.fan = FanModel(system.fan)
        self.into: dict[str, str | None] = {d.id: d.into for d in system.ducts}
        self.into |= {p.id: p.duct for p in system.pickups}
        self.widths = {d.id: [d.diameter] for d in system.ducts}
        for p in system.pickups:
            on = self.widths[p.duct]
            self.widths[p.id] = [pipe.diameter for pipe in p.pipes] or on
        # The parts that carry air: open, fed by something, and leading somewhere.
        live: dict[str, Pickup | Duct] = {}
        for duct in system.ducts:
            if duct.into is None:
                self.collect(duct, live)
        self.parts = {n: part for n, part in live.items() if self.reaches(n, live)}
        self.names = list(self.parts)
        self.nodes = [n for n in self.names if isinstance(self.parts[n], Duct)]
        self.roots = [n for n in self.nodes if self.into[n] is None]
        self.inflow = {
            node: [n for n in self.names if self.into[n] == node] for node in self.nodes
        }

    def collect(self, part: Pickup | Duct, live: dict[str, Pickup | Duct]) -> bool:
        """Find what has an inlet upstream of a part."""
        if self.gate_k(part) == inf:
            return False
        if isinstance(part, Duct):
            upstream: list[Pickup | Duct] = [
                *(p for p in self.system.pickups if p.duct == part.id),
                *(d for d in self.system.ducts if d.into == part.id),
            ]
            fed = [self.collect(p, live) for p in upstream]
            if not any(fed):
                return False
        live[part.id] = part
        return True

    def reaches(self, name: str, live: dict[str, Pickup | Duct]) -> bool:
        """Return whether the path from a part to the collector is live."""
        target = self.into[name]
        return target is None or (target in live and self.reaches(target, live))

    def dynamic(self, q: float, diameter: float) -> float:
        """Return the velocity pressure."""
        return 0.5 * self.density * (q / area(diameter)) ** 2

    def at_end(self, name: str, q: float) -> float:
        """Return the velocity pressure at the end of a part."""
        return self.dynamic(q, self.widths[name][-1])

    def gate_k(self, part: Pickup | Duct) -> float:
        """Return the coefficient of a part's gate as it stands."""
        if part.gate is None:
            return 0.0
        if part.gate.id in self.open_gates:
            return part.gate.allowance
        if part.gate.leak_area == 0:
            return inf
        return (area(self.widths[part.id][-1]) / (0.61 * part.gate.leak_area)) ** 2

    def own_loss(self, part: Pickup | Duct, q: float) -> float:
        """Return the total pressure lost in a part."""
        width = self.widths[part.id]
        loss = (self.gate_k(part) + _ENTRY[part.entry_angle]) * self.at_end(part.id, q)
        if isinstance(part, Duct):
            return loss + pipe_loss(part, q, self.density, self.viscosity)
        loss += part.entry_k * self.dynamic(q, width[0])
        loss += sum(pipe_loss(p, q, self.density, self.viscosity) for p in part.pipes)
        if self.static:
            for one, other in pairwise(width):
                loss += self.widening(self.dynamic(q, one), self.dynamic(q, other))
        return loss

    def widening(self, before: float, after: float) -> float:
        """Return the total pressure lost where the velocity pressure falls."""
        if after >= before:
            return 0.0
        if self.system.regain is None:
            # Borda-Carnot: the velocity pressure of the change of velocity.
            fast, slow = ((2 * p / self.density) ** 0.5 for p in (before, after))
            return float(0.5 * self.density * (fast - slow) ** 2)
        return (1.0 - self.system.regain) * (before - after)

    def speeding(
        self, incoming: list[tuple[float, float]], q: float, own: float
    ) -> float:
        """Return the static pressure spent on a new velocity."""
        change = own - sum(a * b for a, b in incoming) / q
        if change >= 0:
            return change
        if self.system.regain is not None:
            return self.system.regain * change
        # Momentum over the section: (p2 - p1) A = sum(rho q v) - rho Q V.
        density = self.density
        slow: float = (2 * own / density) ** 0.5
        section = q / slow
        arriving = sum(density * a * (2 * b / density) ** 0.5 for a, b in incoming)
        return -float(max(0.0, (arriving - density * q * slow) / section))

    def needed(self, at_inlet: float, total: float, q: dict[str, float]) -> float:
        """Return the total pressure that the fan has to deliver."""
        system = self.system
        need = at_inlet
        if self.static:
            arriving = [(q[r], self.at_end(r, q[r])) for r in self.roots]
            mixed = sum(a * b for a, b in arriving) / total
            if system.inlet_diameter is not None:
                inlet = self.dynamic(total, system.inlet_diameter)
                need += self.speeding(arriving, total, inlet)
                mixed = inlet
            need -= mixed
        if system.inlet_k:
            if system.inlet_diameter is not None:
                at_inlet = self.dynamic(total, system.inlet_diameter)
            else:
                arriving = [(q[r], self.at_end(r, q[r])) for r in self.roots]
                at_inlet = sum(a * b for a, b in arriving) / total
            need += system.inlet_k * at_inlet
        if system.separator is not None:
            ratio = self.density / system.separator.density
            need += system.separator.resistance * ratio * total**2
        if system.filter is not None:
            need += system.filter.resistance * system.filter.loading * total
        after = 0.0
        if system.discharge is not None:
            pipe = system.discharge.pipe
            after = self.dynamic(total, pipe.diameter)
            need += pipe_loss(pipe, total, self.density, self.viscosity)
            need += system.discharge.exit_k * after
        outlet = system.fan.outlet_diameter
        if self.static and system.fan.kind == "static" and outlet is not None:
            need += self.widening(self.dynamic(total, outlet), after)
        return need

    def residuals(self, x: np.ndarray) -> np.ndarray:
        """Return the residual of each equation."""
        # Logarithms, in which losses with the square of the flow are straight lines.
        y = np.exp(np.clip(x, -40.0, 20.0))
        n, m = len(self.names), len(self.nodes)
        q = dict(zip(self.names, y[:n], strict=True))
        suction = dict(zip(self.nodes, y[n : n + m], strict=True))
        at_inlet, total = float(y[n + m]), float(y[n + m + 1])
        out: list[float] = []
        for name in self.names:
            part = self.parts[name]
            target = self.into[name]
            end = self.at_end(name, q[name])
            rise = self.own_loss(part, q[name])
            if isinstance(part, Duct):
                rise += suction[name]
                if self.static:
                    incoming = [(q[c], self.at_end(c, q[c])) for c in self.inflow[name]]
                    rise += self.speeding(incoming, q[name], end)
            elif self.static:
                rise += end
            out.append(
                log_ratio(rise / (at_inlet if target is None else suction[target]))
            )
        out.extend(
            log(sum(q[c] for c in self.inflow[node]) / q[node]) for node in self.nodes
        )
        out.append(log(sum(q[r] for r in self.roots) / total))
        given = self.fan.pressure(total, self.density, self.speed)
        out.append((self.needed(at_inlet, total, q) - given) / 1000.0)
        return np.array(out)

    def start(self) -> np.ndarray:
        """Return a plain first guess: flow shared by area, suction falling upstream."""
        flow = {root: 0.4 * self.speed / len(self.roots) for root in self.roots}
        depth = dict.fromkeys(self.roots, 0)
        stack = list(self.roots)
        while stack:
            name = stack.pop()
            children = self.inflow.get(name, [])
            whole = sum(area(self.widths[c][-1]) for c in children)
            for child in children:
                flow[child] = flow[name] * area(self.widths[child][-1]) / whole
                depth[child] = depth[name] + 1
                stack.append(child)
        return np.log(
            [flow[name] for name in self.names]
            + [1500.0 / (1 + depth[node]) for node in self.nodes]
            + [2000.0, 0.4 * self.speed]
        )


def pattern(equations: Equations, start: np.ndarray) -> np.ndarray:
    """Return which equation depends on which unknown, found by trial.

    At a few places, since some terms are 0 on one side of a kink.
    """
    n = len(start)
    found = np.zeros((n, n), dtype=int)
    random = np.random.default_rng(1)
    for _ in range(4):
        at = start + random.normal(0.0, 0.5, n)
        base = equations.residuals(at)
        for column in range(n):
            moved = at.copy()
            moved[column] += 1e-3
            found[:, column] |= equations.residuals(moved) != base
    return found


def solve(
    system: DuctSystem, open_gates: Collection[str], speed: float = 1.0
) -> Answer:
    """Return the flows of a system, or raise if SciPy finds none."""
    equations = Equations(system, open_gates, speed)
    if not equations.roots:
        return Answer({}, 0.0, {})
    start = equations.start()
    sparsity = pattern(equations, start)
    random = np.random.default_rng(2)
    for attempt in range(6):
        # It occasionally gets stuck at a kink; from another start it gets through.
        found = least_squares(
            equations.residuals,
            start + random.normal(0.0, 0.3, len(start)) * min(attempt, 1),
            jac_sparsity=sparsity,
            xtol=1e-14,
            ftol=1e-14,
            gtol=1e-14,
            max_nfev=400,
        )
        if np.max(np.abs(found.fun)) < 1e-7:
            break
    else:
        raise ArithmeticError("SciPy found no solution")
    y = [float(value) for value in np.exp(found.x)]
    n, m = len(equations.names), len(equations.nodes)
    return Answer(
        dict(zip(equations.names, y[:n], strict=True)),
        y[n + m + 1],
        dict(zip(equations.nodes, y[n : n + m], strict=True)),
    )
