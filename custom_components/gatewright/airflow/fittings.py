"""Loss coefficients of fittings, hoods and gates, from published tables.

`loss = coefficient * velocity pressure`; which velocity is said at each. All of
them are losses of total pressure. Between the rows of a table values are
interpolated, beyond its ends the last row holds.

Status of the tables: elbows are read; the 0.93, 0.50, 0.65 and 0.04 hood entries
are read in reprints; branch entries, tapered hoods, machine ports and slide gates
are from memory of the named source and are defaults for an owner to change.
"""

from dataclasses import dataclass
from math import inf, pi
from types import MappingProxyType
from typing import Final, Literal

from .errors import AirflowError, require
from .tables import Table, interpolate, interpolate_log

type AngleRule = Literal["smacna", "exhaust"]
type Construction = Literal[
    "stamped", "five_piece", "four_piece", "three_piece", "pleated", "mitered"
]

# SMACNA, HVAC Systems Duct Design, 4th edition, Table A-7 (read): coefficient of
# a 90 degree round elbow by bend radius over diameter (radius to the centerline).
_ELBOW_90: Final[dict[str, Table]] = {
    "stamped": (
        (0.5, 0.71),
        (0.75, 0.33),
        (1.0, 0.22),
        (1.5, 0.15),
        (2.0, 0.13),
        (2.5, 0.12),
    ),
    "five_piece": ((0.75, 0.46), (1.0, 0.33), (1.5, 0.24), (2.0, 0.19)),
    "four_piece": ((0.75, 0.50), (1.0, 0.37), (1.5, 0.27), (2.0, 0.24)),
    # The 0.5 column is printed once for the whole group of gored elbows.
    "three_piece": (
        (0.5, 0.98),
        (0.75, 0.54),
        (1.0, 0.42),
        (1.5, 0.34),
        (2.0, 0.33),
    ),
}

# Same table (read): multiplier of the 90 degree value by angle in degrees.
_ANGLE_SMACNA: Final[Table] = (
    (0.0, 0.0),
    (20.0, 0.31),
    (30.0, 0.45),
    (45.0, 0.60),
    (60.0, 0.78),
    (75.0, 0.90),
    (90.0, 1.00),
    (110.0, 1.13),
    (130.0, 1.20),
    (150.0, 1.28),
    (180.0, 1.40),
)

# Same table (read): mitered elbow without vanes by angle, and its multiplier by
# Reynolds number.
_MITER: Final[Table] = (
    (0.0, 0.0),
    (20.0, 0.08),
    (30.0, 0.16),
    (45.0, 0.34),
    (60.0, 0.55),
    (75.0, 0.81),
    (90.0, 1.20),
)
_MITER_REYNOLDS: Final[Table] = (
    (10_000.0, 1.40),
    (20_000.0, 1.26),
    (30_000.0, 1.19),
    (40_000.0, 1.14),
    (60_000.0, 1.09),
    (80_000.0, 1.06),
    (100_000.0, 1.04),
    (140_000.0, 1.00),
)

ELBOWS_BY_DIAMETER: Final[MappingProxyType[str, Table]] = MappingProxyType(
    {
        "CD3-1": (
            (0.075, 0.30),
            (0.100, 0.21),
            (0.125, 0.16),
            (0.150, 0.14),
            (0.180, 0.12),
            (0.200, 0.11),
            (0.230, 0.11),
            (0.250, 0.11),
        ),
        "CD3-3": (
            (0.075, 0.18),
            (0.100, 0.13),
            (0.125, 0.10),
            (0.150, 0.08),
            (0.180, 0.07),
            (0.200, 0.07),
            (0.230, 0.07),
            (0.250, 0.07),
        ),
        "CD3-5": (
            (0.100, 0.57),
            (0.150, 0.43),
            (0.200, 0.34),
            (0.250, 0.28),
            (0.300, 0.26),
            (0.350, 0.25),
            (0.400, 0.25),
        ),
        "CD3-7": (
            (0.100, 0.34),
            (0.150, 0.26),
            (0.200, 0.21),
            (0.250, 0.17),
            (0.300, 0.16),
            (0.350, 0.15),
            (0.400, 0.15),
        ),
        "CD3-9": (
            (0.075, 0.51),
            (0.150, 0.28),
            (0.230, 0.21),
            (0.300, 0.18),
            (0.380, 0.16),
            (0.450, 0.15),
            (0.530, 0.14),
            (0.600, 0.13),
            (0.690, 0.12),
            (0.750, 0.12),
            (1.500, 0.12),
        ),
        "CD3-10": (
            (0.075, 0.16),
            (0.150, 0.12),
            (0.230, 0.10),
            (0.300, 0.08),
            (0.380, 0.07),
            (0.450, 0.06),
            (0.690, 0.05),
            (1.500, 0.03),
        ),
    }
)
"""Elbow coefficients by diameter (m): ASHRAE Handbook - Fundamentals (SI), 2009,
chapter 21 (read). CD3-1 and CD3-3: stamped 90 and 45 degrees, r/D 1.5; CD3-5 and
CD3-7: pleated 90 and 45 degrees, r/D 1.5; CD3-9: five gores, 90 degrees, r/D 1.5;
CD3-10: seven gores, 90 degrees, r/D 2.5."""

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


def elbow_90(construction: str, radius_ratio: float = 1.5) -> float:
    """Return the coefficient of a 90 degree elbow on the velocity in the duct.

    `radius_ratio` is the centerline radius over the diameter. Raises
    `AirflowError` for an unknown construction.
    """
    table = _ELBOW_90.get(construction)
    if table is None:
        raise AirflowError(
            "elbow_construction", f"There is no elbow called {construction!r}"
        )
    return interpolate(table, radius_ratio)


def angle_factor(angle: float, rule: AngleRule = "smacna") -> float:
    """Return the share of the 90 degree coefficient at another angle (degrees).

    `smacna`: the table beside the elbows (SMACNA, Table A-7, read). `exhaust`: in
    proportion to the angle, as on the ACGIH worksheet (60 degrees two thirds, 45
    one half, 30 one third; read). Use one rule for a whole shop.
    """
    require(
        0 <= angle <= 180,
        "elbow_angle",
        f"An elbow turns by 0 to 180 degrees, not {angle:g}",
    )
    return interpolate(_ANGLE_SMACNA, angle) if rule == "smacna" else angle / 90.0


def elbow(
    construction: str,
    *,
    angle: float = 90.0,
    radius_ratio: float = 1.5,
    diameter: float = 0.15,
    rule: AngleRule = "smacna",
) -> float:
    """Return the coefficient of an elbow on the velocity in the duct.

    Pleated elbows go by `diameter` (m; ASHRAE CD3-5 and CD3-7, r/D 1.5), mitered
    ones only by angle and at a Reynolds number of 140000 or more (`miter_factor`
    gives the rest), all others by bend radius. Raises `AirflowError`.
    """
    factor = angle_factor(angle, rule)
    if construction == "mitered":
        if angle <= 90.0:
            return interpolate(_MITER, angle)
        # The table ends at 90 degrees; a sharper turn is taken as two miters.
        return _MITER[-1][1] + interpolate(_MITER, angle - 90.0)
    if construction == "pleated":
        if angle <= 45.0:
            return interpolate(ELBOWS_BY_DIAMETER["CD3-7"], diameter) * angle / 45.0
        at_90 = interpolate(ELBOWS_BY_DIAMETER["CD3-5"], diameter)
        if angle >= 90.0:
            return at_90 * factor
        at_45 = interpolate(ELBOWS_BY_DIAMETER["CD3-7"], diameter)
        return at_45 + (at_90 - at_45) * (angle - 45.0) / 45.0
    return elbow_90(construction, radius_ratio) * factor


def miter_factor(reynolds: float) -> float:
    """Return what a mitered elbow's coefficient is multiplied by (SMACNA, A-7)."""
    return interpolate(_MITER_REYNOLDS, reynolds)


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
        "flanged_end": HoodEntry(coefficient=0.50, source=_WITHERIDGE, status="read"),
        "bell_mouth": HoodEntry(coefficient=0.04, source=_ABIH, status="read"),
        "enclosure": HoodEntry(
            coefficient=0.65, source=f"{_ACGIH}, VS-80-11, in a reprint", status="read"
        ),
        "tapered": HoodEntry(
            coefficient=0.25,
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
