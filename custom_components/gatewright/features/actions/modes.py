"""Modes of a whole system: automatic, start block and fire alarm shutdown."""

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

from ...core.config import COLLECTOR
from ...core.control.alarms import AlarmKind
from ...core.control.enums import RefusedError
from ...core.inputs import Mode, ModeSet
from ...runtime.errors import refusal_error
from ...runtime.permissions import Permission, Requester, register_action
from .occurrence import CONF_OCCURRENCE, check_occurrence
from .pause import pause_of
from .requests import CONF_DURATION, TIME_LIMIT
from .targets import systems

SERVICE_PAUSE_AUTOMATIC = "pause_automatic"
SERVICE_RESUME_AUTOMATIC = "resume_automatic"
SERVICE_LOCK_OUT = "block_starts"
SERVICE_LIFT_START_BLOCK = "allow_starts"
SERVICE_RESET_FIRE_SHUTDOWN = "reset_fire_shutdown"


@callback
def async_setup_modes(hass: HomeAssistant) -> None:
    """Register the actions."""
    plain = cv.make_entity_service_schema({})
    register_action(
        hass,
        SERVICE_PAUSE_AUTOMATIC,
        _pause,
        cv.make_entity_service_schema({vol.Optional(CONF_DURATION): TIME_LIMIT}),
        deed=Permission.MOVE,
        supports_response=SupportsResponse.OPTIONAL,
    )
    register_action(
        hass, SERVICE_RESUME_AUTOMATIC, _resume, plain, deed=Permission.MOVE
    )
    register_action(hass, SERVICE_LOCK_OUT, _block_starts, plain, deed=Permission.MOVE)
    register_action(
        hass, SERVICE_LIFT_START_BLOCK, _lift_start_block, plain, deed=Permission.MOVE
    )
    register_action(
        hass,
        SERVICE_RESET_FIRE_SHUTDOWN,
        _reset_fire_shutdown,
        cv.make_entity_service_schema({vol.Optional(CONF_OCCURRENCE): cv.string}),
        deed=Permission.MOVE,
    )


async def _pause(call: ServiceCall, asker: Requester) -> ServiceResponse:
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


async def _resume(call: ServiceCall, asker: Requester) -> None:
    for system in await systems(call, asker, "automatic"):
        pause_of(system).end()


async def _block_starts(call: ServiceCall, asker: Requester) -> None:
    for system in await systems(call, asker, "start_block"):
        system.handle(ModeSet(Mode.START_BLOCK, on=True))


async def _lift_start_block(call: ServiceCall, asker: Requester) -> None:
    for system in await systems(call, asker, "start_block"):
        system.handle(ModeSet(Mode.START_BLOCK, on=False))


async def _reset_fire_shutdown(call: ServiceCall, asker: Requester) -> None:
    """Reset the fire alarm shutdown, unless a detector still reports fire."""
    found = await systems(call, asker, "collector")
    check_occurrence(call, found, AlarmKind.FIRE_SHUTDOWN)
    for system in found:
        try:
            system.answer(AlarmKind.FIRE_SHUTDOWN, COLLECTOR)
        except RefusedError as err:
            raise refusal_error(err, system.entry.title) from err
