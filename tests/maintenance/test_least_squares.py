"""Our least squares compared with SciPy's, and with the conditions of an optimum."""

from collections.abc import Callable

from hypothesis import given, settings, strategies as st
import numpy as np
import pytest
from scipy.optimize import nnls

from custom_components.gatewright.core.maintenance import least_squares

type Table = np.ndarray[tuple[int, int], np.dtype[np.float64]]
type Line = np.ndarray[tuple[int], np.dtype[np.float64]]


def plain(rng: np.random.Generator, rows: int, columns: int) -> Table:
    return rng.normal(size=(rows, columns))


def positive(rng: np.random.Generator, rows: int, columns: int) -> Table:
    return np.abs(plain(rng, rows, columns))


def of_many_scales(rng: np.random.Generator, rows: int, columns: int) -> Table:
    return positive(rng, rows, columns) * 10.0 ** rng.uniform(-4, 4, size=columns)


def sparse(rng: np.random.Generator, rows: int, columns: int) -> Table:
    return plain(rng, rows, columns) * (rng.random((rows, columns)) < 0.3)


def twins(rng: np.random.Generator, rows: int, columns: int) -> Table:
    table = positive(rng, rows, columns)
    table[:, columns // 2 :] = table[:, : columns - columns // 2]
    return table


def nearly_dependent(rng: np.random.Generator, rows: int, columns: int) -> Table:
    powers = np.arange(columns)
    return rng.uniform(0, 1, size=(rows, 1)) ** powers


def ours(table: Table, values: Line) -> Line:
    solution, _ = least_squares.solve(table.tolist(), values.tolist())
    return np.array(solution)


@pytest.mark.parametrize(
    ("make", "within"),
    [
        (plain, 1e-12),
        (positive, 1e-12),
        (of_many_scales, 1e-12),
        (sparse, 1e-12),
        (twins, 1e-12),
        (nearly_dependent, 1e-5),
    ],
)
def test_leaves_no_more_error_than_scipy(
    make: Callable[[np.random.Generator, int, int], Table], within: float
) -> None:
    rng = np.random.default_rng(7)
    for number in range(150):
        rows, columns = int(rng.integers(1, 30)), int(rng.integers(1, 14))
        table = make(rng, rows, columns)
        values = rng.normal(size=rows)
        if number % 3 == 0:
            values = table @ np.abs(rng.normal(size=columns))
        solution = ours(table, values)
        _, least = nnls(table, values)
        assert solution.min() >= 0
        left = float(np.linalg.norm(table @ solution - values))
        assert left <= least + within * float(np.linalg.norm(values))


def test_finds_the_solution_that_scipy_finds() -> None:
    rng = np.random.default_rng(8)
    compared = 0
    for _ in range(300):
        columns = int(rng.integers(1, 12))
        table = plain(rng, columns + int(rng.integers(0, 20)), columns)
        if np.linalg.cond(table) > 1e3:
            continue
        values = rng.normal(size=len(table))
        expected, _ = nnls(table, values)
        assert ours(table, values) == pytest.approx(expected, rel=1e-8, abs=1e-10)
        compared += 1
    assert compared > 250


@given(
    st.integers(1, 6).flatmap(
        lambda columns: st.lists(
            st.lists(st.integers(-5, 5), min_size=columns + 1, max_size=columns + 1),
            min_size=1,
            max_size=8,
        )
    )
)
def test_no_step_lowers_the_error(lines: list[list[int]]) -> None:
    """Karush, Kuhn and Tucker: no slope where x > 0, none downhill where x = 0."""
    table = np.array([line[:-1] for line in lines], dtype=float)
    values = np.array([line[-1] for line in lines], dtype=float)
    solution = ours(table, values)
    slopes = table.T @ (table @ solution - values)
    scale = 1 + np.abs(table.T @ values).max()
    assert solution.min() >= 0
    assert slopes.min() >= -1e-7 * scale
    assert np.abs(slopes * solution).max() <= 1e-7 * scale * (1 + solution.max())


@settings(max_examples=30)
@given(st.integers(0, 10_000))
def test_spread_is_the_inverse_over_what_is_not_zero(seed: int) -> None:
    rng = np.random.default_rng(seed)
    table = plain(rng, 12, 5)
    values = rng.normal(size=12)
    solution, spread = least_squares.solve(table.tolist(), values.tolist())
    free = [i for i, value in enumerate(solution) if value > 0]
    part = table[:, free]
    expected = np.zeros((5, 5))
    expected[np.ix_(free, free)] = np.linalg.inv(part.T @ part)
    assert np.array(spread) == pytest.approx(expected, rel=1e-6, abs=1e-12)
    weights = rng.normal(size=5)
    assert least_squares.variance(spread, weights.tolist()) == pytest.approx(
        float(weights @ expected @ weights), rel=1e-6, abs=1e-12
    )


def test_columns_that_cannot_be_told_apart_count_as_one() -> None:
    """What tells two of them from each other is a millionth: the second is left out.

    SciPy takes it in place of the first, for a millionth less of error.
    """
    table = np.array([[1.0, 1.0, 0.0], [0.0, 1e-6, -1.0], [0.0, 0.0, 1.0]])
    values = np.array([10.0, -1.0, 4.0])
    solution = ours(table, values)
    assert solution == pytest.approx([10.0, 0.0, 2.5])
    expected, least = nnls(table, values)
    assert expected == pytest.approx([0.0, 10.0, 2.5], abs=1e-5)
    left = float(np.linalg.norm(table @ solution - values))
    assert left == pytest.approx(least, abs=1e-5)


def test_nothing_to_solve() -> None:
    assert least_squares.solve([[0.0, 0.0]], [1.0]) == ([0.0, 0.0], [[0, 0], [0, 0]])
    assert least_squares.solve([[1.0, -1.0]], [0.0])[0] == [0.0, 0.0]


@pytest.mark.parametrize(
    ("rows", "values"), [([], []), ([[1.0]], [1.0, 2.0]), ([[1.0], [1.0, 2.0]], [1, 1])]
)
def test_shapes_that_do_not_fit(rows: list[list[float]], values: list[float]) -> None:
    with pytest.raises(ValueError, match=r"values|shorter|longer"):
        least_squares.solve(rows, values)
