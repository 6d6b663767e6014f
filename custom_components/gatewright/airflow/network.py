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

A `Network` is compiled once from a `System` and then solved for any set of gates.
It is not changed by solving, so that several threads may share one.
"""

from collections.abc import Collection, Mapping
import copy
from functools import cached_property
from math import inf, log, pi, sqrt
from typing import Final

from .compiled import (
    FIRST_VELOCITY,
    LEAST_REYNOLDS,
    Element,
    Run,
    lost_at_joint,
    momentum_regain,
)
from .errors import AirflowError, require
from .friction import TURBULENT, TWO_LOG10, friction_factor
from .model import Junction, System
from .solution import Solution
from .tree import InvalidSystem, compile_tree

__all__ = ["InvalidSystem", "Network", "OpenGates"]

type OpenGates = Collection[str] | Mapping[str, float]

TOLERANCE: Final = 1e-5
"""Relative change of every flow below which the solver stops."""

MAX_PASSES: Final = 100

NEGLIGIBLE: Final = 1e-2
"""Share of the collector's flow below which a flow is only followed absolutely: to
`TOLERANCE` of that share. A trickle need not be known to as many digits."""


class Network:
    """A system compiled for solving. Raises `InvalidSystem`."""

    def __init__(self, system: System) -> None:
        """Check the tree, put it in order, precompute."""
        self.system = system
        self.static = system.junction is Junction.STATIC
        elements = compile_tree(system)
        self.elements: list[Element] = elements
        self.index = {element.id: element.index for element in elements}
        self.pickup_count = len(system.pickups)
        self.roots = [element.index for element in elements if element.parent < 0]
        self._fixed = [element.fixed for element in elements]
        self._pressure = [
            element.pressure if self.static else 0.0 for element in elements
        ]
        self._root = [sqrt(pressure) for pressure in self._pressure]
        self._simple = [
            len(element.runs) == 1 and not element.runs[0].miter for element in elements
        ]
        self._first = [
            (run.reynolds, run.rough / 3.7, run.friction)
            for run in (element.runs[0] for element in elements)
        ]
        self._starts = [element.runs[0].start for element in elements]
        self._gated: dict[str, list[Element]] = {}
        for element in elements:
            if element.gate is not None:
                self._gated.setdefault(element.gate.id, []).append(element)
        self._closed_losses = [element.gate_loss(0.0) for element in elements]
        self._parents = [element.parent for element in elements]
        self.fan_scale = self.speed_scale = 1.0
        self.scales: list[float] | None = None
        self.extra: list[float] = []
        self._downstream()

    def adjusted(
        self,
        *,
        fan: float | None = None,
        speed: float | None = None,
        loading: float | None = None,
        scales: Mapping[str, float] | None = None,
        extra: Mapping[str, float] | None = None,
    ) -> Network:
        """Return the same network as it is found to be; nothing is compiled again.

        `fan` scales the pressure of the fan's curve, `speed` the speed at which it
        really runs, `loading` is the filter's instead of its own. `scales` multiplies the losses of ducts and pickups by id, `extra`
        adds to them (Pa per (m3/s)^2). What is left out stays as it is here.
        """
        other = copy.copy(self)
        if fan is not None:
            other.fan_scale = fan
        if speed is not None:
            other.speed_scale = speed
        if loading is not None and self.system.filter is not None:
            other.filter = self.system.filter.resistance * loading
        if scales or extra:
            count = len(self.elements)
            other.scales = list(self.scales or [1.0] * count)
            other.extra = list(self.extra or [0.0] * count)
            for name, scale in (scales or {}).items():
                other.scales[self.element(name).index] = scale
            for name, more in (extra or {}).items():
                other.extra[self.element(name).index] += more
        return other

    @property
    def loading(self) -> float:
        """What the clean filter's resistance is multiplied by; 1 without a filter."""
        part = self.system.filter
        return self.filter / part.resistance if part and part.resistance else 1.0

    def _downstream(self) -> None:
        """Prepare what lies between the last junction and the open air."""
        system = self.system
        density = system.air.density
        self.inlet_pressure: float | None = None
        if system.inlet_diameter is not None:
            area = pi / 4.0 * system.inlet_diameter**2
            self.inlet_pressure = 0.5 * density / area**2
        self._inlet_root = sqrt(self.inlet_pressure or 0.0)
        self.separator = 0.0
        if system.separator is not None:
            self.separator = (
                system.separator.resistance * density / system.separator.density
            )
        self.filter = 0.0
        if system.filter is not None:
            self.filter = system.filter.resistance * system.filter.loading
        self.discharge: Run | None = None
        self.exit = self.outlet_loss = 0.0
        # Velocity pressure at the fan's outlet, where the curve counts it in.
        outlet = system.fan.outlet * density / system.fan.density
        after = 0.0
        if system.discharge is not None:
            self.discharge = Run(system.discharge.pipe, system)
            after = self.discharge.pressure
            self.exit = after * system.discharge.exit_k
        self.outlet_loss = lost_at_joint(outlet, after, system)

    @property
    def gates(self) -> tuple[str, ...]:
        """Ids of all gates, in the order of pickups and ducts."""
        return tuple(self._gated)

    @cached_property
    def machines(self) -> dict[str, tuple[str, ...]]:
        """Pickup ids by machine, in the order of the system."""
        found: dict[str, list[str]] = {}
        for pickup in self.system.pickups:
            if pickup.machine is not None:
                found.setdefault(pickup.machine, []).append(pickup.id)
        return {machine: tuple(ids) for machine, ids in found.items()}

    def element(self, element_id: str) -> Element:
        """Return the compiled pickup or duct of an id. Raises `AirflowError`."""
        index = self.index.get(element_id)
        if index is None:
            raise AirflowError(
                "unknown_element",
                f"There is no duct or pickup {element_id!r}",
                element=element_id,
            )
        return self.elements[index]

    def path(self, element_id: str) -> tuple[Element, ...]:
        """Return an element and all that its air flows through to the collector."""
        element = self.element(element_id)
        found = [element]
        while element.parent >= 0:
            element = self.elements[element.parent]
            found.append(element)
        return tuple(found)

    def gates_for(self, *pickups: str) -> frozenset[str]:
        """Return the gates that must be open for pickups to draw air."""
        return frozenset(
            element.gate.id
            for pickup in pickups
            for element in self.path(pickup)
            if element.gate is not None
        )

    def gates_for_machines(self, *machines: str) -> frozenset[str]:
        """Return the gates that must be open for all pickups of machines."""
        for machine in machines:
            require(
                machine in self.machines,
                "unknown_machine",
                f"No pickup belongs to machine {machine!r}",
                element=machine,
            )
        return self.gates_for(
            *(pickup for machine in machines for pickup in self.machines[machine])
        )

    def gate_losses(self, open_gates: OpenGates) -> list[float]:
        """Return each element's gate resistance, infinite where no air can pass.

        `open_gates` are ids, or ids with the open share of the height; gates not
        named are closed. Raises `AirflowError` for a gate that does not exist.
        """
        if isinstance(open_gates, str):
            # A single id would be read as a collection of letters.
            raise TypeError("open_gates must be a collection of ids, not one id")
        for gate in open_gates:
            if gate not in self._gated:
                raise AirflowError(
                    "unknown_gate", f"There is no gate {gate!r}", element=gate
                )
        losses = self._closed_losses.copy()
        if isinstance(open_gates, Mapping):
            for gate, opening in open_gates.items():
                for element in self._gated[gate]:
                    losses[element.index] = element.gate_loss(opening)
        else:
            for gate in open_gates:
                for element in self._gated[gate]:
                    losses[element.index] = element.open_loss
        # A duct through which no open pickup draws is as good as closed.
        for element in self.elements[self.pickup_count :]:
            if all(losses[child] == inf for child in element.children):
                losses[element.index] = inf
        return losses

    def solve(
        self,
        open_gates: OpenGates,
        *,
        speed: float = 1.0,
        flow: float | None = None,
        tolerance: float = TOLERANCE,
    ) -> Solution:
        """Return the flows for a set of open gates.

        `speed` is the fan's, as a ratio to that of its curve. With `flow` (m3/s)
        the collector's flow is given instead and the fan's pressure is what that
        flow needs. `tolerance` is the relative change of the flows at which to
        stop (of less than a hundredth of the whole, that of the hundredth). With no way open for the air all flows are 0 and the fan is at
        shut-off. Raises `AirflowError`.
        """
        require(
            0 < speed < inf, "fan_speed", "The speed ratio must be positive and finite"
        )
        require(flow is None or flow > 0, "flow_range", "A given flow must be positive")
        speed *= self.speed_scale
        losses = self.gate_losses(open_gates)
        active = [i for i, loss in enumerate(losses) if loss != inf]
        if not any(losses[root] != inf for root in self.roots):
            return Solution.at_rest(self, losses, speed)
        # A closed duct leaves what is upstream of it without flow.
        if any(loss == inf for loss in losses[self.pickup_count :]):
            reached = set()
            for i in reversed(active):
                parent = self.elements[i].parent
                if parent < 0 or parent in reached:
                    reached.add(i)
            active = [i for i in active if i in reached]
        return self._iterate(losses, active, speed, flow, tolerance)

    def _iterate(
        self,
        losses: list[float],
        active: list[int],
        speed: float,
        given: float | None,
        tolerance: float,
    ) -> Solution:
        """Repeat the pass of conductances down and flows up until nothing moves."""
        elements = self.elements
        count = len(elements)
        parents = self._parents
        fixed = self._fixed
        pressure = self._pressure
        root = self._root
        simple = self._simple
        first = self._first
        roots_x = self._starts.copy()
        pickups = self.pickup_count
        static = self.static
        regain = self.system.regain
        fan = self.system.fan
        ratio = self.fan_scale * self.system.air.density / fan.density
        scales, extra = self.scales, self.extra
        turbulent, two_log10, ln = TURBULENT, TWO_LOG10, log
        negligible, slowest = NEGLIGIBLE, LEAST_REYNOLDS

        flow = [0.0] * count
        resistance = [0.0] * count
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
                            r += friction * friction_factor(
                                max(re, slowest), rough * 3.7
                            )
                else:
                    for run in elements[i].runs:
                        r += run.resistance(flow[i]) - run.fixed
                if scales is not None:
                    r = r * scales[i] + extra[i]
                resistance[i] = r
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
                if self.inlet_pressure is not None:
                    change = self.inlet_pressure - mixed
                    if change > 0.0:
                        quadratic += change
                    elif regain is None:
                        back = squares[-1] / (g * g)
                        quadratic -= momentum_regain(self._inlet_root, back)
                    else:
                        quadratic += regain * change
                    mixed = self.inlet_pressure
                quadratic -= mixed
            quadratic += self._effect(flow, total, mixed)
            quadratic += self.separator + self.behind(total)
            if given is None:
                total = speed * fan.operating_flow(
                    quadratic / ratio, self.filter / (ratio * speed), total / speed
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
            network=self,
            speed=speed,
            total=total,
            flows=flow,
            losses=losses,
            sums=sums,
            needed=None if given is None else (quadratic * given + self.filter) * given,
            passes=passes,
            converged=converged,
        )

    def _effect(self, flow: list[float], total: float, mixed: float) -> float:
        """Return what a disturbed inlet costs (Pa per (m3/s)^2)."""
        k = self.system.inlet_k
        if k == 0.0:
            return 0.0
        if self.inlet_pressure is not None:
            return k * self.inlet_pressure
        if self.static or total <= 0.0:
            return k * mixed
        # Where total pressures are shared, the roots' own velocity pressure counts.
        elements = self.elements
        cubes = sum(elements[i].pressure * flow[i] ** 3 for i in self.roots)
        return float(k * cubes / total**3)

    def behind(self, flow: float) -> float:
        """Return the quadratic resistance behind the fan at a flow (m3/s)."""
        run = self.discharge
        if run is None:
            return self.outlet_loss
        if flow <= 0.0:
            flow = run.area * FIRST_VELOCITY
        return self.outlet_loss + self.exit + run.resistance(flow)
