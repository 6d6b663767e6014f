"""Whether two levels on one plug belong to one machine, told by how they come together.

A reading tells how much is drawn, not by what. Four things look alike and are not:

- A motor's inrush: a high level for a moment, after which more is drawn than before. The
  lower level is the machine at work.
- A machine with several parts, such as a motor and a heater: the high level comes only
  within stays at the lower one, which vary, or hold few of them.
- A light or a charger beside a machine: a steady stay of hours that holds many runs of
  the machine or none at all, or the machine also runs without it.
- A machine that runs at various loads: there is no gap between the levels at all.

The figures are common practice, no published source.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
import math

from .distribution import quantile, trimmed_range
from .history import Interval, LevelStep, total

_INRUSH = 5.0
_ROSE = 1.3
_MOSTLY = 0.7
_SELDOM = 0.1
_LIGHT_ALONE, _PART_ALONE = 0.15, 0.5
"""So much of the time may go by without the higher level: a part seldom rests for long."""

_FEW_PARTS = 4
_STEADY = 1.35


class CoOccurrence(StrEnum):
    """What a higher level is to a lower one."""

    INRUSH = "inrush"
    """The motor of the lower one starts."""
    PART = "part"
    """Another part of the same machine works, such as a heater."""
    STRANGE = "strange"
    """Nothing says that they belong together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Nesting:
    """How the runs of a higher level lie in the stays of a lower one.

    Shares from 0 to 1: `inrush` of the runs that are a moment after which more is drawn
    than before, `bare` of those with no lower level before or after them, `alone` of the
    time of the stays without a run; `parts` is the usual number of runs in a stay that
    has some.
    """

    inrush: float
    bare: float
    alone: float
    parts: float


def co_occurrence(
    low: Sequence[Interval],
    high: Sequence[Interval],
    steps: Sequence[LevelStep],
    between: Sequence[LevelStep],
    beat: float,
    *,
    lasting: bool,
) -> CoOccurrence:
    """Return what a higher level is to a lower one.

    `low` and `high` are the stays at or above either, `steps` the whole record and
    `between` what of it is at the lower one alone, `beat` the reporting interval in s;
    `lasting` says that the lower one stands still for minutes, as a light does.
    """
    nesting = _nesting(low, high, steps, beat)
    if nesting.inrush >= _MOSTLY:
        return CoOccurrence.INRUSH
    alone = _LIGHT_ALONE if lasting else _PART_ALONE
    if nesting.bare > _SELDOM or nesting.alone > alone:
        return CoOccurrence.STRANGE
    if nesting.parts <= _FEW_PARTS or not _is_steady(between):
        return CoOccurrence.PART
    return CoOccurrence.STRANGE


def _nesting(
    low: Sequence[Interval],
    high: Sequence[Interval],
    steps: Sequence[LevelStep],
    beat: float,
) -> _Nesting:
    reach = max(3.0, 2.0 * beat)
    brief = max(_INRUSH, 1.1 * beat)
    begins = [first for first, _ in low]
    before = {step.end: step.value for step in steps}
    after = {step.at: step.value for step in steps}
    counts = [0] * len(low)
    inrush = bare = 0
    for first, last in high:
        at = bisect_right(begins, first) - 1
        counts[at] += 1
        early, late = first - low[at][0] <= reach, low[at][1] - last <= reach
        bare += early and late
        rose = after.get(last, 0.0) > _ROSE * before.get(first, math.inf)
        inrush += rose and not late and last - first <= brief
    held = sorted(count for count in counts if count)
    alone = [stay for stay, count in zip(low, counts, strict=True) if not count]
    return _Nesting(
        inrush=inrush / len(high),
        bare=bare / len(high),
        alone=total(alone) / total(low),
        parts=quantile(held, 0.5),
    )


def _is_steady(steps: Sequence[LevelStep]) -> bool:
    whole = sum(step.lasts for step in steps)
    low, high = trimmed_range(steps, below=0.1 * whole, above=0.1 * whole)
    return high <= _STEADY * low
