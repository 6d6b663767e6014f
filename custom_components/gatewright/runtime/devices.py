"""The devices of one system: the collector, and each gate and machine behind it."""

from collections.abc import Iterable, Iterator
from typing import TypedDict

from homeassistant.config_entries import ConfigEntry, ConfigSubentry
from homeassistant.core import HomeAssistant
from homeassistant.helpers import (
    device_registry as dr,
    entity_registry as er,
    label_registry as lr,
)
from homeassistant.helpers.device_registry import DeviceInfo

from ..const import DOMAIN, SUBENTRY_GATE, SUBENTRY_MACHINE
from ..texts.spoken_texts import SpokenTexts
from .config_loader import EntitySource, LoadedConfig

_DEVICE_PAGE = "homeassistant://config/devices/device"
"""The address of a device's page, as in Home Assistant's own links."""

_DEVICES = (SUBENTRY_GATE, SUBENTRY_MACHINE)
"""The subentries with a device; the others only describe the shop."""


def keep_devices(hass: HomeAssistant, entry: ConfigEntry, layout: LoadedConfig) -> None:
    """Create new devices, and rename those whose title has changed.

    In place of a model each shows the entities behind it, with a link to their device.
    A new device gets the area of what it represents, or else the collector's, and the
    collector's label; later changes belong to the owner.
    """
    for _ in devices_kept(hass, entry, layout):
        pass


def devices_kept(
    hass: HomeAssistant, entry: ConfigEntry, layout: LoadedConfig
) -> Iterator[None]:
    """Do the same as `keep_devices`, one part at a time."""
    registry = dr.async_get(hass)
    collector = registry.async_get_device_by_identifier(
        (DOMAIN, entry.entry_id), entry.entry_id
    )
    created = registry.async_get_or_create(
        config_entry_id=entry.entry_id,
        identifiers={(DOMAIN, entry.entry_id)},
        name=entry.title,
        entry_type=dr.DeviceEntryType.SERVICE,
        **_behind(hass, (layout.switch, layout.power)),
    )
    if collector is None:
        if (area_id := _area_of(hass, layout.switch)) is not None:
            registry.async_update_device(created.id, area_id=area_id)
        _label(hass, created.id)
    for subentry in tuple(entry.subentries.values()):
        part = subentry.subentry_id
        readable = part in layout.gates or part in layout.machines
        if subentry.subentry_type not in _DEVICES or not readable:
            continue
        known = registry.async_get_device_by_identifier((DOMAIN, part), entry.entry_id)
        device = registry.async_get_or_create(
            config_entry_id=entry.entry_id,
            config_subentry_id=part,
            identifiers={(DOMAIN, part)},
            name=subentry.title,
            via_device_id=created.id,
            **_behind(hass, _sources(subentry, layout)),
        )
        if known is None:
            # A new device gets the collector's area and labels.
            beside = registry.async_get(created.id) or created
            area_id = _area_of(hass, _source_of(subentry, layout))
            registry.async_update_device(
                device.id,
                area_id=area_id or device.area_id or beside.area_id,
                labels=beside.labels,
            )
        yield


def collector_device_id(hass: HomeAssistant, entry: ConfigEntry) -> str | None:
    """Return the id of the collector's device."""
    device = dr.async_get(hass).async_get_device_by_identifier(
        (DOMAIN, entry.entry_id), entry.entry_id
    )
    return None if device is None else device.id


def device_info(
    hass: HomeAssistant, entry: ConfigEntry, subentry_id: str | None
) -> DeviceInfo:
    """Return the device of an entity; None is the collector."""
    if subentry_id is None:
        return DeviceInfo(identifiers={(DOMAIN, entry.entry_id)})
    info = DeviceInfo(
        identifiers={(DOMAIN, subentry_id)}, name=entry.subentries[subentry_id].title
    )
    if (collector := collector_device_id(hass, entry)) is not None:
        info["via_device_id"] = collector
    return info


class Behind(TypedDict, total=False):
    """The entities behind a device, as it shows them."""

    model: str | None
    model_id: str | None
    configuration_url: str | None


def _behind(hass: HomeAssistant, sources: Iterable[EntitySource | None]) -> Behind:
    """Name the entities behind a part, and link to the first one's device.

    If one is missing, such as during startup, the last text stays.
    """
    found = [source.entity_id for source in sources if source and source.entity_id]
    states = [hass.states.get(entity_id) for entity_id in found]
    if not all(states):
        return {}
    first = er.async_get(hass).async_get(found[0]) if found else None
    device_id = None if first is None else first.device_id
    return {
        "model": ", ".join(state.name for state in states if state) or None,
        "model_id": ", ".join(found) or None,
        "configuration_url": device_id and f"{_DEVICE_PAGE}/{device_id}",
    }


def _sources(
    subentry: ConfigSubentry, layout: LoadedConfig
) -> tuple[EntitySource | None, ...]:
    """Return the entities behind a gate or a machine, the most important first."""
    if subentry.subentry_type == SUBENTRY_GATE:
        gate = layout.gates[subentry.subentry_id]
        return gate.actuator, gate.open_sensor, gate.closed_sensor
    machine = layout.machines[subentry.subentry_id]
    return machine.sensor, machine.connected


def _source_of(subentry: ConfigSubentry, layout: LoadedConfig) -> EntitySource | None:
    if subentry.subentry_type == SUBENTRY_GATE:
        return _gate_source(subentry.subentry_id, layout)
    machine = layout.machines[subentry.subentry_id]
    if source := machine.sensor or machine.connected:
        return source
    # A pickup has no entity of its own: it's where its gate is.
    sources = (
        _gate_source(gate, layout) for gate in layout.plans[subentry.subentry_id].gates
    )
    return next((source for source in sources if source is not None), None)


def _gate_source(gate_id: str, layout: LoadedConfig) -> EntitySource | None:
    gate = layout.gates[gate_id]
    return gate.actuator or gate.open_sensor or gate.closed_sensor


def _area_of(hass: HomeAssistant, source: EntitySource | None) -> str | None:
    if source is None or source.entity_id is None:
        return None
    entity = er.async_get(hass).async_get(source.entity_id)
    if entity is None:
        return None
    if entity.area_id is not None or entity.device_id is None:
        return entity.area_id
    device = dr.async_get(hass).async_get(entity.device_id)
    return None if device is None else device.area_id


def _label(hass: HomeAssistant, device_id: str) -> None:
    """Label the collector, so that everything of ours can be found by the label."""
    name = SpokenTexts(hass, hass.config.language)("label")
    if not name:
        return
    registry = lr.async_get(hass)
    label = registry.async_get_label_by_name(name) or registry.async_create(
        name, icon="mdi:fan"
    )
    dr.async_get(hass).async_update_device(device_id, labels={label.label_id})
