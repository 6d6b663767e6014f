"""What is to be sized: the tree, the pipes one can buy, and what runs at once."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import isfinite
from types import MappingProxyType
from typing import Final

from ..errors import require
from ..gate import SlideGate
from ..model import Duct, DuctSystem, Pickup
from ..network import Network
from ..pipe import Pipe
from ..units import INCH
from ..verdict import MARGIN

INCH_SIZES: Final = tuple(INCH * size for size in (3, 4, 5, 6, 7, 8, 9, 10, 12))
"""Diameters (m) by the whole inch, as round duct is sold. Common practice, no source."""

METRIC_SIZES: Final = (0.080, 0.100, 0.125, 0.160, 0.200, 0.250, 0.315)
"""Diameters (m) of EN 1506, Ventilation for buildings: sheet metal air ducts and
fittings with circular cross-section (read as a duct maker's manual quotes them): the
preferred series; 150, 300 and 355 mm are additional sizes there."""

SERIES: Final = MappingProxyType({"inch": INCH_SIZES, "metric": METRIC_SIZES})
"""Series of pipe sizes by name."""

_MOST_SIZES: Final = 20
_PORT_SLACK: Final = 0.95
"""A pipe this share of a port's width still slips over it: 100 mm on a 4 in port."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingSet:
    """Pickups that draw at the same time; all others are closed."""

    name: str
    pickups: tuple[str, ...]

    def __post_init__(self) -> None:
        """Refuse a set of nothing."""
        require(bool(self.pickups), "no_pickups", f"Nothing is open in {self.name!r}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """How to size.

    `sizes`: diameters (m) to choose from, rising. `margin`: what flow and velocity
    must be over what is needed. `bleed`: another gate may be opened where a main is
    too slow. `balanced`: every pickup draws just its flow times the margin, because
    gates are set for that (the worksheet's way, and that of criteria which allow
    gates for balancing only); otherwise the air divides as it will. `keep`: ids of
    ducts and pickups whose pipes stay as they are. `fan`: whether the system's fan
    is there; without it the duty is what is looked for.
    """

    sizes: tuple[float, ...] = METRIC_SIZES
    margin: float = MARGIN
    bleed: bool = False
    balanced: bool = False
    keep: frozenset[str] = frozenset()
    fan: bool = True

    def __post_init__(self) -> None:
        """Refuse a list of sizes that is none."""
        sizes = self.sizes
        require(
            1 <= len(sizes) <= _MOST_SIZES
            and all(isfinite(size) and 0.02 <= size <= 1.0 for size in sizes)
            and list(sizes) == sorted(set(sizes)),
            "pipe_sizes",
            f"Pipe sizes must be 1 to {_MOST_SIZES} rising diameters of 0.02 to 1 m",
        )
        require(
            1.0 <= self.margin <= 2.0,
            "sizing_margin",
            f"A margin must be between 1 and 2, not {self.margin:g}",
        )


def each_alone(system: DuctSystem) -> tuple[OperatingSet, ...]:
    """Return each machine by itself; a pickup of no machine is one of its own."""
    found: dict[str, list[str]] = {}
    for pickup in system.pickups:
        found.setdefault(pickup.machine or pickup.id, []).append(pickup.id)
    return tuple(
        OperatingSet(name=name, pickups=tuple(ids)) for name, ids in found.items()
    )


def together(system: DuctSystem, *machines: str) -> OperatingSet:
    """Return the set of machines that run at once. Raises `AirflowError`."""
    by_name = {found.name: found.pickups for found in each_alone(system)}
    for machine in machines:
        require(
            machine in by_name,
            "unknown_machine",
            f"No pickup belongs to machine {machine!r}",
            element=machine,
        )
    return OperatingSet(
        name=" + ".join(machines),
        pickups=tuple(
            p for machine in dict.fromkeys(machines) for p in by_name[machine]
        ),
    )


def is_port(pipe: Pipe) -> bool:
    """Return whether a pipe of a pickup is only the width of the machine's port."""
    return pipe.length == 0.0 and not pipe.elbows


def resized_pickup(pickup: Pickup, diameter: float) -> Pickup:
    """Return a pickup with its hose and drop of another diameter (m); a port stays."""
    pipes = tuple(
        pipe if is_port(pipe) else replace(pipe, diameter=diameter)
        for pipe in pickup.pipes
    )
    if not pipes:
        return pickup
    gate = _resized_gate(pickup.gate, pickup.pipes[-1].diameter, pipes[-1].diameter)
    return replace(pickup, pipes=pipes, gate=gate)


def resized_duct(duct: Duct, diameter: float) -> Duct:
    """Return a duct of another diameter (m)."""
    gate = _resized_gate(duct.gate, duct.diameter, diameter)
    return replace(duct, diameter=diameter, gate=gate)


def _resized_gate(
    gate: SlideGate | None, before: float, after: float
) -> SlideGate | None:
    """Return a gate of the same sort in another pipe: what it leaks goes by the area."""
    if gate is None or not gate.leak_area:
        return gate
    return replace(gate, leak_area=gate.leak_area * (after / before) ** 2)


class Plan:
    """The segments to be sized: every duct, and every pickup that has pipes of its own.

    Segments are numbered with what flows in before what it flows into.
    """

    def __init__(
        self, system: DuctSystem, sets: Iterable[OperatingSet], rules: Rules
    ) -> None:
        """Check and prepare. Raises `AirflowError`."""
        self.system = system
        self.rules = rules
        self.sets = tuple(sets)
        require(bool(self.sets), "no_sets", "Nothing is said to run")
        network = Network(system)
        self.network = network
        for opened in self.sets:
            for pickup in opened.pickups:
                network.element(pickup)
        self.segments: list[str] = []
        self.parts: list[Duct | Pickup] = []
        for element in network.elements:
            part = element.part
            if part.id in rules.keep:
                continue
            if isinstance(part, Pickup) and all(is_port(p) for p in part.pipes):
                continue
            self.segments.append(part.id)
            self.parts.append(part)
        self.at = {name: i for i, name in enumerate(self.segments)}
        self.parent: list[int] = [-1] * len(self.segments)
        self.children: list[list[int]] = [[] for _ in self.segments]
        for i, name in enumerate(self.segments):
            # A kept duct in between passes on what may flow through it.
            for outer in network.path(name)[1:]:
                if (j := self.at.get(outer.id)) is not None:
                    self.parent[i] = j
                    self.children[j].append(i)
                    break
        self.low, self.high = self._bounds()
        self.lengths = [_length(part) for part in self.parts]

    def _bounds(self) -> tuple[list[int], list[int]]:
        """Return the narrowest and widest size of each segment, by number."""
        sizes = self.rules.sizes
        last = len(sizes) - 1

        def at_least(diameter: float) -> int:
            return next(
                (k for k, size in enumerate(sizes) if size >= diameter - 1e-9), last
            )

        low = [0] * len(self.segments)
        high = [last] * len(self.segments)
        for element in self.network.elements:
            i = self.at.get(element.id)
            part = element.part
            if i is not None and isinstance(part, Pickup):
                # What came out of a wide port is not squeezed into a narrow hose.
                port = max((p.diameter for p in part.pipes if is_port(p)), default=0.0)
                low[i] = at_least(_PORT_SLACK * port)
            if i is None and part.id in self.rules.keep:
                kept = element.runs[-1].pipe.diameter
                for outer in self.network.path(part.id)[1:]:
                    if (j := self.at.get(outer.id)) is not None:
                        low[j] = max(low[j], at_least(kept))
        for i, name in enumerate(self.segments):
            for outer in self.network.path(name)[1:]:
                if outer.id in self.rules.keep:
                    kept = outer.runs[-1].pipe.diameter
                    fits = [k for k, d in enumerate(sizes) if d <= kept + 1e-9]
                    high[i] = min(high[i], fits[-1] if fits else 0)
        for i in range(len(low)):
            high[i] = max(high[i], low[i])
            j = self.parent[i]
            if j >= 0:
                low[j] = max(low[j], low[i])
        for i in range(len(low)):
            high[i] = max(high[i], low[i])
        return low, high

    def sized(self, choice: tuple[int, ...]) -> DuctSystem:
        """Return the system with the diameters of a choice of size numbers."""
        width = {
            name: self.rules.sizes[k]
            for name, k in zip(self.segments, choice, strict=True)
        }
        return replace(
            self.system,
            ducts=tuple(
                resized_duct(duct, width[duct.id]) if duct.id in width else duct
                for duct in self.system.ducts
            ),
            pickups=tuple(
                resized_pickup(pickup, width[pickup.id])
                if pickup.id in width
                else pickup
                for pickup in self.system.pickups
            ),
        )

    def weight(self, choice: tuple[int, ...]) -> float:
        """Return the sum of length times diameter (m2) of a choice."""
        sizes = self.rules.sizes
        return sum(
            length * sizes[k] for length, k in zip(self.lengths, choice, strict=True)
        )


def _length(part: Duct | Pickup) -> float:
    if isinstance(part, Duct):
        return part.length
    return sum(pipe.length for pipe in part.pipes)
