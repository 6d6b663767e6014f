"""Changing a machine or pickup."""

from collections.abc import Iterator
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.forms.flow.parts import gate_parts, machine_parts

from .flow_helpers import (
    Form,
    Hub,
    gate,
    machine,
    sensed,
    system,
    without_engine,
)
from .flow_shops import machine_hub, machine_system, stored


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def hub(hass: HomeAssistant) -> Hub:
    """Return a Home Assistant with readings, signals and switches."""
    return machine_hub(hass)


@pytest.fixture
def entry(hass: HomeAssistant, hub: Hub) -> MockConfigEntry:
    """Return a system with three gates, a planer and a miter saw."""
    return machine_system(hass)


async def test_two_step_recovery_keeps_what_was_typed_for_a_unit(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """Typed levels stay typed, also after an error elsewhere."""
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(sensor="sensor.lathe", name="")
    assert form.errors == {"name": "name_missing"}
    await form.send(name="Planer")
    form = await Form(hass, entry).part("machine", "m1", "detection")
    assert form.unit("start") == "A"
    await form.send(start=3, stop=400)
    assert form.errors == {"stop": ["bad_stop", "stop_not_below_start"]}
    await form.send(stop=1)
    assert form.ended == "reconfigure_successful"
    data = entry.subentries["m1"].data
    assert (data["unit"], data["start"], data["stop"]) == ("A", 3.0, 1.0)


async def test_a_gate_that_cannot_be_read_stays_the_machines(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """Only the damaged part is lost: a form of something else takes nothing from it.

    A missing gate is removed where the gates are asked for.
    """
    hurt = entry.subentries["g2"]
    hass.config_entries.async_update_subentry(
        entry, hurt, data={**hurt.data, "travel": "long"}
    )
    form = await Form(hass, entry).part("machine", "m2")
    assert form.values["gates"] == ["g2"]
    await form.send(hold=20, gates=["g2"])
    assert form.ended == "reconfigure_successful"
    data = entry.subentries["m2"].data
    assert (data["gates"], data["hold"]) == (["g2"], 20.0)
    # Nor do the gates of an unreadable machine count as unused.
    saw = entry.subentries["m2"]
    hass.config_entries.async_update_subentry(
        entry, saw, data={**saw.data, "hold": "long"}
    )
    assert "g2" in machine_parts(entry)["m2"].gates
    assert gate_parts(entry).keys() == {"g1", "g2", "g3"}


async def test_reopening_shows_everything(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine", "m2")
    assert form.values == {
        "name": "Miter saw",
        "simulate": False,
        "kind": "miter_saw",
        "find_levels": False,
        "sensor": "sensor.heater",
        "gates": ["g2"],
        "start": 100.0,
        "stop": 50.0,
        "start_settle": 0.5,
        "stop_settle": 4.0,
        "grace": 60.0,
        "on_lost": "stopped",
        "silence": 15.0,
        "hold": 15.0,
        "needs_air": True,
        "clearing_1_gates": ["g3"],
        "clearing_1_time": 5.0,
        "clearing_2_gates": ["g1"],
        "clearing_2_time": 8.0,
        "attached": "binary_sensor.docked",
        "companions": ["switch.cleaner"],
        "request_limit": 1.5,
    }
    assert "sensor.heater" in form.offered("sensor")
    await form.send()
    assert form.ended == "reconfigure_successful"
    data = entry.subentries["m2"].data
    assert data["clearing"] == [
        {"gates": ["g3"], "duration": 5.0},
        {"gates": ["g1"], "duration": 8.0},
        {"gates": ["g2"], "duration": 3.0},
    ]
    assert data["gates"] == ["g2"]
    assert data["request_limit"] == 90.0
    assert data["later"] == "kept"


async def test_kind_brings_its_times_only_where_nobody_changed_them(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(kind="miter_saw")
    assert entry.subentries["m1"].data["hold"] == 15.0
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(kind="floor_sweep", hold=20)
    data = entry.subentries["m1"].data
    assert data["hold"] == 20.0
    assert data["request_limit"] == 600.0
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(kind="planer")
    data = entry.subentries["m1"].data
    assert data["hold"] == 20.0
    assert "request_limit" not in data
    # An emptied field gets the kind's default.
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(hold=None)
    assert entry.subentries["m1"].data["hold"] == 0.0


async def test_another_sensor_brings_its_levels(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    async def change(**typed: Any) -> dict[str, Any]:
        form = await Form(hass, entry).part("machine", "m1")
        await form.send(**typed)
        assert form.ended == "reconfigure_successful"
        return dict(entry.subentries["m1"].data)

    data = await change(start=200)
    assert (data["start"], data["stop"]) == (200.0, 50.0)
    data = await change(sensor="sensor.jointer_plug_power")
    assert (data["start"], data["stop"]) == (200.0, 50.0)
    data = await change(sensor="sensor.lathe")
    assert (data["unit"], data["start"], data["stop"]) == ("A", 0.6, 0.3)
    data = await change(sensor="binary_sensor.saw", stop_settle=2)
    assert not data.keys() & {"unit", "start", "stop"}
    assert data["running_states"] == ["on"]
    assert (data["start_settle"], data["stop_settle"]) == (0.0, 2.0)
    data = await change(sensor="vacuum.robot")
    assert data["running_states"] == ["cleaning"]
    data = await change(running_states=["returning", "cleaning"])
    assert data["running_states"] == ["returning", "cleaning"]
    data = await change(sensor="sensor.jointer_plug_power")
    assert "running_states" not in data
    assert (data["start"], data["start_settle"]) == (100.0, 0.5)
    assert data["stop_settle"] == 2.0
    data = await change(sensor=None)
    assert not data.keys() & {"sensor", "unit", "start", "grace", "on_lost"}
    data = await change(sensor="sensor.lathe")
    assert (data["unit"], data["start_settle"], data["grace"]) == ("A", 0.5, 60.0)


async def test_limits_of_silence_and_of_running(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    async def change(**typed: Any) -> dict[str, Any]:
        form = await Form(hass, entry).part("machine", "m1")
        await form.send(**typed)
        assert form.ended == "reconfigure_successful"
        return dict(entry.subentries["m1"].data)

    data = await change(silence=0, run_limit=120)
    assert "silence" not in data
    assert data["run_limit"] == 7200.0
    form = await Form(hass, entry).part("machine", "m1")
    assert form.unit("silence") == form.unit("run_limit") == "min"
    # Zero shows that there's no limit; it stays until somebody empties the field.
    assert form.values["silence"] == 0.0
    assert form.values["run_limit"] == 120.0
    assert "silence" not in await change(sensor="sensor.lathe")
    assert (await change(silence=None))["silence"] == 900.0
    # A signal has no limit, a later reading gets the default.
    data = await change(sensor="binary_sensor.saw")
    assert "silence" not in data
    assert data["run_limit"] == 7200.0
    form = await Form(hass, entry).part("machine", "m1")
    assert "silence" not in form.values
    assert (await change(sensor="sensor.lathe"))["silence"] == 900.0
    # Without a sensor its running time is unknown.
    assert not (await change(sensor=None)).keys() & {"silence", "run_limit"}


async def test_a_machine_from_before_there_were_limits(
    hass: HomeAssistant, hub: Hub
) -> None:
    old = sensed("sensor.lathe")
    del old["silence"]
    entry = system(
        hass,
        parts={
            "g1": gate("Lathe gate", "cover.lathe"),
            "m1": machine("Lathe", "g1", **old | {"unit": "A"}),
        },
    )
    before = dict(entry.subentries["m1"].data)
    form = await Form(hass, entry).part("machine", "m1")
    assert form.values["silence"] == 0.0
    assert "run_limit" not in form.values
    await form.send()
    assert form.ended == "reconfigure_successful"
    assert entry.subentries["m1"].data == before


async def test_clearing_steps_can_be_taken_out(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine", "m2", "afterwards")
    await form.send(clearing_1_gates=[], needs_air=False)
    assert form.step == "left_gates"
    assert form.result["description_placeholders"] == {"gates": "Rear gate"}
    await form.choose("edit")
    assert form.step == "afterwards"
    assert form.values["needs_air"] is False
    assert "clearing_1_gates" not in form.values or not form.values["clearing_1_gates"]
    await form.send()
    assert form.step == "left_gates"
    await form.choose("save")
    assert form.ended == "reconfigure_successful"
    data = entry.subentries["m2"].data
    assert data["clearing"] == [
        {"gates": ["g1"], "duration": 8.0},
        {"gates": ["g2"], "duration": 3.0},
    ]
    assert data["needs_air"] is False


async def test_a_gate_opened_by_hand_is_not_left_over(
    hass: HomeAssistant, hub: Hub
) -> None:
    entry = system(
        hass,
        parts={
            "g1": gate("Planer gate", "cover.planer"),
            "g2": gate("Saw gate", "cover.saw"),
            "m1": machine("Planer", "g1"),
        },
        hand_gates=["g1"],
    )
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(gates=["g2"])
    assert form.ended == "reconfigure_successful"


async def test_a_gate_removed_while_the_form_is_open(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine", "m2")
    hass.config_entries.async_remove_subentry(entry, "g1")
    hass.config_entries.async_remove_subentry(entry, "g2")
    await form.send(name="Miter saw")
    assert form.errors == {"gates": "unknown_gate"}
    await form.send(gates=["g3"])
    assert form.ended == "reconfigure_successful"
    form = await Form(hass, entry).part("machine", "m2", "afterwards")
    await form.send(clearing_2_gates=[])
    assert form.ended == "reconfigure_successful"
    # The third step is beyond this form; its lost gate goes with it.
    assert entry.subentries["m2"].data["clearing"] == [
        {"gates": ["g3"], "duration": 5.0}
    ]


async def test_unavailable_sensors_on_reopening(
    hass: HomeAssistant, hub: Hub, entry: MockConfigEntry
) -> None:
    hass.states.async_remove("sensor.heater")
    form = await Form(hass, entry).part("machine", "m2")
    assert form.values["sensor"] == "sensor.heater"
    assert "sensor.heater" in form.offered("sensor")
    assert form.fields["start"].config["unit_of_measurement"] == "W"
    await form.send(hold=12)
    assert form.ended == "reconfigure_successful"
    data = entry.subentries["m2"].data
    assert (data["unit"], data["start"], data["hold"]) == ("W", 100.0, 12.0)

    # Back again, but with volts: then it has to be said.
    hub.add("sensor.heater", "Heater", "230", unit="V", device_class="voltage")
    form = await Form(hass, entry).part("machine", "m2")
    await form.send()
    assert form.errors == {"sensor": "wrong_unit"}
    assert "Heater (V)" in form.said["wrong_unit"]

    form = await Form(hass, entry).part("machine", "m2")
    await form.send(sensor="sensor.router")
    assert form.errors == {"running_states": "states_missing"}
    await form.send(running_states=["cut"])
    assert form.ended == "reconfigure_successful"
    hass.states.async_set("sensor.router", "unavailable")
    form = await Form(hass, entry).part("machine", "m2")
    assert form.fields["running_states"].config["options"] == ["cut"]
    await form.send(stop_settle=3)
    assert form.ended == "reconfigure_successful"
    assert entry.subentries["m2"].data["running_states"] == ["cut"]


async def test_a_removed_sensor_can_be_replaced(
    hass: HomeAssistant, hub: Hub, entry: MockConfigEntry
) -> None:
    er.async_get(hass).async_remove("sensor.planer_plug_power")
    form = await Form(hass, entry).part("machine", "m1")
    assert "sensor" not in form.values
    await form.send(sensor="sensor.jointer_plug_power")
    assert form.ended == "reconfigure_successful"
    data = entry.subentries["m1"].data
    assert data["sensor"] == stored(hass, "sensor.jointer_plug_power")
    assert (data["start"], data["stop"]) == (100.0, 50.0)


async def test_what_was_usual_once_does_not_come_along(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """A machine of 0.1.0 keeps its start confirmation time, but not for a signal."""
    planer = entry.subentries["m1"]
    as_stored_once = {**planer.data, "start_settle": 1.0}
    hass.config_entries.async_update_subentry(entry, planer, data=as_stored_once)
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(hold=3)
    assert entry.subentries["m1"].data["start_settle"] == 1.0
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(sensor="binary_sensor.saw")
    assert entry.subentries["m1"].data["start_settle"] == 0.0
