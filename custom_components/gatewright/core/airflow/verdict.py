"""Enough, marginal or too little: what a computed figure is worth against its limit.

Flows and velocities are computed from figures that are 10 to 15 % off (a maker's fan
curve, a hose's length, a table's coefficients; common practice, no source). What is
above its limit by less than that may be below it in the shop: it is marginal.
"""

from collections.abc import Iterable
from enum import StrEnum
from math import inf
from typing import Final

MARGIN: Final = 1.15
"""Ratio of a figure to its limit from which it is enough: the error of the figures."""

ROUNDING: Final = 0.005
"""Share of a limit that counts as met: what is shown as 100 % is not too little."""

BAND: Final = 0.02
"""Share of a limit that a figure must fall below it before its verdict falls, once it
was better: no verdict changes with the last digit."""


class Verdict(StrEnum):
    """What a figure is worth, best first."""

    ENOUGH = "enough"
    MARGINAL = "marginal"
    TOO_LITTLE = "too_little"


_ORDER: Final = tuple(Verdict)


def verdict(
    ratio: float, margin: float = MARGIN, before: Verdict | None = None
) -> Verdict:
    """Return what a ratio of present to needed is worth.

    `before` is what it was worth last: it falls only where the ratio is below the
    limit by `BAND`. Nothing needed is an infinite ratio.
    """
    for limit, found in ((max(1.0, margin), Verdict.ENOUGH), (1.0, Verdict.MARGINAL)):
        held = before is not None and _ORDER.index(before) <= _ORDER.index(found)
        if ratio >= limit * (1.0 - (BAND if held else ROUNDING)):
            return found
    return Verdict.TOO_LITTLE


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the worst of verdicts; of none, that it is enough."""
    return max(verdicts, key=_ORDER.index, default=Verdict.ENOUGH)


def ratio_of(present: float, needed: float) -> float:
    """Return present over needed, infinite where nothing is needed."""
    return present / needed if needed > 0 else inf


class Judge:
    """Remembers the last verdict on each figure, so that none flickers."""

    def __init__(self, margin: float = MARGIN) -> None:
        self.margin = margin
        self._known: dict[str, Verdict] = {}

    def judge(self, figure: str, ratio: float) -> Verdict:
        """Return the verdict on a figure by its name, and remember it."""
        found = verdict(ratio, self.margin, self._known.get(figure))
        self._known[figure] = found
        return found

    def known(self, figure: str) -> Verdict | None:
        """Return the last verdict on a figure; None without one."""
        return self._known.get(figure)
