"""How often a motor of a given rating may be started.

Source: NEMA MG 10-2001, Energy Management Guide for Selection and Use of Fixed
Frequency Medium AC Squirrel-Cage Polyphase Induction Motors, Table 2-3, for
Design A and B motors at rated voltage and frequency, with a load whose torque
grows with the square of the speed, as a fan's does.

The table covers polyphase motors from 1 hp. It says nothing of single-phase motors;
they take their maker's figure. Without the inertia of the impeller its column of
starts holds only for a light one: a heavy one may allow a fifth of them.
"""

from bisect import bisect_left
from typing import NamedTuple

KILOWATTS_PER_HORSEPOWER = 0.745_70
KG_M2_PER_LB_FT2 = 0.042_140
"""Load inertia is tabulated as WK2: weight times radius of gyration squared."""


class Allowance(NamedTuple):
    """Starts per hour, and the least time in s between off and the next on."""

    starts_per_hour: float
    rest: float


class _Row(NamedTuple):
    """One entry of the table: A in 1/h, B in lb ft2/h, C in s."""

    starts: float
    starts_times_inertia: float
    rest: float


_TABLE: dict[int, dict[float, _Row]] = {
    2: {
        1: _Row(15, 1.2, 75),
        1.5: _Row(12.9, 1.8, 76),
        2: _Row(11.5, 2.4, 77),
        3: _Row(9.9, 3.5, 80),
        5: _Row(8.1, 5.7, 83),
        7.5: _Row(7.0, 8.3, 88),
        10: _Row(6.2, 11, 92),
        15: _Row(5.4, 16, 100),
        20: _Row(4.8, 21, 110),
        25: _Row(4.4, 26, 115),
        30: _Row(4.1, 31, 120),
        40: _Row(3.7, 40, 130),
        50: _Row(3.4, 49, 145),
    },
    4: {
        1: _Row(30, 5.8, 38),
        1.5: _Row(25.7, 8.6, 38),
        2: _Row(23, 11, 39),
        3: _Row(19.8, 17, 40),
        5: _Row(16.3, 27, 42),
        7.5: _Row(13.9, 39, 44),
        10: _Row(12.5, 51, 46),
        15: _Row(10.7, 75, 50),
        20: _Row(9.6, 99, 55),
        25: _Row(8.8, 122, 58),
        30: _Row(8.2, 144, 60),
        40: _Row(7.4, 189, 65),
        50: _Row(6.8, 232, 72),
    },
    6: {
        1: _Row(34, 15, 33),
        1.5: _Row(29.1, 23, 34),
        2: _Row(26.1, 30, 35),
        3: _Row(22.4, 44, 36),
        5: _Row(18.4, 71, 37),
        7.5: _Row(15.8, 104, 39),
        10: _Row(14.2, 137, 41),
        15: _Row(12.1, 200, 44),
        20: _Row(10.9, 262, 48),
        25: _Row(10.0, 324, 51),
        30: _Row(9.3, 384, 53),
        40: _Row(8.4, 503, 57),
        50: _Row(7.7, 620, 64),
    },
}

POLES = tuple(_TABLE)
LARGEST_KILOWATTS = max(_TABLE[2]) * KILOWATTS_PER_HORSEPOWER


def wheel_inertia(diameter: float, weight: float) -> float:
    """Return the inertia (kg m2) of an impeller by its diameter (m) and weight (kg).

    An even disk, `m R^2 / 2` (textbook). A wheel with its blades at the rim has more,
    one that is thicker at the hub less: common practice, no source.
    """
    return 0.5 * weight * (0.5 * diameter) ** 2


def allowance(
    kilowatts: float, poles: int, *, load_inertia: float | None = None
) -> Allowance:
    """Return what the table allows a motor.

    A rating between two rows takes the larger one, which allows fewer starts; one
    below 1 hp takes the row of 1 hp. With the `load_inertia` of the impeller, in
    kg m2, the starts per hour fall to B over it where that is less. Raises
    `ValueError` outside the table.
    """
    if poles not in _TABLE:
        raise ValueError(f"no figures for a motor with {poles} poles")
    if not 0 < kilowatts <= LARGEST_KILOWATTS:
        raise ValueError(f"no figures for a motor of {kilowatts} kW")
    rows = _TABLE[poles]
    ratings = list(rows)
    # A name plate in kW is the rounded figure of its horsepower.
    horsepower = kilowatts / KILOWATTS_PER_HORSEPOWER * 0.98
    row = rows[ratings[bisect_left(ratings, horsepower)]]
    starts = row.starts
    if load_inertia:
        starts = min(starts, row.starts_times_inertia * KG_M2_PER_LB_FT2 / load_inertia)
    return Allowance(starts, row.rest)
