"""Alarms for due work, and their end when a person has done it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from homeassistant.core import callback

from ...core.config import COLLECTOR
from ...core.control.alarms import AlarmKind, Condition
from ...core.control.switch_controller import SwitchController
from ...core.inputs import ConditionReported
from ...core.maintenance.bin_forecast import Forecast, Known, SeenBy
from ...core.maintenance.filter import FilterState
from ...core.maintenance.maintenance import DueWork, DueWorkKind, Maintenance
from ...core.maintenance.motor_service import ServiceState
from ...runtime.system_context import SystemContext
from .config import SERVICE_PREFIX

_ALARMS: Final = {
    DueWorkKind.BIN_NEARLY_FULL: AlarmKind.BIN_NEARLY_FULL,
    # The sequence reports sensors; these are the estimates.
    DueWorkKind.BIN_FULL: AlarmKind.BIN_NEARLY_FULL,
    DueWorkKind.FILTER_CLEAN: AlarmKind.FILTER_CLEAN_DUE,
    DueWorkKind.FILTER_REPLACE: AlarmKind.FILTER_REPLACE_DUE,
    DueWorkKind.SERVICE_DUE: AlarmKind.SERVICE_DUE,
}

_BIN: Final = (DueWorkKind.BIN_NEARLY_FULL, DueWorkKind.BIN_FULL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """The state of maintenance at the last look; None for what isn't there."""

    forecast: Forecast | None
    filter: FilterState | None
    services: Mapping[str, ServiceState]
    needs: tuple[DueWork, ...]


class Due:
    """The alarms of one system's maintenance."""

    def __init__(
        self,
        system: SystemContext,
        keeper: Maintenance,
        switches: SwitchController,
    ) -> None:
        self._system = system
        self._keeper = keeper
        self._switches = switches
        self._raised: set[Condition] = set()

    @callback
    def tell(self, look: Look, cleaner: str | None) -> None:
        """Raise what is due now, and clear what no longer is.

        `cleaner` is the part that cleans the filter.
        """
        system = self._system
        due = self._due(look, cleaner)
        if due == self._raised:
            return
        changes = self._raised ^ due
        self._raised = due
        with system.gather():
            for condition in changes:
                system.handle(ConditionReported(condition, condition in due))

    def _due(self, look: Look, cleaner: str | None) -> set[Condition]:
        due: set[Condition] = set()
        for need in look.needs:
            if need.kind in _BIN and self._sensor_knows_better(look.forecast):
                continue
            part = f"{SERVICE_PREFIX}{need.part}" if need.part else COLLECTOR
            due.add(Condition(_ALARMS[need.kind], part))
        faulty = self._switches.faulty(self._system.now())
        if cleaner is not None and self._cleans_in_vain():
            faulty.add(cleaner)
        return due | {
            Condition(AlarmKind.MAINTENANCE_NOT_SWITCHING, part) for part in faulty
        }

    def _sensor_knows_better(self, forecast: Forecast | None) -> bool:
        """Return whether a sensor knows better than the estimate about the bin."""
        guess = (
            forecast is not None
            and forecast.known is Known.GUESS
            and forecast.seen_by is not SeenBy.LEVEL_SENSOR
            and self._system.described.system.watching.bin_full is not None
        )
        return guess or self._system.sequence.bin.full

    def _cleans_in_vain(self) -> bool:
        cleaning = self._keeper.cleaning
        return not self._system.watching and cleaning is not None and cleaning.failed
