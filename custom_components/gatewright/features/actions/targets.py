"""Resolves an action's target into machines, gates and systems.

A target may name entities, devices, areas, floors and labels. Naming a foreign entity
or device is an error; areas and labels are filtered for ours.
"""

from collections.abc import Callable, Iterator
from typing import NamedTuple

from homeassistant.core import HomeAssistant, ServiceCall, callback
from homeassistant.helpers import device_registry as dr, entity_registry as er
from homeassistant.helpers.target import (
    TargetSelection,
    async_extract_referenced_entity_ids,
)

from ...const import SUBENTRY_MACHINE
from ...core.config import COLLECTOR
from ...runtime.entity_lookup import system_with
from ...runtime.errors import validation_error
from ...runtime.permissions import Requester
from ...runtime.system_context import SystemContext


class TargetPart(NamedTuple):
    """A machine, a gate, or the whole system as its collector."""

    system: SystemContext
    part: str

    @property
    def name(self) -> str:
        """The name that the owner gave it."""
        return self.system.announcer.name(self.part)


type _Test = Callable[[TargetPart], bool]


async def machines(call: ServiceCall, asker: Requester) -> list[TargetPart]:
    """Return the targeted machines.

    Raises `ServiceValidationError` if there are none or the target names something
    else, and `Unauthorized` if the caller may not request dust collection there.
    """
    found = _parts(call, asker, _is_machine, "not_a_machine")
    for part in found:
        asker.require_control("switch", f"{part.part}_request")
    return found


async def systems(call: ServiceCall, asker: Requester, key: str) -> list[SystemContext]:
    """Return the targeted systems; `key` names the switch that the action moves.

    Raises the same errors as `machines`.
    """
    found = _parts(call, asker, _is_system, "not_a_system")
    for part in found:
        owner = part.system.entry.entry_id
        asker.require_control("switch", f"{owner}_{key}")
    return [part.system for part in found]


async def parts(call: ServiceCall, asker: Requester) -> list[TargetPart]:
    """Return every targeted part of ours; raises the same errors as `machines`."""
    found = _parts(call, asker, lambda _: True, "not_of_gatewright")
    for part in found:
        owner = part.system.entry.entry_id
        asker.require_control("switch", f"{owner}_collector")
    return found


@callback
def _parts(
    call: ServiceCall, asker: Requester, wanted: _Test, why: str
) -> list[TargetPart]:
    hass = call.hass
    selection = TargetSelection(call.data)
    picked = async_extract_referenced_entity_ids(
        hass, selection, primary_entities_only=False
    )
    found: dict[tuple[str, str], TargetPart] = {}
    for entity_id in sorted(picked.referenced):
        part = _part(hass, entity_id)
        if part is None or not wanted(part):
            raise validation_error(why, name=_entity_name(asker, entity_id))
        found[part.system.entry.entry_id, part.part] = part
    for device_id in sorted(selection.device_ids):
        if not any(wanted(part) for part in _of_device(hass, device_id)):
            raise validation_error(why, name=_device_name(asker, device_id))
    for entity_id in sorted(picked.indirectly_referenced):
        part = _part(hass, entity_id)
        if part is not None and wanted(part):
            found[part.system.entry.entry_id, part.part] = part
    if not found:
        raise validation_error(f"{why}_there")
    return list(found.values())


def _is_machine(part: TargetPart) -> bool:
    subentry = part.system.entry.subentries.get(part.part)
    return subentry is not None and subentry.subentry_type == SUBENTRY_MACHINE


def _is_system(part: TargetPart) -> bool:
    return part.part == COLLECTOR


def _part(hass: HomeAssistant, entity_id: str) -> TargetPart | None:
    found = system_with(hass, entity_id)
    return None if found is None else TargetPart(found[0], found[1] or COLLECTOR)


def _of_device(hass: HomeAssistant, device_id: str) -> Iterator[TargetPart]:
    registry = er.async_get(hass)
    for entry in er.async_entries_for_device(registry, device_id):
        if (part := _part(hass, entry.entity_id)) is not None:
            yield part


def _entity_name(asker: Requester, entity_id: str) -> str:
    """Return an entity's name, or only the typed id if the caller may not see it."""
    state = asker.hass.states.get(entity_id)
    return entity_id if state is None or not asker.reads(entity_id) else state.name


def _device_name(asker: Requester, device_id: str) -> str:
    """Return a device's name under the same rule."""
    device = dr.async_get(asker.hass).async_get(device_id)
    registry = er.async_get(asker.hass)
    seen = asker.administers or any(
        asker.reads(entry.entity_id)
        for entry in er.async_entries_for_device(registry, device_id)
    )
    name = None if device is None or not seen else device.name_by_user or device.name
    return name or device_id
