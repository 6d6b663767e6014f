"""The collector's energy and what it costs, from readings of its power."""

import math

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
