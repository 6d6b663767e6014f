"""The action that retries actuators that have given up."""

from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.helpers import config_validation as cv
from homeassistant.util.json import JsonValueType

from ...core.config import COLLECTOR
from ...core.control.alarms import AlarmKind, Condition
from ...runtime.old_names.shown import shown_data
from ...runtime.permissions import Permission, Requester, register_action
from ...runtime.system_context import SystemContext
from .targets import TargetPart, parts

SERVICE_RESET_ALARMS = "reset_alarms"


@callback
def async_setup_alarms(hass: HomeAssistant) -> None:
    """Register the action."""
    register_action(
        hass,
        SERVICE_RESET_ALARMS,
        _reset,
        cv.make_entity_service_schema({}),
        deed=Permission.MOVE,
        supports_response=SupportsResponse.OPTIONAL,
    )


async def _reset(call: ServiceCall, asker: Requester) -> ServiceResponse:
    """Retry every actuator that has given up; never undo a fire alarm shutdown.

    Other alarms clear with their cause and are returned as remaining.
    """
    tried: list[JsonValueType] = []
    left: list[JsonValueType] = []
    seen: set[tuple[str, Condition]] = set()
    for part in await parts(call, asker):
        system = part.system
        for condition in _conditions(part):
            if not asker.sees_part(system, condition.part):
                continue
            if (system.entry.entry_id, condition) in seen:
                continue
            seen.add((system.entry.entry_id, condition))
            again = (
                condition.kind is not AlarmKind.FIRE_SHUTDOWN
                and (actuator := system.sequence.actuator(condition.part)) is not None
                and actuator.failed
            )
            (tried if again else left).append(_alarm_data(system, condition))
            if again:
                system.answer(condition.kind, condition.part)
    return {"tried_again": tried, "left": left}


def _conditions(part: TargetPart) -> list[Condition]:
    """Return the active alarms of a machine or gate, or of a whole system."""
    active = part.system.shop.alarms.standing
    return [c for c in active if part.part in (COLLECTOR, c.part)]


def _alarm_data(
    system: SystemContext, condition: Condition
) -> dict[str, JsonValueType]:
    text = system.announcer.text(condition)
    data = {
        "alarm": condition.kind.value,
        "part": system.announcer.name(condition.part),
        "title": text.title,
    }
    return shown_data(system.entry, data)
