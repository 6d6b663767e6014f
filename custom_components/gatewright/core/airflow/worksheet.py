"""The velocity pressure method: the worksheet of exhaust design, at given flows.

Where the solver finds the flows of an existing shop, this goes the other way: each
pickup is given the flow it should have, and the sheet tells the static suction that
takes, which branch governs at each junction and what fan is needed. Method and
forms: ACGIH, Industrial Ventilation, velocity pressure method calculation sheet
(form read in a reprint).

Pressures are in Pa and suctions positive.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import sqrt
from typing import Final

from .air import STANDARD_DENSITY, velocity_pressure
from .errors import AirflowError, require
from .model import Pickup
from .network import Network

ACCEPT_RATIO: Final = 1.05
RESIZE_RATIO: Final = 1.20
"""Ratios of static pressures at a junction up to which a balance is accepted, and
from which a branch has to be resized (ACGIH; memory, confident)."""


class SheetResult(StrEnum):
    """What to do about a junction."""

    ACCEPT = "accept"
    CORRECT = "correct"
    RESIZE = "resize"


def hood_suction(entry_k: float, duct_pressure: float) -> float:
    """Return a hood's static suction (Pa), `(1 + Fh) VP`."""
    return (1.0 + entry_k) * duct_pressure


def entry_coefficient(duct_pressure: float, suction: float) -> float:
    """Return a hood's coefficient of entry, `Ce = sqrt(VP / SPh)`."""
    require(suction > 0, "pressure_range", "A hood's suction must be positive")
    return sqrt(duct_pressure / suction)


def hood_flow(
    coefficient: float,
    area: float,
    suction: float,
    air_density: float = STANDARD_DENSITY,
) -> float:
    """Return the flow (m3/s) told by a hood's suction, `Q = Ce A sqrt(2 SPh / rho)`.

    `area` in m2, `suction` in Pa just behind the hood.
    """
    return coefficient * area * sqrt(2.0 * suction / air_density)


def resultant_pressure(*streams: tuple[float, float]) -> float:
    """Return the mean velocity pressure (Pa) of streams of (flow, VP), by flow."""
    flow = sum(q for q, _ in streams)
    require(flow > 0, "flow_range", "Streams without flow have no mean")
    return sum(q * pressure for q, pressure in streams) / flow


def acceleration_loss(resultant: float, main: float) -> float:
    """Return what speeding up in the main costs (Pa of static pressure), never < 0."""
    return max(0.0, main - resultant)


def corrected_flow(flow: float, governing: float, own: float) -> float:
    """Return the flow a branch takes at the governing static suction."""
    require(own > 0, "pressure_range", "A branch's suction must be positive")
    return flow * sqrt(governing / own)


def balance(higher: float, lower: float) -> tuple[float, SheetResult]:
    """Return the ratio of two static suctions at a junction and what to do."""
    require(
        higher >= lower > 0,
        "pressure_range",
        "Give the higher and the lower suction, both positive",
    )
    ratio = higher / lower
    if ratio < ACCEPT_RATIO:
        return ratio, SheetResult.ACCEPT
    return ratio, SheetResult.CORRECT if ratio <= RESIZE_RATIO else SheetResult.RESIZE


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """One column of the sheet: a pipe at a flow.

    `flow` in m3/s, `area` in m2, `friction` in velocity pressures, all other
    losses as coefficients. `entry_k` None: no hood, the air comes from upstream.
    """

    flow: float
    area: float
    friction: float
    entry_k: float | None = None
    elbows: float = 0.0
    branch_entry: float = 0.0
    other: float = 0.0
    density: float = STANDARD_DENSITY

    @property
    def velocity(self) -> float:
        """Velocity, m/s."""
        return self.flow / self.area

    @property
    def pressure(self) -> float:
        """Velocity pressure, Pa."""
        return velocity_pressure(self.velocity, self.density)

    @property
    def hood(self) -> float:
        """Static suction at the hood, Pa; 0 without a hood."""
        if self.entry_k is None:
            return 0.0
        return hood_suction(self.entry_k, self.pressure)

    @property
    def duct_loss(self) -> float:
        """Loss of the duct with its fittings, Pa."""
        total = self.friction + self.elbows + self.branch_entry + self.other
        return total * self.pressure

    @property
    def suction(self) -> float:
        """Static suction that the segment adds up to its end, Pa."""
        return self.hood + self.duct_loss


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """A junction of the sheet: what meets at the upstream end of a duct.

    `suctions` by id of what flows in (Pa, at the flows asked for), `governing` the
    one that needs most, `ratio` of the highest to the lowest, `flows` (m3/s) after
    correction, that is with every branch at the governing suction.
    """

    duct: str
    suctions: dict[str, float]
    governing: str
    ratio: float
    outcome: SheetResult
    flows: dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The whole worksheet: junctions from the far end on, and what the fan must do.

    `flow` (m3/s) through the collector after correction, `suction` (Pa) static at
    its inlet, `fan_pressure` (Pa) total rise that is needed.
    """

    lines: tuple[SheetLine, ...]
    flow: float
    suction: float
    fan_pressure: float


def design(network: Network, flows: dict[str, float]) -> Sheet:
    """Work the sheet for pickups that are to draw given flows (m3/s) at once.

    Gates of these pickups are open, all others closed tight. Where a branch needs
    less suction than the governing one, its flow is raised to what it takes there.
    Static balance is used whatever the system's own junctions are. Raises
    `AirflowError` where no flow is asked for.
    """
    wanted = {pickup: flow for pickup, flow in flows.items() if flow > 0}
    require(bool(wanted), "flow_range", "No pickup is given a flow")
    elements = network.elements
    for pickup in wanted:
        if not isinstance(network.element(pickup).part, Pickup):
            raise AirflowError(
                "unknown_element", f"{pickup!r} is no pickup", element=pickup
            )
    losses = network.gate_losses(network.gates_for(*wanted))
    flow = [0.0] * len(elements)
    suction = [0.0] * len(elements)
    incoming: dict[int, list[int]] = {}
    lines: list[SheetLine] = []

    def meet(name: str, joined: list[int]) -> tuple[float, float, float]:
        """Balance streams; return their flow, suction and mean velocity pressure."""
        governing = max(joined, key=lambda i: suction[i])
        high = suction[governing]
        ratio, outcome = balance(high, min(suction[i] for i in joined))
        corrected = {i: corrected_flow(flow[i], high, suction[i]) for i in joined}
        if len(joined) > 1:
            lines.append(
                SheetLine(
                    duct=name,
                    suctions={elements[i].id: suction[i] for i in joined},
                    governing=elements[governing].id,
                    ratio=ratio,
                    outcome=outcome,
                    flows={elements[i].id: corrected[i] for i in joined},
                )
            )
        total = sum(corrected.values())
        mixed = resultant_pressure(
            *((q, elements[i].pressure * q * q) for i, q in corrected.items())
        )
        return total, high, mixed

    for index, element in enumerate(elements):
        if isinstance(element.part, Pickup):
            if element.id not in wanted:
                continue
            flow[index] = wanted[element.id]
            start = element.pressure * flow[index] ** 2
        elif index in incoming:
            flow[index], start, mixed = meet(element.id, incoming[index])
            start += acceleration_loss(mixed, element.pressure * flow[index] ** 2)
        else:
            continue
        q = flow[index]
        resistance = element.fixed + losses[index]
        resistance += sum(run.resistance(q) - run.fixed for run in element.runs)
        suction[index] = start + resistance * q * q
        incoming.setdefault(element.parent, []).append(index)

    total, high, mixed = meet("", incoming[-1])
    if network.inlet_pressure is not None:
        inlet = network.inlet_pressure * total * total
        high += acceleration_loss(mixed, inlet)
        mixed = inlet
    after = (network.separator + network.behind(total)) * total * total
    after += network.system.inlet_k * mixed
    return Sheet(
        lines=tuple(lines),
        flow=total,
        suction=high,
        fan_pressure=high - mixed + after + network.filter * total,
    )
