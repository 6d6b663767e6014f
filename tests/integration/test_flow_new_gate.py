"""Which machines a new gate is for, and a shop's first gate."""

from collections.abc import Iterator
from typing import Any

from homeassistant.const import EVENT_STATE_CHANGED
from homeassistant.core import HomeAssistant
from homeassistant.helpers.issue_registry import EVENT_REPAIRS_ISSUE_REGISTRY_UPDATED
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_capture_events,
)

from custom_components.gatewright.core.config import CollectorConfig, find_problems
from custom_components.gatewright.forms.flow.parts import gate_parts, machine_parts

from .flow_helpers import Form, Hub, gate, machine, part_named, system, without_engine
from .workshop import (
    COLLECTOR,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    machine as machine_part,
    system_entry,
)


@pytest.fixture
def _engine_left_out(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def hub(hass: HomeAssistant, _engine_left_out: None) -> Hub:
    """Return a Home Assistant with two gates."""
    hub = Hub(hass)
    hub.damper("Planer gate actuator")
    hub.damper("Saw gate actuator")
    return hub


def _problems(entry: MockConfigEntry) -> set[str]:
    """Return the core's problems with a system."""
    found = find_problems(
        CollectorConfig(name=""),
        tuple(gate_parts(entry).values()),
        tuple(machine_parts(entry).values()),
    )
    return {f"{problem.part}: {problem.code}" for problem in found}


def _step(*gates: str, duration: float = 5.0) -> dict[str, Any]:
    return {"gates": list(gates), "duration": duration}


async def test_the_first_gate_is_everybodys(hass: HomeAssistant, hub: Hub) -> None:
    entry = system(
        hass,
        parts={
            "m1": machine("Planer", later="kept"),
            "m2": machine("Miter saw", clearing=[_step(duration=6.0)]),
            "m3": machine("Robot", needs_air=False, clearing=[_step()]),
        },
    )
    assert _problems(entry) == set()
    form = await Form(hass, entry).part("gate")
    assert form.values["machines"] == ["m1", "m2", "m3"]
    options = form.fields["machines"].config["options"]
    assert [option["label"] for option in options] == ["Miter saw", "Planer", "Robot"]
    await form.send(actuator="cover.planer_gate_actuator")
    assert form.ended == "gate_added"
    assert form.farewell == (
        "Planer gate was added. Machines: Planer, Miter saw, Robot."
    )
    gate_id, data = part_named(entry, "Planer gate")
    assert entry.subentries[gate_id].subentry_type == "gate"
    assert data["gate_kind"] == "powered"
    assert entry.subentries["m1"].data == {
        **machine("Planer", gate_id)[2],
        "later": "kept",
    }
    # The purge step had only the collector; now it needs the gate.
    assert entry.subentries["m2"].data["gates"] == [gate_id]
    assert entry.subentries["m2"].data["clearing"] == [_step(gate_id, duration=6.0)]
    assert entry.subentries["m3"].data["clearing"] == [_step(gate_id)]
    assert _problems(entry) == set()


async def test_no_machine_is_left_behind(hass: HomeAssistant, hub: Hub) -> None:
    entry = system(
        hass,
        parts={
            "m1": machine("Planer"),
            "m2": machine("Miter saw"),
            "m3": machine("Robot", needs_air=False, clearing=[_step()]),
        },
    )
    form = await Form(hass, entry).part("gate")
    await form.send(actuator="cover.planer_gate_actuator", machines=["m1"])
    assert form.errors == {"machines": "machines_without_gates"}
    assert form.said["machines_without_gates"].endswith("Miter saw, Robot.")
    assert form.values["machines"] == ["m1"]
    assert not gate_parts(entry)
    await form.send(machines=None)
    assert form.said["machines_without_gates"].endswith("Planer, Miter saw, Robot.")
    # An always-open inlet counts as a gate, too.
    await form.send(gate_kind="fixed", actuator=None, name="Wall inlet")
    assert form.errors == {"machines": "machines_without_gates"}
    await form.send(machines=["m1", "m2", "m3", "m1"])
    assert form.ended == "gate_added"
    inlet, _ = part_named(entry, "Wall inlet")
    assert entry.subentries["m1"].data["gates"] == [inlet]
    assert _problems(entry) == set()


async def test_a_second_gate_is_for_those_that_need_it(
    hass: HomeAssistant, hub: Hub
) -> None:
    entry = system(
        hass,
        parts={
            "g1": gate("Main gate", "cover.main"),
            "m1": machine("Planer", "g1"),
            "m2": machine(
                "Miter saw", "g1", "gone", clearing=[_step("g1"), _step("gone")]
            ),
        },
    )
    form = await Form(hass, entry).part("gate")
    assert form.values["machines"] == []
    await form.send(actuator="cover.saw_gate_actuator", machines=["m2"])
    assert form.ended == "gate_added"
    saw_gate, _ = part_named(entry, "Saw gate")
    assert entry.subentries["m1"].data["gates"] == ["g1"]
    # What had been removed leaves the machine as well.
    assert entry.subentries["m2"].data["gates"] == ["g1", saw_gate]
    assert entry.subentries["m2"].data["clearing"] == [_step("g1")]
    # A gate that no machine needs yet is added as before.
    form = await Form(hass, entry).part("gate")
    await form.send(actuator="cover.planer_gate_actuator")
    assert form.result["type"] == "create_entry"


async def test_machines_that_lost_their_gates_are_offered_first(
    hass: HomeAssistant, hub: Hub
) -> None:
    entry = system(
        hass,
        parts={
            "g1": gate("Main gate", "cover.main"),
            "m1": machine("Planer", "gone"),
            "m2": machine("Miter saw", "g1"),
        },
    )
    form = await Form(hass, entry).part("gate")
    assert form.values["machines"] == ["m1"]
    # They had none before: that may wait.
    await form.send(actuator="cover.saw_gate_actuator", machines=[])
    assert form.result["type"] == "create_entry"
    form = await Form(hass, entry).part("gate")
    await form.send(actuator="cover.planer_gate_actuator")
    assert form.ended == "gate_added"
    planer_gate, _ = part_named(entry, "Planer gate")
    assert entry.subentries["m1"].data["gates"] == [planer_gate]


async def test_the_last_gate_replaced(hass: HomeAssistant, hub: Hub) -> None:
    """A shop whose only gate was removed has no gates until the next."""
    entry = system(
        hass,
        parts={
            "g1": gate("Main gate", "cover.main"),
            "m1": machine("Planer", "g1"),
            "m2": machine("Robot", needs_air=False, clearing=[_step("g1")]),
        },
    )
    hass.config_entries.async_remove_subentry(entry, "g1")
    form = await Form(hass, entry).part("gate")
    assert form.values["machines"] == ["m1", "m2"]
    await form.send(actuator="cover.saw_gate_actuator", machines=["m2"])
    assert form.said["machines_without_gates"].endswith("Planer.")
    await form.send(machines=["m1", "m2"])
    new_gate, _ = part_named(entry, "Saw gate")
    assert entry.subentries["m1"].data["gates"] == [new_gate]
    assert entry.subentries["m2"].data["clearing"] == [_step(new_gate)]
    assert _problems(entry) == set()


async def test_a_machine_removed_while_the_form_is_open(
    hass: HomeAssistant, hub: Hub
) -> None:
    entry = system(hass, parts={"m1": machine("Planer"), "m2": machine("Lathe")})
    form = await Form(hass, entry).part("gate")
    hass.config_entries.async_remove_subentry(entry, "m2")
    await form.send(actuator="cover.planer_gate_actuator")
    assert form.errors == {"machines": "unknown_machine"}
    await form.send(machines=["m1"])
    assert form.ended == "gate_added"


async def test_a_system_without_machines_is_not_asked(
    hass: HomeAssistant, hub: Hub
) -> None:
    entry = system(hass)
    form = await Form(hass, entry).part("gate")
    assert "machines" not in form.fields
    await form.send(actuator="cover.planer_gate_actuator")
    assert form.result["type"] == "create_entry"


async def test_the_first_gate_comes_while_a_machine_runs(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """The machine stays served, and the new gate opens."""
    entry = system_entry(
        [
            machine_part(
                "saw",
                "Table saw",
                gates=[],
                sensor=SAW_POWER,
                clearing=[],
                linked_devices=[],
            )
        ],
        hand_gates=[],
    )
    await workshop.start(entry)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    assert workshop.calls == [("turn_on", COLLECTOR)]
    changes = async_capture_events(hass, EVENT_STATE_CHANGED)
    issues = async_capture_events(hass, EVENT_REPAIRS_ISSUE_REGISTRY_UPDATED)
    form = await Form(hass, entry).part("gate")
    await form.send(name="Saw gate", actuator=SAW_GATE)
    assert form.ended == "gate_added"
    await workshop.pass_time(20)
    # A machine without a gate would have been reported, and not counted as running.
    assert not issues
    assert not [
        event
        for event in changes
        if event.data["entity_id"] == "binary_sensor.table_saw_running"
    ]
    assert workshop.state("binary_sensor.table_saw_running") == "on"
    assert ("open_cover", SAW_GATE) in workshop.calls
    assert workshop.state(COLLECTOR) == "on"
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
