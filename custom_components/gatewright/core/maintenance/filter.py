"""When the filter needs cleaning, and when cleaning no longer helps."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from statistics import linear_regression, median
from typing import Any, NamedTuple

from ..times import earliest
from ..units import HOUR
from .config import FilterConfig

_SLICE = 600.0
"""Seconds of running whose readings are told as one: the level moves by hours."""

_SLICES_KEPT = 150
_BASES_KEPT = 30

_FIRST = 3
"""Slices after a cleaning whose median is the level that the cleaning left; fewer
where it is cleaned more often."""

_ENOUGH = 5
"""Slices from which on a rate of rise is told."""

_LEAST_FLOW = 0.3
"""Share of the reference flow below which a pressure says too little to be scaled."""

_FARTHEST = 5000 * HOUR
"""Seconds of running beyond which a rise is as good as none."""

_MOST_LOADED = 20.0
"""The loading is taken for no more than this: beyond it nothing flows."""

_LONG = 20
"""Readings kept within a slice."""


class FilterWork(StrEnum):
    """What the filter needs."""

    NOTHING = "nothing"
    CLEAN = "clean"
    REPLACE = "replace"


class FilterReason(StrEnum):
    """Why the filter needs work."""

    HOURS = "hours"
    PRESSURE = "pressure"
    CREEP = "creep"
    """Cleaning leaves it too dense: what is in the medium does not come out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterState:
    """What the filter needs and why, and how long it will do without.

    `level` is the pressure now and `base` what the last cleaning left, in Pa at the
    reference flow; `rise` is Pa per hour of running. `clean_in` and `replace_in` are
    seconds of running, 0 where due, None where unknown. `measured` is False for
    pressures that were computed.
    """

    work: FilterWork
    reason: FilterReason | None
    since_cleaned: float
    since_replaced: float
    level: float | None
    base: float | None
    rise: float | None
    clean_in: float | None
    replace_in: float | None
    measured: bool


class _Slice(NamedTuple):
    """Hours of running since the cleaning, and the pressure then in Pa."""

    hours: float
    pressure: float


class FilterMonitor:
    """The filter of one collector.

    Pressures are brought to the reference flow in proportion, since air creeps
    through a filter and its cake: loss grows with the first power of the flow
    (Darcy's law; as filter drag in EPA's Air Pollution Control Cost Manual, chapter
    on baghouses, from memory).
    """

    def __init__(self, plan: FilterConfig) -> None:
        self.plan = plan
        self.since_cleaned = 0.0
        self.since_replaced = 0.0
        self.cleanings = 0
        self.cleaned_at: float | None = None
        self.replaced_at: float | None = None
        self.measured = True
        self._bases: list[float] = []
        self._slices: list[_Slice] = []
        self._readings: list[float] = []
        self._slice_began = 0.0

    def run(self, seconds: float) -> None:
        """Note that the collector ran for some seconds."""
        self.since_cleaned += seconds
        self.since_replaced += seconds

    def read(
        self,
        pressure: float | None,
        flow: float | None = None,
        *,
        measured: bool = True,
    ) -> None:
        """Take the loss over the filter in Pa while the collector runs.

        `flow` in m3/s brings it to the plan's flow; `measured` is False for a loss
        that was computed. None, and what a stopped collector reads, says nothing.
        """
        if pressure is None or pressure <= 0:
            return
        if flow is not None and self.plan.flow is not None:
            if flow < _LEAST_FLOW * self.plan.flow:
                return
            pressure *= self.plan.flow / flow
        self.measured = measured
        if self._readings and self.since_cleaned - self._slice_began >= _SLICE:
            self._close_slice()
        if not self._readings:
            self._slice_began = self.since_cleaned
        self._readings.append(pressure)
        if len(self._readings) > _LONG:
            # Every other one stands for the slice as well as all of them.
            del self._readings[::2]

    def cleaned(self, when: datetime) -> None:
        """Note that the filter was cleaned."""
        self._keep_base()
        self.cleanings += 1
        self.cleaned_at = when.timestamp()
        self._begin()

    def replaced(self, when: datetime) -> None:
        """Note that the filter was replaced by a new one."""
        self.replaced_at = self.cleaned_at = when.timestamp()
        self.since_replaced = 0.0
        self.cleanings = 0
        self._bases.clear()
        self._begin()

    @property
    def level(self) -> float | None:
        """The loss now, in Pa at the reference flow."""
        if self._readings:
            return median(self._readings)
        return self._slices[-1].pressure if self._slices else None

    @property
    def loading(self) -> float:
        """The measured loss over that of the clean filter; 1 where either is unknown."""
        level, clean = self.level, self.plan.loss
        if level is None or not clean or self.plan.flow is None or not self.measured:
            return 1.0
        return level / clean

    @property
    def base(self) -> float | None:
        """The loss that the last cleaning left, in Pa; None until that is known."""
        if not self._slices:
            return None
        return median(piece.pressure for piece in self._slices[:_FIRST])

    @property
    def bases(self) -> Sequence[float]:
        """What earlier cleanings left, the new filter's first, in Pa."""
        return (*self._bases, *(() if self.base is None else (self.base,)))

    @property
    def rise(self) -> float | None:
        """The rate of rise since the cleaning, in Pa per hour of running."""
        if len(self._slices) < _ENOUGH:
            return None
        return linear_regression(*zip(*self._slices, strict=True)).slope

    @property
    def replace_at(self) -> float:
        """The loss in Pa from which on what cleaning leaves means replacement."""
        if self.plan.replace_at is not None:
            return self.plan.replace_at
        first = self.bases[0] if self.bases else 0.0
        return max(first, (first + self.plan.clean_at) / 2)

    def state(self) -> FilterState:
        """Return what the filter needs."""
        clean_in = earliest(
            (_left(self.plan.clean_after, self.since_cleaned), self._pressure_left())
        )
        replace_in = _left(self.plan.replace_after, self.since_replaced)
        work, reason = FilterWork.NOTHING, None
        crept = self._crept()
        if replace_in == 0 or crept:
            work = FilterWork.REPLACE
            reason = FilterReason.CREEP if crept else FilterReason.HOURS
            replace_in = 0.0
        elif clean_in == 0:
            work = FilterWork.CLEAN
            by_pressure = self._pressure_left() == 0
            reason = FilterReason.PRESSURE if by_pressure else FilterReason.HOURS
        return FilterState(
            work=work,
            reason=reason,
            since_cleaned=self.since_cleaned,
            since_replaced=self.since_replaced,
            level=self.level,
            base=self.base,
            rise=self.rise,
            clean_in=clean_in,
            replace_in=replace_in,
            measured=self.measured,
        )

    def save(self) -> dict[str, Any]:
        """Return everything as plain data."""
        return {
            "since_cleaned": self.since_cleaned,
            "since_replaced": self.since_replaced,
            "cleanings": self.cleanings,
            "cleaned_at": self.cleaned_at,
            "replaced_at": self.replaced_at,
            "measured": self.measured,
            "bases": self._bases,
            "slices": [list(piece) for piece in self._slices],
        }

    def restore(self, data: Mapping[str, Any]) -> None:
        """Take over what `save` returned; an unfinished slice is left out."""
        self.since_cleaned = data.get("since_cleaned", 0.0)
        self.since_replaced = data.get("since_replaced", 0.0)
        self.cleanings = data.get("cleanings", 0)
        self.cleaned_at = data.get("cleaned_at")
        self.replaced_at = data.get("replaced_at")
        self.measured = data.get("measured", True)
        self._bases = list(data.get("bases", ()))
        self._slices = [_Slice(*piece) for piece in data.get("slices", ())]
        self._readings = []

    def _begin(self) -> None:
        self.since_cleaned = 0.0
        self._slices.clear()
        self._readings.clear()

    def _keep_base(self) -> None:
        if len(self._readings) >= _FIRST:
            self._close_slice()
        if self.base is not None:
            self._bases.append(self.base)
        if len(self._bases) > _BASES_KEPT:
            # The new filter's stays.
            del self._bases[1]

    def _close_slice(self) -> None:
        middle = (self._slice_began + self.since_cleaned) / 2
        self._slices.append(_Slice(middle / HOUR, median(self._readings)))
        self._readings.clear()
        if len(self._slices) > _SLICES_KEPT:
            # The first ones are what the cleaning left; the rest thins out.
            del self._slices[_FIRST::2]

    def _pressure_left(self) -> float | None:
        """Return the seconds of running until the limit; None where unknown."""
        level, rise = self.level, self.rise
        if level is None or not self._slices:
            return None
        if level >= self.plan.clean_at:
            return 0.0
        if rise is None or rise <= 0:
            return None
        left = (self.plan.clean_at - level) / rise * HOUR
        return left if left <= _FARTHEST else None

    def _crept(self) -> bool:
        """Whether what cleaning leaves is too much, for this and the last cleaning."""
        left = self.bases
        # One cleaning may have been a poor one.
        return len(left) > 2 and min(left[-2:]) >= self.replace_at


def clamped_loading(loading: float) -> float:
    """Return a filter's loading within what one can have."""
    return min(_MOST_LOADED, max(1.0, loading))


def _left(limit: float | None, spent: float) -> float | None:
    return None if limit is None else max(0.0, limit - spent)
