"""Motor starts against the published table.

Source: NEMA MG 10-2001, Table 2-3 (A: starts per hour, C: rest in s), and the
example printed with it: 25 hp, 4-pole, load WK2 50 lb ft2 allows 2.44 starts an hour.
"""

import pytest

from custom_components.gatewright.core.control.motor_rating import (
    KG_M2_PER_LB_FT2,
    KILOWATTS_PER_HORSEPOWER,
    LARGEST_KILOWATTS,
    POLES,
    allowance,
    wheel_inertia,
)


@pytest.mark.parametrize(
    ("kilowatts", "poles", "starts", "rest"),
    [
        (0.75, 2, 15, 75),
        (1.1, 2, 12.9, 76),
        (1.5, 4, 23, 39),
        (2.2, 2, 9.9, 80),
        (3.7, 6, 18.4, 37),
        (5.6, 2, 7.0, 88),
        (7.5, 4, 12.5, 46),
    ],
)
def test_name_plates_in_kilowatts(
    kilowatts: float, poles: int, starts: float, rest: float
) -> None:
    assert allowance(kilowatts, poles) == (starts, rest)


def test_rating_between_two_rows_takes_the_larger() -> None:
    assert allowance(3.0, 2) == allowance(3.7, 2)


def test_rating_below_the_table_takes_its_first_row() -> None:
    assert allowance(0.37, 4) == allowance(0.75, 4)


def test_published_example_with_the_load_inertia() -> None:
    found = allowance(
        25 * KILOWATTS_PER_HORSEPOWER, 4, load_inertia=50 * KG_M2_PER_LB_FT2
    )
    assert found.starts_per_hour == pytest.approx(2.44)
    assert found.rest == 58


def test_light_load_does_not_raise_the_allowance() -> None:
    assert allowance(2.2, 4, load_inertia=0.001).starts_per_hour == 19.8


@pytest.mark.parametrize("poles", POLES)
def test_larger_motors_are_started_less_often(poles: int) -> None:
    steps = [allowance(kw, poles) for kw in (0.75, 1.5, 3.7, 7.5, 15, 22, 37)]
    assert [step.starts_per_hour for step in steps] == sorted(
        (step.starts_per_hour for step in steps), reverse=True
    )
    assert [step.rest for step in steps] == sorted(step.rest for step in steps)


@pytest.mark.parametrize(
    ("kilowatts", "poles"), [(2.2, 3), (0, 2), (-1, 2), (LARGEST_KILOWATTS + 1, 2)]
)
def test_outside_the_table(kilowatts: float, poles: int) -> None:
    with pytest.raises(ValueError, match="no figures"):
        allowance(kilowatts, poles)


def test_a_heavy_wheel_allows_a_fifth_of_the_starts() -> None:
    """14 lb and 12 in on 3 hp, 2 poles: WK2 = 14 x 0.25 / 2 = 1.75; 3.5 / 1.75 = 2."""
    inertia = wheel_inertia(12 * 0.0254, 14 * 0.45359237)
    assert inertia / KG_M2_PER_LB_FT2 == pytest.approx(1.75, rel=1e-3)
    light = allowance(2.2, 2)
    heavy = allowance(2.2, 2, load_inertia=inertia)
    assert heavy.starts_per_hour == pytest.approx(2.0, rel=1e-3)
    assert heavy.starts_per_hour / light.starts_per_hour == pytest.approx(0.2, abs=0.01)
    assert heavy.rest == light.rest
