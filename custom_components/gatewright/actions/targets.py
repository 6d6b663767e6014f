"""What an action is about: the machines, gates and systems behind its target.

A target may name entities, devices, areas, floors and labels. What is named outright and
is not ours is told; of an area or a label only what is ours is taken.
"""

from collections.abc import Callable, Iterator
from typing import NamedTuple

from homeassistant.core import HomeAssistant, ServiceCall, callback
from homeassistant.helpers import device_registry as dr, entity_registry as er
from homeassistant.helpers.target import (
    TargetSelection,
    async_extract_referenced_entity_ids,
)

from ..const import SUBENTRY_MACHINE
from ..gatekeeper import Asker
from ..own import system_with
from ..refusals import refusal
from ..shop.plan import COLLECTOR
from ..system_context import SystemContext


class Part(NamedTuple):
    """A machine or a gate of a system, or the system itself as its collector."""

    system: SystemContext
    part: str

    @property
    def name(self) -> str:
        """The name that the owner gave it."""
        return self.system.announcer.name(self.part)


type _Test = Callable[[Part], bool]


async def machines(call: ServiceCall, asker: Asker) -> list[Part]:
    """Return the machines that an action is about.

    Raises `ServiceValidationError` where there are none, or something else is named,
    and `Unauthorized` where the caller may not ask for their air.
    """
    found = _parts(call, asker, _is_machine, "not_a_machine")
    for part in found:
        asker.require_control("switch", f"{part.part}_request")
    return found


async def systems(call: ServiceCall, asker: Asker, key: str) -> list[SystemContext]:
    """Return the systems that an action is about; `key` is the switch it moves.

    Raises as `machines` does.
    """
    found = _parts(call, asker, _is_system, "not_a_system")
    for part in found:
        owner = part.system.entry.entry_id
        asker.require_control("switch", f"{owner}_{key}")
    return [part.system for part in found]


async def parts(call: ServiceCall, asker: Asker) -> list[Part]:
    """Return everything of ours that an action is about; raises as `machines` does."""
    found = _parts(call, asker, lambda _: True, "not_of_gatewright")
    for part in found:
        owner = part.system.entry.entry_id
        asker.require_control("switch", f"{owner}_collector")
    return found


@callback
def _parts(call: ServiceCall, asker: Asker, wanted: _Test, why: str) -> list[Part]:
    hass = call.hass
    selection = TargetSelection(call.data)
    picked = async_extract_referenced_entity_ids(
        hass, selection, primary_entities_only=False
    )
    found: dict[tuple[str, str], Part] = {}
    for entity_id in sorted(picked.referenced):
        part = _part(hass, entity_id)
        if part is None or not wanted(part):
            raise refusal(why, name=_entity_name(asker, entity_id))
        found[part.system.entry.entry_id, part.part] = part
    for device_id in sorted(selection.device_ids):
        if not any(wanted(part) for part in _of_device(hass, device_id)):
            raise refusal(why, name=_device_name(asker, device_id))
    for entity_id in sorted(picked.indirectly_referenced):
        part = _part(hass, entity_id)
        if part is not None and wanted(part):
            found[part.system.entry.entry_id, part.part] = part
    if not found:
        raise refusal(f"{why}_there")
    return list(found.values())


def _is_machine(part: Part) -> bool:
    subentry = part.system.entry.subentries.get(part.part)
    return subentry is not None and subentry.subentry_type == SUBENTRY_MACHINE


def _is_system(part: Part) -> bool:
    return part.part == COLLECTOR


def _part(hass: HomeAssistant, entity_id: str) -> Part | None:
    found = system_with(hass, entity_id)
    return None if found is None else Part(found[0], found[1] or COLLECTOR)


def _of_device(hass: HomeAssistant, device_id: str) -> Iterator[Part]:
    registry = er.async_get(hass)
    for entry in er.async_entries_for_device(registry, device_id):
        if (part := _part(hass, entry.entity_id)) is not None:
            yield part


def _entity_name(asker: Asker, entity_id: str) -> str:
    """Return the name of an entity; to whom may not see it only what that one typed."""
    state = asker.hass.states.get(entity_id)
    return entity_id if state is None or not asker.reads(entity_id) else state.name


def _device_name(asker: Asker, device_id: str) -> str:
    """Return the name of a device of which something may be seen, as above."""
    device = dr.async_get(asker.hass).async_get(device_id)
    registry = er.async_get(asker.hass)
    seen = asker.administers or any(
        asker.reads(entry.entity_id)
        for entry in er.async_entries_for_device(registry, device_id)
    )
    name = None if device is None or not seen else device.name_by_user or device.name
    return name or device_id
