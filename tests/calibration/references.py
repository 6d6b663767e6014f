"""Other ways to cut a distribution, made from their definitions with NumPy and SciPy."""

from collections.abc import Sequence
from itertools import combinations
import math

import numpy as np
from scipy import optimize


def least_error(weights: Sequence[float], parts: int, spread: float) -> float:
    """Return the least criterion of Kittler and Illingworth by trying every cut."""
    shares = np.asarray(weights, dtype=float) / math.fsum(weights)
    places = np.arange(len(weights))
    best = math.inf
    for cuts in combinations(range(1, len(weights)), parts - 1):
        error = 0.0
        for first, last in zip((0, *cuts), (*cuts, len(weights)), strict=True):
            share = shares[first:last]
            if share.sum() <= 0:
                error = math.inf
                break
            mean = np.average(places[first:last], weights=share)
            variance = np.average((places[first:last] - mean) ** 2, weights=share)
            deviation = math.sqrt(variance + spread**2)
            error += share.sum() * (math.log(deviation) - math.log(share.sum()))
        best = min(best, error)
    return best


def otsu(weights: Sequence[float]) -> int:
    """Return the first class of the upper part, by the variance between two parts.

    Source: Otsu, "A threshold selection method from gray-level histograms", IEEE
    Transactions on Systems, Man, and Cybernetics 9 (1979) 62-66. Of equally good cuts,
    the one in their middle.
    """
    shares = np.asarray(weights, dtype=float) / math.fsum(weights)
    below = np.cumsum(shares)[:-1]
    moment = np.cumsum(shares * np.arange(len(shares)))
    with np.errstate(divide="ignore", invalid="ignore"):
        between = (moment[-1] * below - moment[:-1]) ** 2 / (below * (1 - below))
    between = np.nan_to_num(between, nan=0.0, posinf=0.0)
    best = np.flatnonzero(between >= between.max() * (1 - 1e-12))
    return int(best[len(best) // 2]) + 1


def gaussian_mixture(weights: Sequence[float]) -> int:
    """Return the first class that belongs to the upper of two normal distributions.

    Their means, deviations and shares are those of the greatest likelihood, found by
    SciPy's minimizer from two starts: the parts that Otsu cuts, and nearly everything
    against the little at the far end.
    """
    share = np.asarray(weights, dtype=float) / math.fsum(weights)
    places = np.arange(len(share), dtype=float)

    def parts(values: np.ndarray) -> np.ndarray:
        mean, log_deviation, odds = values[:2], values[2:4], values[4]
        upper = 1.0 / (1.0 + math.exp(-odds))
        distance = (places - mean[:, None]) / np.exp(log_deviation)[:, None]
        heights = np.array([1.0 - upper, upper]) / np.exp(log_deviation)
        return np.asarray(heights[:, None] * np.exp(-0.5 * distance**2))

    def unlikelihood(values: np.ndarray) -> float:
        return -float(share @ np.log(parts(values).sum(axis=0) + 1e-200))

    cut = otsu(weights)
    far = float(np.flatnonzero(share > 1e-7)[-1])
    starts = [
        (
            float(np.average(places[:cut], weights=share[:cut])),
            float(np.average(places[cut:], weights=share[cut:])),
            math.log(share[cut:].sum() / share[:cut].sum()),
        ),
        (float(share @ places), far, -5.0),
    ]
    fits = [
        optimize.minimize(
            unlikelihood,
            [low, high, math.log(5.0), math.log(5.0), odds],
            method="L-BFGS-B",
            bounds=[(-50, 500)] * 2
            + [(math.log(2.5), math.log(60.0))] * 2
            + [(-12, 9)],
        )
        for low, high, odds in starts
    ]
    best = min(fits, key=lambda fit: float(fit.fun)).x
    lower, upper = parts(best)
    if best[0] > best[1]:
        lower, upper = upper, lower
    between = (places > min(best[:2])) & (places < max(best[:2]))
    return int(np.flatnonzero(between & (upper > lower))[0])
