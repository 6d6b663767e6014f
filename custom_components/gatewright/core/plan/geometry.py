"""Lines in space: lengths, turns, places along a line, and what runs through what.

Points and vectors are `(x, y, z)` in m, angles in degrees.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import acos, degrees, dist, hypot
from typing import Final

type Point = tuple[float, float, float]

CLOSE: Final = 0.02
"""Two places closer than this (m) are one."""


def minus(one: Point, other: Point) -> Point:
    """Return the vector from `other` to `one`."""
    return one[0] - other[0], one[1] - other[1], one[2] - other[2]


def turn(one: Point, other: Point) -> float:
    """Return the angle between two vectors; 0 where one of them has no length."""
    lengths = hypot(*one) * hypot(*other)
    if lengths == 0.0:
        return 0.0
    cosine = (one[0] * other[0] + one[1] * other[1] + one[2] * other[2]) / lengths
    return degrees(acos(max(-1.0, min(1.0, cosine))))


class Polyline:
    """A line through points; places on it are told by their distance from the first."""

    def __init__(self, points: Sequence[Point]) -> None:
        self.points = tuple(points)
        self.marks = [0.0]
        """The distance of each point."""
        for one, other in pairwise(self.points):
            self.marks.append(self.marks[-1] + dist(one, other))

    @property
    def length(self) -> float:
        """The sum of the legs."""
        return self.marks[-1]

    def leg_at(self, place: float) -> int:
        """Return the leg that leads on from a place; at the end the last one."""
        last = len(self.points) - 2
        for leg in range(last):
            if place < self.marks[leg + 1] - CLOSE:
                return leg
        return last

    def direction(self, leg: int) -> Point:
        """Return the vector of a leg."""
        return minus(self.points[leg + 1], self.points[leg])

    def point_at(self, place: float) -> Point:
        """Return the point at a place."""
        ends = self.marks[1:-1]
        leg = next((n for n, end in enumerate(ends) if place <= end), len(ends))
        start, end = self.marks[leg], self.marks[leg + 1]
        share = (place - start) / (end - start) if end > start else 0.0
        share = max(0.0, min(1.0, share))
        one, other = self.points[leg], self.points[leg + 1]
        return (
            one[0] + share * (other[0] - one[0]),
            one[1] + share * (other[1] - one[1]),
            one[2] + share * (other[2] - one[2]),
        )

    def nearest(self, point: Point) -> tuple[float, float]:
        """Return the place that is nearest to a point, and how far away it is."""
        best = (float("inf"), 0.0)
        for leg, (one, other) in enumerate(pairwise(self.points)):
            along = minus(other, one)
            square = along[0] ** 2 + along[1] ** 2 + along[2] ** 2
            share = 0.0
            if square > 0.0:
                to = minus(point, one)
                share = (
                    to[0] * along[0] + to[1] * along[1] + to[2] * along[2]
                ) / square
                share = max(0.0, min(1.0, share))
            at = (
                one[0] + share * along[0],
                one[1] + share * along[1],
                one[2] + share * along[2],
            )
            place = self.marks[leg] + share * (self.marks[leg + 1] - self.marks[leg])
            best = min(best, (dist(point, at), place))
        return best[1], best[0]

    def between(self, start: float, end: float) -> tuple[Point, ...]:
        """Return the points of the stretch between two places."""
        inner = (
            point
            for point, mark in zip(self.points, self.marks, strict=True)
            if start + CLOSE < mark < end - CLOSE
        )
        return (self.point_at(start), *inner, self.point_at(end))


def apart(a: Point, b: Point, c: Point, d: Point) -> float:
    """Return the distance between the segments `ab` and `cd` (m).

    The closest points of two segments by the usual clamping of the line parameters
    (Ericson, Real-Time Collision Detection, 5.1.9; from memory).
    """
    one, two, off = minus(b, a), minus(d, c), minus(a, c)
    aa, ee, ff = _dot(one, one), _dot(two, two), _dot(two, off)
    cc, bb = _dot(one, off), _dot(one, two)
    s = t = 0.0
    if aa <= 0.0 and ee <= 0.0:
        return dist(a, c)
    if aa <= 0.0:
        t = _clamped(ff / ee)
    elif ee <= 0.0:
        s = _clamped(-cc / aa)
    else:
        whole = aa * ee - bb * bb
        s = _clamped((bb * ff - cc * ee) / whole) if whole > 1e-12 * aa * ee else 0.0
        t = (bb * s + ff) / ee
        if not 0.0 <= t <= 1.0:
            t = _clamped(t)
            s = _clamped((bb * t - cc) / aa)
    return hypot(*(off[i] + s * one[i] - t * two[i] for i in range(3)))


def _dot(one: Point, other: Point) -> float:
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


def _clamped(share: float) -> float:
    return max(0.0, min(1.0, share))
