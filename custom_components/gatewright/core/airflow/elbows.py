"""Loss coefficients of elbows, from published tables.

On the velocity pressure of the duct; all of the tables are read. Between their rows
values are interpolated, beyond their ends the last row holds.
"""

from types import MappingProxyType
from typing import Final, Literal

from .errors import AirflowError, require
from .tables import Table, interpolate

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

_BY_DIAMETER: Final[dict[str, tuple[str, str]]] = {
    "stamped": ("CD3-1", "stamped"),
    "five_piece": ("CD3-9", "five_piece"),
    "four_piece": ("CD3-9", "five_piece"),
    "three_piece": ("CD3-9", "five_piece"),
}
"""The table by diameter a construction goes by, and whose row of Table A-7 that is."""

_BY_DIAMETER_RADIUS: Final = 1.5
"""Bend radius over diameter of the tables by diameter that are used here."""

_ASHRAE_ELBOWS: Final = "ASHRAE Handbook - Fundamentals (SI), 2009, chapter 21"
_SMACNA_ELBOWS: Final = "SMACNA, HVAC Systems Duct Design, 4th edition, Table A-7"

ELBOW_SOURCES: Final = MappingProxyType(
    {
        "stamped": f"{_ASHRAE_ELBOWS}, CD3-1; other radii by {_SMACNA_ELBOWS}",
        "five_piece": f"{_ASHRAE_ELBOWS}, CD3-9; other radii by {_SMACNA_ELBOWS}",
        "four_piece": f"{_ASHRAE_ELBOWS}, CD3-9, by the ratio in {_SMACNA_ELBOWS}",
        "three_piece": f"{_ASHRAE_ELBOWS}, CD3-9, by the ratio in {_SMACNA_ELBOWS}",
        "pleated": f"{_ASHRAE_ELBOWS}, CD3-5 and CD3-7",
        "mitered": _SMACNA_ELBOWS,
    }
)
"""Which table the coefficient of each construction comes from."""


def elbow_90(construction: str, radius_ratio: float = 1.5) -> float:
    """Return SMACNA's coefficient of a 90 degree elbow, which knows no diameter.

    On the velocity in the duct. `radius_ratio` is the centerline radius over the diameter. Raises
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

    By `diameter` (m): pleated ones by ASHRAE CD3-5 and CD3-7 (r/D 1.5); stamped and
    gored ones by CD3-1 and CD3-9 (r/D 1.5), taken to other bend radii and numbers of
    gores in the ratio that SMACNA Table A-7 has between them, since that table knows
    no diameter. Mitered ones go only by angle, at a Reynolds number of 140000 or more
    (`miter_factor` gives the rest). `ELBOW_SOURCES` says so too. Raises
    `AirflowError`.
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
    at_radius = elbow_90(construction, radius_ratio)
    table, same = _BY_DIAMETER[construction]
    sized = interpolate(ELBOWS_BY_DIAMETER[table], diameter)
    return sized * at_radius / elbow_90(same, _BY_DIAMETER_RADIUS) * factor


def miter_factor(reynolds: float) -> float:
    """Return what a mitered elbow's coefficient is multiplied by (SMACNA, A-7)."""
    return interpolate(_MITER_REYNOLDS, reynolds)
