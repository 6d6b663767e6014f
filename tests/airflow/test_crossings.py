"""The largest crossing of fan and system, compared with a fine scan of the curve."""

from itertools import accumulate
from math import inf, nan
from random import Random

import numpy as np
import pytest
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from custom_components.gatewright.core.airflow import solve
from custom_components.gatewright.core.airflow.errors import AirflowError
from custom_components.gatewright.core.airflow.fan import Fan
from custom_components.gatewright.core.airflow.fittings import slide_gate
from custom_components.gatewright.core.airflow.network import Network
from tests.airflow.shops import FAN, shop

type Points = tuple[tuple[float, float], ...]


def flows(random: Random, count: int) -> list[float]:
    """Return flows that rise from 0."""
    return [0.0, *accumulate(random.uniform(0.02, 0.4) for _ in range(count - 1))]


def single_peaked(random: Random) -> Points:
    """Return a curve that rises to one peak and falls to nothing."""
    at = flows(random, random.randint(3, 9))
    peak = random.randint(1, len(at) - 2)
    height = random.uniform(500, 4000)
    rise = sorted(random.uniform(0.05, 1) * height for _ in range(peak))
    fall = sorted((random.uniform(0, 1) * height for _ in at[peak + 1 :]), reverse=True)
    return tuple(zip(at, [*rise, height, *fall], strict=True))


def odd(random: Random) -> Points:
    """Return a curve with any number of peaks that falls at its end."""
    at = flows(random, random.randint(3, 9))
    pressures = [random.uniform(0, 4000) for _ in at]
    pressures[-1] = random.uniform(0, 0.9) * pressures[-2]
    return tuple(zip(at, pressures, strict=True))


def scanned(points: Points, quadratic: float, slopes: list[float] | None) -> float:
    """Return the largest flow at which the curve is above the system, by scanning."""
    at, pressures = (np.array(values) for values in zip(*points, strict=True))
    fine = np.linspace(0.0, at[-1], 60_001)
    if slopes is None:
        curve = PchipInterpolator(at, pressures)(fine)
    else:
        curve = CubicHermiteSpline(at, pressures, slopes)(fine)
    above = np.nonzero(curve - quadratic * fine**2 > 0)[0]
    return float(fine[above[-1]]) if above.size else 0.0


def crossing_near(random: Random, points: Points) -> float:
    """Return a system that passes close by some place of the curve.

    There the curve and the parabola may cross twice between two points.
    """
    (q0, p0), (q1, p1) = points[(n := random.randrange(len(points) - 1))], points[n + 1]
    share = random.uniform(0.05, 0.95)
    flow = q0 + share * (q1 - q0)
    pressure = max(p0, p1, 1.0) * random.uniform(0.4, 1.05)
    return pressure / flow**2


@pytest.mark.parametrize(("kind", "count"), [(single_peaked, 600), (odd, 800)])
def test_no_crossing_further_out_is_missed(kind: object, count: int) -> None:
    random = Random(15)
    assert callable(kind)
    for _ in range(count):
        points = kind(random)
        fan = Fan(points=points)
        for _ in range(4):
            quadratic = crossing_near(random, points)
            found = fan.operating_flow(quadratic)
            last = points[-1][0]
            if found > last:
                # Beyond the last point the curve is a straight line.
                assert fan.pressure(last) >= quadratic * last**2
                continue
            step = last / 60_000
            assert found >= scanned(points, quadratic, None) - 2 * step, (
                points,
                quadratic,
            )
            for guess in (0.2 * last, 0.6 * last, last):
                again = fan.operating_flow(quadratic, guess=guess)
                assert again == pytest.approx(found, rel=1e-6, abs=1e-9)
            residual = fan.pressure(found) - quadratic * found**2
            assert residual == pytest.approx(0.0, abs=1e-4 * max(p for _, p in points))


def test_a_crossing_between_two_points_that_both_lie_below() -> None:
    """Twice within one rising stretch: the curve bulges over the parabola there."""
    points = ((0.0, 400.0), (0.3, 410.0), (1.0, 2000.0), (1.2, 0.0))
    slopes = [0.0, 5000.0, 0.0, -9000.0]
    fan = Fan(points=points, slopes=tuple(slopes))
    quadratic = 2100.0
    below = [p <= quadratic * q * q for q, p in points[2:]]
    assert all(below)
    found = fan.operating_flow(quadratic)
    assert found == pytest.approx(scanned(points, quadratic, slopes), abs=1e-4)
    assert found > 0.8


@pytest.mark.parametrize("bad", [inf, -inf, nan])
def test_figures_that_are_none_end_in_our_own_error(bad: float) -> None:
    good = ((0.0, 1000.0), (0.5, 800.0), (1.0, 0.0))
    for made in (
        lambda: Fan(points=(*good[:2], (1.0, bad))),
        lambda: Fan(points=((0.0, bad), *good[1:])),
        lambda: Fan(points=(*good[:2], (bad, 0.0))),
        lambda: Fan(points=good, slopes=(0.0, bad, -1.0)),
        lambda: Fan(points=good, power=((0.0, 1.0), (1.0, bad))),
        lambda: Fan.from_free_air(bad, 1000.0),
        lambda: Fan.from_free_air(1.0, bad),
        lambda: Fan.quadratic(1000.0, bad),
        lambda: FAN.scaled(speed=bad),
        lambda: FAN.pressure(0.1, speed=bad),
        lambda: solve(Network(shop()), (), speed=bad),
    ):
        with pytest.raises(AirflowError):
            made()


def test_a_gate_open_by_next_to_nothing_is_closed() -> None:
    for opening in (1e-120, 1e-300, 5e-324):
        assert slide_gate(opening) == inf
    assert slide_gate(1e-6) < inf
