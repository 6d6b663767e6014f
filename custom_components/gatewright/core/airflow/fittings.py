"""Loss coefficients of fittings, hoods and gates, from published tables.

`loss = coefficient * velocity pressure`; which velocity is said at each. All of
them are losses of total pressure. Between the rows of a table values are
interpolated, beyond its ends the last row holds.

Status of the tables: elbows are read; the plain end, flanged end, grinder hood and
bell mouth are read in reprints; the disturbed inlets are read; branch entries,
tapered hoods, machine ports and slide gates are from memory of the named source and
are defaults for an owner to change.
"""

from dataclasses import dataclass
from math import inf, pi
from types import MappingProxyType
from typing import Final

from .elbows import (
    ELBOW_SOURCES,
    ELBOWS_BY_DIAMETER,
    AngleRule,
    Construction,
    angle_factor,
    elbow,
    elbow_90,
    miter_factor,
)
from .errors import require
from .tables import Table, interpolate, interpolate_log

__all__ = [
    "ELBOWS_BY_DIAMETER",
    "ELBOW_SOURCES",
    "GATE_ALLOWANCE",
    "HOODS",
    "INLETS",
    "ORIFICE_DISCHARGE",
    "AngleRule",
    "Construction",
    "HoodEntry",
    "angle_factor",
    "branch_entry",
    "elbow",
    "elbow_90",
    "leak",
    "miter_factor",
    "slide_gate",
    "tapered_hood",
]

# ACGIH, Industrial Ventilation, branch entry loss (memory, confident): charged to
# the branch, on the velocity pressure of the branch; the straight run is taken as
# lossless. A US defense report (DTIC ADA426443) says the values are estimates.
_BRANCH_ENTRY: Final[Table] = (
    (0.0, 0.0),
    (10.0, 0.06),
    (15.0, 0.09),
    (20.0, 0.12),
    (25.0, 0.15),
    (30.0, 0.18),
    (35.0, 0.21),
    (40.0, 0.25),
    (45.0, 0.28),
    (50.0, 0.32),
    (60.0, 0.44),
    (90.0, 1.00),
)

# ACGIH, Industrial Ventilation, tapered hoods (memory): by the included angle.
_TAPER_ROUND: Final[Table] = (
    (15.0, 0.15),
    (30.0, 0.08),
    (45.0, 0.06),
    (60.0, 0.08),
    (90.0, 0.15),
    (120.0, 0.26),
    (150.0, 0.40),
    (180.0, 0.50),
)
_TAPER_RECTANGULAR: Final[Table] = (
    (15.0, 0.25),
    (30.0, 0.16),
    (45.0, 0.15),
    (60.0, 0.17),
    (90.0, 0.25),
    (120.0, 0.35),
    (150.0, 0.48),
    (180.0, 0.50),
)

# ASHRAE and SMACNA fitting tables after Idelchik, slide gate in a round duct
# (memory, confident): by open height over diameter.
_SLIDE_GATE: Final[Table] = (
    (0.2, 35.0),
    (0.3, 10.0),
    (0.4, 4.6),
    (0.5, 2.1),
    (0.6, 0.98),
    (0.7, 0.44),
    (0.8, 0.17),
    (0.9, 0.06),
)

GATE_ALLOWANCE: Final = 0.1
"""Coefficient of a fully open gate with its slot and lip. Common practice (0.1 to
0.2), no published source; the tables say 0."""

ORIFICE_DISCHARGE: Final = 0.61
"""Discharge coefficient of a sharp-edged opening, textbook value, for the gap of
a closed gate."""


def branch_entry(angle: float) -> float:
    """Return the loss of a branch that enters a main at an angle (degrees).

    On the velocity pressure of the branch. 0 is the straight run, without loss.
    Raises `AirflowError` outside 0 to 90 degrees.
    """
    require(
        0 <= angle <= 90,
        "entry_angle",
        f"A branch enters at 0 to 90 degrees, not {angle:g}",
    )
    return interpolate(_BRANCH_ENTRY, angle)


@dataclass(frozen=True, slots=True, kw_only=True)
class HoodEntry:
    """A kind of hood: loss on the duct's velocity pressure, source and status."""

    coefficient: float
    source: str
    status: str


_ABIH: Final = "American Board of Industrial Hygiene, examination equation sheet"
_WITHERIDGE: Final = "W. N. Witheridge, Ventilation, in Patty's Industrial Hygiene"
_ACGIH: Final = "ACGIH, Industrial Ventilation"

HOODS: Final = MappingProxyType(
    {
        "plain_end": HoodEntry(coefficient=0.93, source=_ABIH, status="read"),
        # 0.50 in Witheridge; the manual's 0.49 is on a worked sheet that was read.
        "flanged_end": HoodEntry(
            coefficient=0.49, source=f"{_ACGIH}, in a worked sheet", status="read"
        ),
        "bell_mouth": HoodEntry(coefficient=0.04, source=_ABIH, status="read"),
        # The take-off in an enclosure's flat wall: a flanged opening.
        "enclosure": HoodEntry(
            coefficient=0.50, source=f"{_WITHERIDGE}, flanged opening", status="read"
        ),
        "grinder_hood": HoodEntry(
            coefficient=0.65,
            source="OSHA 29 CFR 1910.94(b)(3)(ii), straight take-off",
            status="read",
        ),
        "tapered": HoodEntry(
            coefficient=interpolate(_TAPER_RECTANGULAR, 90.0),
            source=f"{_ACGIH}, rectangular taper of 90 degrees",
            status="memory",
        ),
        "machine_port": HoodEntry(
            coefficient=1.0, source=f"{_ACGIH}, VS-95 plates", status="memory"
        ),
        "saw_port": HoodEntry(
            coefficient=1.75, source=f"{_ACGIH}, VS-95 plates, saws", status="memory"
        ),
    }
)
"""Hood entries by kind; the coefficient is Fh on the velocity pressure of the duct
behind the hood, so that the hood's static suction is (1 + Fh) velocity pressures.
The two machine port values are from memory with low confidence."""


def tapered_hood(angle: float, *, rectangular: bool = True) -> float:
    """Return the entry loss of a tapered hood by its included angle (degrees).

    On the velocity pressure of the duct. ACGIH (memory).
    """
    return interpolate(_TAPER_RECTANGULAR if rectangular else _TAPER_ROUND, angle)


_ELBOW_AT_INLET: Final = (
    "system effect factors of duct elbows, ASHRAE (1988), in a reprint: square elbow "
    "with inlet transition, R/H 1.0"
)

INLETS: Final = MappingProxyType(
    {
        "straight": HoodEntry(
            coefficient=0.0, source="straight duct, no loss", status="practice"
        ),
        "elbow_before": HoodEntry(
            coefficient=0.66,
            source=f"{_ELBOW_AT_INLET}, 2 diameters of straight duct",
            status="read",
        ),
        "inlet_box": HoodEntry(
            coefficient=0.75,
            source="W. T. W. Cory, Fans and Ventilation, inlet boxes of type C and D",
            status="read",
        ),
        "elbow_at": HoodEntry(
            coefficient=1.2,
            source=f"{_ELBOW_AT_INLET}, no straight duct",
            status="read",
        ),
    }
)
"""What stands before the collector's inlet: loss on the inlet's velocity pressure
that the fan's curve does not have (the system effect)."""


def slide_gate(opening: float, allowance: float = GATE_ALLOWANCE) -> float:
    """Return the coefficient of a slide gate by its open height over diameter.

    On the velocity in the full duct; infinite when closed. Log-linear between the
    rows of the table; below its first row (0.2) by the power law that the first two
    rows have between them. `allowance` is added at every opening. Raises
    `AirflowError` outside 0 to 1.
    """
    require(
        0 <= opening <= 1,
        "gate_opening",
        f"A gate is open by 0 to 1 of its height, not {opening:g}",
    )
    # Narrower than a crack it is closed, and the power law is out of all bounds.
    if opening < 1e-9:
        return inf
    first, value = _SLIDE_GATE[0]
    last, end = _SLIDE_GATE[-1]
    if opening < first:
        # ln(35/10) / ln(0.3/0.2)
        return allowance + value * float((first / opening) ** 3.0897)
    if opening <= last:
        return allowance + interpolate_log(_SLIDE_GATE, opening)
    return allowance + end * (1.0 - opening) / (1.0 - last)


def leak(leak_area: float, diameter: float) -> float:
    """Return the coefficient of a closed gate that leaks, on the duct's velocity.

    `leak_area` is the open gap in m2 (infinite coefficient at 0), a sharp-edged
    opening; `diameter` that of the duct in m.
    """
    if leak_area <= 0:
        return inf
    area = pi / 4.0 * diameter * diameter
    ratio = area / (ORIFICE_DISCHARGE * leak_area)
    return ratio * ratio
