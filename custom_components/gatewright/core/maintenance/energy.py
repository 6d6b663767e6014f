"""Energy and what it costs: the collector's by its power, machines' by their counters."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
import math
from typing import Any, NamedTuple

from ..units import JOULES_PER_KWH


class EnergyMeter:
    """Integrates readings of power, each holding until the next one.

    A smart plug reports when its power changes, and is silent while it does not: so
    the last reading is the best guess of the present one. A straight line between
    readings would be better for a meter that reports by the clock, but between the
    0 W of the morning and the 1500 W of the first cut it would invent half an hour's
    energy for every hour of rest.
    """

    def __init__(self) -> None:
        self.price: float | None = None
        self._watts: float | None = None
        self._seen: float | None = None
        self._energy = 0.0
        self._cost = 0.0

    def read(self, watts: float | None, now: float) -> None:
        """Take a reading in W; None stops counting until the next one."""
        self._book(now)
        usable = watts is not None and math.isfinite(watts)
        # A plug wired the other way round reads negative.
        self._watts = abs(watts) if watts is not None and usable else None

    def set_price(self, price: float | None, now: float) -> None:
        """Set what a kWh costs from now on; None is "not known"."""
        self._book(now)
        self.price = price

    def drain(self, now: float) -> tuple[float, float]:
        """Return the energy in J and its cost since the last call."""
        self._book(now)
        drained = self._energy, self._cost
        self._energy = self._cost = 0.0
        return drained

    def _book(self, now: float) -> None:
        passed = 0.0 if self._seen is None else max(0.0, now - self._seen)
        self._seen = now
        if self._watts is None:
            return
        energy = self._watts * passed
        self._energy += energy
        if self.price is not None:
            self._cost += energy / JOULES_PER_KWH * self.price


class Energy(NamedTuple):
    """What was used, in J, and what it cost."""

    used: float
    cost: float


@dataclass(slots=True)
class _Counter:
    """What a plug counted last, and what of it is not booked yet; J and money.

    `peak` is what it had counted before it fell back, until it grows.
    """

    source: str
    last: float
    peak: float | None = None
    used: float = 0.0
    cost: float = 0.0

    def move(self, counted: float) -> float:
        """Take what it has counted; returns what that adds, in J."""
        last, peak = self.last, self.peak
        if counted < last:
            if counted < 0.9 * last:
                self.peak, self.last = last if peak is None else peak, counted
            return 0.0
        self.last = counted
        if counted > last:
            self.peak = None
        return counted - (last if peak is None or counted < peak else peak)


class MachineCounters:
    """Books what the energy counters of the machines' plugs add.

    A counter that falls back by more than a tenth begins anew, as a plug's does at
    midnight or when it is reset; a smaller step back is noise. One that stands where it
    was at the next reading fell for a moment only: that is not counted again. One that
    was away for a while counted on meanwhile; another plug's begins at what it shows.
    """

    def __init__(self) -> None:
        self.price: float | None = None
        self._counters: dict[str, _Counter] = {}
        self._grown: set[str] = set()

    def read(self, machine_id: str, source: str, counted: float | None) -> None:
        """Take what a plug has counted, in J; None is "not known"."""
        if counted is None or not math.isfinite(counted) or counted < 0:
            return
        counter = self._counters.get(machine_id)
        if counter is None:
            self._counters[machine_id] = _Counter(source, counted)
            return
        if counter.source != source:
            counter.source, counter.last, counter.peak = source, counted, None
            return
        if (used := counter.move(counted)) > 0:
            counter.used += used
            counter.cost += used / JOULES_PER_KWH * (self.price or 0.0)
            self._grown.add(machine_id)

    def drain(self) -> Mapping[str, Energy]:
        """Return what was added since the last call."""
        grown = {}
        for machine_id in self._grown:
            counter = self._counters[machine_id]
            grown[machine_id] = Energy(counter.used, counter.cost)
            counter.used = counter.cost = 0.0
        self._grown.clear()
        return grown

    def adopt(self, old: str, new: str) -> None:
        """Hand the counter of one machine over to another, in place of its own."""
        if (counter := self._counters.pop(old, None)) is not None:
            self._counters[new] = counter
            if counter.used:
                self._grown.add(new)
            self._grown.discard(old)

    def save(self) -> dict[str, dict[str, Any]]:
        """Return everything as plain data."""
        return {m: asdict(counter) for m, counter in self._counters.items()}

    def restore(self, data: Mapping[str, Mapping[str, Any]]) -> None:
        """Take over what `save` returned."""
        self._counters = {m: _Counter(**counter) for m, counter in data.items()}
        self._grown = {m for m, counter in self._counters.items() if counter.used}
