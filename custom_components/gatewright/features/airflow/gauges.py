"""Reads a system's gauges, interprets them, and tracks the filter's loading."""

from collections.abc import Callable
from functools import partial
from typing import Final

from ...core.airflow import Diagnosis, Network
from ...core.maintenance.filter import clamped_loading
from ...core.maintenance.maintenance import Maintenance
from ...runtime.system_context import SystemContext
from .measured import Remembered, compare, measured
from .snapshot import AirNow
from .source import AirSource

_SAME_LOADING: Final = 0.08
"""The relative change of loading that counts: a small gauge's error."""


class Gauges:
    """One system's gauges, compared with the computed values for a clean filter."""

    def __init__(self, system: SystemContext, air: AirSource) -> None:
        self.loading = 1.0
        """The filter's resistance relative to a clean one, measured or found."""
        self.clean: Network | None = None
        """The network as entered or calibrated, with a clean filter."""
        self._keeper: Maintenance | None = None
        self._system = system
        self._air = air
        self._remembered = Remembered()
        self._cleaned: tuple[float | None, float | None] = (None, None)

    def recall(self, keeper: Maintenance) -> None:
        """Use what was known about the filter before a restart."""
        self._keeper = keeper
        self._cleaned = _cleaned(keeper)
        self.loading = keeper.filter_loading

    def cleaned(self) -> None:
        """Treat the filter as clean again: somebody cleaned or replaced it."""
        self._see_cleaning()
        self._follow(1.0)

    def replan(self, network: Network | None) -> None:
        """Apply what the owner entered; older readings no longer fit."""
        self.clean = network
        self._remembered.forget()

    def compare(self, now: AirNow | None, *, calibrated: bool) -> None:
        """Read the gauges and have them interpreted."""
        self._see_cleaning()
        air = self._air
        air.readings = measured(air.pressures, self._system.hass.states.get)
        if (
            self.clean is None
            or now is None
            or now.solution is None
            or not air.readings
        ):
            air.diagnosis = None
            air.notify()
            return
        before = self._remembered.take(now.gates, now.speed, air.readings)
        work = partial(
            compare,
            self.clean,
            now.gates,
            now.speed,
            air.readings,
            before,
            calibrated=calibrated,
        )
        self._system.entry.async_create_task(
            self._system.hass, self._diagnose(work, now), "gatewright air compared"
        )

    async def _diagnose(
        self, work: Callable[[], Diagnosis | None], now: AirNow
    ) -> None:
        """Find the causes in a thread: there may be many candidates."""
        found = await self._system.hass.async_add_executor_job(work)
        air = self._air
        if air.now is not now:
            return
        air.diagnosis = found
        if found is not None and found.loading is not None:
            self._follow(found.loading)
        air.notify()

    def _follow(self, loading: float) -> None:
        """Compute with the filter's present loading from now on, and keep it."""
        loading = round(clamped_loading(loading), 1)
        # A trembling gauge must not trigger constant recalculation.
        if abs(loading / self.loading - 1.0) > _SAME_LOADING:
            self.loading = loading
            if self._keeper is not None:
                self._keeper.filter_loading = loading
            self._air.load_filter(loading)

    def _see_cleaning(self) -> None:
        """Forget what was read before the last cleaning.

        A shaker leaves some dust in the filter, so the loading stays until the gauges
        show what is left.
        """
        if (
            self._keeper is not None
            and (found := _cleaned(self._keeper)) != self._cleaned
        ):
            self._cleaned = found
            self._remembered.forget()


def _cleaned(keeper: Maintenance) -> tuple[float | None, float | None]:
    """Return when the filter was last cleaned and replaced, s since 1970."""
    core = keeper.filter
    return (None, None) if core is None else (core.cleaned_at, core.replaced_at)
