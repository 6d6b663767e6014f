"""Every entity's registry entry and state, compared with a snapshot.

Taken in a shop of every kind of part, so that entities from a table of descriptions can
be compared with earlier ones: ids, names, categories, classes, units, precision,
attributes, and which of those aren't recorded.
"""

from collections.abc import Iterator, Mapping
import json
import re
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
from homeassistant.util.unit_system import (
    METRIC_SYSTEM,
    US_CUSTOMARY_SYSTEM,
    UnitSystem,
)
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
from syrupy.assertion import SnapshotAssertion

from .test_entities import entities_of, ours, run_every_kind
from .workshop import (
    PLANER_GATE,
    PLANER_POWER,
    SWEEP_GATE,
    Workshop,
    change_part,
    change_system,
    gate,
    machine,
    system_entry,
)

REGISTERED = (
    "capabilities",
    "config_subentry_id",
    "disabled_by",
    "entity_category",
    "has_entity_name",
    "original_device_class",
    "original_icon",
    "original_name",
    "supported_features",
    "translation_key",
    "unique_id",
    "unit_of_measurement",
)
MORNING = "2026-03-02 08:00:00+00:00"


def registered(hass: HomeAssistant) -> list[str]:
    """Return each registry entry of ours, one line each."""
    return sorted(
        line(
            item.entity_id,
            {
                name: value
                for name in REGISTERED
                if (value := getattr(item, name)) is not None
            }
            | {key: dict(value) for key, value in item.options.items() if value},
        )
        for item in ours(hass)
    )


def shown(hass: HomeAssistant) -> list[str]:
    """Return each state of ours, one line each; unrecorded values are in parentheses."""
    return sorted(_shown(hass))


def _shown(hass: HomeAssistant) -> Iterator[str]:
    for entity in entities_of(hass):
        state = hass.states.get(entity.entity_id)
        assert state is not None
        assert state.state_info is not None
        passed_over = state.state_info["unrecorded_attributes"]
        yield line(
            f"{entity.entity_id}: {state.state}",
            {
                f"({name})" if name in passed_over else name: value
                for name, value in state.attributes.items()
            },
        )


def line(what: str, values: Mapping[str, Any]) -> str:
    """Return values in one line.

    Values that always differ, and digits that depend on the processor, are left out.
    """
    text = json.dumps(values, default=str, ensure_ascii=False, sort_keys=True)
    text = re.sub(r"\b[0-9A-Z]{26}\b", "<occurrence>", f"{what} {text}")
    return re.sub(r"\d+\.\d{7,}", lambda found: f"{float(found[0]):.6f}", text)


async def enable_all(hass: HomeAssistant, *entries: MockConfigEntry) -> None:
    """Enable what is disabled at first, and reload the systems."""
    registry = er.async_get(hass)
    for item in ours(hass):
        registry.async_update_entity(item.entity_id, disabled_by=None)
    for entry in entries:
        assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()


@pytest.mark.as_delivered
@pytest.mark.parametrize(
    "units", [METRIC_SYSTEM, US_CUSTOMARY_SYSTEM], ids=["metric", "customary"]
)
async def test_every_entity(
    hass: HomeAssistant,
    workshop: Workshop,
    snapshot: SnapshotAssertion,
    units: UnitSystem,
) -> None:
    """At rest, at work, with faults, and with rarely used settings."""
    hass.config.units = units
    workshop.freezer.move_to(MORNING)
    watched = system_entry(
        [
            gate("mill_gate", "Mill gate", actuator=PLANER_GATE),
            machine("mill", "Mill", gates=["mill_gate"], sensor=PLANER_POWER),
        ],
        title="Watched",
        entry_id="watched",
        watch_since="2026-01-01T00:00Z",
        hand_gates=["mill_gate"],
    )
    await workshop.load(watched)
    entry = await run_every_kind(hass, workshop)
    metric = units is METRIC_SYSTEM
    assert not metric or registered(hass) == snapshot(name="registry")
    await enable_all(hass, watched, entry)
    await workshop.pass_time(31, 1)
    assert not metric or shown(hass) == snapshot(name="at rest")
    workshop.deaf.add(SWEEP_GATE)
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.saw_runs()
    workshop.watts("sensor.lathe_power", "unavailable")
    workshop.watts(PLANER_POWER, 900)
    workshop.put("sensor.static", "200")
    await workshop.pass_time(95, 1)
    assert shown(hass) == snapshot(name="at work")
    # What depends on a removed part goes with it.
    change_system(hass, entry, services=[], bin_volume=None, suction=None)
    await hass.async_block_till_done()
    assert sorted(registered(hass)) == snapshot(name="with less")


async def test_what_is_gone_or_cannot_be_read_any_more_breaks_no_entity(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    """While the system runs; its entities may follow a part that no longer exists."""
    entry = await run_every_kind(hass, workshop)
    await enable_all(hass, entry)
    workshop.watts(PLANER_POWER, 900)
    await workshop.pass_time(5, 1)
    name = workshop.attribute("switch.planer_dust_collection", "friendly_name")
    change_part(hass, entry, "planer", hold="long")
    change_part(hass, entry, "sweep_gate", rest=7)
    change_part(hass, entry, "far", diameter=-1)
    await workshop.pass_time(35, 1)
    assert workshop.state("switch.planer_dust_collection") == "unavailable"
    assert workshop.attribute("switch.planer_dust_collection", "friendly_name") == name
    for part in ("planer", "lathe", "hand", "branch"):
        hass.config_entries.async_remove_subentry(entry, part)
        await workshop.pass_time(2, 1)
    await workshop.saw_runs()
    assert workshop.state("binary_sensor.table_saw_running") == "on"
    assert [record.getMessage() for record in caplog.records if record.exc_info] == []
