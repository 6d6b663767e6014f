"""Lines in space against values worked out by hand."""

from math import sqrt

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.plan.geometry import Point, Polyline, apart, turn

_NUMBERS = st.floats(-20, 20)
_POINTS = st.tuples(_NUMBERS, _NUMBERS, _NUMBERS)


def test_a_length_is_the_sum_of_legs_and_heights() -> None:
    # 3-4-5 on the flat, then a drop of 1.4 m, then 2 m on at the floor.
    line = Polyline([(0, 0, 2.4), (3, 4, 2.4), (3, 4, 1.0), (5, 4, 1.0)])
    assert line.marks == pytest.approx([0, 5, 6.4, 8.4])
    assert line.point_at(5.7) == pytest.approx((3, 4, 1.7))
    assert line.leg_at(5.0) == 1
    assert line.leg_at(8.4) == 2
    assert line.nearest((4.0, 4.0, 1.3)) == pytest.approx((7.4, 0.3))
    stretch = line.between(5.5, 7.4)
    wanted = ((3, 4, 1.9), (3, 4, 1.0), (4, 4, 1.0))
    for one, other in zip(stretch, wanted, strict=True):
        assert one == pytest.approx(other)


@pytest.mark.parametrize(
    ("one", "other", "degrees"),
    [
        ((1, 0, 0), (5, 0, 0), 0),
        ((1, 0, 0), (0, 2, 0), 90),
        ((1, 0, 0), (1, 1, 0), 45),
        ((1, 0, 0), (sqrt(3), 1, 0), 30),
        ((0, 0, -1), (1, 0, 0), 90),
        ((1, 0, 0), (1, 0, -1), 45),
        ((1, 0, 0), (-1, 0, 0), 180),
        # The diagonal of a cube and one of its edges: acos(1 / sqrt 3).
        ((1, 1, 1), (1, 0, 0), 54.7356103),
        ((0, 0, 0), (1, 0, 0), 0),
    ],
)
def test_turns(one: Point, other: Point, degrees: float) -> None:
    assert turn(one, other) == pytest.approx(degrees)


@pytest.mark.parametrize(
    ("a", "b", "c", "d", "gap"),
    [
        # Crossing, one above the other.
        ((0, 0, 0), (2, 0, 0), (1, -1, 0.5), (1, 1, 0.5), 0.5),
        ((0, 0, 0), (2, 0, 0), (1, -1, 0), (1, 1, 0), 0.0),
        # Side by side, and one beyond the other's end.
        ((0, 0, 0), (2, 0, 0), (0, 1, 0), (2, 1, 0), 1.0),
        ((0, 0, 0), (2, 0, 0), (5, 4, 0), (5, 9, 0), 5.0),
        # A point.
        ((1, 1, 1), (1, 1, 1), (0, 0, 0), (2, 0, 0), sqrt(2)),
        ((1, 1, 1), (1, 1, 1), (1, 1, 3), (1, 1, 3), 2.0),
    ],
)
def test_gaps_between_segments(
    a: Point, b: Point, c: Point, d: Point, gap: float
) -> None:
    assert apart(a, b, c, d) == pytest.approx(gap)
    assert apart(c, d, b, a) == pytest.approx(gap)


@given(_POINTS, _POINTS, _POINTS, _POINTS)
def test_no_two_points_of_segments_are_closer_than_the_segments(
    a: Point, b: Point, c: Point, d: Point
) -> None:
    gap = apart(a, b, c, d)
    one, other = Polyline([a, b]), Polyline([c, d])
    least = min(
        Polyline([p, q]).length
        for p in (one.point_at(one.length * n / 10) for n in range(11))
        for q in (other.point_at(other.length * n / 10) for n in range(11))
    )
    assert gap <= least + 1e-6
