"""Flexible hose as it hangs in a shop: stretched, let go, or drooping between ends.

What is published is for thin wire-helix duct of 6 to 16 in (150 to 400 mm):

- compression as often seen in the field raises the pressure drop about fourfold, more
  of it nearly tenfold (Abushakra, Walker and Sherman, Compression effects on pressure
  loss in flexible HVAC ducts, HVAC&R Research 10(3), 2004; 6, 8 and 10 in; abstract
  read);
- compressed beyond 4 % it loses more than four times what it does stretched (Cantrill,
  thesis, Texas A&M University, 2013; 12, 14 and 16 in; abstract read).

Dust hose of 2.5 to 5 in has a thicker wall, takes less compression and was not
measured: it is extended from the above to three times the friction, the middle of two
to four. That is common practice, no source.
"""

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from .friction import MATERIALS
from .pipe import Elbow, Pipe


class HoseState(StrEnum):
    """How a hose lies."""

    STRETCHED = "stretched"
    RELAXED = "relaxed"
    HANGING = "hanging"


@dataclass(frozen=True, slots=True, kw_only=True)
class HoseKind:
    """What a state of a hose does: factor on its friction, and its bends."""

    friction: float
    bends: tuple[Elbow, ...] = ()


_BOW: Final = (Elbow(angle=45.0, construction="pleated", count=2),)
"""A bow down and up again: two pleated elbows of 45 degrees (ASHRAE CD3-7, 0.34 each
at 4 in), which come to a K of 0.5 to 0.7 by diameter."""

HOSES: Final = MappingProxyType(
    {
        HoseState.STRETCHED: HoseKind(friction=1.0),
        HoseState.RELAXED: HoseKind(friction=3.0),
        HoseState.HANGING: HoseKind(friction=3.0, bends=_BOW),
    }
)


def hose(
    diameter: float, length: float, state: HoseState = HoseState.STRETCHED
) -> Pipe:
    """Return a hose (m) as it lies. Raises `AirflowError`."""
    kind = HOSES[state]
    return Pipe(
        diameter=diameter,
        length=length,
        roughness=MATERIALS["flexible"].roughness,
        elbows=kind.bends,
        friction_scale=kind.friction,
    )
