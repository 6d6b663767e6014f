"""Least squares with solutions that are never below zero.

The method is the active set of C. L. Lawson and R. J. Hanson, Solving Least Squares
Problems (1974), chapter 23, with the normal equations of the active set solved by
Cholesky factors (recalled from memory, checked against SciPy in the tests). It is
meant for some dozens of rows and columns.
"""

from collections.abc import Sequence
import math

type Vector = list[float]
type Matrix = list[Vector]

_DEPENDENT = 1e-11
"""Share of its own square below which a column is a combination of the others."""

_FLAT = 1e-10
"""Slope, as a share of both lengths it is made of, that counts as none."""


def solve(
    rows: Sequence[Sequence[float]], values: Sequence[float]
) -> tuple[Vector, Matrix]:
    """Return the x >= 0 that minimizes |rows x - values|, and its spread.

    The spread is the inverse of rows' rows over the columns that are not zero: the
    covariance of x where every row has an error of 1. Raises `ValueError` for rows
    of different lengths, or none.
    """
    if not rows or len(rows) != len(values):
        raise ValueError("as many values as rows are needed, and at least one")
    columns = [list(column) for column in zip(*rows, strict=True)]
    # Columns of length 1 make one tolerance fit all.
    lengths = [math.hypot(*column) or 1.0 for column in columns]
    units = [
        [entry / length for entry in column]
        for column, length in zip(columns, lengths, strict=True)
    ]
    gram = [[math.sumprod(a, b) for b in units] for a in units]
    x = _active_set(units, gram, list(values))
    free = [i for i, value in enumerate(x) if value > 0]
    spread = [[0.0] * len(x) for _ in x]
    factor, used = _cholesky(gram, free)
    for column, i in enumerate(used):
        unit = [1.0 if k == column else 0.0 for k in range(len(used))]
        for j, entry in zip(used, _substitute(factor, unit), strict=True):
            spread[i][j] = entry / lengths[i] / lengths[j]
    return [value / length for value, length in zip(x, lengths, strict=True)], spread


def variance(spread: Matrix, weights: Sequence[float]) -> float:
    """Return the variance of the weighted sum of a solution."""
    total = math.sumprod(weights, [math.sumprod(row, weights) for row in spread])
    return max(0.0, total)


def _active_set(units: Matrix, gram: Matrix, values: Vector) -> Vector:
    size = len(units)
    aims = [math.sumprod(column, values) for column in units]
    flat = _FLAT * (math.hypot(*values) or 1.0)
    x = [0.0] * size
    least = 0.0
    free: list[int] = []
    useless: set[int] = set()
    while True:
        slopes = [
            apply_demand - math.sumprod(row, x)
            for apply_demand, row in zip(aims, gram, strict=True)
        ]
        downhill = [
            i
            for i, slope in enumerate(slopes)
            if slope > flat and i not in free and i not in useless
        ]
        if not downhill:
            return x
        steepest = max(downhill, key=slopes.__getitem__)
        free.append(steepest)
        _settle(gram, aims, x, free)
        free = [i for i in free if x[i] > 0]
        # Only what lowers the error goes on, so that no set comes back.
        error = math.sumprod(x, [math.sumprod(row, x) for row in gram])
        error -= 2 * math.sumprod(aims, x)
        if error < least:
            least = error
            useless.clear()
        else:
            useless.add(steepest)


def _settle(gram: Matrix, aims: Vector, x: Vector, free: list[int]) -> None:
    """Solve over the free columns, freezing those that reach zero on the way.

    A last column that depends on the others leaves x as it is.
    """
    while True:
        factor, used = _cholesky(gram, free)
        if len(used) < len(free):
            return
        best = dict(
            zip(used, _substitute(factor, [aims[i] for i in used]), strict=True)
        )
        below = [i for i in used if best[i] <= 0]
        if not below:
            for i in used:
                x[i] = best[i]
            return
        nearest = min(below, key=lambda i: x[i] / (x[i] - best[i] or 1.0))
        step = x[nearest] / (x[nearest] - best[nearest] or 1.0)
        for i in used:
            x[i] = max(0.0, x[i] + step * (best[i] - x[i]))
        x[nearest] = 0.0
        free = [i for i in used if x[i] > 0]


def _cholesky(gram: Matrix, chosen: Sequence[int]) -> tuple[Matrix, list[int]]:
    """Factor the chosen part of a Gram matrix, leaving out dependent columns."""
    factor: Matrix = []
    used: list[int] = []
    for i in chosen:
        row: Vector = []
        for j, done in zip(used, factor, strict=True):
            row.append((gram[i][j] - math.sumprod(row, done[: len(row)])) / done[-1])
        pivot = gram[i][i] - math.sumprod(row, row)
        if pivot > _DEPENDENT * gram[i][i]:
            factor.append([*row, math.sqrt(pivot)])
            used.append(i)
    return factor, used


def _substitute(factor: Matrix, values: Vector) -> Vector:
    """Solve L L' x = values."""
    x: Vector = []
    for row, value in zip(factor, values, strict=True):
        x.append((value - math.sumprod(row[:-1], x)) / row[-1])
    for i in reversed(range(len(x))):
        x[i] -= math.fsum(factor[k][i] * x[k] for k in range(i + 1, len(x)))
        x[i] /= factor[i][i]
    return x
