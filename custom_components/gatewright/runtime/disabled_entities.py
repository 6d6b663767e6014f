"""Raises repairs for disabled entities that a part depends on."""

from collections.abc import Iterator

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import entity_registry as er

from ..core.config import COLLECTOR
from .config_loader import EntitySource, LoadedConfig
from .issues import keep_errors


@callback
def report_disabled(
    hass: HomeAssistant, entry: ConfigEntry, layout: LoadedConfig | None
) -> frozenset[str]:
    """Raise an issue for each disabled entity, and delete those of enabled ones.

    Return the gates and machines that depend on one; without a `layout` nothing does.
    """
    prefix = f"disabled_{entry.entry_id}_"
    registry = er.async_get(hass)
    parts: set[str] = set()
    issues: dict[str, tuple[str, dict[str, str]]] = {}
    for part, source in () if layout is None else _sources(layout):
        found = registry.async_get(source.stored)
        if found is None or found.disabled_by is None:
            continue
        parts.add(part)
        subentry = entry.subentries.get(part)
        placeholders = {
            "entity": found.name or found.original_name or found.entity_id,
            "entity_id": found.entity_id,
            "name": entry.title if subentry is None else subentry.title,
            "system": entry.title,
        }
        issues[f"{prefix}{part}_{source.stored}"] = "entity_disabled", placeholders
    keep_errors(hass, prefix, issues)
    return frozenset(parts - {COLLECTOR})


def _sources(layout: LoadedConfig) -> Iterator[tuple[str, EntitySource]]:
    """Yield each part's entities, with its id."""
    for gate_id, gate in layout.gates.items():
        for source in (gate.actuator, gate.open_sensor, gate.closed_sensor):
            if source is not None:
                yield gate_id, source
    for machine_id, machine in layout.machines.items():
        for source in (machine.sensor, machine.connected):
            if source is not None:
                yield machine_id, source
    watched = (source for sources in layout.watched.values() for source in sources)
    for source in (
        layout.switch,
        layout.power,
        *layout.linked_devices.values(),
        *watched,
    ):
        if source is not None:
            yield COLLECTOR, source
