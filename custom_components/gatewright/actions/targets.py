"""What an action is about: the machines, gates and systems behind its target.

A target may name entities, devices, areas, floors and labels. What is named outright and
is not ours is told; of an area or a label only what is ours is taken.
"""

from collections.abc import Callable, Iterator
from typing import NamedTuple

from homeassistant.auth.permissions.const import POLICY_CONTROL
from homeassistant.const import ATTR_CONFIG_ENTRY_ID
from homeassistant.core import Context, HomeAssistant, ServiceCall, callback
from homeassistant.exceptions import Unauthorized, UnknownUser
from homeassistant.helpers import (
    device_registry as dr,
    entity_registry as er,
    service,
)
from homeassistant.helpers.target import (
    TargetSelection,
    async_extract_referenced_entity_ids,
)

from ..const import DOMAIN, SUBENTRY_MACHINE
from ..engine import Engine, GatewrightConfigEntry
from ..own import engine_of
from ..refusals import refusal
from ..shop.plan import COLLECTOR


class Part(NamedTuple):
    """A machine or a gate of a system, or the system itself as its collector."""

    engine: Engine
    part: str

    @property
    def name(self) -> str:
        """The name that the owner gave it."""
        return self.engine.announcer.name(self.part)


type _Test = Callable[[Part], bool]


@callback
def system_named(call: ServiceCall) -> GatewrightConfigEntry:
    """Return the system whose config entry an action names.

    Raises `ServiceValidationError` where there is none, or it is not going.
    """
    entry: GatewrightConfigEntry = service.async_get_config_entry(
        call.hass, DOMAIN, call.data[ATTR_CONFIG_ENTRY_ID]
    )
    return entry


async def machines(call: ServiceCall) -> list[Part]:
    """Return the machines that an action is about.

    Raises `ServiceValidationError` where there are none, or something else is named,
    and `Unauthorized` where the caller may not ask for their air.
    """
    found = _parts(call, _is_machine, "not_a_machine")
    for part in found:
        await check_control(call.hass, call.context, "switch", f"{part.part}_request")
    return found


async def systems(call: ServiceCall, key: str) -> list[Engine]:
    """Return the systems that an action is about; `key` is the switch it moves.

    Raises as `machines` does.
    """
    found = _parts(call, _is_system, "not_a_system")
    for part in found:
        owner = part.engine.entry.entry_id
        await check_control(call.hass, call.context, "switch", f"{owner}_{key}")
    return [part.engine for part in found]


async def parts(call: ServiceCall) -> list[Part]:
    """Return everything of ours that an action is about; raises as `machines` does."""
    found = _parts(call, lambda _: True, "not_of_gatewright")
    for part in found:
        owner = part.engine.entry.entry_id
        await check_control(call.hass, call.context, "switch", f"{owner}_collector")
    return found


async def check_control(
    hass: HomeAssistant, context: Context, domain: str, unique_id: str
) -> None:
    """Raise `Unauthorized` where the caller may not control an entity of ours."""
    if context.user_id is None:
        return
    user = await hass.auth.async_get_user(context.user_id)
    if user is None:
        raise UnknownUser(context=context, permission=POLICY_CONTROL)
    entity_id = er.async_get(hass).async_get_entity_id(domain, DOMAIN, unique_id)
    if entity_id is None or user.permissions.check_entity(entity_id, POLICY_CONTROL):
        return
    raise Unauthorized(context=context, entity_id=entity_id, permission=POLICY_CONTROL)


@callback
def _parts(call: ServiceCall, wanted: _Test, why: str) -> list[Part]:
    hass = call.hass
    selection = TargetSelection(call.data)
    picked = async_extract_referenced_entity_ids(
        hass, selection, primary_entities_only=False
    )
    found: dict[tuple[str, str], Part] = {}
    for entity_id in sorted(picked.referenced):
        part = _part(hass, entity_id)
        if part is None or not wanted(part):
            raise refusal(why, name=_entity_name(hass, entity_id))
        found[part.engine.entry.entry_id, part.part] = part
    for device_id in sorted(selection.device_ids):
        if not any(wanted(part) for part in _of_device(hass, device_id)):
            raise refusal(why, name=_device_name(hass, device_id))
    for entity_id in sorted(picked.indirectly_referenced):
        part = _part(hass, entity_id)
        if part is not None and wanted(part):
            found[part.engine.entry.entry_id, part.part] = part
    if not found:
        raise refusal(f"{why}_there")
    return list(found.values())


def _is_machine(part: Part) -> bool:
    subentry = part.engine.entry.subentries.get(part.part)
    return subentry is not None and subentry.subentry_type == SUBENTRY_MACHINE


def _is_system(part: Part) -> bool:
    return part.part == COLLECTOR


def _part(hass: HomeAssistant, entity_id: str) -> Part | None:
    found = engine_of(hass, entity_id)
    return None if found is None else Part(found[0], found[1] or COLLECTOR)


def _of_device(hass: HomeAssistant, device_id: str) -> Iterator[Part]:
    registry = er.async_get(hass)
    for entry in er.async_entries_for_device(registry, device_id):
        if (part := _part(hass, entry.entity_id)) is not None:
            yield part


def _entity_name(hass: HomeAssistant, entity_id: str) -> str:
    state = hass.states.get(entity_id)
    return entity_id if state is None else state.name


def _device_name(hass: HomeAssistant, device_id: str) -> str:
    device = dr.async_get(hass).async_get(device_id)
    name = None if device is None else device.name_by_user or device.name
    return name or device_id
