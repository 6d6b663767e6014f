"""Slide gates: what an open one costs and a closed one lets through.

The leakage classes are from memory of the standard they are named after, and defaults
for an owner to change.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import pi, sqrt
from types import MappingProxyType
from typing import Final

from .errors import require
from .fittings import GATE_ALLOWANCE, ORIFICE_DISCHARGE, leak, slide_gate
from .pipe import check_not_negative
from .units import FPM, INCH_WATER


class Seal(StrEnum):
    """How tightly a closed gate closes."""

    AIRTIGHT = "airtight"
    TIGHT = "tight"
    USUAL = "usual"
    WORN = "worn"


@dataclass(frozen=True, slots=True, kw_only=True)
class SealClass:
    """A sort of gate: flow per area of the duct (m/s) at 1 in. w.g. when closed."""

    face_velocity: float
    source: str
    status: str


_CLASSES: Final = (
    "ANSI/AMCA 500-D test and AMCA Publication 511 leakage classes of dampers, flow "
    "per area at 1 in. w.g."
)

SEALS: Final = MappingProxyType(
    {
        Seal.AIRTIGHT: SealClass(
            face_velocity=0.0, source="no leakage counted", status="practice"
        ),
        Seal.TIGHT: SealClass(
            face_velocity=10 * FPM, source=f"{_CLASSES}, class 2", status="memory"
        ),
        Seal.USUAL: SealClass(
            face_velocity=40 * FPM, source=f"{_CLASSES}, class 3", status="memory"
        ),
        Seal.WORN: SealClass(
            face_velocity=80 * FPM,
            source="twice class 3: common practice, no source",
            status="practice",
        ),
    }
)
"""What closed gates let through. The classes are those of dampers; no published test
of shop blast gates was found, so which sort is which class is common practice."""

_STANDARD_AIR: Final = 1.2


def leak_area(seal: Seal, diameter: float) -> float:
    """Return the open gap (m2) that a closed gate of a diameter (m) amounts to.

    The gap of a sharp-edged opening that passes the class's flow at its pressure.
    """
    through = ORIFICE_DISCHARGE * sqrt(2.0 * INCH_WATER / _STANDARD_AIR)
    return SEALS[seal].face_velocity / through * pi / 4.0 * diameter * diameter


@dataclass(frozen=True, slots=True, kw_only=True)
class SlideGate:
    """A slide gate.

    `allowance`: coefficient of its slot when open. `leak_area`: the gap that stays
    when it is closed, m2.
    """

    id: str
    allowance: float = GATE_ALLOWANCE
    leak_area: float = 0.0

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        check_not_negative(
            self.allowance, "A loss coefficient", "coefficient_range", self.id
        )
        check_not_negative(self.leak_area, "A leak area", "leak_range", self.id)
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
