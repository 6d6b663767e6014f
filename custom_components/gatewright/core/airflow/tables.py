"""Interpolation in published tables."""

from collections.abc import Sequence
from math import exp, log

type Table = tuple[tuple[float, float], ...]


def interpolate(table: Sequence[tuple[float, float]], at: float) -> float:
    """Return the value of a table at a point, linear between its rows.

    Outside the table its first or last value holds: a table is not evidence for
    what lies beyond it.
    """
    before_x, before_y = table[0]
    if at <= before_x:
        return before_y
    for x, y in table[1:]:
        if at <= x:
            return before_y + (y - before_y) * (at - before_x) / (x - before_x)
        before_x, before_y = x, y
    return before_y


def interpolate_log(table: Sequence[tuple[float, float]], at: float) -> float:
    """Return the value of a table of positive values, log-linear between rows."""
    return exp(interpolate([(x, log(y)) for x, y in table], at))
