"""A smooth curve through measured points that invents no peaks of its own.

Piecewise cubic Hermite interpolation with the slopes of Fritsch and Butland
(1984): the weighted harmonic mean of the neighboring secants, 0 where they change
sign. Between two points the curve stays between their values.
"""

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise
from math import copysign, sqrt


def _end_slope(h0: float, h1: float, m0: float, m1: float) -> float:
    """Three-point slope at an end, held so that the end segment stays monotone."""
    slope = ((2.0 * h0 + h1) * m0 - h0 * m1) / (h0 + h1)
    if slope * m0 <= 0.0:
        return 0.0
    if m0 * m1 <= 0.0 and abs(slope) > 3.0 * abs(m0):
        return 3.0 * m0
    return slope


def monotone_slopes(xs: Sequence[float], ys: Sequence[float]) -> list[float]:
    """Return the slope of the curve at each point."""
    widths = [b - a for a, b in pairwise(xs)]
    secants = [(b - a) / h for a, b, h in zip(ys, ys[1:], widths, strict=False)]
    if len(secants) == 1:
        return [secants[0], secants[0]]
    slopes = [_end_slope(widths[0], widths[1], secants[0], secants[1])]
    for h0, h1, m0, m1 in zip(widths, widths[1:], secants, secants[1:], strict=False):
        if m0 * m1 <= 0.0:
            slopes.append(0.0)
        else:
            w0, w1 = 2.0 * h1 + h0, h1 + 2.0 * h0
            slopes.append((w0 + w1) / (w0 / m0 + w1 / m1))
    slopes.append(_end_slope(widths[-1], widths[-2], secants[-1], secants[-2]))
    return slopes


def _turns(d1: float, d2: float, d3: float, width: float) -> list[float]:
    """Return where `d1 t + d2 t^2 + d3 t^3` turns within 0 to `width`, largest first."""
    # Roots of d1 + 2 d2 t + 3 d3 t^2, by the form that loses no digits.
    square, half = 3.0 * d3, d2
    under = half * half - square * d1
    if under <= 0.0:
        return []
    far = -(half + copysign(sqrt(under), half))
    roots = [far / square] if square else []
    if far:
        roots.append(d1 / far)
    return sorted((root for root in roots if 0.0 < root < width), reverse=True)


class Curve:
    """A cubic through points, constant before the first, straight after the last."""

    __slots__ = ("_cubics", "end_slope", "xs", "ys")

    def __init__(
        self,
        xs: Sequence[float],
        ys: Sequence[float],
        slopes: Sequence[float] | None = None,
        *,
        end_slope: float | None = None,
    ) -> None:
        """Prepare the cubics.

        `xs` must rise. `slopes` replaces the monotone ones. After the last point
        the curve goes on with `end_slope`, by default the slope it has there.
        """
        self.xs = list(xs)
        self.ys = list(ys)
        given = monotone_slopes(xs, ys) if slopes is None else list(slopes)
        self.end_slope = given[-1] if end_slope is None else end_slope
        self._cubics: list[tuple[float, float, float, float]] = []
        for i in range(len(xs) - 1):
            h = xs[i + 1] - xs[i]
            secant = (ys[i + 1] - ys[i]) / h
            d0, d1 = given[i], given[i + 1]
            self._cubics.append(
                (
                    ys[i],
                    d0,
                    (3.0 * secant - 2.0 * d0 - d1) / h,
                    (d0 + d1 - 2.0 * secant) / (h * h),
                )
            )

    def largest_crossing(
        self, square: float, linear: float
    ) -> tuple[float, float] | None:
        """Return what brackets the largest crossing with `square x^2 + linear x`.

        The lower bound lies above the parabola, the upper one not. Looked for from 0 to
        the last point; None where the curve is nowhere above it there. Each stretch is
        cut where its difference to the parabola turns, which is the root of a quadratic:
        so a curve that rises above the parabola between two of its points, and falls
        below it again, is not overlooked.
        """
        stretches = [
            (x, x_, c)
            for (x, x_), c in zip(pairwise(self.xs), self._cubics, strict=True)
        ]
        if self.xs[0] > 0.0:
            stretches.insert(0, (0.0, self.xs[0], (self.ys[0], 0.0, 0.0, 0.0)))
        for begin, end, (c0, c1, c2, c3) in reversed(stretches):
            # The difference over t = x - begin, as a cubic of its own.
            d0 = c0 - (square * begin + linear) * begin
            d1 = c1 - 2.0 * square * begin - linear
            d2, d3 = c2 - square, c3
            high = end - begin
            for low in (*_turns(d1, d2, d3, high), 0.0):
                if d0 + low * (d1 + low * (d2 + low * d3)) > 0.0:
                    return begin + low, begin + high
                high = low
        return None

    def last_rise(self) -> float:
        """Return where the curve rises for the last time; the first point if nowhere."""
        for begin, end, (_, c1, c2, c3) in reversed(
            [
                (x, x_, c)
                for (x, x_), c in zip(pairwise(self.xs), self._cubics, strict=True)
            ]
        ):
            high = end - begin
            for low in (*_turns(c1, c2, c3, high), 0.0):
                middle = 0.5 * (low + high)
                if c1 + middle * (2.0 * c2 + 3.0 * middle * c3) > 0.0:
                    return begin + high
                high = low
        return self.xs[0]

    def at(self, x: float) -> tuple[float, float]:
        """Return the value and the slope at a point."""
        xs = self.xs
        if x <= xs[0]:
            return self.ys[0], 0.0
        if x >= xs[-1]:
            return self.ys[-1] + self.end_slope * (x - xs[-1]), self.end_slope
        i = bisect_right(xs, x) - 1
        t = x - xs[i]
        c0, c1, c2, c3 = self._cubics[i]
        return (
            c0 + t * (c1 + t * (c2 + t * c3)),
            c1 + t * (2.0 * c2 + 3.0 * t * c3),
        )
