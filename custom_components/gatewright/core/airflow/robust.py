"""Bounded, robust least squares of a few unknowns, with how sure the answer is.

Levenberg-Marquardt on Huber's loss by iterated weights, steps held within bounds.
Small enough for a shop's handful of readings; the tests hold it against SciPy.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf, sqrt

from .errors import require

type Vector = list[float]
type Residuals = Callable[[Sequence[float]], Sequence[float]]

_STEP = 1e-4
_PASSES = 60
_SETTLED = 1e-10


@dataclass(frozen=True, slots=True)
class RobustFit:
    """The unknowns found, the standard deviation of each, and what is left.

    `deviations` are those of the linearized problem with its weights at the answer;
    residuals are taken to have a standard deviation of 1. `weights` below 1 are
    residuals that stand out and were counted less. `cost` is Huber's loss.
    """

    values: tuple[float, ...]
    deviations: tuple[float, ...]
    residuals: tuple[float, ...]
    weights: tuple[float, ...]
    cost: float


def fit(
    residuals: Residuals,
    start: Sequence[float],
    low: Sequence[float],
    high: Sequence[float],
    *,
    outlier: float = 2.0,
) -> RobustFit:
    """Return the unknowns that make residuals (in standard deviations) smallest.

    Those above `outlier` count in proportion, not with their square (P. J. Huber,
    Robust Statistics). Raises `AirflowError` for bounds that contradict each other.
    """
    require(
        all(a <= x <= b for x, a, b in zip(start, low, high, strict=True)),
        "bounds",
        "A start must lie within its bounds",
    )
    x = list(start)
    r = list(residuals(x))
    cost = _huber(r, outlier)
    damping = 1e-3
    for _ in range(_PASSES):
        weights = [_weight(value, outlier) for value in r]
        jacobian = _jacobian(residuals, x, r, low, high)
        normal, gradient = _normal(jacobian, r, weights)
        # What lies at a bound and would go beyond it stays there.
        free = [
            i
            for i, g in enumerate(gradient)
            if not ((x[i] <= low[i] and g > 0) or (x[i] >= high[i] and g < 0))
        ]
        moved = False
        for _ in range(20):
            step = _step(normal, gradient, free, damping)
            tried = [
                min(b, max(a, value + change))
                for value, change, a, b in zip(x, step, low, high, strict=True)
            ]
            found = list(residuals(tried))
            reached = _huber(found, outlier)
            if reached < cost:
                moved = True
                break
            damping *= 4.0
        if not moved:
            break
        settled = cost - reached <= _SETTLED * (1.0 + cost)
        x, r, cost = tried, found, reached
        damping = max(1e-9, damping / 10.0)
        if settled:
            break
    weights = [_weight(value, outlier) for value in r]
    normal, _ = _normal(_jacobian(residuals, x, r, low, high), r, weights)
    return RobustFit(
        tuple(x), tuple(_deviations(normal)), tuple(r), tuple(weights), cost
    )


def _step(
    normal: Sequence[Vector], gradient: Vector, free: Sequence[int], damping: float
) -> Vector:
    """Return a damped step of the unknowns that are free, 0 for the others."""
    damped = [
        [
            normal[i][j] + (damping * (normal[i][i] + 1e-12) if i == j else 0.0)
            for j in free
        ]
        for i in free
    ]
    found = solve(damped, [-gradient[i] for i in free])
    step = [0.0] * len(gradient)
    for i, change in zip(free, found, strict=True):
        step[i] = change
    return step


def _weight(residual: float, outlier: float) -> float:
    size = abs(residual)
    return 1.0 if size <= outlier else outlier / size


def _huber(residuals: Sequence[float], outlier: float) -> float:
    return sum(
        0.5 * r * r if abs(r) <= outlier else outlier * (abs(r) - 0.5 * outlier)
        for r in residuals
    )


def _jacobian(
    residuals: Residuals,
    x: Sequence[float],
    r: Sequence[float],
    low: Sequence[float],
    high: Sequence[float],
) -> list[Vector]:
    """Return the derivatives: one row for each unknown."""
    rows: list[Vector] = []
    for i, value in enumerate(x):
        step = _STEP if value + _STEP <= high[i] else -_STEP
        moved = list(x)
        moved[i] = value + step
        rows.append([(b - a) / step for a, b in zip(r, residuals(moved), strict=True)])
    return rows


def _normal(
    jacobian: Sequence[Vector], r: Sequence[float], weights: Sequence[float]
) -> tuple[list[Vector], Vector]:
    normal = [
        [
            sum(w * a * b for w, a, b in zip(weights, one, other, strict=True))
            for other in jacobian
        ]
        for one in jacobian
    ]
    gradient = [
        sum(w * a * b for w, a, b in zip(weights, row, r, strict=True))
        for row in jacobian
    ]
    return normal, gradient


def solve(matrix: Sequence[Sequence[float]], right: Sequence[float]) -> Vector:
    """Return the solution of linear equations, by elimination with pivots."""
    n = len(right)
    rows = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    for i in range(n):
        pivot = max(range(i, n), key=lambda k: abs(rows[k][i]))
        rows[i], rows[pivot] = rows[pivot], rows[i]
        head = rows[i][i] or 1e-300
        for k in range(i + 1, n):
            share = rows[k][i] / head
            if share:
                rows[k] = [a - share * b for a, b in zip(rows[k], rows[i], strict=True)]
    x = [0.0] * n
    for i in reversed(range(n)):
        known = sum(rows[i][j] * x[j] for j in range(i + 1, n))
        x[i] = (rows[i][n] - known) / (rows[i][i] or 1e-300)
    return x


def _deviations(normal: Sequence[Vector]) -> Vector:
    """Return the standard deviations: roots of the inverse's diagonal."""
    n = len(normal)
    found = []
    for i in range(n):
        column = solve(normal, [1.0 if j == i else 0.0 for j in range(n)])
        found.append(sqrt(column[i]) if column[i] > 0 else inf)
    return found
