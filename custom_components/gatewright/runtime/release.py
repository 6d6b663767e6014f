"""Turns off devices that are no longer ours, and knows what would stay on."""

from homeassistant.const import STATE_ON
from homeassistant.core import HomeAssistant

from ..core.control.sequence import Sequence
from .actuator_driver import switch_off
from .config_loader import EntitySource, LoadedConfig
from .entity_references import to_entity_id
from .system_context import SystemContext

KEEPS_ON = "keeps_on"
"""Key of the memory: what would stay on if the system were gone."""


async def release_device(hass: HomeAssistant, stored: str) -> None:
    """Turn off a device that is on and no longer driven."""
    entity_id = to_entity_id(hass, stored)
    state = None if entity_id is None else hass.states.get(entity_id)
    if entity_id is not None and state is not None and state.state == STATE_ON:
        await switch_off(hass, entity_id)


def was_replaced(before: EntitySource | None, after: EntitySource | None) -> bool:
    """Return whether another entity was chosen; a renamed one is the same."""
    if before is None or after is None:
        return before is not after
    return before.stored != after.stored and before.entity_id != after.entity_id


def keeps_on(system: SystemContext, maintenance: set[str]) -> list[str]:
    """Return the stored references of what would stay on if we were gone.

    `maintenance` are the maintenance switches that we turned on. While nothing is
    driven, what is on isn't ours.
    """
    if system.watching:
        return []
    kept = sorted(maintenance | _linked_devices_at_work(system.sequence))
    if system.sequence.collector_wanted or system.sequence.motor.actuator.reported:
        kept.append(system.layout.switch.stored)
    return kept


def release_linked_devices(
    system: SystemContext, before: LoadedConfig, maintenance: set[str]
) -> None:
    """Turn off what runs for us and is no longer ours; `maintenance` as above."""
    working = maintenance | _linked_devices_at_work(system.sequence)
    kept = {source.entity_id for source in _switched(system.layout)}
    for source in _switched(before):
        if source.stored in working and source.entity_id not in kept:
            let_go_of(system, source)


def let_go_of(system: SystemContext, source: EntitySource) -> None:
    """Turn off an entity that is no longer ours, if it exists and was ours."""
    if (entity_id := source.entity_id) is not None and not system.watching:
        system.hass.async_create_task(
            switch_off(system.hass, entity_id), f"gatewright lets go of {entity_id}"
        )


def _switched(layout: LoadedConfig) -> list[EntitySource]:
    return [*layout.linked_devices.values(), *layout.maintenance_switches().values()]


def _linked_devices_at_work(sequence: Sequence) -> set[str]:
    """Return the linked devices that run with a machine, not by hand."""
    return {
        linked_device
        for run in sequence.machines.values()
        if run.runs_linked_devices
        for linked_device in run.plan.linked_devices
        if (actuator := sequence.linked_devices.actuator(linked_device)) is not None
        and actuator.target
    }
