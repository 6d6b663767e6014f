"""Ids that driven entities occupy: suggested for ours, and swapped on confirmation."""

from typing import Any

from homeassistant.components.repairs.const import DOMAIN as REPAIRS
from homeassistant.components.repairs.issue_handler import RepairsFlowManager
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import (
    device_registry as dr,
    entity_registry as er,
    issue_registry as ir,
)
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.runtime.entity_references import to_stored

from .workshop import (
    FakeCover,
    FakeSwitch,
    Workshop,
    add_part,
    gate,
    machine,
    standard_parts,
    system_entry,
)

ISSUE = "id_taken_system"
PLUG, OURS = "switch.dust_collector", "switch.dust_collector_2"
ACTUATOR, GATE = "cover.mill_gate", "cover.mill_gate_2"


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Return a system whose collector and saw gate have the names of what they drive."""
    await workshop.add(FakeSwitch(workshop, PLUG), FakeCover(workshop, ACTUATOR))
    entry = system_entry(
        [
            gate("saw_gate", "Mill gate", actuator=to_stored(hass, ACTUATOR)),
            gate("rear", "Rear gate", actuator="switch.planer_gate_solenoid"),
            machine(
                "saw",
                "Table saw",
                gates=["saw_gate"],
                sensor="sensor.table_saw_plug_power",
            ),
        ],
        switch=to_stored(hass, PLUG),
        hand_gates=["saw_gate"],
    )
    await workshop.start(entry)
    return entry


def issue(hass: HomeAssistant) -> ir.IssueEntry | None:
    """Return the suggestion."""
    return ir.async_get(hass).async_get_issue(DOMAIN, ISSUE)


async def opened(hass: HomeAssistant) -> tuple[RepairsFlowManager, Any]:
    """Open the repair."""
    assert await async_setup_component(hass, REPAIRS, {})
    await hass.async_block_till_done()
    manager: RepairsFlowManager = hass.data[REPAIRS]["flow_manager"]
    return manager, await manager.async_init(DOMAIN, data={"issue_id": ISSUE})


async def automate(hass: HomeAssistant) -> None:
    """Set up an automation that uses the plug, and a script that doesn't."""
    automation = {
        "id": "a0",
        "alias": "Evening",
        "triggers": [],
        "actions": [{"action": "switch.turn_off", "target": {"entity_id": PLUG}}],
    }
    script = {"lamp": {"sequence": [{"action": "light.turn_on"}]}}
    assert await async_setup_component(hass, "automation", {"automation": [automation]})
    assert await async_setup_component(hass, "script", {"script": script})


@pytest.mark.usefixtures("entry")
async def test_what_is_driven_gives_its_id_up_on_a_yes(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    await automate(hass)
    ids = {
        known: found.id
        for known in (PLUG, OURS, ACTUATOR, GATE)
        if (found := entity_registry.async_get(known))
    }
    assert len(ids) == 4
    assert issue(hass)
    manager, flow = await opened(hass)
    assert flow["type"] is FlowResultType.FORM
    words = flow["description_placeholders"]
    for changed in (
        f"`{PLUG}` → `{PLUG}_relay`",
        f"`{OURS}` → `{PLUG}`",
        f"`{ACTUATOR}` → `{ACTUATOR}_actuator`",
        f"`{GATE}` → `{ACTUATOR}`",
    ):
        assert changed in words["ids"]
    assert f"[Evening](/config/automation/edit/a0): `{PLUG}`" in words["uses"]
    assert "lamp" not in words["uses"]
    # Nothing before the confirmation.
    assert entity_registry.async_get(OURS)
    done = await manager.async_configure(flow["flow_id"], {})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    await hass.async_block_till_done()
    now = {found.id: known for known, found in entity_registry.entities.items()}
    assert now[ids[PLUG]] == f"{PLUG}_relay"
    assert now[ids[OURS]] == PLUG
    assert now[ids[ACTUATOR]] == f"{ACTUATOR}_actuator"
    assert now[ids[GATE]] == ACTUATOR
    assert issue(hass) is None


@pytest.mark.usefixtures("entry")
async def test_it_says_when_nobody_uses_the_ids(hass: HomeAssistant) -> None:
    _, flow = await opened(hass)
    assert flow["description_placeholders"]["uses"].startswith("No automation")


async def test_what_changed_meanwhile_is_not_renamed(
    hass: HomeAssistant, entry: MockConfigEntry, entity_registry: er.EntityRegistry
) -> None:
    manager, flow = await opened(hass)
    for ours in (OURS, GATE):
        entity_registry.async_update_entity(ours, new_entity_id=f"{ours}_mine")
    done = await manager.async_configure(flow["flow_id"], {})
    assert done["type"] is FlowResultType.ABORT
    assert done["reason"] == "gone"
    assert entity_registry.async_get(PLUG)
    assert entry.title == "Dust collector"


async def test_an_ignored_one_is_not_raised_again(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    ir.async_ignore_issue(hass, DOMAIN, ISSUE, True)
    await workshop.add(FakeCover(workshop, "cover.lathe_gate"))
    add_part(
        hass,
        entry,
        gate("lathe", "Lathe gate", actuator=to_stored(hass, "cover.lathe_gate")),
    )
    await hass.async_block_till_done()
    found = issue(hass)
    assert found
    assert found.dismissed_version
    assert await hass.config_entries.async_remove(entry.entry_id)
    assert issue(hass) is None


async def test_ids_that_others_have_are_left_alone(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """A number at the end without a driven entity as its reason, and one without an entry."""
    await workshop.add(FakeSwitch(workshop, PLUG))
    hass.states.async_set(ACTUATOR, "closed")
    await workshop.start(
        system_entry([gate("saw_gate", "Mill gate", actuator=ACTUATOR)])
    )
    assert hass.states.get(OURS)
    assert hass.states.get(GATE)
    assert issue(hass) is None


async def test_a_device_names_what_is_behind_it(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    registry = dr.async_get(hass)
    plugs = MockConfigEntry(domain="plugs")
    plugs.add_to_hass(hass)
    plug = registry.async_get_or_create(
        config_entry_id=plugs.entry_id, identifiers={("plugs", "saw")}, name="Saw plug"
    )
    hass.states.async_remove("sensor.table_saw_plug_power")
    entity_registry.async_get_or_create(
        "sensor",
        "plugs",
        "saw",
        suggested_object_id="table_saw_plug_power",
        device_id=plug.id,
        config_entry=plugs,
    )
    workshop.put(
        "sensor.table_saw_plug_power",
        "3",
        {"unit_of_measurement": "W", "friendly_name": "Saw plug Power"},
    )
    power = to_stored(hass, "sensor.table_saw_plug_power")
    parts = standard_parts()
    parts[3] = machine("saw", "Table saw", gates=["saw_gate"], sensor=power)
    await workshop.start(system_entry(parts))

    def device(part: str) -> dr.DeviceEntry:
        found = registry.async_get_device_by_identifier((DOMAIN, part), "system")
        assert found
        return found

    saw = device("saw")
    assert saw.model == "Saw plug Power"
    assert saw.model_id == "sensor.table_saw_plug_power"
    link = f"homeassistant://config/devices/device/{plug.id}"
    assert saw.configuration_url == link
    assert saw.via_device_id == device("system").id
    gate_ = device("saw_gate")
    assert gate_.model_id == "cover.saw_gate_actuator"
    # It has no device to look at; a pickup has no entity of its own.
    assert gate_.configuration_url is None
    assert device("sweep").model is None
    # Renamed, it's named anew; away, it keeps its name.
    entity_registry.async_update_entity(
        "sensor.table_saw_plug_power", new_entity_id="sensor.saw_watts"
    )
    hass.states.async_remove("sensor.table_saw_plug_power")
    workshop.watts("sensor.saw_watts", 3)
    await hass.async_block_till_done()
    entry = hass.config_entries.async_get_entry("system")
    assert entry
    entry.runtime_data.replan()
    assert device("saw").model_id == "sensor.saw_watts"
    hass.states.async_remove("sensor.saw_watts")
    entry.runtime_data.replan()
    assert device("saw").model_id == "sensor.saw_watts"
