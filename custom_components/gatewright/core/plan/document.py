"""The drawing of a shop, typed: what stands where, which duct leads where.

Lengths in m, angles in degrees, flows in m3/s. `docs/plan-file.md` describes the file.
`more` of each part holds what a file said beyond that; it is kept and ignored.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Any, Final

from .geometry import Point, Polyline

FORMAT: Final = "gatewright-plan"
VERSION: Final = 1

USUAL_WYE: Final = 45.0
"""Angle of a branch fitting that nobody chose. Common practice, no source."""

START: Final = "start"
SIDE: Final = "side"
INLINE: Final = "inline"
"""Where a gate sits: with an opening at the duct's upstream end, with one that meets
the duct from the side, or in the duct without any."""

COLLECTOR: Final = "collector"
MACHINE: Final = "machine"

type More = Mapping[str, Any]
type PlanData = dict[str, Any]
"""A part of a file, or of what is stored."""

_NOTHING: Final[More] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class ElbowMake:
    """How an elbow is made; `radius` is that of its center line over the diameter."""

    construction: str = "stamped"
    radius: float = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class ElbowRow:
    """So many elbows of one kind."""

    count: int
    angle: float
    radius: float
    construction: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Vertex:
    """A point of a duct, and what is different from here on.

    `diameter` and `material` are those of the leg that begins here, where they differ
    from the duct's.
    """

    at: Point
    elbow: ElbowMake | None = None
    diameter: float | None = None
    material: str | None = None
    more: More = _NOTHING


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctEnd:
    """Where a duct leads: into the collector (`duct` None), or into another duct.

    `wye`: angle of the branch fitting, None to take the angle as drawn. `run`: whether
    it goes straight on; None where nobody said.
    """

    duct: str | None = None
    wye: float | None = USUAL_WYE
    run: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """Figures of a duct that count instead of what is drawn."""

    length: float | None = None
    elbows: tuple[ElbowRow, ...] | None = None
    entry_angle: float | None = None
    vertical: bool | None = None


@dataclass(frozen=True, kw_only=True)
class DrawnDuct:
    """A duct as it is drawn, in the direction of the flow."""

    id: str
    bound: str | None = None
    name: str = ""
    points: tuple[Vertex, ...]
    diameter: float
    material: str = "galvanized"
    elbow: ElbowMake = ElbowMake()
    end: DuctEnd | None = None
    start: str | None = None
    typed: Typed = Typed()
    more: More = field(default=_NOTHING, hash=False)

    @cached_property
    def line(self) -> Polyline:
        """Its line in space."""
        return Polyline([vertex.at for vertex in self.points])

    def width_of(self, leg: int) -> float:
        """Return the diameter (m) of a leg."""
        own = self.points[leg].diameter
        return self.diameter if own is None else own

    def material_of(self, leg: int) -> str:
        """Return the material of a leg."""
        return self.points[leg].material or self.material


@dataclass(frozen=True, slots=True, kw_only=True)
class Hose:
    """The hose before a gate."""

    length: float | None = None
    diameter: float | None = None
    state: str = "stretched"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    """The rigid pipe between hose and duct; `elbows` of 90 degrees."""

    length: float | None = None
    diameter: float | None = None
    elbows: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What lies between a machine and the duct."""

    hood: str = "machine_port"
    port: float | None = None
    hose: Hose | None = None
    drop: Drop | None = None
    entry_angle: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnGate:
    """A gate; `opening` is None for one that stands in the duct."""

    id: str
    bound: str | None = None
    name: str = ""
    kind: str | None = None
    duct: str | None = None
    mount: str = START
    at: float = 0.0
    items: tuple[str, ...] = ()
    seal: str = "airtight"
    opening: Opening | None = Opening()
    more: More = field(default=_NOTHING, hash=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnItem:
    """The collector or a machine, where it stands."""

    id: str
    type: str
    bound: str | None = None
    name: str = ""
    kind: str | None = None
    x: float
    y: float
    z: float = 0.0
    width: float | None = None
    depth: float | None = None
    turn: float = 0.0
    required_flow: float | None = None
    size: float | None = None
    more: More = field(default=_NOTHING, hash=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopPlan:
    """The whole drawing."""

    name: str = ""
    step: float = 0.1
    outline: tuple[tuple[float, float], ...] = ()
    height: float | None = None
    items: tuple[DrawnItem, ...] = ()
    ducts: tuple[DrawnDuct, ...] = ()
    gates: tuple[DrawnGate, ...] = ()
    more: More = field(default=_NOTHING, hash=False)

    @property
    def ids(self) -> set[str]:
        """The ids of everything drawn."""
        found = {item.id for item in self.items}
        found.update(duct.id for duct in self.ducts)
        found.update(gate.id for gate in self.gates)
        return found
