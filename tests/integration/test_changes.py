"""The owner changes the system while it works; nothing running is disturbed."""

from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import (
    device_registry as dr,
    entity_registry as er,
    issue_registry as ir,
)
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.const import DOMAIN

from .workshop import (
    COLLECTOR,
    LAMP,
    PLANER_GATE,
    SAW_GATE,
    SAW_POWER,
    SWEEP_GATE,
    FakeCover,
    FakeSwitch,
    Workshop,
    add_part,
    change_part,
    change_system,
    gate,
    machine,
    standard_parts,
    system_entry,
)

PHASE = "sensor.dust_collector_phase"
SPARE = "switch.spare"


@pytest.fixture
async def entry(hass: HomeAssistant, workshop: Workshop) -> MockConfigEntry:
    """Return a system whose saw runs."""
    entry = system_entry()
    await workshop.add(FakeSwitch(workshop, SPARE))
    await workshop.start(entry)
    await workshop.saw_runs()
    return entry


def keys(hass: HomeAssistant, part: str) -> set[str]:
    """Return the registered entities of a part."""
    return {
        item.unique_id.removeprefix(f"{part}_")
        for item in er.async_get(hass).entities.values()
        if item.platform == DOMAIN and item.config_subentry_id == part
    }


async def test_a_gate_and_a_machine_are_added(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    workshop.watts("sensor.lathe_power", 5)
    add_part(hass, entry, gate("spare", "Spare gate", actuator=SPARE, travel=1.0))
    add_part(
        hass,
        entry,
        machine("lathe", "Lathe", gates=["spare"], sensor="sensor.lathe_power"),
    )
    await workshop.pass_time(10)
    assert workshop.sent() == []
    assert workshop.state(PHASE) == "collecting"
    assert workshop.state("cover.spare_gate") == "closed"
    assert workshop.state("binary_sensor.lathe_running") == "off"
    assert workshop.state("switch.lathe_dust_collection") == "off"
    assert "Spare gate" in workshop.attribute(
        "select.dust_collector_gate_for_manual_start", "options"
    )
    workshop.watts("sensor.lathe_power", 900)
    await workshop.pass_time(4)
    assert workshop.sent() == [("turn_on", SPARE)]
    assert workshop.state("binary_sensor.lathe_collecting") == "on"


async def test_a_new_device_is_behind_the_collector(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    device_registry: dr.DeviceRegistry,
) -> None:
    add_part(hass, entry, gate("spare", "Spare gate", actuator=SPARE))
    await hass.async_block_till_done()
    hub = device_registry.async_get_device_by_identifier(
        (DOMAIN, "system"), entry.entry_id
    )
    new = device_registry.async_get_device_by_identifier(
        (DOMAIN, "spare"), entry.entry_id
    )
    assert hub is not None
    assert new is not None
    assert new.via_device_id == hub.id
    assert new.config_subentry_id == "spare"


async def test_the_first_gate_brings_the_choice_of_the_hand_gate(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    parts = [machine("saw", "Table saw", gates=[], sensor=SAW_POWER)]
    entry = system_entry(parts, hand_gates=[])
    await workshop.start(entry)
    assert hass.states.async_all("select") == []
    add_part(hass, entry, gate("saw_gate", "Saw gate", actuator=SAW_GATE))
    await hass.async_block_till_done()
    (select,) = hass.states.async_all("select")
    assert select.state == "Saw gate"
    hass.config_entries.async_remove_subentry(entry, "saw_gate")
    await hass.async_block_till_done()
    assert hass.states.async_all("select") == []


async def test_changed_levels_count_from_the_next_reading(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    change_part(hass, entry, "saw", start=2000.0, stop=1500.0)
    await workshop.pass_time(10)
    assert workshop.state("binary_sensor.table_saw_running") == "off"
    assert ("turn_off", COLLECTOR) in workshop.sent()


@pytest.mark.parametrize(
    "change",
    [
        {"run_on": 9.0, "coast": 30.0},
        {"confirm": 20.0, "start_delay": 2.0},
        {"starts_per_hour": 6.0, "rest_time": 60.0},
        {"hand_gates": ["planer_gate"]},
    ],
)
async def test_changed_figures_of_the_collector_disturb_nothing(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    change: dict[str, Any],
) -> None:
    change_system(hass, entry, **change)
    await workshop.pass_time(30, 1)
    assert workshop.sent() == []
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"


async def test_a_running_machine_is_removed(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    device_registry: dr.DeviceRegistry,
) -> None:
    hass.config_entries.async_remove_subentry(entry, "saw")
    await workshop.pass_time(20)
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_cover", SAW_GATE)]
    assert keys(hass, "saw") == set()
    assert hass.states.get("binary_sensor.table_saw_running") is None
    assert (
        device_registry.async_get_device_by_identifier((DOMAIN, "saw"), entry.entry_id)
        is None
    )
    # Its plug isn't read any more.
    workshop.watts(SAW_POWER, 1500)
    await workshop.pass_time(5)
    assert workshop.sent() == []


async def test_the_linked_devices_of_a_removed_machine_are_switched_off(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    parts = standard_parts()
    parts[3] = machine(
        "saw", "Table saw", gates=["saw_gate"], sensor=SAW_POWER, companions=[LAMP]
    )
    entry = system_entry(parts)
    await workshop.start(entry)
    await workshop.saw_runs()
    assert workshop.state(LAMP) == "on"
    hass.config_entries.async_remove_subentry(entry, "saw")
    await workshop.pass_time(1)
    assert workshop.sent() == [("turn_off", LAMP)]


async def test_a_linked_device_that_nobody_switched_on_is_left_alone(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    parts = standard_parts()
    parts[3] = machine(
        "saw", "Table saw", gates=["saw_gate"], sensor=SAW_POWER, companions=[LAMP]
    )
    entry = system_entry(parts)
    await workshop.start(entry)
    workshop.lamp.by_hand(is_on=True)
    change_part(hass, entry, "saw", companions=[])
    await workshop.pass_time(1)
    assert workshop.sent() == []


async def test_a_gate_in_use_is_removed(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    issue_registry: ir.IssueRegistry,
) -> None:
    """The saw can't be served any more, and a repair says so."""
    hass.config_entries.async_remove_subentry(entry, "saw_gate")
    await workshop.pass_time(30)
    assert ("turn_off", COLLECTOR) in workshop.sent()
    assert workshop.state(PHASE) == "idle"
    (issue,) = issue_registry.issues.values()
    assert issue.translation_key == "missing_gates"
    assert workshop.state(SAW_GATE) == "open"


async def test_a_gate_of_two_is_removed(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    parts = standard_parts()
    parts[3] = machine(
        "saw", "Table saw", gates=["saw_gate", "sweep_gate"], sensor=SAW_POWER
    )
    entry = system_entry(parts)
    await workshop.start(entry)
    await workshop.saw_runs()
    hass.config_entries.async_remove_subentry(entry, "sweep_gate")
    await workshop.pass_time(10)
    assert workshop.sent() == []
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"


async def test_parts_and_system_are_renamed(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    device_registry: dr.DeviceRegistry,
) -> None:
    change_part(hass, entry, "saw", title="Cabinet saw")
    hass.config_entries.async_update_entry(entry, title="Cyclone")
    await hass.async_block_till_done()
    names = {
        device.name
        for device in dr.async_entries_for_config_entry(device_registry, entry.entry_id)
    }
    assert {"Cabinet saw", "Cyclone"} <= names
    assert not {"Table saw", "Dust collector"} & names
    name = "friendly_name"
    assert (
        workshop.attribute("switch.table_saw_dust_collection", name)
        == "Cabinet saw Dust collection"
    )
    assert workshop.attribute("switch.dust_collector", name) == "Cyclone"
    assert workshop.sent() == []


async def test_the_switch_of_the_collector_is_exchanged(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    """The old one may be running: it's turned off, and the saw stays served."""
    change_system(hass, entry, switch=SPARE)
    await workshop.pass_time(2)
    assert sorted(workshop.sent()) == [("turn_off", COLLECTOR), ("turn_on", SPARE)]
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    await workshop.pass_time(30, 1)
    assert workshop.sent() == []


async def test_the_switch_of_a_resting_collector_is_exchanged(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.add(FakeSwitch(workshop, SPARE))
    await workshop.start(entry)
    change_system(hass, entry, switch=SPARE)
    await workshop.pass_time(15)
    assert workshop.sent() == []


async def test_a_command_to_the_old_switch_does_not_end_after_the_new_one_is_ours(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.add(FakeSwitch(workshop, SPARE))
    await workshop.start(entry)
    workshop.hangs.add(COLLECTOR)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]
    workshop.hangs.clear()
    change_system(hass, entry, switch=SPARE)
    await workshop.pass_time(30, 1)
    assert sorted(workshop.sent()) == [("turn_off", COLLECTOR), ("turn_on", SPARE)]
    assert workshop.state(COLLECTOR) == "off"


async def test_the_same_switch_stored_otherwise_is_no_exchange(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    entity_registry: er.EntityRegistry,
) -> None:
    """An entity stored by its name is stored by reference once it is registered."""
    change_system(hass, entry, switch=entity_registry.entities[COLLECTOR].id)
    change_part(hass, entry, "saw_gate", actuator=entity_registry.entities[SAW_GATE].id)
    await workshop.pass_time(20)
    assert workshop.sent() == []
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"


async def test_the_actuator_of_an_open_gate_is_exchanged(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    await workshop.add(FakeCover(workshop, "cover.new_gate"))
    change_part(hass, entry, "saw_gate", actuator="cover.new_gate")
    await workshop.pass_time(5)
    assert ("open_cover", "cover.new_gate") in workshop.sent()
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    assert workshop.state(PHASE) == "collecting"


async def test_a_gate_gets_a_sensor_and_obeys_its_next_command(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """What was known of the actuator is dropped then; its driver has to follow."""
    parts = standard_parts()
    parts[3] = machine("saw", "Table saw", gates=["planer_gate"], sensor=SAW_POWER)
    entry = system_entry(parts)
    hass.states.async_set("binary_sensor.planer_gate_open", "off")
    await workshop.start(entry)
    await workshop.call("open_cover", "cover.planer_gate")
    await workshop.pass_time(6)
    await workshop.call("close_cover", "cover.planer_gate")
    await workshop.pass_time(6)
    workshop.calls.clear()
    change_part(
        hass, entry, "planer_gate", open_sensor="binary_sensor.planer_gate_open"
    )
    await workshop.pass_time(1)
    workshop.calls.clear()
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.sent() == [("turn_on", PLANER_GATE)]
    hass.states.async_set("binary_sensor.planer_gate_open", "on")
    await workshop.pass_time(1)
    assert workshop.sent() == [("turn_on", COLLECTOR)]


async def test_a_switch_turns_out_to_be_inverted(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    change_part(hass, entry, "planer_gate", inverted=True)
    await workshop.pass_time(1)
    # It counts as open now, and idles closed.
    await workshop.pass_time(12)
    assert workshop.sent() == [("turn_on", PLANER_GATE)]
    assert workshop.state("cover.planer_gate") == "closed"


@pytest.mark.parametrize("kind", ["fixed", "hand"])
async def test_a_powered_gate_becomes_another_kind(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry, kind: str
) -> None:
    hass.states.async_set("binary_sensor.saw_gate_open", "on")
    data = {"open_sensor": "binary_sensor.saw_gate_open"} if kind == "hand" else {}
    change_part(hass, entry, "saw_gate", without=("actuator",), gate_kind=kind, **data)
    await workshop.pass_time(10)
    assert workshop.sent() == []
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    expected = {"gate", "problem"} if kind == "hand" else set()
    assert keys(hass, "saw_gate") == expected


async def test_a_machine_is_no_longer_movable(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    hass.states.async_set("binary_sensor.plugged", "on")
    parts = standard_parts()
    parts[3] = machine(
        "saw",
        "Table saw",
        gates=["saw_gate"],
        sensor=SAW_POWER,
        attached="binary_sensor.plugged",
    )
    entry = system_entry(parts)
    await workshop.start(entry)
    assert "connected" in keys(hass, "saw")
    change_part(hass, entry, "saw", without=("attached",))
    await hass.async_block_till_done()
    assert "connected" not in keys(hass, "saw")
    assert hass.states.get("binary_sensor.table_saw_hose_connected") is None
    change_part(hass, entry, "saw", attached="binary_sensor.plugged")
    await hass.async_block_till_done()
    assert workshop.state("binary_sensor.table_saw_hose_connected") == "on"


async def test_a_machine_becomes_a_pickup_asked_for_by_hand(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    change_part(hass, entry, "saw", without=("sensor",))
    await workshop.pass_time(20)
    assert keys(hass, "saw") == {
        "collecting",
        "phase",
        "phase_ends",
        "problem",
        "request",
        "run_time",
    }
    assert workshop.state(PHASE) == "idle"


async def test_what_changed_while_home_assistant_was_off_leaves_no_entities_behind(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    assert "cuts" in keys(hass, "saw")
    assert await hass.config_entries.async_unload(entry.entry_id)
    change_part(hass, entry, "saw", without=("sensor",))
    assert await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    assert "cuts" not in keys(hass, "saw")
    assert "collecting" in keys(hass, "saw")


async def test_an_entity_that_the_owner_disabled_stays_disabled(
    hass: HomeAssistant,
    workshop: Workshop,
    entry: MockConfigEntry,
    entity_registry: er.EntityRegistry,
) -> None:
    entity_registry.async_update_entity(
        "sensor.table_saw_cuts", disabled_by=er.RegistryEntryDisabler.USER
    )
    await hass.async_block_till_done()
    change_part(hass, entry, "saw", hold=5.0)
    await hass.async_block_till_done()
    item = entity_registry.async_get("sensor.table_saw_cuts")
    assert item is not None
    assert item.disabled_by is er.RegistryEntryDisabler.USER
    assert hass.states.get("sensor.table_saw_cuts") is None


async def test_a_subscriber_can_unsubscribe(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    reported: list[str] = []
    forget = entry.runtime_data.context.on_replan(lambda: reported.append("again"))
    change_part(hass, entry, "saw", hold=5.0)
    await hass.async_block_till_done()
    forget()
    change_part(hass, entry, "saw", hold=6.0)
    await hass.async_block_till_done()
    assert reported == ["again"]


# Two systems --------------------------------------------------------------------------


async def test_two_systems_never_touch_each_other(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.add(FakeSwitch(workshop, SPARE))
    await workshop.add(FakeCover(workshop, "cover.shed_gate_actuator"))
    parts = standard_parts()
    first = system_entry([parts[0], parts[2], parts[3], parts[5]])
    workshop.watts("sensor.shed_saw_power", 3)
    second = system_entry(
        [
            gate("shed_gate", "Shed gate", actuator="cover.shed_gate_actuator"),
            machine(
                "shed_saw",
                "Shed saw",
                gates=["shed_gate"],
                sensor="sensor.shed_saw_power",
            ),
        ],
        title="Shed collector",
        entry_id="shed",
        switch=SPARE,
        hand_gates=["shed_gate"],
    )
    await workshop.start(first)
    await workshop.start(second)
    mine = {COLLECTOR, SAW_GATE, SWEEP_GATE}
    theirs = {SPARE, "cover.shed_gate_actuator"}
    await workshop.saw_runs()
    workshop.watts("sensor.shed_saw_power", 900)
    await workshop.pass_time(2)
    assert {entity_id for _, entity_id in workshop.sent()} == theirs
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(20)
    assert {entity_id for _, entity_id in workshop.sent()} == mine - {SWEEP_GATE}
    assert workshop.state("sensor.shed_collector_phase") == "collecting"
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    await workshop.call("turn_on", "switch.shed_collector")
    await workshop.pass_time(5)
    assert workshop.sent() == []
    # A manual change at one collector doesn't affect the other.
    workshop.collector.by_hand(is_on=True)
    await workshop.pass_time(3)
    assert {entity_id for _, entity_id in workshop.sent()} <= mine
    assert workshop.state("sensor.shed_collector_phase") == "collecting"
    assert await hass.config_entries.async_remove(second.entry_id)
    await hass.async_block_till_done()
    assert {entity_id for _, entity_id in workshop.sent()} == {SPARE}
    assert workshop.state("switch.dust_collector_block_starts") == "on"
    assert er.async_get(hass).entities[SAW_GATE].hidden_by is not None
