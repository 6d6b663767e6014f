"""Asking for air at machines, and withdrawing it."""

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
from homeassistant.util.json import JsonValueType
import voluptuous as vol

from ..air.live import AirMonitor
from ..gatekeeper import Asker, Deed, register_action
from ..given import duration
from ..refusals import refusal, refused
from ..shop.inputs import RequestMade, RequestWithdrawn
from ..shop.plan import COLLECTOR
from ..shop.words import Refusal, Refused
from .targets import Part, machines

SERVICE_REQUEST_AIR = "turn_on_collection"
SERVICE_WITHDRAW_AIR = "turn_off_collection"

CONF_DURATION = "duration"

_LONGEST = timedelta(hours=24)

_OF_THE_SYSTEM = frozenset(
    {Refusal.LOCKOUT, Refusal.EMERGENCY, Refusal.BIN_FULL, Refusal.WATCH_ONLY}
)
"""Refusals that have nothing to do with the machine that was asked for."""

TIME_LIMIT = duration(least=timedelta(seconds=1), most=_LONGEST)


@callback
def async_setup_air(hass: HomeAssistant) -> None:
    """Register the actions."""
    register_action(
        hass,
        SERVICE_REQUEST_AIR,
        _request,
        cv.make_entity_service_schema({vol.Optional(CONF_DURATION): TIME_LIMIT}),
        deed=Deed.MOVE,
        supports_response=SupportsResponse.OPTIONAL,
    )
    register_action(
        hass,
        SERVICE_WITHDRAW_AIR,
        _withdraw,
        cv.make_entity_service_schema({}),
        deed=Deed.MOVE,
        supports_response=SupportsResponse.OPTIONAL,
    )


@callback
def request_air(part: Part, limit: float | None, asker: Asker) -> None:
    """Ask for air at a machine, for `limit` s at most; None takes the machine's own.

    Raises `ServiceValidationError`, in words, where that is not to be done.
    """
    system = part.system
    if part.part not in system.sequence.machines:
        raise refusal("machine_without_gate", name=part.name)
    try:
        system.handle(RequestMade(part.part, limit))
    except Refused as err:
        about = COLLECTOR if err.why in _OF_THE_SYSTEM else part.part
        if not asker.sees_part(system, about):
            about = part.part
        raise refused(err, system.announcer.name(about)) from err


@callback
def withdraw_air(part: Part) -> None:
    """Withdraw the request for air at a machine, if there is one."""
    if part.part in part.system.sequence.machines:
        part.system.handle(RequestWithdrawn(part.part))


@callback
def told(part: Part) -> dict[str, JsonValueType]:
    """Return what is to be said of a machine: asked for until when, doing what."""
    system = part.system
    answer: dict[str, JsonValueType] = {"name": part.name}
    run = system.sequence.machines.get(part.part)
    if run is not None:
        until = system.instant(run.request_until)
        answer |= {
            "requested": run.requested,
            "until": None if until is None else until.isoformat(timespec="seconds"),
            "phase": run.phase.value,
            "collecting": system.sequence.has_air(part.part, system.now()),
        }
        if (verdict := system.of(AirMonitor).served_verdict(part.part)) is not None:
            answer["airflow"] = verdict.value
    return answer


async def _request(call: ServiceCall, asker: Asker) -> ServiceResponse:
    """Ask for air at every machine; who is refused does not hold up the others."""
    limit: timedelta | None = call.data.get(CONF_DURATION)
    seconds = None if limit is None else limit.total_seconds()
    refusals: list[ServiceValidationError] = []
    found = await machines(call, asker)
    for part in found:
        try:
            request_air(part, seconds, asker)
        except ServiceValidationError as err:
            refusals.append(err)
    if refusals:
        raise refusals[0]
    return {"machines": [told(part) for part in found]}


async def _withdraw(call: ServiceCall, asker: Asker) -> ServiceResponse:
    found = await machines(call, asker)
    for part in found:
        withdraw_air(part)
    return {"machines": [told(part) for part in found]}
