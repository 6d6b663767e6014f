"""Levels in a distribution: where to cut it so that each part is one level.

Source: Kittler and Illingworth, "Minimum error thresholding", Pattern Recognition 19
(1986) 41-47: the parts are taken as normal distributions, each with its own spread and
share, and cut where the fewest readings would be put on the wrong side. Unlike a cut
that maximizes the variance between the parts, this one does not mind that a machine
sleeps for weeks and works for minutes. The best cuts are found by dynamic programming
over all classes, so there is no start value and no local optimum.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
import math

SPREAD = 2.5
"""Least spread of a level in classes: 15 %, less is the noise of one reading."""

_MOST = 6
_GAIN = 0.01


@dataclass(frozen=True, slots=True)
class Cuts:
    """A distribution cut into parts: the first class of each part but the lowest.

    `error` is the criterion; lower is better, also between numbers of parts.
    """

    error: float
    firsts: tuple[int, ...]


def best_cuts(
    weights: Sequence[float], most: int = _MOST, spread: float = SPREAD
) -> list[Cuts]:
    """Return the best cuts into 1, 2, ... `most` parts.

    `weights` is the weight by class, `spread` the least standard deviation of a part in
    classes. Each part holds some weight, so the list is shorter where fewer classes
    are in use. Raises `ValueError` where there is no weight at all.
    """
    if not any(weights):
        raise ValueError("nothing to cut")
    costs = _costs(weights, spread)
    size = len(weights)
    best = [math.inf, *(costs[last][0] for last in range(1, size + 1))]
    trails: list[list[int]] = []
    found = [Cuts(best[size], ())]
    for part in range(1, most):
        following = [math.inf] * (size + 1)
        trail = [0] * (size + 1)
        for last in range(part + 1, size + 1):
            row = costs[last]
            following[last], trail[last] = min(
                (best[cut] + row[cut], cut) for cut in range(part, last)
            )
        if math.isinf(following[size]):
            break
        best = following
        trails.append(trail)
        found.append(Cuts(best[size], tuple(_follow(trails, size))[::-1]))
    return found


def level_cuts(weights: Sequence[float]) -> tuple[int, ...]:
    """Return the cuts between the levels of a distribution, as many as pay."""
    chosen, *others = best_cuts(weights)
    for cuts in others:
        if cuts.error > chosen.error - _GAIN * (len(cuts.firsts) - len(chosen.firsts)):
            continue
        chosen = cuts
    return chosen.firsts


def _follow(trails: Sequence[Sequence[int]], size: int) -> Iterator[int]:
    last = size
    for trail in reversed(trails):
        last = trail[last]
        yield last


def _costs(weights: Sequence[float], spread: float) -> list[list[float]]:
    """Return what the classes from `first` to before `last` cost as one part.

    Indexed by `last`, then `first`. Infinite for a part without weight.
    """
    whole = math.fsum(weights)
    shares = [weight / whole for weight in weights]
    zeroth = [0.0, *accumulate(shares)]
    first = [0.0, *accumulate(share * at for at, share in enumerate(shares))]
    second = [0.0, *accumulate(share * at * at for at, share in enumerate(shares))]
    least = spread * spread
    costs: list[list[float]] = []
    for last in range(len(weights) + 1):
        row = []
        for start in range(last):
            share = zeroth[last] - zeroth[start]
            if share <= 1e-12:
                row.append(math.inf)
                continue
            mean = (first[last] - first[start]) / share
            variance = (second[last] - second[start]) / share - mean * mean
            # The logarithm of the standard deviation is half that of the variance.
            spread_term = 0.5 * math.log(max(0.0, variance) + least)
            row.append(share * (spread_term - math.log(share)))
        costs.append(row)
    return costs
