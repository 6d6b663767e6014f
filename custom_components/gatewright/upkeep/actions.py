"""Actions that say what was done: emptied, cleaned, replaced, seen to."""

from typing import Any

from homeassistant.core import HomeAssistant, ServiceCall, callback
from homeassistant.helpers import config_validation as cv
import voluptuous as vol

from ..actions.occurrence import CONF_OCCURRENCE, check_occurrence
from ..actions.targets import systems
from ..gatekeeper import Asker, Deed, register_action
from ..given import number
from ..refusals import refusal
from ..shop.alarms import AlarmKind
from ..shop.upkeep.keeper import NeedKind
from ..shop.upkeep.plan import ServiceInterval
from ..system_context import SystemContext
from ..upkeep.hub import UpkeepHub

SERVICE_MARK_EMPTIED = "mark_bin_emptied"
SERVICE_MARK_CLEANED = "mark_filter_cleaned"
SERVICE_MARK_REPLACED = "mark_filter_replaced"
SERVICE_MARK_SERVICED = "mark_serviced"

CONF_SHARE = "share"
CONF_SERVICE = "service"

_CONTROLS = "automatic"
"""The switch that whoever says such a thing has to be allowed to use."""


@callback
def async_setup_upkeep(hass: HomeAssistant) -> None:
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
            deed=Deed.MOVE,
        )


async def _emptied(call: ServiceCall, asker: Asker) -> None:
    share: float | None = call.data.get(CONF_SHARE)
    found = await systems(call, asker, _CONTROLS)
    for system in found:
        if system.of(UpkeepHub).keeper.bin is None:
            raise refusal("bin_not_looked_after", name=system.entry.title)
    check_occurrence(call, found, AlarmKind.BIN_FULL, AlarmKind.BIN_NEARLY_FULL)
    for system in found:
        system.of(UpkeepHub).bin_emptied(None if share is None else share / 100)


async def _cleaned(call: ServiceCall, asker: Asker) -> None:
    found = await _with_filter(call, asker)
    check_occurrence(
        call, found, AlarmKind.FILTER_CLEAN_DUE, AlarmKind.FILTER_PRESSURE_HIGH
    )
    for system in found:
        system.of(UpkeepHub).filter_cleaned()


async def _replaced(call: ServiceCall, asker: Asker) -> None:
    found = await _with_filter(call, asker)
    check_occurrence(
        call,
        found,
        AlarmKind.FILTER_CLEAN_DUE,
        AlarmKind.FILTER_REPLACE_DUE,
        AlarmKind.FILTER_PRESSURE_HIGH,
    )
    for system in found:
        system.of(UpkeepHub).filter_replaced()


async def _with_filter(call: ServiceCall, asker: Asker) -> list[SystemContext]:
    found = await systems(call, asker, _CONTROLS)
    for system in found:
        if system.of(UpkeepHub).keeper.filter is None:
            raise refusal("filter_not_looked_after", name=system.entry.title)
    return found


async def _serviced(call: ServiceCall, asker: Asker) -> None:
    """Begin an interval anew: the one that is named, else all that are due."""
    named: str | None = call.data.get(CONF_SERVICE)
    found = await systems(call, asker, _CONTROLS)
    check_occurrence(call, found, AlarmKind.SERVICE_DUE)
    done = [(system, _services(system, named)) for system in found]
    for system, services in done:
        for service_id in services:
            system.of(UpkeepHub).service_done(service_id)


def _services(system: SystemContext, named: str | None) -> list[str]:
    if named is None:
        needs = system.of(UpkeepHub).seen.needs
        due = [need.part for need in needs if need.kind is NeedKind.SERVICE_DUE]
        if not due:
            raise refusal("no_service_due", name=system.entry.title)
        return due
    wanted = named.strip().casefold()

    def meant(service: ServiceInterval) -> bool:
        return wanted in (service.service_id.casefold(), service.name.casefold())

    found = [
        s.service_id for s in system.of(UpkeepHub).keeper.plan.services if meant(s)
    ]
    if not found:
        raise refusal("no_such_service", name=system.entry.title, service=named)
    return found
