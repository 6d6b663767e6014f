"""Modes of a whole system: automatic, lockout, emergency."""

from datetime import timedelta

from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import config_validation as cv
import voluptuous as vol

from ..gatekeeper import Asker, Deed, register_action
from ..refusals import refused
from ..shop.alarms import AlarmKind
from ..shop.inputs import Mode, ModeSet
from ..shop.plan import COLLECTOR
from ..shop.words import Refused
from .air import CONF_DURATION, TIME_LIMIT
from .occurrence import CONF_OCCURRENCE, check_occurrence
from .pause import pause_of
from .targets import systems

SERVICE_PAUSE_AUTOMATIC = "pause_automatic"
SERVICE_RESUME_AUTOMATIC = "resume_automatic"
SERVICE_LOCK_OUT = "block_starts"
SERVICE_LIFT_LOCKOUT = "allow_starts"
SERVICE_RESET_EMERGENCY = "reset_fire_shutdown"


@callback
def async_setup_modes(hass: HomeAssistant) -> None:
    """Register the actions."""
    plain = cv.make_entity_service_schema({})
    register_action(
        hass,
        SERVICE_PAUSE_AUTOMATIC,
        _pause,
        cv.make_entity_service_schema({vol.Optional(CONF_DURATION): TIME_LIMIT}),
        deed=Deed.MOVE,
        supports_response=SupportsResponse.OPTIONAL,
    )
    register_action(hass, SERVICE_RESUME_AUTOMATIC, _resume, plain, deed=Deed.MOVE)
    register_action(hass, SERVICE_LOCK_OUT, _lock_out, plain, deed=Deed.MOVE)
    register_action(hass, SERVICE_LIFT_LOCKOUT, _lift_lockout, plain, deed=Deed.MOVE)
    register_action(
        hass,
        SERVICE_RESET_EMERGENCY,
        _reset_emergency,
        cv.make_entity_service_schema({vol.Optional(CONF_OCCURRENCE): cv.string}),
        deed=Deed.MOVE,
    )


async def _pause(call: ServiceCall, asker: Asker) -> ServiceResponse:
    duration: timedelta | None = call.data.get(CONF_DURATION)
    found = await systems(call, asker, "automatic")
    failed: list[ServiceValidationError] = []
    for system in found:
        try:
            await pause_of(system).begin(duration)
        except ServiceValidationError as err:
            failed.append(err)
    if failed:
        raise failed[0]
    return {
        "systems": [
            {
                "name": system.entry.title,
                "resumes": None
                if (until := pause_of(system).until) is None
                else until.isoformat(timespec="seconds"),
            }
            for system in found
        ]
    }


async def _resume(call: ServiceCall, asker: Asker) -> None:
    for system in await systems(call, asker, "automatic"):
        pause_of(system).end()


async def _lock_out(call: ServiceCall, asker: Asker) -> None:
    for system in await systems(call, asker, "start_block"):
        system.handle(ModeSet(Mode.START_BLOCK, on=True))


async def _lift_lockout(call: ServiceCall, asker: Asker) -> None:
    for system in await systems(call, asker, "start_block"):
        system.handle(ModeSet(Mode.START_BLOCK, on=False))


async def _reset_emergency(call: ServiceCall, asker: Asker) -> None:
    """Reset the emergency, unless a detector still gives it."""
    found = await systems(call, asker, "collector")
    check_occurrence(call, found, AlarmKind.EMERGENCY)
    for system in found:
        try:
            system.answer(AlarmKind.EMERGENCY, COLLECTOR)
        except Refused as err:
            raise refused(err, system.entry.title) from err
