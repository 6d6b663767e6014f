"""What a solve has found, and what became of the pressure on the way.

Signs: static and total pressures are gauge, relative to the room, and so negative
between pickup and fan. Everything called `suction` is a static pressure with the
sign turned, positive under suction. A loss is a loss of total pressure.
"""

from collections.abc import Mapping
from functools import cached_property

from .compiled import Element, momentum_regain
from .model import Pickup
from .network import Network


class Solution:
    """Flows and pressures for one set of open gates. Nothing here changes."""

    def __init__(
        self,
        *,
        network: Network,
        speed: float,
        total: float,
        flows: list[float],
        losses: list[float],
        sums: list[float],
        needed: float | None,
        passes: int,
        converged: bool,
    ) -> None:
        self.network = network
        self.speed = speed
        self.flow = total
        """Flow through the collector, m3/s."""
        self.passes = passes
        self.converged = converged
        self._flows = flows
        self._losses = losses
        self._sums = sums
        self._needed = needed

    @classmethod
    def at_rest(cls, network: Network, losses: list[float], speed: float) -> Solution:
        """Return the solution without any way for the air."""
        count = len(network.elements)
        return cls(
            network=network,
            speed=speed,
            total=0.0,
            flows=[0.0] * count,
            losses=losses,
            sums=[0.0] * (count + 1),
            needed=None,
            passes=0,
            converged=True,
        )

    # Collector

    @cached_property
    def fan_pressure(self) -> float:
        """Total pressure rise of the fan, Pa (for a given flow: what it needs)."""
        if self._needed is not None:
            return self._needed
        return self.network.fan_scale * self.network.system.fan.pressure(
            self.flow, speed=self.speed, density=self.network.system.air.density
        )

    @property
    def separator_pressure(self) -> float:
        """Pressure difference across the separator, Pa."""
        return self.network.separator * self.flow * self.flow

    @property
    def filter_pressure(self) -> float:
        """Pressure difference across the filter, Pa."""
        return self.network.filter * self.flow

    @cached_property
    def discharge_pressure(self) -> float:
        """Total pressure lost behind the fan, without the filter, Pa."""
        if self.flow <= 0.0:
            return 0.0
        return self.network.behind(self.flow) * self.flow * self.flow

    @property
    def inlet_effect(self) -> float:
        """Pressure that a disturbed inlet costs the fan (the system effect), Pa."""
        return self.network.system.inlet_k * self.inlet_velocity_pressure

    @property
    def inlet_total(self) -> float:
        """Gauge total pressure at the collector's inlet, Pa, negative."""
        return (
            self.inlet_effect
            + self.separator_pressure
            + self.filter_pressure
            + self.discharge_pressure
            - self.fan_pressure
        )

    @property
    def inlet_velocity_pressure(self) -> float:
        """Velocity pressure at the collector's inlet, Pa.

        Of the inlet where its diameter is known, else of the ducts that flow in
        (mean by flow).
        """
        density = self.network.system.air.density
        inlet = self.network.inlet_pressure
        if inlet is not None:
            return inlet * self.flow * self.flow
        if self.flow <= 0.0:
            return 0.0
        return (
            sum(
                0.5 * density * self.duct_velocity(element.id) ** 2 * self._flows[i]
                for i, element in (
                    (i, self.network.elements[i]) for i in self.network.roots
                )
            )
            / self.flow
        )

    @property
    def suction(self) -> float:
        """Static suction at the collector's inlet, Pa, positive."""
        return self.inlet_velocity_pressure - self.inlet_total

    @property
    def fan_inlet_suction(self) -> float:
        """Static suction between separator and fan, Pa, positive.

        At the velocity of the collector's inlet. The same as `suction` where the
        separator does not stand before the fan.
        """
        if not self.network.system.separator_first:
            return self.suction
        return self.suction + self.separator_pressure

    @property
    def stalled(self) -> bool:
        """Whether the fan works left of its highest point, where it may surge."""
        return self.flow / self.speed < self.network.system.fan.peak[0] * (1 - 1e-9)

    @property
    def extrapolated(self) -> bool:
        """Whether the flow lies beyond the last point of the fan's curve."""
        last = self.network.system.fan.points[-1][0]
        return self.flow / self.speed > last * (1 + 1e-9)

    @property
    def air_power(self) -> float:
        """Power that the air gets from the fan, W."""
        return self.flow * self.fan_pressure

    # Ducts and pickups

    @cached_property
    def pickups(self) -> Mapping[str, float]:
        """Flow (m3/s) of every pickup that draws air, closed but leaking included."""
        return {
            element.id: flow
            for element, flow in zip(
                self.network.elements[: self.network.pickup_count],
                self._flows,
                strict=False,
            )
            if flow > 0.0
        }

    @cached_property
    def ducts(self) -> Mapping[str, float]:
        """Flow (m3/s) of every duct with air in it."""
        at = self.network.pickup_count
        return {
            element.id: flow
            for element, flow in zip(
                self.network.elements[at:], self._flows[at:], strict=True
            )
            if flow > 0.0
        }

    def gate_loss(self, element: Element) -> float:
        """Return the resistance (Pa per (m3/s)^2) of an element's gate as it stands."""
        return self._losses[element.index]

    def flow_of(self, element_id: str) -> float:
        """Return the flow (m3/s) of a duct or pickup. Raises `AirflowError`."""
        return self._flows[self.network.element(element_id).index]

    def duct_velocity(self, duct: str) -> float:
        """Return the velocity (m/s) in a duct, or at the end of a pickup."""
        element = self.network.element(duct)
        return self._flows[element.index] / element.runs[-1].area

    def slowest_velocity(self, element_id: str) -> float:
        """Return the lowest velocity (m/s) in a duct or in the pipes of a pickup."""
        element = self.network.element(element_id)
        widest = max(run.area for run in element.runs)
        return self._flows[element.index] / widest

    @property
    def main_velocity(self) -> float:
        """Lowest velocity (m/s) in the ducts with air that reach the collector."""
        elements = self.network.elements
        return min(
            (
                self._flows[i] / elements[i].runs[-1].area
                for i in self.network.roots
                if self._flows[i] > 0.0
            ),
            default=0.0,
        )

    def hood_suction(self, pickup: str) -> float:
        """Return the static suction (Pa) just behind a pickup's hood."""
        element = self.network.element(pickup)
        flow = self._flows[element.index]
        return (element.hood + element.runs[0].pressure) * flow * flow

    def suction_at(self, element_id: str) -> float:
        """Return the static suction (Pa) at the downstream end of a duct or pickup.

        In a duct without flow it is that of the place it leads to.
        """
        element = self.network.element(element_id)
        path = self.network.path(element_id)
        flow = self._flows[element.index]
        if flow <= 0.0:
            for outer in path[1:]:
                if self._flows[outer.index] > 0.0:
                    return self._junction_suction(outer)
            return self.suction
        return self._end_suction(element)

    def _junction_suction(self, element: Element) -> float:
        """Return the static suction where others meet at a duct's upstream end."""
        flow = self._flows[element.index]
        node = (flow / self._sums[element.index]) ** 2
        if self.network.static:
            return node
        # Total pressure is common there; the velocity is taken as the duct's.
        return node + element.pressure * flow * flow

    def start_total(self, element: Element) -> float:
        """Return the total pressure drop (Pa) from the room to a duct's beginning."""
        index = element.index
        flow = self._flows[index]
        node = (flow / self._sums[index]) ** 2
        if not self.network.static:
            return node
        mixed = (
            sum(
                self.network.elements[child].pressure * self._flows[child] ** 3
                for child in element.children
            )
            / flow
        )
        own = element.pressure * flow * flow
        change = own - mixed
        if change < 0.0:
            regain = self.network.system.regain
            if regain is None:
                mean = sum(
                    self.network.elements[child].pressure ** 0.5
                    * self._flows[child] ** 2
                    for child in element.children
                )
                root = element.pressure**0.5 * flow
                change = -momentum_regain(root, mean / flow)
            else:
                change *= regain
        return node + change - own

    def _end_suction(self, element: Element) -> float:
        """Return the static suction (Pa) at the end of a duct or pickup with flow."""
        flow = self._flows[element.index]
        start = 0.0 if isinstance(element.part, Pickup) else self.start_total(element)
        lost = self._resistance(element) * flow * flow
        return start + lost + element.pressure * flow * flow

    def _resistance(self, element: Element) -> float:
        """Return the loss coefficient (Pa per (m3/s)^2) of a duct or pickup."""
        return self._entered(element) + self.adjustment(element)

    def _entered(self, element: Element) -> float:
        flow = self._flows[element.index]
        return (
            element.fixed
            + self._losses[element.index]
            + sum(run.resistance(flow) - run.fixed for run in element.runs)
        )

    def adjustment(self, element: Element) -> float:
        """Return the resistance (Pa per (m3/s)^2) found beside what was entered."""
        scales = self.network.scales
        if scales is None:
            return 0.0
        more = (scales[element.index] - 1.0) * self._entered(element)
        return more + self.network.extra[element.index]
