"""Actions that report work as done: emptied, cleaned, replaced, serviced."""

from typing import Any

from homeassistant.core import HomeAssistant, ServiceCall, callback
from homeassistant.helpers import config_validation as cv
import voluptuous as vol

from ...core.control.alarms import AlarmKind
from ...core.maintenance.config import ServiceInterval
from ...core.maintenance.maintenance import DueWorkKind
from ...runtime.errors import validation_error
from ...runtime.parsing import number
from ...runtime.permissions import Permission, Requester, register_action
from ...runtime.system_context import SystemContext
from ..actions.occurrence import CONF_OCCURRENCE, check_occurrence
from ..actions.targets import systems
from .manager import MaintenanceManager

SERVICE_MARK_EMPTIED = "mark_bin_emptied"
SERVICE_MARK_CLEANED = "mark_filter_cleaned"
SERVICE_MARK_REPLACED = "mark_filter_replaced"
SERVICE_MARK_SERVICED = "mark_serviced"

CONF_SHARE = "share"
CONF_SERVICE = "service"

_CONTROLS = "automatic"
"""The switch that a caller must be allowed to control."""


@callback
def async_setup_maintenance(hass: HomeAssistant) -> None:
    """Register the actions."""
    actions: tuple[tuple[str, Any, dict[Any, Any]], ...] = (
        (
            SERVICE_MARK_EMPTIED,
            _emptied,
            {vol.Optional(CONF_SHARE): number(0, 120)},
        ),
        (SERVICE_MARK_CLEANED, _cleaned, {}),
        (SERVICE_MARK_REPLACED, _replaced, {}),
        (SERVICE_MARK_SERVICED, _serviced, {vol.Optional(CONF_SERVICE): cv.string}),
    )
    for name, handler, fields in actions:
        fields |= {vol.Optional(CONF_OCCURRENCE): cv.string}
        register_action(
            hass,
            name,
            handler,
            cv.make_entity_service_schema(fields),
            deed=Permission.MOVE,
        )


async def _emptied(call: ServiceCall, asker: Requester) -> None:
    share: float | None = call.data.get(CONF_SHARE)
    found = await systems(call, asker, _CONTROLS)
    for system in found:
        if system.of(MaintenanceManager).keeper.bin is None:
            raise validation_error("bin_not_looked_after", name=system.entry.title)
    check_occurrence(call, found, AlarmKind.BIN_FULL, AlarmKind.BIN_NEARLY_FULL)
    for system in found:
        system.of(MaintenanceManager).bin_emptied(
            None if share is None else share / 100
        )


async def _cleaned(call: ServiceCall, asker: Requester) -> None:
    found = await _with_filter(call, asker)
    check_occurrence(
        call, found, AlarmKind.FILTER_CLEAN_DUE, AlarmKind.FILTER_PRESSURE_HIGH
    )
    for system in found:
        system.of(MaintenanceManager).filter_cleaned()


async def _replaced(call: ServiceCall, asker: Requester) -> None:
    found = await _with_filter(call, asker)
    check_occurrence(
        call,
        found,
        AlarmKind.FILTER_CLEAN_DUE,
        AlarmKind.FILTER_REPLACE_DUE,
        AlarmKind.FILTER_PRESSURE_HIGH,
    )
    for system in found:
        system.of(MaintenanceManager).filter_replaced()


async def _with_filter(call: ServiceCall, asker: Requester) -> list[SystemContext]:
    found = await systems(call, asker, _CONTROLS)
    for system in found:
        if system.of(MaintenanceManager).keeper.filter is None:
            raise validation_error("filter_not_looked_after", name=system.entry.title)
    return found


async def _serviced(call: ServiceCall, asker: Requester) -> None:
    """Restart an interval: the named one, else all that are due."""
    named: str | None = call.data.get(CONF_SERVICE)
    found = await systems(call, asker, _CONTROLS)
    check_occurrence(call, found, AlarmKind.SERVICE_DUE)
    done = [(system, _services(system, named)) for system in found]
    for system, services in done:
        for service_id in services:
            system.of(MaintenanceManager).service_done(service_id)


def _services(system: SystemContext, named: str | None) -> list[str]:
    if named is None:
        needs = system.of(MaintenanceManager).seen.needs
        due = [need.part for need in needs if need.kind is DueWorkKind.SERVICE_DUE]
        if not due:
            raise validation_error("no_service_due", name=system.entry.title)
        return due
    wanted = named.strip().casefold()

    def meant(service: ServiceInterval) -> bool:
        return wanted in (service.service_id.casefold(), service.name.casefold())

    found = [
        s.service_id
        for s in system.of(MaintenanceManager).keeper.plan.services
        if meant(s)
    ]
    if not found:
        raise validation_error(
            "no_such_service", name=system.entry.title, service=named
        )
    return found
