"""Friction of straight duct: Darcy-Weisbach with Colebrook-White.

`loss = f * (length / diameter) * velocity pressure`, with the Darcy friction
factor f (four times Fanning's). Roughness is the equivalent sand roughness of
Colebrook's equation in m.

Laminar flow (64/Re) rules up to a Reynolds number of 2300, Colebrook-White from
4000; between them f is interpolated linearly so that it has no jump. No working
duct is ever there; a leaking closed gate may be.
"""

from dataclasses import dataclass
from math import log, log10
from types import MappingProxyType
from typing import Final

from .errors import require
from .units import FOOT

LAMINAR: Final = 2300.0
"""Reynolds number up to which the flow is taken as laminar."""

TURBULENT: Final = 4000.0
"""Reynolds number from which Colebrook-White holds."""

TWO_LOG10: Final = 2.0 / log(10.0)
"""Factor that turns a natural logarithm into 2 log10."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A kind of duct: roughness (m), where it is from and how sure that is.

    `status` is `read` (seen in the source or a reprint), `memory` or `practice`.
    """

    roughness: float
    source: str
    status: str = "read"


_ASHRAE: Final = (
    "ASHRAE Handbook - Fundamentals, duct design chapter, table of duct roughness "
    "factors (Colebrook), in a reprint"
)

MATERIALS: Final = MappingProxyType(
    {
        "galvanized": Material(roughness=0.0003 * FOOT, source=_ASHRAE),
        "galvanized_short_joints": Material(roughness=0.0005 * FOOT, source=_ASHRAE),
        "spiral": Material(roughness=0.0003 * FOOT, source=_ASHRAE),
        "spiral_corrugated": Material(roughness=0.003 * FOOT, source=_ASHRAE),
        "steel": Material(roughness=0.00015 * FOOT, source=_ASHRAE),
        "aluminum": Material(roughness=0.0002 * FOOT, source=_ASHRAE),
        "smooth_plastic": Material(roughness=0.00015 * FOOT, source=_ASHRAE),
        "drawn_tubing": Material(roughness=1.5e-6 * FOOT, source=_ASHRAE),
        # Fully extended. A hose that hangs in bows is longer and rougher than this.
        "flexible": Material(roughness=0.003 * FOOT, source=_ASHRAE),
    }
)
"""Roughness of duct by kind."""

HOSE_ROUGH: Final = 0.0005
"""Roughness (m) above which a machine's own pipe is taken for a hose: between galvanized
sheet of short joints and flexible hose above."""


def inverse_root(reynolds: float, relative_roughness: float) -> float:
    """Return 1/sqrt(f) by Colebrook-White (turbulent flow).

    Haaland's explicit formula starts two Newton steps on
    `x = -2 log10(e/3.7 + 2.51 x / Re)`. Newton's error there shrinks by its own
    square times 0.06 at each step, so two of them leave about 1e-12.
    """
    rough = relative_roughness / 3.7
    smooth = 2.51 / reynolds
    x = -1.8 * log10(rough**1.11 + 6.9 / reynolds)
    for _ in range(2):
        inner = rough + smooth * x
        x -= (x + TWO_LOG10 * log(inner)) / (1.0 + TWO_LOG10 * smooth / inner)
    return x


def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Return the Darcy friction factor at any Reynolds number above 0.

    `relative_roughness` is roughness over diameter. Agrees with an exact solution
    of Colebrook-White to 1e-10 from Re 4000 to 1e8 and roughness up to 0.1.
    Raises `AirflowError` for a Reynolds number of 0 or less.
    """
    require(reynolds > 0, "reynolds_range", "The Reynolds number must be positive")
    if reynolds <= LAMINAR:
        return 64.0 / reynolds
    if reynolds < TURBULENT:
        low = 64.0 / LAMINAR
        high = 1.0 / inverse_root(TURBULENT, relative_roughness) ** 2
        return low + (high - low) * (reynolds - LAMINAR) / (TURBULENT - LAMINAR)
    return 1.0 / inverse_root(reynolds, relative_roughness) ** 2
