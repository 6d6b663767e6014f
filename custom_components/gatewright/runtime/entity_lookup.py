"""Finds our entities for triggers, conditions, actions and voice."""

from collections.abc import Collection, Iterable, Iterator

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.automation import DomainSpec

from ..const import DOMAIN
from .system_context import GatewrightConfigEntry, SystemContext, system_of

type Kinds = Collection[tuple[str, str]]
"""Kinds of entities: each a domain and its translation key."""

RUNNING = ("binary_sensor", "running")
REQUEST = ("switch", "request")
AIR = ("binary_sensor", "collecting")
GATE = ("cover", "gate")
COLLECTOR_PHASE = ("sensor", "collector_phase")
MACHINE_PHASE = ("sensor", "machine_phase")
START_BLOCK = ("switch", "start_block")
ALARM = ("event", "alarm")
SUMMARY = ("event", "summary")

AT_WORK = (RUNNING, REQUEST)
"""What shows that a machine works: its sensor, or the request if it has none."""


def domains(kinds: Kinds) -> dict[str, DomainSpec]:
    """Return the domains of kinds of entities, for triggers and conditions."""
    return {domain: DomainSpec() for domain, _ in kinds}


@callback
def own_entities(
    hass: HomeAssistant, entities: Iterable[str], kinds: Kinds
) -> set[str]:
    """Return the entities that are ours and of one of these kinds."""
    registry = er.async_get(hass)
    found = set()
    for entity_id in entities:
        entry = registry.async_get(entity_id)
        if (
            entry is not None
            and entry.platform == DOMAIN
            and (entry.domain, entry.translation_key) in kinds
            and not (kinds is AT_WORK and _has_sensor_beside(registry, entry))
        ):
            found.add(entity_id)
    return found


@callback
def entities_beside(
    hass: HomeAssistant, entities: Iterable[str], kind: tuple[str, str], key: str
) -> set[str]:
    """Return the entities of one kind that belong to the same parts as these.

    `key` ends their unique ids. One that is disabled because most owners don't need it
    is enabled for the caller. Home Assistant loads it half a minute later.
    """
    registry = er.async_get(hass)
    found = set()
    for entity_id in entities:
        entry = registry.async_get(entity_id)
        if entry is None or entry.platform != DOMAIN:
            continue
        part = entry.config_subentry_id or entry.config_entry_id
        beside = registry.async_get_entity_id(kind[0], DOMAIN, f"{part}_{key}")
        other = None if beside is None else registry.async_get(beside)
        if other is None or other.translation_key != kind[1]:
            continue
        enable(registry, other)
        found.add(other.entity_id)
    return found


@callback
def enable(registry: er.EntityRegistry, entry: er.RegistryEntry | None) -> None:
    """Enable an entity of ours that is disabled because most owners don't need it."""
    if entry and entry.disabled_by is er.RegistryEntryDisabler.INTEGRATION:
        registry.async_update_entity(entry.entity_id, disabled_by=None)


def _has_sensor_beside(registry: er.EntityRegistry, entry: er.RegistryEntry) -> bool:
    """Return whether this is the request of a machine that has a sensor."""
    if (entry.domain, entry.translation_key) != REQUEST:
        return False
    running = f"{entry.config_subentry_id}_{RUNNING[1]}"
    return registry.async_get_entity_id(RUNNING[0], DOMAIN, running) is not None


@callback
def systems(hass: HomeAssistant) -> Iterator[SystemContext]:
    """Return the loaded systems."""
    entry: GatewrightConfigEntry
    for entry in hass.config_entries.async_loaded_entries(DOMAIN):
        yield system_of(entry)


@callback
def system_with(
    hass: HomeAssistant, entity_id: str
) -> tuple[SystemContext, str | None] | None:
    """Return the system of an entity of ours, and its machine, gate or duct.

    None for a foreign entity, or one whose system isn't loaded.
    """
    registered = er.async_get(hass).async_get(entity_id)
    if registered is None or registered.platform != DOMAIN:
        return None
    for system in systems(hass):
        if system.entry.entry_id == registered.config_entry_id:
            return system, registered.config_subentry_id
    return None
