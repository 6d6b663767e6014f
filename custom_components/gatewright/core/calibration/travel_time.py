"""Whether the travel time that was entered for a gate fits its measured strokes."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
import math

_STROKES_NEEDED = 5
_RECENT = 5
_TOO_LONG = 2.0
_TOO_SHORT = 1.1
_RESERVE = 4 / 3
_STEP = 0.5
_LEAST_REAL = 0.2
"""Seconds below which a gate only repeats what it was told: a small pneumatic slide
takes some tenths of a second. Common practice, no source."""


class TravelMisfit(StrEnum):
    """How an entered travel time differs from what a gate needs."""

    TOO_LONG = "travel_too_long"
    TOO_SHORT = "travel_too_short"


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelProposal:
    """A travel time in s that fits better than the entered one, and the longest stroke."""

    misfit: TravelMisfit
    longest: float
    travel: float


def propose_travel(
    entered: float, opening: Sequence[float], closing: Sequence[float]
) -> TravelProposal | None:
    """Return what fits better than the `entered` travel time; None where that fits.

    `opening` and `closing` are measured strokes in s, the newest last. The longer way
    counts: the travel time is for both. Proposed is a third more than the longest of
    the last five, in half seconds. What is much and what is enough is common practice,
    no source.
    """
    if len(opening) < _STROKES_NEEDED:
        return None
    longest = max(*opening[-_RECENT:], *closing[-_RECENT:])
    if longest < _LEAST_REAL:
        return None
    if entered > _TOO_LONG * longest:
        misfit = TravelMisfit.TOO_LONG
    elif entered < _TOO_SHORT * longest:
        misfit = TravelMisfit.TOO_SHORT
    else:
        return None
    travel = math.ceil(round(longest * _RESERVE / _STEP, 6)) * _STEP
    if travel >= entered if misfit is TravelMisfit.TOO_LONG else travel <= entered:
        return None
    return TravelProposal(misfit=misfit, longest=longest, travel=travel)
