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
from .fittings import HOODS, AngleRule, branch_entry
from .friction import MATERIALS
from .gate import SlideGate
from .pipe import Elbow, Pipe, check_diameter, check_not_negative, check_pipe


class Junction(StrEnum):
    """What the streams that meet at a junction have in common.

    `STATIC`: the static pressure, as in exhaust practice (ACGIH). The static
    suction then grows by what the main's velocity pressure exceeds the mean of the
    incoming ones (weighted by flow). Where it falls short some static pressure comes
    back, by the balance of momentum; see `System.regain`.

    `TOTAL`: the total pressure, as in general pipe network codes. No pressure is
    spent on mixing.
    """

    STATIC = "static"
    TOTAL = "total"


_STANDARD_AIR: Final = Air()


@dataclass(frozen=True, slots=True, kw_only=True)
class Duct:
    """A duct and what it flows into.

    `into`: id of another duct, None for the collector. `entry_angle` (degrees) is
    the angle at which it enters there: 0 for the straight run. `gate` stands in
    this duct and shuts off all that is upstream of it. `vertical`: its material has
    to rise. Other fields as in `Pipe`.
    """

    id: str
    into: str | None = None
    diameter: float
    length: float = 0.0
    roughness: float = MATERIALS["galvanized"].roughness
    elbows: tuple[Elbow, ...] = ()
    extra_k: float = 0.0
    entry_angle: float = 0.0
    gate: SlideGate | None = None
    vertical: bool = False

    def __post_init__(self) -> None:
        """Refuse impossible sizes."""
        check_pipe(self.diameter, self.length, self.roughness, self.extra_k, self.id)
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
    material, 0 for no requirement; `rising` is the velocity (m/s) where the material
    has to rise, 0 for no other than `transport`. `velocity_ratio` is the velocity of
    the material over that of the air. `machine` joins the pickups of one machine.
    """

    id: str
    duct: str
    machine: str | None = None
    entry_k: float = HOODS["machine_port"].coefficient
    pipes: tuple[Pipe, ...] = ()
    gate: SlideGate | None = None
    entry_angle: float = 0.0
    required: float = 0.0
    transport: float = 0.0
    rising: float = 0.0
    velocity_ratio: float = 1.0

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        check_not_negative(
            self.entry_k, "A hood's coefficient", "coefficient_range", self.id
        )
        check_not_negative(self.required, "A required flow", "flow_range", self.id)
        check_not_negative(self.transport, "A velocity", "velocity_range", self.id)
        check_not_negative(self.rising, "A velocity", "velocity_range", self.id)
        require(
            0.1 <= self.velocity_ratio <= 1.0,
            "velocity_range",
            f"Material moves at 0.1 to 1 of the air's velocity, not {self.velocity_ratio:g}",
            element=self.id,
        )
        _check_entry(self.entry_angle, self.id)

    def needs(self, *, vertical: bool) -> float:
        """Return the velocity (m/s) that its material needs in a run."""
        return max(self.transport, self.rising) if vertical else self.transport


@dataclass(frozen=True, slots=True, kw_only=True)
class Separator:
    """A cyclone or baffle: pressure loss with the square of the flow.

    `resistance` in Pa per (m3/s)^2 at `density` (kg/m3).
    """

    resistance: float
    density: float = STANDARD_DENSITY

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        check_not_negative(self.resistance, "A resistance", "resistance_range")
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
        check_not_negative(self.resistance, "A resistance", "resistance_range")
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
        check_not_negative(self.exit_k, "An exit coefficient", "coefficient_range")


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctSystem:
    """One collector with its ducts and pickups.

    `inlet_diameter` (m) is the collector's inlet; None takes the air as it comes.
    `inlet_k` is what an elbow or box close before it costs the fan (the system
    effect), on the inlet's velocity pressure.
    `separator_first`: the separator stands before the fan, under suction.
    `junction` and `regain` say how pressures meet. `regain` None, the default, is
    Borda-Carnot: where the air slows down, at a widening or at a junction, static
    pressure comes back as the balance of momentum has it, and the total pressure lost
    is that of each stream's change of velocity, `rho/2 (v - V)^2`. A number is the
    share of velocity pressure that comes back instead: 0 none, 1 all of it.
    `angle_rule` converts elbow angles.
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
    regain: float | None = None
    inlet_k: float = 0.0
    angle_rule: AngleRule = "smacna"

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        if self.inlet_diameter is not None:
            check_diameter(self.inlet_diameter)
        check_not_negative(self.inlet_k, "A coefficient", "coefficient_range")
        require(
            self.regain is None or 0.0 <= self.regain <= 1.0,
            "regain_range",
            f"The regained share must be 0 to 1, not {self.regain}",
        )


@dataclass(frozen=True, slots=True)
class DuctProblem:
    """Something wrong with the tree: a code to translate, where, and plain text."""

    code: str
    element: str
    text: str


def problems(system: DuctSystem) -> tuple[DuctProblem, ...]:
    """Return everything that is wrong with how the parts hang together."""
    found: list[DuctProblem] = []
    if not system.ducts:
        found.append(DuctProblem("no_ducts", "", "There is no duct"))
    if not system.pickups:
        found.append(DuctProblem("no_pickups", "", "There is no pickup"))
    parts: list[Duct | Pickup] = [*system.ducts, *system.pickups]
    seen: set[str] = set()
    for part in parts:
        if part.id in seen:
            found.append(
                DuctProblem("duplicate_id", part.id, f"The id {part.id} is used twice")
            )
        seen.add(part.id)
    into = {duct.id: duct.into for duct in system.ducts}
    found.extend(
        DuctProblem(
            "unknown_duct",
            duct.id,
            f"Duct {duct.id} flows into {duct.into}, which is not a duct",
        )
        for duct in system.ducts
        if duct.into is not None and duct.into not in into
    )
    found.extend(
        DuctProblem(
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
                DuctProblem("cycle", start, f"Duct {start} flows back into itself")
            )
    return tuple(found)
