"""What the ducting is: a tree of ducts, the pickups on it, and the collector.

Plain frozen descriptions in SI. Every part checks its own figures when it is made
and raises `AirflowError`; how the parts hang together is checked by `problems`.

A duct flows into the collector (`into=None`) or into the upstream end of another
duct. A main with three branches is therefore three ducts end to end, each with
what joins it at its upstream end. Pickups sit at upstream ends as well.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite
from typing import Final

from .air import STANDARD_DENSITY, Air
from .errors import AirflowError, require
from .fan import Fan
from .fittings import (
    GATE_ALLOWANCE,
    HOODS,
    AngleRule,
    branch_entry,
    elbow,
    leak,
    slide_gate,
)
from .friction import MATERIALS


class Junction(StrEnum):
    """What the streams that meet at a junction have in common.

    `STATIC`: the static pressure, as in exhaust practice (ACGIH). The static
    suction then grows by what the main's velocity pressure exceeds the mean of the
    incoming ones (weighted by flow), and does not shrink where it falls short.

    `TOTAL`: the total pressure, as in general pipe network codes. No pressure is
    spent on mixing.
    """

    STATIC = "static"
    TOTAL = "total"


_STANDARD_AIR: Final = Air()


def _diameter(value: float, element: str = "") -> None:
    require(
        isfinite(value) and 0.01 <= value <= 3.0,
        "diameter_range",
        f"A diameter must be between 0.01 and 3 m, not {value:g}",
        element=element,
    )


def _not_negative(value: float, what: str, code: str, element: str = "") -> None:
    require(
        isfinite(value) and value >= 0.0,
        code,
        f"{what} must not be negative, not {value:g}",
        element=element,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Elbow:
    """One or more equal elbows.

    `angle` in degrees, `radius_ratio` centerline radius over diameter. `k` replaces
    the table's coefficient (each elbow, on the duct's velocity pressure).
    """

    angle: float = 90.0
    radius_ratio: float = 1.5
    construction: str = "stamped"
    count: int = 1
    k: float | None = None

    def __post_init__(self) -> None:
        """Refuse an elbow that no table knows."""
        require(
            0 <= self.count <= 50,
            "elbow_count",
            f"There cannot be {self.count} elbows in a row",
        )
        require(
            isfinite(self.radius_ratio) and 0.2 <= self.radius_ratio <= 20.0,
            "elbow_radius",
            f"A bend radius of {self.radius_ratio:g} diameters makes no sense",
        )
        if self.k is None:
            self.coefficient(0.15)
        else:
            _not_negative(self.k, "The coefficient of an elbow", "coefficient_range")

    @property
    def mitered(self) -> bool:
        """Whether the coefficient depends on the Reynolds number."""
        return self.construction == "mitered" and self.k is None

    def coefficient(self, diameter: float, rule: AngleRule = "smacna") -> float:
        """Return the sum of the coefficients of all of them."""
        if self.k is not None:
            return self.count * self.k
        return self.count * elbow(
            self.construction,
            angle=self.angle,
            radius_ratio=self.radius_ratio,
            diameter=diameter,
            rule=rule,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe:
    """A length of one diameter: rigid drop, hose, or the body of a duct.

    `diameter`, `length` and `roughness` in m; `extra_k` is any other loss on its
    velocity pressure.
    """

    diameter: float
    length: float = 0.0
    roughness: float = MATERIALS["galvanized"].roughness
    elbows: tuple[Elbow, ...] = ()
    extra_k: float = 0.0

    def __post_init__(self) -> None:
        """Refuse impossible sizes."""
        _check_pipe(self.diameter, self.length, self.roughness, self.extra_k)


def _check_pipe(
    diameter: float, length: float, roughness: float, extra_k: float, element: str = ""
) -> None:
    _diameter(diameter, element)
    _not_negative(length, "A length", "length_range", element)
    require(
        length <= 1000.0,
        "length_range",
        f"A duct of {length:g} m is longer than any shop",
        element=element,
    )
    require(
        isfinite(roughness) and 0.0 <= roughness <= 0.1 * diameter,
        "roughness_range",
        "The roughness must be between 0 and a tenth of the diameter, "
        f"not {roughness:g} m",
        element=element,
    )
    _not_negative(extra_k, "A loss coefficient", "coefficient_range", element)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """A slide gate.

    `allowance`: coefficient of its slot when open. `leak_area`: the gap that stays
    when it is closed, m2.
    """

    id: str
    allowance: float = GATE_ALLOWANCE
    leak_area: float = 0.0

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        _not_negative(
            self.allowance, "A loss coefficient", "coefficient_range", self.id
        )
        _not_negative(self.leak_area, "A leak area", "leak_range", self.id)
        require(
            self.leak_area <= 0.01,
            "leak_range",
            f"A gap of {self.leak_area:g} m2 is no leak",
            element=self.id,
        )

    def coefficient(self, opening: float, diameter: float) -> float:
        """Return the coefficient on the velocity in a duct of a diameter (m).

        `opening` is the open share of its height, 0 (closed) to 1. Infinite where no
        air passes. A nearly closed gate never resists more than its leak.
        """
        closed = leak(self.leak_area, diameter)
        return (
            closed if opening <= 0 else min(slide_gate(opening, self.allowance), closed)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Duct:
    """A duct and what it flows into.

    `into`: id of another duct, None for the collector. `entry_angle` (degrees) is
    the angle at which it enters there: 0 for the straight run. `gate` stands in
    this duct and shuts off all that is upstream of it. Other fields as in `Pipe`.
    """

    id: str
    into: str | None = None
    diameter: float
    length: float = 0.0
    roughness: float = MATERIALS["galvanized"].roughness
    elbows: tuple[Elbow, ...] = ()
    extra_k: float = 0.0
    entry_angle: float = 0.0
    gate: Gate | None = None

    def __post_init__(self) -> None:
        """Refuse impossible sizes."""
        _check_pipe(self.diameter, self.length, self.roughness, self.extra_k, self.id)
        _check_entry(self.entry_angle, self.id)


def _check_entry(angle: float, element: str) -> None:
    try:
        branch_entry(angle)
    except AirflowError as err:
        raise AirflowError(err.code, str(err), element=element) from err


@dataclass(frozen=True, slots=True, kw_only=True)
class Pickup:
    """An opening through which air enters.

    `duct` is the duct at whose upstream end it sits. `pipes` lie between the hood
    and that duct in the order of the flow (a hose, then a drop). `entry_k` is the
    hood's loss on the velocity pressure of the first of them, or of the duct where
    there is none. `gate` sits at the duct's end of the last pipe; None: always
    open. `entry_angle` is that of the last pipe where it meets other streams.

    What it needs: `required` flow (m3/s) and `transport` velocity (m/s) of its
    material, 0 for no requirement. `machine` joins the pickups of one machine.
    """

    id: str
    duct: str
    machine: str | None = None
    entry_k: float = HOODS["machine_port"].coefficient
    pipes: tuple[Pipe, ...] = ()
    gate: Gate | None = None
    entry_angle: float = 0.0
    required: float = 0.0
    transport: float = 0.0

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        _not_negative(
            self.entry_k, "A hood's coefficient", "coefficient_range", self.id
        )
        _not_negative(self.required, "A required flow", "flow_range", self.id)
        _not_negative(self.transport, "A velocity", "velocity_range", self.id)
        _check_entry(self.entry_angle, self.id)


@dataclass(frozen=True, slots=True, kw_only=True)
class Separator:
    """A cyclone or baffle: pressure loss with the square of the flow.

    `resistance` in Pa per (m3/s)^2 at `density` (kg/m3).
    """

    resistance: float
    density: float = STANDARD_DENSITY

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        _not_negative(self.resistance, "A resistance", "resistance_range")
        require(self.density > 0, "air_range", "A density must be positive")

    @classmethod
    def from_point(
        cls, flow: float, pressure: float, density: float = STANDARD_DENSITY
    ) -> Separator:
        """Return the one that loses a pressure (Pa) at a flow (m3/s)."""
        require(flow > 0, "flow_range", "The flow must be positive")
        return cls(resistance=pressure / flow**2, density=density)


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """A cloth or cartridge: pressure loss in proportion to the flow.

    `resistance` in Pa per m3/s when clean; `loading` multiplies it, 1 for clean and
    growing with the dirt. Flow through a cloth is creeping flow (Darcy's law), hence
    linear and independent of the density.
    """

    resistance: float
    loading: float = 1.0

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        _not_negative(self.resistance, "A resistance", "resistance_range")
        require(
            isfinite(self.loading) and self.loading > 0,
            "loading_range",
            f"A filter's loading must be positive, not {self.loading:g}",
        )

    @classmethod
    def from_point(cls, flow: float, pressure: float, loading: float = 1.0) -> Filter:
        """Return the one that loses a pressure (Pa) at a flow (m3/s) when clean."""
        require(flow > 0, "flow_range", "The flow must be positive")
        return cls(resistance=pressure / flow, loading=loading)


@dataclass(frozen=True, slots=True, kw_only=True)
class Discharge:
    """The duct behind the fan, up to the room or the stack.

    `exit_k` is what the air loses on leaving, 1 for a free end (its velocity
    pressure). `outside`: the air leaves the building and has to come in again.
    """

    pipe: Pipe
    exit_k: float = 1.0
    outside: bool = True

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        _not_negative(self.exit_k, "An exit coefficient", "coefficient_range")


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    """One collector with its ducts and pickups.

    `inlet_diameter` (m) is the collector's inlet; None takes the air as it comes.
    `separator_first`: the separator stands before the fan, under suction.
    `junction` and `regain` say how pressures meet: `regain` is the share of velocity
    pressure that comes back as static pressure where the air slows down (0 as in
    exhaust practice, 1 for none lost). `angle_rule` converts elbow angles.
    """

    ducts: tuple[Duct, ...]
    pickups: tuple[Pickup, ...]
    fan: Fan
    air: Air = _STANDARD_AIR
    separator: Separator | None = None
    filter: Filter | None = None
    discharge: Discharge | None = None
    inlet_diameter: float | None = None
    separator_first: bool = True
    junction: Junction = Junction.STATIC
    regain: float = 0.0
    angle_rule: AngleRule = "smacna"

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        if self.inlet_diameter is not None:
            _diameter(self.inlet_diameter)
        require(
            0.0 <= self.regain <= 1.0,
            "regain_range",
            f"The regained share must be 0 to 1, not {self.regain:g}",
        )


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with the tree: a code to translate, where, and plain text."""

    code: str
    element: str
    text: str


def problems(system: System) -> tuple[Problem, ...]:
    """Return everything that is wrong with how the parts hang together."""
    found: list[Problem] = []
    if not system.ducts:
        found.append(Problem("no_ducts", "", "There is no duct"))
    if not system.pickups:
        found.append(Problem("no_pickups", "", "There is no pickup"))
    parts: list[Duct | Pickup] = [*system.ducts, *system.pickups]
    seen: set[str] = set()
    for part in parts:
        if part.id in seen:
            found.append(
                Problem("duplicate_id", part.id, f"The id {part.id} is used twice")
            )
        seen.add(part.id)
    into = {duct.id: duct.into for duct in system.ducts}
    found.extend(
        Problem(
            "unknown_duct",
            duct.id,
            f"Duct {duct.id} flows into {duct.into}, which is not a duct",
        )
        for duct in system.ducts
        if duct.into is not None and duct.into not in into
    )
    found.extend(
        Problem(
            "unknown_duct",
            pickup.id,
            f"Pickup {pickup.id} sits on {pickup.duct}, which is not a duct",
        )
        for pickup in system.pickups
        if pickup.duct not in into
    )
    for start, first in into.items():
        # A duct is in a cycle if following the flow from it comes back to it.
        at = first
        for _ in into:
            if at is None or at == start:
                break
            at = into.get(at)
        if at == start:
            found.append(
                Problem("cycle", start, f"Duct {start} flows back into itself")
            )
    return tuple(found)
