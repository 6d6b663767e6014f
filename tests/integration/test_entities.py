"""What Home Assistant gets: devices, entities, names, texts and icons."""

from collections import Counter
import json
from pathlib import Path
from typing import Any
from unittest.mock import patch

from homeassistant.const import EntityCategory, Platform
from homeassistant.core import HomeAssistant
from homeassistant.helpers import (
    area_registry as ar,
    device_registry as dr,
    entity_registry as er,
)
from homeassistant.helpers.entity import Entity
from homeassistant.helpers.entity_component import DATA_INSTANCES
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    snapshot_platform,
)
from syrupy.assertion import SnapshotAssertion

from custom_components.gatewright import PLATFORMS
from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.entity import GatewrightEntity
from custom_components.gatewright.runtime.devices import device_info
from custom_components.gatewright.runtime.old_names.table import PHASES

from .air_shop import FAN, ducted_parts
from .workshop import (
    COLLECTOR,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    SWEEP_GATE,
    Workshop,
    gate,
    machine,
    standard_parts,
    system_entry,
)

COMPONENT = Path(__file__).parents[2] / "custom_components" / DOMAIN
PLUGGED_IN = "binary_sensor.lathe_plugged_in"
LOOKED_AFTER: dict[str, Any] = {
    "power": "sensor.collector_power",
    "energy_price": 0.31,
    "bin_volume": 0.12,
    "filter_hours": 20.0,
    "filter_life": 1000.0,
    "cleaning": "switch.shaker",
    "services": [
        {"id": "belt", "name": "Belt", "hours": 200.0},
        {"id": "guards", "name": "Guards", "days": 90},
        {"id": "contactor", "name": "Contactor", "starts": 5000},
    ],
}


def every_kind() -> list[Any]:
    """Return parts that together have every kind of entity."""
    return [
        *standard_parts(),
        gate("hand", "Back gate", gate_kind="hand", shut_sensor="binary_sensor.back"),
        gate("inlet", "Bench inlet", gate_kind="fixed"),
        machine(
            "lathe",
            "Lathe",
            gates=["hand"],
            sensor="sensor.lathe_power",
            attached=PLUGGED_IN,
        ),
        machine(
            "router",
            "Router",
            gates=["saw_gate"],
            sensor="binary_sensor.router_runs",
            unit=None,
            running_states=["on"],
            needs_air=False,
            clearing=[{"gates": ["saw_gate"], "duration": 5.0}],
        ),
    ]


@pytest.fixture
async def whole(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Return a running system with parts of every kind, and every sensor enabled.

    Another one in monitor-only mode runs beside it.
    """
    with patch.object(GatewrightEntity, "entity_registry_enabled_default", new=True):
        watched = system_entry(
            [],
            title="Watched",
            entry_id="watched",
            watch_since="2026-01-01T00:00Z",
        )
        await workshop.load(watched)
        return await run_every_kind(hass, workshop)


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Return a running system with parts of every kind."""
    return await run_every_kind(hass, workshop)


async def run_every_kind(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Start a system with parts of every kind."""
    parts = every_kind()
    router = parts[-1]["data"]
    for key in ("unit", "start", "stop"):
        del router[key]
    hass.states.async_set("binary_sensor.back", "on")
    hass.states.async_set("binary_sensor.router_runs", "off")
    hass.states.async_set(PLUGGED_IN, "on")
    workshop.watts("sensor.lathe_power", 3)
    air = {part["subentry_id"]: part["data"] for part in ducted_parts()}
    for part in parts:
        part["data"] = {**part["data"], **air.get(part["subentry_id"], {})}
    parts += [part for part in ducted_parts() if part["subentry_type"] == "duct"]
    workshop.put("sensor.static", "900", {"unit_of_measurement": "Pa"})
    workshop.put("sensor.dust", "0.4", {"unit_of_measurement": "mg/m³"})
    workshop.put("fan.drive", "on", {"percentage": 100})
    workshop.watts("sensor.collector_power", "unknown")
    workshop.put("switch.shaker", "off")
    driven: dict[str, Any] = {
        "drive": "fan.drive",
        "drive_floor": 40.0,
        "drive_ceiling": 100.0,
    }
    entry = system_entry(
        parts,
        **FAN,
        **driven,
        suction="sensor.static",
        speed_control=True,
        particles="sensor.dust",
        **LOOKED_AFTER,
    )
    await workshop.start(entry)
    return entry


def ours(hass: HomeAssistant) -> list[er.RegistryEntry]:
    """Return our registered entities."""
    registry = er.async_get(hass)
    return [entry for entry in registry.entities.values() if entry.platform == DOMAIN]


def entities_of(hass: HomeAssistant) -> list[Entity]:
    """Return the entity objects."""
    return [
        entity
        for domain in PLATFORMS
        for entity in hass.data[DATA_INSTANCES][domain].entities
        if entity.platform.platform_name == DOMAIN
    ]


@pytest.mark.parametrize("platform", PLATFORMS)
async def test_platform(
    hass: HomeAssistant,
    workshop: Workshop,
    entity_registry: er.EntityRegistry,
    snapshot: SnapshotAssertion,
    platform: Platform,
) -> None:
    """Every entity of a platform with its state, while a saw works and a sweep is on."""
    workshop.freezer.move_to("2026-03-02 08:00:00+00:00")
    entry = system_entry(bin_volume=0.12)
    with (
        patch("custom_components.gatewright.PLATFORMS", [platform]),
        patch.object(GatewrightEntity, "entity_registry_enabled_default", new=True),
    ):
        await workshop.start(entry)
        await workshop.saw_runs()
        await workshop.pass_time(29)
        await snapshot_platform(hass, entity_registry, snapshot, entry.entry_id)
        # Before 2026.10, what was never loaded can't be unloaded.
        assert await hass.config_entries.async_unload(entry.entry_id)


async def test_full_names_are_unique(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """Spoken, no two entities of a system are the same."""
    names = Counter(
        state.attributes["friendly_name"].casefold()
        for item in ours(hass)
        if (state := hass.states.get(item.entity_id)) is not None
    )
    assert len(names) > 40
    assert [name for name, count in names.items() if count > 1] == []


async def test_what_moves_something_says_so(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """No switch has the bare name of a machine that it doesn't start."""
    names = {
        item.entity_id: state.attributes["friendly_name"]
        for item in ours(hass)
        if item.domain in ("cover", "switch")
        and (state := hass.states.get(item.entity_id)) is not None
    }
    assert names == {
        "cover.back_gate": "Back gate",
        "cover.planer_gate": "Planer gate",
        "cover.saw_gate": "Saw gate",
        "cover.sweep_gate": "Sweep gate",
        "switch.dust_collector": "Dust collector",
        "switch.dust_collector_automatic": "Dust collector Automatic",
        "switch.dust_collector_block_starts": "Dust collector Block starts",
        "switch.dust_collector_monitor_only": "Dust collector Monitor only",
        "switch.floor_sweep": "Floor sweep",
        "switch.lathe_dust_collection": "Lathe Dust collection",
        "switch.planer_dust_collection": "Planer Dust collection",
        "switch.router_dust_collection": "Router Dust collection",
        "switch.table_saw_dust_collection": "Table saw Dust collection",
    }


async def test_each_part_is_a_device_behind_the_collector(
    hass: HomeAssistant, entry: MockConfigEntry, device_registry: dr.DeviceRegistry
) -> None:
    hub = device_registry.async_get_device_by_identifier(
        (DOMAIN, "system"), entry.entry_id
    )
    assert hub is not None
    assert hub.name == "Dust collector"
    assert hub.entry_type is dr.DeviceEntryType.SERVICE
    assert hub.config_subentry_id is None
    for subentry in entry.subentries.values():
        device = device_registry.async_get_device_by_identifier(
            (DOMAIN, subentry.subentry_id), entry.entry_id
        )
        assert device is not None
        assert device.name == subentry.title
        assert device.via_device_id == hub.id
        assert device.config_subentry_id == subentry.subentry_id
    devices = dr.async_entries_for_config_entry(device_registry, entry.entry_id)
    assert len(devices) == len(entry.subentries) + 1


async def test_each_entity_belongs_to_the_device_and_subentry_of_its_part(
    hass: HomeAssistant, entry: MockConfigEntry, device_registry: dr.DeviceRegistry
) -> None:
    for item in ours(hass):
        owner, _, key = item.unique_id.partition("_")
        part = item.config_subentry_id or entry.entry_id
        assert item.unique_id.startswith(f"{part}_"), (owner, key)
        assert item.device_id is not None
        device = device_registry.async_get(item.device_id)
        assert device is not None
        assert (DOMAIN, part) in device.identifiers
        assert item.config_entry_id == entry.entry_id


async def test_what_is_for_looking_and_what_for_setting_up(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    categories = {item.unique_id: item.entity_category for item in ours(hass)}
    config = {"system_automatic", "system_start_block", "system_hand_gate"}
    config |= {"system_monitor_only"}
    assert {
        name for name, found in categories.items() if found is EntityCategory.CONFIG
    } == config
    diagnostic = {"phase_ends", "connected", "problem", "wanted", "airflow_alone"}
    diagnostic |= {"velocity", "suction_difference", "airflow_finding"}
    diagnostic |= {"bin_emptied_at", "filter_base", "filter_cleaned_at"}
    diagnostic |= {"filter_cleaning"}
    diagnostic |= {"system_check", "last_system_check", "system_check_findings"}
    for item in ours(hass):
        key = item.unique_id.removeprefix(
            f"{item.config_subentry_id or entry.entry_id}_"
        )
        if item.unique_id in config:
            continue
        wanted = EntityCategory.DIAGNOSTIC if key in diagnostic else None
        if item.unique_id == "system_problem":
            wanted = None
        assert item.entity_category is wanted, item.unique_id


async def test_entities_that_few_need_are_disabled_at_first(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    disabled = {item.unique_id for item in ours(hass) if item.disabled_by}
    machines = ("saw", "planer", "sweep", "lathe", "router")
    assert disabled == {
        *(f"{owner}_phase_ends" for owner in ("system", *machines)),
        *(f"{duct}_velocity" for duct in ("main", "branch", "far")),
        *(f"system_filter_{what}" for what in ("base", "since_replaced")),
        *(f"{owner}_collecting_time" for owner in ("system", "saw", "planer", "lathe")),
        *(f"{owner}_low_airflow_time" for owner in ("system", "saw", "planer")),
        *(f"{owner}_time_to_air" for owner in ("saw", "planer", "lathe")),
        *(
            f"{machine_id}_collected_share_{reach}"
            for machine_id in ("saw", "planer", "lathe")
            for reach in ("day", "week", "month")
        ),
    }


async def test_a_machine_has_what_fits_it(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    def keys(part: str) -> set[str]:
        return {
            item.unique_id.removeprefix(f"{part}_")
            for item in ours(hass)
            if item.config_subentry_id == part
        }

    usual = {"collecting", "phase", "phase_ends", "problem", "request", "run_time"}
    shares = {
        "collected_share",
        "collected_share_day",
        "collected_share_week",
        "collected_share_month",
    }
    reported = {*shares, "collecting_time", "not_collecting_time", "time_to_air"}
    sensed = {*usual, "running", "cuts", *reported}
    computed = {"airflow", "airflow_alone"}
    judged = {"airflow_too_low", "airflow_verdict"}
    assert keys("sweep") == {*usual, *computed, *judged}
    assert keys("saw") == {*sensed, *computed, *judged, "low_airflow_time"}
    # Its gate is on no duct.
    assert keys("lathe") == {*sensed, "connected"}
    assert keys("router") == {*sensed, *computed} - reported
    assert keys("main") == {"velocity"}
    assert keys("saw_gate") == {"gate", "problem"}
    assert keys("inlet") == set()


async def test_long_term_statistics(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """Totals only grow, shares are measured, and everything else has no statistics."""
    classes = {
        state.entity_id: state.attributes["state_class"]
        for state in hass.states.async_all("sensor")
        if "state_class" in state.attributes
    }
    growing = {
        *(f"sensor.{name}_running_time" for name in ("table_saw", "floor_sweep")),
        "sensor.dust_collector_running_hours",
        "sensor.dust_collector_starts",
        "sensor.table_saw_cuts",
        "sensor.table_saw_time_without_dust_collection",
        "sensor.dust_collector_machine_hours",
        "sensor.dust_collector_time_without_dust_collection",
    }
    assert {classes[name] for name in growing} == {"total_increasing"}
    assert classes["sensor.table_saw_collected_share"] == "measurement"
    assert classes["sensor.dust_collector_collected_share"] == "measurement"
    assert "sensor.dust_collector_phase" not in classes
    hours = hass.states.get("sensor.dust_collector_running_hours")
    assert hours is not None
    assert hours.attributes["unit_of_measurement"] == "h"
    assert hours.attributes["device_class"] == "duration"


@pytest.mark.parametrize("language", ["en"])
async def test_every_entity_has_its_text(
    hass: HomeAssistant, whole: MockConfigEntry, language: str
) -> None:
    texts = json.loads(
        (COMPONENT / "translations" / f"{language}.json").read_text(encoding="utf-8")
    )["entity"]
    used: dict[str, set[str]] = {}
    for entity in entities_of(hass):
        domain = entity.entity_id.partition(".")[0]
        key = entity.translation_key
        assert key is not None, entity.entity_id
        assert "name" in texts[domain][key], entity.entity_id
        used.setdefault(domain, set()).add(key)
        if domain == "sensor" and (options := getattr(entity, "options", None)):
            # Recorded before version 0.2, it has the old names.
            known = {*options, *PHASES.get(key, ())}
            assert known == set(texts[domain][key]["state"])
    # Nothing is translated that doesn't exist.
    assert {domain: set(keys) for domain, keys in texts.items()} == used


async def test_every_icon_belongs_to_an_entity(
    hass: HomeAssistant, whole: MockConfigEntry
) -> None:
    icons = json.loads((COMPONENT / "icons.json").read_text(encoding="utf-8"))["entity"]
    classless = {}
    for entity in entities_of(hass):
        domain = entity.entity_id.partition(".")[0]
        if entity.device_class is None:
            classless[(domain, entity.translation_key)] = entity.entity_id
    known = {
        (entity.entity_id.partition(".")[0], entity.translation_key)
        for entity in entities_of(hass)
    }
    drawn = {(domain, key) for domain, keys in icons.items() for key in keys}
    assert drawn <= known
    # What has no device class would have no picture of its own.
    assert set(classless) <= drawn


async def test_parts_take_the_area_of_what_they_stand_for(
    hass: HomeAssistant,
    workshop: Workshop,
    area_registry: ar.AreaRegistry,
    device_registry: dr.DeviceRegistry,
    entity_registry: er.EntityRegistry,
) -> None:
    """An entity's own area precedes that of its device."""
    shop, attic, shed = (
        area_registry.async_create(name).id for name in ("Shop", "Attic", "Shed")
    )
    plugs = MockConfigEntry(domain="test")
    plugs.add_to_hass(hass)
    device = device_registry.async_get_or_create(
        config_entry_id=plugs.entry_id, identifiers={("test", "plug")}
    )
    device_registry.async_update_device(device.id, area_id=shed)
    for entity_id in (SAW_POWER, PLANER_POWER):
        hass.states.async_remove(entity_id)
        entity_registry.async_get_or_create(
            "sensor",
            "test",
            entity_id,
            config_entry=plugs,
            device_id=device.id,
            has_entity_name=True,
            original_name="Power",
            suggested_object_id=entity_id.partition(".")[2],
        )
        workshop.watts(entity_id, 3)
    entity_registry.async_update_entity(PLANER_POWER, area_id=attic)
    entity_registry.async_update_entity(COLLECTOR, area_id=shop)
    entity_registry.async_update_entity(SAW_GATE, area_id=shop)
    entry = system_entry()
    await workshop.start(entry)

    def area(part: str) -> str | None:
        found = device_registry.async_get_device_by_identifier(
            (DOMAIN, part), entry.entry_id
        )
        assert found is not None
        return found.area_id

    assert area("system") == shop
    assert area("saw_gate") == shop
    assert area("saw") == shed
    assert area("planer") == attic
    # Without an area of its own it's in the collector's.
    assert area("planer_gate") == shop
    assert area("sweep") == shop

    # Later the area is the owner's choice.
    found = device_registry.async_get_device_by_identifier(
        (DOMAIN, "saw"), entry.entry_id
    )
    assert found is not None
    device_registry.async_update_device(found.id, area_id=None)
    entity_registry.async_update_entity(SAW_GATE, area_id=attic)
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert area("saw") is None
    assert area("saw_gate") == shop


async def test_a_pickup_is_where_its_gate_is(
    hass: HomeAssistant,
    workshop: Workshop,
    area_registry: ar.AreaRegistry,
    device_registry: dr.DeviceRegistry,
    entity_registry: er.EntityRegistry,
) -> None:
    shop = area_registry.async_create("Shop").id
    entity_registry.async_update_entity(SWEEP_GATE, area_id=shop)
    parts = standard_parts()
    parts[5] = machine("sweep", "Floor sweep", gates=["gone", "inlet", "sweep_gate"])
    parts.append(gate("inlet", "Bench inlet", gate_kind="fixed"))
    parts.append(machine("hood", "Bench hood", gates=["inlet"]))
    entry = system_entry(parts)
    await workshop.start(entry)
    areas = {
        device.name: device.area_id
        for device in dr.async_entries_for_config_entry(device_registry, entry.entry_id)
    }
    assert areas["Floor sweep"] == shop
    assert areas["Bench hood"] is None
    assert areas["Bench inlet"] is None


async def test_what_is_no_thing_is_no_device(
    hass: HomeAssistant, workshop: Workshop, device_registry: dr.DeviceRegistry
) -> None:
    """A part that only describes the shop is skipped."""
    pipe = gate("pipe", "Main pipe")
    pipe["subentry_type"] = "pipe"
    entry = system_entry([*standard_parts(), pipe])
    await workshop.start(entry)
    names = {
        device.name
        for device in dr.async_entries_for_config_entry(device_registry, entry.entry_id)
    }
    assert "Main pipe" not in names
    assert "Saw gate" in names


async def test_a_device_is_described_before_the_collectors_is_there(
    hass: HomeAssistant,
) -> None:
    entry = system_entry()
    entry.add_to_hass(hass)
    assert device_info(hass, entry, "saw") == {
        "identifiers": {(DOMAIN, "saw")},
        "name": "Table saw",
    }


async def test_nothing_of_ours_depends_on_a_machine_that_is_off(
    hass: HomeAssistant, entry: MockConfigEntry, workshop: Workshop
) -> None:
    """At rest, with everything connected, every entity is available."""
    away = {
        state.entity_id
        for item in ours(hass)
        if (state := hass.states.get(item.entity_id)) is not None
        and state.state == "unavailable"
    }
    assert not away
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(3)
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
