"""Wrapped entities are renamed, removed, hidden and shown."""

from typing import Any

from homeassistant.config_entries import ConfigEntryDisabler
from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er, issue_registry as ir
from homeassistant.helpers.translation import async_get_translations
import pytest

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.runtime.entity_references import (
    to_entity_id,
    to_stored,
)

from .workshop import (
    COLLECTOR,
    LAMP,
    PLANER_GATE,
    SAW_GATE,
    SAW_POWER,
    SWEEP_GATE,
    Workshop,
    change_part,
    change_system,
    gate,
    machine,
    standard_parts,
    system_entry,
)

INTEGRATION = er.RegistryEntryHider.INTEGRATION
USER = er.RegistryEntryHider.USER


def registered(hass: HomeAssistant, workshop: Workshop) -> dict[str, str]:
    """Register the plugs as well; return the stored reference of everything."""
    registry = er.async_get(hass)
    references = {}
    for entity_id in (SAW_POWER, "binary_sensor.saw_there", "sensor.collector_power"):
        hass.states.async_remove(entity_id)
        domain, _, name = entity_id.partition(".")
        registry.async_get_or_create(domain, "test", name, suggested_object_id=name)
    workshop.watts(SAW_POWER, 3)
    hass.states.async_set("binary_sensor.saw_there", "on")
    workshop.watts("sensor.collector_power", 4)
    for entity_id in (
        COLLECTOR,
        LAMP,
        SAW_GATE,
        PLANER_GATE,
        SWEEP_GATE,
        SAW_POWER,
        "binary_sensor.saw_there",
        "sensor.collector_power",
    ):
        references[entity_id] = to_stored(hass, entity_id)
        assert references[entity_id] != entity_id
    return references


def referring(references: dict[str, str], **data: Any) -> Any:
    """Return the standard system, its entities stored by reference."""
    parts = standard_parts()
    parts[0] = gate("saw_gate", "Saw gate", actuator=references[SAW_GATE])
    parts[1] = gate("planer_gate", "Planer gate", actuator=references[PLANER_GATE])
    parts[2] = gate("sweep_gate", "Sweep gate", actuator=references[SWEEP_GATE])
    parts[3] = machine(
        "saw",
        "Table saw",
        gates=["saw_gate"],
        sensor=references[SAW_POWER],
        attached=references["binary_sensor.saw_there"],
        companions=[references[LAMP]],
    )
    return system_entry(parts, switch=references[COLLECTOR], **data)


async def test_references_are_what_survives_a_rename(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    stored = to_stored(hass, COLLECTOR)
    entity_registry.async_update_entity(COLLECTOR, new_entity_id="switch.fan")
    assert to_entity_id(hass, stored) == "switch.fan"
    entity_registry.async_remove("switch.fan")
    assert to_entity_id(hass, stored) is None
    assert to_stored(hass, "sensor.unregistered") == "sensor.unregistered"
    assert to_entity_id(hass, "sensor.unregistered") == "sensor.unregistered"


async def test_everything_is_renamed_while_it_runs(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    await workshop.start(referring(registered(hass, workshop)))
    await workshop.saw_runs()
    for old, new in (
        (COLLECTOR, "switch.cyclone"),
        (SAW_GATE, "cover.gate_one"),
        (LAMP, "switch.light"),
    ):
        entity_registry.async_update_entity(old, new_entity_id=new)
        await hass.async_block_till_done()
    # A plug is renamed by its own integration, which then writes the new state.
    entity_registry.async_update_entity(SAW_POWER, new_entity_id="sensor.saw_watts")
    hass.states.async_remove(SAW_POWER)
    workshop.watts("sensor.saw_watts", 1390)
    await workshop.pass_time(5)
    assert workshop.sent() == []
    assert workshop.state("sensor.dust_collector_phase") == "collecting"
    assert workshop.state("binary_sensor.table_saw_running") == "on"
    workshop.watts("sensor.saw_watts", 3)
    await workshop.pass_time(20)
    assert workshop.sent() == [
        ("turn_off", "switch.light"),
        ("turn_off", "switch.cyclone"),
        ("close_cover", "cover.gate_one"),
    ]


@pytest.mark.parametrize(
    ("removed", "issue", "name"),
    [
        (COLLECTOR, "missing_switch", "Dust collector"),
        ("sensor.collector_power", "missing_power", "Dust collector"),
        (SAW_GATE, "missing_actuator", "Saw gate"),
        (SAW_POWER, "missing_sensor", "Table saw"),
        ("binary_sensor.saw_there", "missing_attached", "Table saw"),
        (LAMP, "missing_companions", "Table saw"),
    ],
)
async def test_a_removed_entity_raises_an_issue_that_goes_when_mended(
    hass: HomeAssistant,
    workshop: Workshop,
    entity_registry: er.EntityRegistry,
    issue_registry: ir.IssueRegistry,
    removed: str,
    issue: str,
    name: str,
) -> None:
    references = registered(hass, workshop)
    entry = referring(references, power=references["sensor.collector_power"])
    await workshop.start(entry)
    assert not issue_registry.issues
    entity_registry.async_remove(removed)
    await hass.async_block_till_done()
    (found,) = issue_registry.issues.values()
    assert found.domain == DOMAIN
    assert found.translation_key == issue
    assert found.translation_placeholders == {"name": name, "system": "Dust collector"}
    assert found.severity is ir.IssueSeverity.ERROR
    texts = await async_get_translations(hass, "en", "issues", [DOMAIN])
    for text in ("title", "description"):
        shown = texts[f"component.{DOMAIN}.issues.{issue}.{text}"].format(
            **found.translation_placeholders
        )
        assert "{" not in shown
        if text == "title":
            assert name in shown
    # The same entity comes back, with its earlier reference.
    domain, _, unique_id = removed.partition(".")
    entity_registry.async_get_or_create(
        domain, "test", unique_id, suggested_object_id=unique_id
    )
    await hass.async_block_till_done()
    assert not issue_registry.issues


async def test_an_open_gate_whose_entity_is_removed_stops_nothing(
    hass: HomeAssistant,
    workshop: Workshop,
    entity_registry: er.EntityRegistry,
    issue_registry: ir.IssueRegistry,
) -> None:
    """The last known position holds until the work ends; one repair reports it."""
    references = registered(hass, workshop)
    hass.states.async_set("binary_sensor.saw_there", "on")
    await workshop.start(referring(references))
    await workshop.saw_runs()
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    entity_registry.async_remove(SAW_GATE)
    await workshop.pass_time(60, 1)
    assert ("turn_off", COLLECTOR) not in workshop.sent()
    assert [i.translation_key for i in issue_registry.issues.values()] == [
        "missing_actuator"
    ]
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(20, 1)
    assert ("turn_off", COLLECTOR) in workshop.sent()


@pytest.mark.parametrize("end", ["open_sensor", "shut_sensor"])
async def test_a_lost_sensor_of_a_gate_is_reported(
    hass: HomeAssistant, workshop: Workshop, issue_registry: ir.IssueRegistry, end: str
) -> None:
    parts = standard_parts()
    lost = {end: "0123456789abcdef0123456789abcdef"}
    parts[0] = gate("saw_gate", "Saw gate", actuator=SAW_GATE, **lost)
    entry = system_entry(parts)
    await workshop.start(entry)
    (found,) = issue_registry.issues.values()
    assert found.translation_key == f"missing_{end}"
    change_part(hass, entry, "saw_gate", without=(end,))
    await hass.async_block_till_done()
    assert not issue_registry.issues


async def test_a_machine_whose_gates_are_gone_is_reported_and_keeps_its_entities(
    hass: HomeAssistant,
    workshop: Workshop,
    entity_registry: er.EntityRegistry,
    issue_registry: ir.IssueRegistry,
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    before = {
        item.entity_id
        for item in er.async_entries_for_config_entry(entity_registry, entry.entry_id)
        if item.config_subentry_id == "saw"
    }
    hass.config_entries.async_remove_subentry(entry, "saw_gate")
    await hass.async_block_till_done()
    (found,) = issue_registry.issues.values()
    assert found.translation_key == "missing_gates"
    assert found.translation_placeholders == {
        "name": "Table saw",
        "system": "Dust collector",
    }
    for entity_id in (
        "binary_sensor.table_saw_running",
        "binary_sensor.table_saw_collecting",
        "switch.table_saw_dust_collection",
        "sensor.table_saw_phase",
    ):
        assert workshop.state(entity_id) == "unavailable"
    # They're still there after a restart, under their names.
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert before == {
        item.entity_id
        for item in er.async_entries_for_config_entry(entity_registry, entry.entry_id)
        if item.config_subentry_id == "saw"
    }
    assert workshop.attribute("switch.table_saw_dust_collection", "friendly_name") == (
        "Table saw Dust collection"
    )
    change_part(hass, entry, "saw", gates=["sweep_gate"])
    await workshop.pass_time(1)
    assert not issue_registry.issues
    assert workshop.state("binary_sensor.table_saw_running") == "off"


async def test_issues_of_a_disabled_system_are_taken_back(
    hass: HomeAssistant,
    workshop: Workshop,
    entity_registry: er.EntityRegistry,
    issue_registry: ir.IssueRegistry,
) -> None:

    entry = referring(registered(hass, workshop))
    await workshop.start(entry)
    entity_registry.async_remove(LAMP)
    await hass.async_block_till_done()
    assert issue_registry.issues
    await hass.config_entries.async_set_disabled_by(
        entry.entry_id, ConfigEntryDisabler.USER
    )
    assert not issue_registry.issues


async def test_what_changes_besides_the_name_is_no_matter(
    hass: HomeAssistant,
    workshop: Workshop,
    entity_registry: er.EntityRegistry,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Another icon, or a foreign entity, doesn't trigger a reload."""
    entry = referring(registered(hass, workshop))
    await workshop.start(entry)
    replans: list[None] = []
    monkeypatch.setattr(
        entry.runtime_data._inputs, "_replan", lambda: replans.append(None)
    )
    entity_registry.async_update_entity(SAW_GATE, icon="mdi:pipe-valve")
    entity_registry.async_get_or_create("sensor", "test", "other")
    entity_registry.async_remove("sensor.test_other")
    await hass.async_block_till_done()
    assert replans == []
    entity_registry.async_update_entity(SAW_GATE, new_entity_id="cover.one")
    await hass.async_block_till_done()
    assert len(replans) == 1


# Hiding -------------------------------------------------------------------------------


async def test_wrapped_actuators_are_hidden_and_nothing_else(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    """The linked device and the plugs stay where the owner put them."""
    await workshop.start(referring(registered(hass, workshop)))
    hidden = {
        item.entity_id
        for item in entity_registry.entities.values()
        if item.hidden_by is not None
    }
    assert hidden == {COLLECTOR, SAW_GATE, PLANER_GATE, SWEEP_GATE}
    assert entity_registry.entities[COLLECTOR].hidden_by is INTEGRATION
    assert entity_registry.entities[COLLECTOR].disabled_by is None


async def test_the_owner_may_have_them_shown(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    entry = system_entry(hide_wrapped=False)
    await workshop.start(entry)
    assert entity_registry.entities[COLLECTOR].hidden_by is None
    change_system(hass, entry, hide_wrapped=True)
    await hass.async_block_till_done()
    assert entity_registry.entities[COLLECTOR].hidden_by is INTEGRATION
    change_system(hass, entry, hide_wrapped=False)
    await hass.async_block_till_done()
    assert entity_registry.entities[COLLECTOR].hidden_by is None
    assert entity_registry.entities[SAW_GATE].hidden_by is None


async def test_what_the_owner_hid_stays_hidden(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    entity_registry.async_update_entity(SAW_GATE, hidden_by=USER)
    entry = system_entry()
    await workshop.start(entry)
    assert entity_registry.entities[SAW_GATE].hidden_by is USER
    assert await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done()
    assert entity_registry.entities[SAW_GATE].hidden_by is USER
    assert entity_registry.entities[COLLECTOR].hidden_by is None


async def test_what_the_owner_shows_stays_shown(
    hass: HomeAssistant,
    workshop: Workshop,
    entity_registry: er.EntityRegistry,
    hass_storage: dict[str, Any],
) -> None:
    """Hidden once; what is shown again on purpose isn't hidden at the next start."""
    entry = system_entry()
    await workshop.start(entry)
    entity_registry.async_update_entity(SAW_GATE, hidden_by=None)
    change_part(hass, entry, "planer_gate", travel=6.0)
    await hass.async_block_till_done()
    assert entity_registry.entities[SAW_GATE].hidden_by is None
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert entity_registry.entities[SAW_GATE].hidden_by is None
    assert await hass.config_entries.async_unload(entry.entry_id)
    hass.data["gatewright_handovers"].clear()
    assert await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    assert entity_registry.entities[SAW_GATE].hidden_by is None
    assert entity_registry.entities[PLANER_GATE].hidden_by is INTEGRATION


async def test_what_is_no_longer_wrapped_is_shown(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    hass.config_entries.async_remove_subentry(entry, "planer_gate")
    change_part(hass, entry, "saw_gate", actuator="switch.new_gate")
    await hass.async_block_till_done()
    assert entity_registry.entities[PLANER_GATE].hidden_by is None
    assert entity_registry.entities[SAW_GATE].hidden_by is None
    assert entity_registry.entities[SWEEP_GATE].hidden_by is INTEGRATION


async def test_an_actuator_that_is_registered_late_is_hidden_then(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    parts = standard_parts()
    parts[0] = gate("saw_gate", "Saw gate", actuator="switch.late_gate")
    await workshop.start(system_entry(parts))
    entity_registry.async_get_or_create(
        "switch", "test", "late", suggested_object_id="late_gate"
    )
    await hass.async_block_till_done()
    assert entity_registry.entities["switch.late_gate"].hidden_by is INTEGRATION
