"""A shop's ducts compiled once, to be solved for any set of open gates.

Solving does not change a `Network`, so that several threads may share one.
"""

from collections.abc import Collection, Mapping
import copy
from functools import cached_property
from math import inf, pi, sqrt

from .compiled import FIRST_VELOCITY, CompiledRun, Element, Terms, lost_at_joint
from .errors import AirflowError, require
from .model import DuctSystem, Junction
from .tree import InvalidSystem, compile_tree

__all__ = ["InvalidSystem", "Network", "OpenGates"]

type OpenGates = Collection[str] | Mapping[str, float]


class Network:
    """A system compiled for solving. Raises `InvalidSystem`."""

    def __init__(self, system: DuctSystem) -> None:
        self.system = system
        self.static = system.junction is Junction.STATIC
        elements = compile_tree(system)
        self.elements: list[Element] = elements
        self.index = {element.id: element.index for element in elements}
        self.pickup_count = len(system.pickups)
        self.roots = [element.index for element in elements if element.parent < 0]
        self.terms = Terms(elements, static=self.static)
        self._gated: dict[str, list[Element]] = {}
        for element in elements:
            if element.gate is not None:
                self._gated.setdefault(element.gate.id, []).append(element)
        self._closed_losses = [element.gate_loss(0.0) for element in elements]
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
        self.inlet_root = sqrt(self.inlet_pressure or 0.0)
        self.separator = 0.0
        if system.separator is not None:
            self.separator = (
                system.separator.resistance * density / system.separator.density
            )
        self.filter = 0.0
        if system.filter is not None:
            self.filter = system.filter.resistance * system.filter.loading
        self.discharge: CompiledRun | None = None
        self.exit = self.outlet_loss = 0.0
        # Velocity pressure at the fan's outlet, where the curve counts it in.
        outlet = system.fan.outlet * density / system.fan.density
        after = 0.0
        if system.discharge is not None:
            self.discharge = CompiledRun(system.discharge.pipe, system)
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

    def behind(self, flow: float) -> float:
        """Return the quadratic resistance behind the fan at a flow (m3/s)."""
        run = self.discharge
        if run is None:
            return self.outlet_loss
        if flow <= 0.0:
            flow = run.area * FIRST_VELOCITY
        return self.outlet_loss + self.exit + run.resistance(flow)
