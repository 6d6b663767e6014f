"""Invented shops for sizing: random machine trees, and an exact answer for given flows."""

from dataclasses import dataclass
from itertools import product
from math import pi, sqrt
from random import Random

from fluids.friction import friction_factor
import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

from custom_components.gatewright.core.airflow import (
    MATERIALS_CARRIED,
    Air,
    Duct,
    DuctSystem,
    Elbow,
    Fan,
    Filter,
    Junction,
    Pickup,
    Pipe,
    Separator,
    SlideGate,
)
from custom_components.gatewright.core.airflow.machines import MACHINES
from custom_components.gatewright.core.airflow.sizing.live import Choice
from custom_components.gatewright.core.airflow.sizing.problem import Plan
from custom_components.gatewright.core.airflow.sizing.trial import Score, Trials

HOSE = 9.0e-4
AIR = Air(density=1.2, viscosity=1.81e-5)
CURVE = (
    (0.0, 2550.0),
    (0.15, 2650.0),
    (0.30, 2500.0),
    (0.45, 2100.0),
    (0.60, 1350.0),
    (0.75, 250.0),
)


def random_shop(
    draw: Random, machines: int, *, junction: Junction = Junction.STATIC
) -> DuctSystem:
    """Return a shop of so many machines along a main that may branch.

    About a quarter of them share a place on the main with the one before.
    """
    ducts: list[Duct] = []
    pickups: list[Pickup] = []
    for number in range(machines):
        if not ducts or draw.random() < 0.75:
            straight = not ducts or draw.random() < 0.8
            into = None
            if ducts:
                into = ducts[-1].id if straight else draw.choice(ducts).id
            ducts.append(
                Duct(
                    id=f"main{number}",
                    into=into,
                    diameter=0.15,
                    length=draw.choice([1.0, 2.0, 3.0, 5.0]),
                    entry_angle=0.0 if straight else 45.0,
                )
            )
        kind = MACHINES[draw.choice(sorted(MACHINES))]
        for port, flow in enumerate(kind.need(None).ports):
            width = draw.choice([0.0, 0.08, 0.1, 0.125])
            pickups.append(
                Pickup(
                    id=f"port{number}.{port}",
                    duct=ducts[-1].id,
                    machine=f"machine{number}",
                    entry_k=draw.choice([0.25, 1.0, 1.75]),
                    pipes=(
                        *((Pipe(diameter=width),) if width else ()),
                        Pipe(
                            diameter=0.1,
                            length=draw.choice([1.0, 2.0]),
                            roughness=HOSE,
                            elbows=(Elbow(),),
                        ),
                    ),
                    gate=SlideGate(id=f"gate{number}.{port}"),
                    entry_angle=draw.choice([30.0, 45.0]),
                    required=flow,
                    transport=MATERIALS_CARRIED[kind.material].minimum,
                )
            )
    size = draw.choice([0.7, 1.0, 1.5])
    return DuctSystem(
        ducts=tuple(ducts),
        pickups=tuple(pickups),
        fan=Fan(points=tuple((q * size, p) for q, p in CURVE), kind="static"),
        separator=Separator.from_point(0.3 * size, 350.0),
        filter=Filter.from_point(0.3 * size, 200.0),
        inlet_diameter=0.2,
        junction=junction,
    )


def plain_shop(draw: Random, machines: int, junction: Junction) -> DuctSystem:
    """Return a shop with one pickup per machine and losses given as coefficients.

    So its losses can be computed without the code under test.
    """
    ducts: list[Duct] = []
    pickups: list[Pickup] = []
    for number in range(machines):
        if not ducts or draw.random() < 0.8:
            ducts.append(
                Duct(
                    id=f"main{number}",
                    into=ducts[-1].id if ducts else None,
                    diameter=0.15,
                    length=draw.choice([1.0, 2.0, 4.0]),
                    extra_k=draw.choice([0.0, 0.2]),
                )
            )
        pickups.append(
            Pickup(
                id=f"port{number}",
                duct=ducts[-1].id,
                machine=f"machine{number}",
                entry_k=draw.choice([0.25, 1.0]),
                pipes=(
                    Pipe(
                        diameter=0.1,
                        length=draw.choice([1.0, 2.0, 3.0]),
                        roughness=HOSE,
                        extra_k=draw.choice([0.2, 0.5]),
                    ),
                ),
                required=draw.choice([0.10, 0.12, 0.14, 0.16]),
                transport=draw.choice([10.0, 12.0, 15.0]),
                gate=SlideGate(id=f"gate{number}", allowance=0.0),
            )
        )
    return DuctSystem(
        ducts=tuple(ducts),
        pickups=tuple(pickups),
        fan=Fan.from_free_air(1.0, 2500.0),
        air=AIR,
        junction=junction,
    )


def every_choice(plan: Plan) -> tuple[Choice, Score]:
    """Return the best of all choices that never narrow, by trying each."""
    trials = Trials(plan)
    ranges = [
        range(low, high + 1) for low, high in zip(plan.low, plan.high, strict=True)
    ]
    allowed = [
        choice
        for choice in product(*ranges)
        if all(j < 0 or choice[j] >= choice[i] for i, j in enumerate(plan.parent))
    ]
    best = min(allowed, key=lambda choice: trials.score(choice).key)
    return best, trials.score(best)


@dataclass(frozen=True)
class Exact:
    """The best worst ratio, and the least mean power (W) that achieves it."""

    ratio: float
    power: float


class Program:
    """The sizing of a plain shop at given flows as a mixed-integer linear program.

    One binary for each segment and size; where junctions balance static pressures,
    one variable for each pair of sizes that meet, for the speed that is taken up or
    thrown away; for each set the pressure that its worst way needs.
    """

    def __init__(self, plan: Plan) -> None:
        """Compute ratios and losses of every segment, size and set."""
        self.plan = plan
        self.sizes = plan.rules.sizes
        self.margin = plan.rules.margin
        self.ways: list[tuple[int, list[int], float]] = []
        self.flows: list[dict[int, float]] = []
        self.needed: list[dict[int, float]] = []
        pickups = {pickup.id: pickup for pickup in plan.system.pickups}
        for number, opened in enumerate(plan.sets):
            flow: dict[int, float] = {}
            velocity: dict[int, float] = {}
            for name in opened.pickups:
                pickup = pickups[name]
                way = [plan.at[element.id] for element in plan.network.path(name)]
                self.ways.append((number, way, pickup.required * self.margin))
                for i in way:
                    flow[i] = flow.get(i, 0.0) + pickup.required * self.margin
                    velocity[i] = max(velocity.get(i, 0.0), pickup.transport)
            self.flows.append(flow)
            self.needed.append(velocity)
        self.static = plan.system.junction is Junction.STATIC
        many = len(self.sizes)
        self.count = len(plan.segments) * many
        self.pairs: dict[tuple[int, int, int], int] = {}
        if self.static:
            for i, j in enumerate(plan.parent):
                if j >= 0:
                    for k, kj in product(range(many), range(many)):
                        self.pairs[i, k, kj] = self.count + len(self.pairs)
        self.pressures = self.count + len(self.pairs)
        self.whole = self.pressures + len(plan.sets) + 1

    def at(self, i: int, k: int) -> int:
        """Return the number of the binary of a segment's size."""
        return i * len(self.sizes) + k

    def area(self, k: int) -> float:
        """Return the area of a size, m2."""
        return pi / 4.0 * self.sizes[k] ** 2

    def vp(self, q: float, k: int) -> float:
        """Return the velocity pressure (Pa) of a flow in a size."""
        return 0.5 * AIR.density * (q / self.area(k)) ** 2

    def loss(self, i: int, k: int, q: float) -> float:
        """Return the loss (Pa) of a segment of a size at a flow."""
        part = self.plan.parts[i]
        if isinstance(part, Duct):
            length, rough, extra = part.length, part.roughness, part.extra_k
        else:
            pipe = part.pipes[0]
            length, rough = pipe.length, pipe.roughness
            extra = pipe.extra_k + part.entry_k
        size = self.sizes[k]
        reynolds = AIR.density * q / self.area(k) * size / AIR.viscosity
        f = friction_factor(reynolds, rough / size, Method="Clamond")
        start = self.vp(q, k) if self.static and isinstance(part, Pickup) else 0.0
        return float((extra + f * length / size) * self.vp(q, k) + start)

    @staticmethod
    def change(before: float, after: float) -> float:
        """Return the growth of the static suction where a velocity pressure changes.

        Acceleration costs its pressure; deceleration returns what a sudden enlargement
        (Borda-Carnot) doesn't lose.
        """
        lost = max(0.0, sqrt(before) - sqrt(after)) ** 2
        return after - before + lost

    def solve(self) -> Exact:
        """Return the exact answer: first the ratio, then the power."""
        ratio = -self._run(ratio_row=True, cost=self._ratio_cost(), least=0.0)
        cost = np.zeros(self.whole)
        for number, flow in enumerate(self.flows):
            total = sum(q for i, q in flow.items() if self.plan.parent[i] < 0)
            cost[self.pressures + number] = total / len(self.flows)
        power = self._run(ratio_row=False, cost=cost, least=ratio * (1 - 1e-6))
        return Exact(ratio, power)

    def _ratio_cost(self) -> np.ndarray:
        cost = np.zeros(self.whole)
        cost[-1] = -1.0
        return cost

    def _run(self, *, ratio_row: bool, cost: np.ndarray, least: float) -> float:
        rows: list[dict[int, float]] = []
        low: list[float] = []
        high: list[float] = []

        def add(row: dict[int, float], at_least: float, at_most: float) -> None:
            rows.append(row)
            low.append(at_least)
            high.append(at_most)

        plan, many = self.plan, len(self.sizes)
        worst = self.whole - 1
        for i, j in enumerate(plan.parent):
            add({self.at(i, k): 1.0 for k in range(many)}, 1.0, 1.0)
            if j < 0:
                continue
            # Never narrower than what flows in.
            row = {self.at(j, k): self.sizes[k] for k in range(many)}
            row |= {self.at(i, k): -self.sizes[k] for k in range(many)}
            add(row, 0.0, np.inf)
            if not self.static:
                continue
            # A pair of sizes exists if both do: the two ways of adding them up.
            for k in range(many):
                row = {self.pairs[i, k, kj]: 1.0 for kj in range(many)}
                add(row | {self.at(i, k): -1.0}, 0.0, 0.0)
            for kj in range(many):
                row = {self.pairs[i, k, kj]: 1.0 for k in range(many)}
                add(row | {self.at(j, kj): -1.0}, 0.0, 0.0)
        for flow, needed in zip(self.flows, self.needed, strict=True):
            for i, q in flow.items():
                row = {
                    self.at(i, k): q / (self.area(k) * needed[i]) for k in range(many)
                }
                add(row | {worst: -1.0}, 0.0, np.inf)
        if not ratio_row:
            for number, way, _flow in self.ways:
                flow = self.flows[number]
                row = {self.pressures + number: 1.0}
                for i in way:
                    for k in range(many):
                        row[self.at(i, k)] = -self.loss(i, k, flow[i])
                    j = plan.parent[i]
                    if not self.static:
                        continue
                    for k in range(many):
                        if j < 0:
                            # What is still in motion at the inlet is no suction.
                            row[self.at(i, k)] += self.vp(flow[i], k)
                            continue
                        for kj in range(many):
                            change = self.change(
                                self.vp(flow[i], k), self.vp(flow[j], kj)
                            )
                            row[self.pairs[i, k, kj]] = -change
                add(row, 0.0, np.inf)
        data = [value for row in rows for value in row.values()]
        columns = [column for row in rows for column in row]
        starts = np.cumsum([0, *(len(row) for row in rows)])
        matrix = csr_matrix((data, columns, starts), shape=(len(rows), self.whole))
        integer = np.zeros(self.whole, dtype=np.int64)
        integer[: self.count] = 1
        bottom = np.zeros(self.whole)
        bottom[-1] = least
        top = np.full(self.whole, np.inf)
        top[: self.pressures] = 1.0
        top[-1] = self.margin
        found = milp(
            cost,
            integrality=integer,
            bounds=Bounds(bottom, top),
            constraints=LinearConstraint(matrix, low, high),
            options={"mip_rel_gap": 1e-4},
        )
        assert found.success, found.message
        return float(found.fun)
