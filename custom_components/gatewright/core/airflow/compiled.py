"""Ducts and pickups prepared for solving: all that depends on no flow."""

from collections.abc import Sequence
from itertools import pairwise
from math import pi, sqrt
from typing import Final

from .fittings import branch_entry, miter_factor
from .friction import TURBULENT, friction_factor, inverse_root
from .gate import SlideGate
from .model import Duct, DuctSystem, Junction, Pickup
from .pipe import Pipe

FIRST_VELOCITY: Final = 20.0
"""Velocity (m/s) at which friction is taken before any flow is known."""


LEAST_REYNOLDS: Final = 0.01
"""Reynolds number below which friction is taken as there: next to no flow at all."""


class CompiledRun:
    """A pipe prepared for solving."""

    __slots__ = (
        "area",
        "fixed",
        "friction",
        "length",
        "miter",
        "pipe",
        "pressure",
        "reynolds",
        "rough",
        "start",
    )

    def __init__(self, pipe: Pipe, system: DuctSystem) -> None:
        d = pipe.diameter
        self.pipe = pipe
        self.length = pipe.length
        self.area = pi / 4.0 * d * d
        # Velocity pressure, Reynolds number and friction at a flow q of 1 m3/s.
        self.pressure = 0.5 * system.air.density / self.area**2
        self.reynolds = 4.0 * system.air.density / (pi * d * system.air.viscosity)
        self.friction = self.pressure * pipe.friction_scale * pipe.length / d
        self.rough = pipe.roughness / d
        miter = fixed = 0.0
        for elbow in pipe.elbows:
            k = elbow.coefficient(d, system.angle_rule)
            if elbow.mitered:
                miter += k
            else:
                fixed += k
        self.miter = self.pressure * miter
        self.fixed = self.pressure * (fixed + pipe.extra_k)
        self.start = inverse_root(
            max(TURBULENT, self.reynolds * self.area * FIRST_VELOCITY), self.rough
        )

    def resistance(self, flow: float) -> float:
        """Return the resistance (Pa per (m3/s)^2) at a flow (m3/s), exactly."""
        reynolds = max(self.reynolds * flow, LEAST_REYNOLDS)
        return (
            self.fixed
            + self.friction * friction_factor(reynolds, self.rough)
            + (self.miter * miter_factor(reynolds) if self.miter else 0.0)
        )


class Element:
    """A pickup or a duct prepared for solving."""

    __slots__ = (
        "children",
        "entry",
        "fixed",
        "gate",
        "gate_diameter",
        "gate_pressure",
        "hood",
        "id",
        "index",
        "joints",
        "open_loss",
        "parent",
        "part",
        "pressure",
        "runs",
    )

    def __init__(
        self, part: Pickup | Duct, runs: list[CompiledRun], system: DuctSystem
    ) -> None:
        self.id = part.id
        self.part = part
        self.runs = runs
        self.index = -1
        self.parent = -1
        self.children: list[int] = []
        last = runs[-1]
        self.pressure = last.pressure
        self.gate: SlideGate | None = part.gate
        self.gate_diameter = last.pipe.diameter
        self.gate_pressure = last.pressure
        self.open_loss = self.gate_loss(1.0)
        self.entry = last.pressure * branch_entry(part.entry_angle)
        self.hood = runs[0].pressure * part.entry_k if isinstance(part, Pickup) else 0.0
        # Velocity pressure that is not regained where a wider pipe follows.
        self.joints: list[float] = [
            lost_at_joint(a.pressure, b.pressure, system) for a, b in pairwise(runs)
        ]
        self.fixed = (
            self.hood + self.entry + sum(self.joints) + sum(run.fixed for run in runs)
        )

    def gate_loss(self, opening: float) -> float:
        """Return the gate's resistance when open by a share of its height."""
        if self.gate is None:
            return 0.0
        return self.gate_pressure * self.gate.coefficient(opening, self.gate_diameter)


class Terms:
    """What the solver reads of every element at each pass, by the element's index."""

    __slots__ = (
        "first",
        "fixed",
        "parents",
        "pressure",
        "root",
        "simple",
        "starts",
        "static",
    )

    def __init__(self, elements: Sequence[Element], *, static: bool) -> None:
        """Take the elements; `static`: their ends' velocity pressures count."""
        count = len(elements)
        self.static = static
        self.parents = [element.parent for element in elements]
        self.fixed = [0.0] * count
        self.pressure = [0.0] * count
        self.root = [0.0] * count
        self.simple = [False] * count
        self.first = [(0.0, 0.0, 0.0)] * count
        """Reynolds number, roughness term and friction of the first run."""
        self.starts = [0.0] * count
        for element in elements:
            self.put(element)

    def put(self, element: Element) -> None:
        """Take an element in the place of the one that had its index."""
        index, run = element.index, element.runs[0]
        self.fixed[index] = element.fixed
        self.pressure[index] = element.pressure if self.static else 0.0
        self.root[index] = sqrt(self.pressure[index])
        self.simple[index] = len(element.runs) == 1 and not run.miter
        self.first[index] = (run.reynolds, run.rough / 3.7, run.friction)
        self.starts[index] = run.start


def lost_at_joint(before: float, after: float, system: DuctSystem) -> float:
    """Return the total pressure lost where a pipe changes its width.

    Velocity pressures before and after in, loss out, all per unit of flow squared.
    Speeding up costs no total pressure. Slowing down costs that of the change of
    velocity (Borda-Carnot) unless the system says another share. Nothing at all is
    lost where the system balances total pressures, whose fittings are all given as
    coefficients.
    """
    if system.junction is Junction.TOTAL or after >= before:
        return 0.0
    if system.regain is None:
        return float((sqrt(before) - sqrt(after)) ** 2)
    return (1.0 - system.regain) * (before - after)


def momentum_regain(root: float, mean: float) -> float:
    """Return the static pressure that comes back where streams meet a slower duct.

    `root` is the square root of the duct's velocity pressure, `mean` the mean of those
    of the streams, weighted by flow. Borda-Carnot: with one static pressure over the
    whole section of the duct, momentum leaves `rho V (v - V)`; what each stream loses
    of its total pressure is `rho/2 (v - V)^2` (textbooks of fluid mechanics, sudden
    enlargement). That a branch comes in at an angle is in its entry loss.
    """
    return max(0.0, 2.0 * root * (mean - root))


def body(duct: Duct) -> Pipe:
    """Return a duct without its place in the tree."""
    return Pipe(
        diameter=duct.diameter,
        length=duct.length,
        roughness=duct.roughness,
        elbows=duct.elbows,
        extra_k=duct.extra_k,
        vertical=duct.vertical,
    )
