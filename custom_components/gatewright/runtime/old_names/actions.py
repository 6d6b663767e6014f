"""Accepts actions and their fields by their old names."""

from collections.abc import Callable, Mapping
from typing import Any

from homeassistant.core import (
    HomeAssistant,
    ServiceCall,
    ServiceResponse,
    SupportsResponse,
    callback,
)
from homeassistant.helpers.typing import VolSchemaType
import voluptuous as vol

from ...const import DOMAIN
from .notice import note_call
from .shown import with_old
from .table import ACTIONS, FIELDS, Renamed, old_of

type Handler = Callable[[ServiceCall], Any]


@callback
def register_old_action(
    hass: HomeAssistant,
    name: str,
    handler: Handler,
    schema: VolSchemaType,
    supports_response: SupportsResponse,
) -> str | None:
    """Register an action by its old name as well; return that name, if any.

    It accepts fields by their old names, and answers with them.
    """
    old = old_of(ACTIONS).get(name)
    if old is None:
        return None

    async def handle(call: ServiceCall) -> ServiceResponse:
        note_call(hass, f"{DOMAIN}.{old}", f"{DOMAIN}.{name}")
        answer: ServiceResponse = await handler(call)
        return None if answer is None else with_old(answer)

    hass.services.async_register(
        DOMAIN,
        old,
        handle,
        vol.All(_new_fields, schema),
        supports_response=supports_response,
    )
    return old


def renamed(table: Renamed) -> Callable[[Any], Any]:
    """Return a validator that replaces an old value by the new one."""

    def rename(value: Any) -> Any:
        return table.get(value, value) if isinstance(value, str) else value

    return rename


def _new_fields(data: Any) -> Any:
    if isinstance(data, Mapping):
        return {FIELDS.get(key, key): _new_fields(value) for key, value in data.items()}
    if isinstance(data, list):
        return [_new_fields(value) for value in data]
    return data
