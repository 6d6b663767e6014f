"""Requests for dust collection at machines, and their withdrawal."""

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

from ...core.config import COLLECTOR
from ...core.control.enums import Refusal, RefusedError
from ...core.inputs import RequestMade, RequestWithdrawn
from ...runtime.errors import refusal_error, validation_error
from ...runtime.parsing import duration
from ...runtime.permissions import Permission, Requester, register_action
from ..airflow.manager import AirflowManager
from .targets import TargetPart, machines

SERVICE_REQUEST_AIR = "turn_on_collection"
SERVICE_WITHDRAW_AIR = "turn_off_collection"

CONF_DURATION = "duration"

_LONGEST = timedelta(hours=24)

_OF_THE_SYSTEM = frozenset(
    {Refusal.START_BLOCK, Refusal.FIRE_SHUTDOWN, Refusal.BIN_FULL, Refusal.MONITOR_ONLY}
)
"""Refusals that don't depend on the requested machine."""

TIME_LIMIT = duration(least=timedelta(seconds=1), most=_LONGEST)


@callback
def async_setup_air(hass: HomeAssistant) -> None:
    """Register the actions."""
    register_action(
        hass,
        SERVICE_REQUEST_AIR,
        _request,
        cv.make_entity_service_schema({vol.Optional(CONF_DURATION): TIME_LIMIT}),
        deed=Permission.MOVE,
        supports_response=SupportsResponse.OPTIONAL,
    )
    register_action(
        hass,
        SERVICE_WITHDRAW_AIR,
        _withdraw,
        cv.make_entity_service_schema({}),
        deed=Permission.MOVE,
        supports_response=SupportsResponse.OPTIONAL,
    )


@callback
def request_air(part: TargetPart, limit: float | None, asker: Requester) -> None:
    """Request dust collection at a machine for `limit` s; None is its own limit.

    Raises a translated `ServiceValidationError` if the request is refused.
    """
    system = part.system
    if part.part not in system.sequence.machines:
        raise validation_error("machine_without_gate", name=part.name)
    try:
        system.handle(RequestMade(part.part, limit))
    except RefusedError as err:
        about = COLLECTOR if err.why in _OF_THE_SYSTEM else part.part
        if not asker.sees_part(system, about):
            about = part.part
        raise refusal_error(err, system.announcer.name(about)) from err


@callback
def withdraw_air(part: TargetPart) -> None:
    """Withdraw the request at a machine, if there is one."""
    if part.part in part.system.sequence.machines:
        part.system.handle(RequestWithdrawn(part.part))


@callback
def request_data(part: TargetPart) -> dict[str, JsonValueType]:
    """Return a machine's answer: until when it's requested, and its phase."""
    system = part.system
    answer: dict[str, JsonValueType] = {"name": part.name}
    run = system.sequence.machines.get(part.part)
    if run is not None:
        until = system.instant(run.request_until)
        answer |= {
            "requested": run.requested,
            "until": None if until is None else until.isoformat(timespec="seconds"),
            "phase": run.phase.value,
            "collecting": system.sequence.is_collecting(part.part, system.now()),
        }
        if (verdict := system.of(AirflowManager).served_verdict(part.part)) is not None:
            answer["airflow"] = verdict.value
    return answer


async def _request(call: ServiceCall, asker: Requester) -> ServiceResponse:
    """Request dust collection at each machine; one refusal doesn't stop the others."""
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
    return {"machines": [request_data(part) for part in found]}


async def _withdraw(call: ServiceCall, asker: Requester) -> ServiceResponse:
    found = await machines(call, asker)
    for part in found:
        withdraw_air(part)
    return {"machines": [request_data(part) for part in found]}
