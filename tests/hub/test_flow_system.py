"""Setting up a whole system by forms."""

from collections.abc import Iterator
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest

from .flow_helpers import Form, Hub, gate, machine, part_named, system, without_engine


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def hub(hass: HomeAssistant) -> Hub:
    """Return a workshop with plugs at the machines and motors at the gates."""
    hub = Hub(hass)
    hub.add("switch.collector", "Collector relay", device="Collector relay")
    hub.add(
        "sensor.collector_power",
        "Collector relay power",
        "0",
        unit="W",
        device="Collector relay",
    )
    for name in ("Planer plug", "Miter saw plug"):
        hub.plug(name)
    for name in ("Planer gate actuator", "Miter saw gate actuator"):
        hub.damper(name)
    hub.add("switch.sweep", "Floor sweep gate solenoid", device="Sweep solenoid")
    hub.add("binary_sensor.sweep_open", "Sweep open", device="Sweep solenoid")
    hub.add("binary_sensor.sweep_shut", "Sweep shut", "on", device="Sweep solenoid")
    hub.add("binary_sensor.lathe", "Lathe gate contact", device_class="opening")
    return hub


async def _collector(hass: HomeAssistant, **typed: Any) -> Form:
    form = await Form(hass).start()
    return await form.send(
        **{"name": "Dust collector", "switch": "switch.collector"} | typed
    )


async def test_a_whole_shop_at_once(hass: HomeAssistant, hub: Hub) -> None:
    form = await Form(hass).start()
    assert form.step == "user"
    assert form.values == {"hide_wrapped": True}
    await form.send(
        name="Dust collector",
        switch="switch.collector",
        power="sensor.collector_power",
    )
    assert form.step == "machines"
    await form.send(
        machines=["sensor.planer_plug_power", "sensor.miter_saw_plug_power"],
        pickups=["Floor sweep", " "],
    )
    assert form.step == "gates"
    await form.send(
        gates=[
            "cover.planer_gate_actuator",
            "cover.miter_saw_gate_actuator",
            "switch.sweep",
        ]
    )
    assert form.step == "machine"
    assert form.result["description_placeholders"]["number"] == "1"
    assert form.result["description_placeholders"]["count"] == "3"
    assert form.values["name"] == "Planer"
    assert form.values["kind"] == "planer"
    await form.send()
    assert form.values["name"] == "Miter saw"
    assert form.values["kind"] == "miter_saw"
    await form.send()
    assert form.values["name"] == "Floor sweep"
    assert form.values["kind"] == "floor_sweep"
    await form.send()

    entry = form.created
    registry = er.async_get(hass)

    def stored(entity_id: str) -> str:
        entity = registry.async_get(entity_id)
        assert entity
        return entity.id

    assert entry.title == "Dust collector"
    assert entry.unique_id == stored("switch.collector")
    assert entry.data == {
        "switch": stored("switch.collector"),
        "power": stored("sensor.collector_power"),
        "run_on": 3.0,
        "coast": 10.0,
        "start_delay": 0.0,
        "confirm": 10.0,
        "rest_time": 0.0,
        "hand_gates": [],
        "hide_wrapped": True,
    }
    planer_gate, planer_gate_data = part_named(entry, "Planer gate")
    assert planer_gate_data == {
        "gate_kind": "powered",
        "actuator": stored("cover.planer_gate_actuator"),
        "inverted": False,
        "travel": 5.0,
        "rest": "shut",
    }
    miter_gate, _ = part_named(entry, "Miter saw gate")
    sweep_gate, _ = part_named(entry, "Floor sweep gate")
    assert part_named(entry, "Planer")[1] == {
        "kind": "planer",
        "sensor": stored("sensor.planer_plug_power"),
        "unit": "W",
        "start": 100.0,
        "stop": 50.0,
        "start_settle": 1.0,
        "stop_settle": 4.0,
        "grace": 60.0,
        "on_lost": "stopped",
        "gates": [planer_gate],
        "needs_air": True,
        "hold": 0.0,
        "clearing": [],
        "companions": [],
    }
    miter = part_named(entry, "Miter saw")[1]
    assert miter["gates"] == [miter_gate]
    assert miter["hold"] == 15.0
    sweep = part_named(entry, "Floor sweep")[1]
    assert sweep["gates"] == [sweep_gate]
    assert sweep["request_limit"] == 600.0
    assert "sensor" not in sweep
    # What core stores is what it loads again.
    saved = entry.as_dict()["subentries"]
    assert {part["subentry_id"] for part in saved} == set(entry.subentries)
    assert len(saved) == 6


async def test_a_shop_without_gates(hass: HomeAssistant, hub: Hub) -> None:
    form = await _collector(hass, hide_wrapped=False)
    await form.send(machines=["sensor.planer_plug_power"])
    await form.send()
    assert "gates" not in form.fields
    await form.send()
    assert form.created.data["hide_wrapped"] is False
    assert part_named(form.created, "Planer")[1]["gates"] == []


async def test_nothing_chosen_is_refused(hass: HomeAssistant, hub: Hub) -> None:
    form = await _collector(hass)
    await form.send()
    assert form.errors == {"machines": "nothing_chosen"}
    await form.send(pickups=["Bench hood"])
    assert form.step == "gates"


async def test_every_kind_of_gate(hass: HomeAssistant, hub: Hub) -> None:
    hub.add(
        "cover.blind", "Hose gate", "unknown", supported_features=3, assumed_state=True
    )
    form = await _collector(hass)
    await form.send(pickups=["Floor sweep", "Lathe", "Wall port", "Hose"])
    await form.send(
        gates=["cover.planer_gate_actuator", "switch.sweep", "cover.blind"],
        ask_positions=True,
        hand_sensors=["binary_sensor.lathe"],
        open_inlets=["Wall port"],
    )
    # The cover tells its position; it is not asked about.
    assert form.step == "gate"
    assert form.result["description_placeholders"]["count"] == "2"
    assert form.values == {"name": "Floor sweep gate", "inverted": False}
    assert form.offered("open_sensor") == [
        "binary_sensor.sweep_open",
        "binary_sensor.sweep_shut",
    ]
    await form.send(
        open_sensor="binary_sensor.sweep_open",
        shut_sensor="binary_sensor.sweep_open",
        travel=-1,
        inverted=True,
    )
    assert form.errors == {"shut_sensor": "picked_twice", "travel": "bad_travel"}
    assert form.said["picked_twice"] == "Chosen twice on this page: Sweep open."
    assert form.said["bad_travel"] == "Travel time: give 0–120 s."
    assert form.values["travel"] == -1
    assert form.values["inverted"] is True
    await form.send(shut_sensor="binary_sensor.sweep_shut", travel=2)
    assert form.step == "gate"
    assert form.values == {"name": "Hose gate"}
    assert form.offered("open_sensor") == []
    await form.send(name=" floor  sweep GATE ")
    assert form.errors == {"name": "name_used"}
    await form.send(name="Hose gate")

    for _ in range(4):
        assert form.step == "machine"
        assert len(form.values["gates"]) == 1
        await form.send()
    assert form.result["description_placeholders"] == {"gates": "Planer gate"}
    await form.choose("finish")
    entry = form.created
    assert part_named(entry, "Floor sweep gate")[1] == {
        "gate_kind": "powered",
        "actuator": _stored(hass, "switch.sweep"),
        "open_sensor": _stored(hass, "binary_sensor.sweep_open"),
        "shut_sensor": _stored(hass, "binary_sensor.sweep_shut"),
        "inverted": True,
        "travel": 2.0,
        "rest": "shut",
    }
    assert part_named(entry, "Lathe gate")[1]["gate_kind"] == "hand"
    assert part_named(entry, "Lathe gate")[1]["open_sensor"] == "binary_sensor.lathe"
    # The pickup and its inlet were both called "Wall port".
    assert part_named(entry, "Wall port gate")[1]["gate_kind"] == "fixed"
    assert part_named(entry, "Wall port")[1]["gates"] == [
        part_named(entry, "Wall port gate")[0]
    ]


def _stored(hass: HomeAssistant, entity_id: str) -> str:
    entity = er.async_get(hass).async_get(entity_id)
    assert entity
    return entity.id


def _id_of(form: Form, name: str) -> str:
    options = form.fields["gates"].config["options"]
    return str(next(option["value"] for option in options if option["label"] == name))


async def test_gates_without_a_machine_are_asked_about(
    hass: HomeAssistant, hub: Hub
) -> None:
    form = await _collector(hass)
    await form.send(machines=["sensor.planer_plug_power"], pickups=["Bench"])
    await form.send(
        gates=["cover.planer_gate_actuator", "cover.miter_saw_gate_actuator"]
    )
    await form.send()
    await form.send(gates=[_id_of(form, "Planer gate")])
    assert form.step == "unused_gates"
    assert form.result["description_placeholders"] == {"gates": "Miter saw gate"}
    await form.choose("again")
    assert form.step == "machine"
    assert form.values["name"] == "Planer"
    await form.send(name="Big planer")
    # What was chosen the first time is still there.
    assert form.values["gates"] == [_id_of(form, "Planer gate")]
    await form.send()
    assert form.step == "unused_gates"
    await form.choose("finish")
    assert part_named(form.created, "Miter saw gate")
    assert part_named(form.created, "Big planer")


async def test_machine_mistakes_and_recovery(hass: HomeAssistant, hub: Hub) -> None:
    form = await _collector(hass)
    await form.send(
        machines=["sensor.planer_plug_power", "sensor.miter_saw_plug_power"]
    )
    await form.send(
        gates=["cover.planer_gate_actuator", "cover.miter_saw_gate_actuator"]
    )
    await form.send()
    await form.send(name="PLANER", kind="lathe", gates=[])
    assert form.errors == {"name": "name_used", "gates": "machine_without_gates"}
    assert form.values["kind"] == "lathe"
    await form.send(name="  ")
    assert form.errors == {"name": "name_missing", "gates": "machine_without_gates"}
    await form.send(name="Dust collector", gates=[_id_of(form, "Miter saw gate")])
    assert form.errors == {"name": "name_used"}
    await form.send(name="Small lathe")
    assert part_named(form.created, "Small lathe")[1]["kind"] == "lathe"


async def test_same_machine_names_get_numbers(hass: HomeAssistant, hub: Hub) -> None:
    hub.add("sensor.planer_current", "Planer clamp current", "0", unit="A")
    form = await _collector(hass)
    await form.send(machines=["sensor.planer_plug_power", "sensor.planer_current"])
    await form.send(gates=["cover.planer_gate_actuator"])
    await form.send()
    assert form.values["name"] == "Planer 2"
    await form.send()
    data = part_named(form.created, "Planer 2")[1]
    assert (data["unit"], data["start"], data["stop"]) == ("A", 0.6, 0.3)


async def test_same_gate_names_get_numbers(hass: HomeAssistant, hub: Hub) -> None:
    hub.add("switch.other", "Planer gate relay")
    form = await _collector(hass)
    await form.send(pickups=["Planer"])
    await form.send(gates=["cover.planer_gate_actuator", "switch.other"])
    await form.send()
    assert part_named(form.created, "Planer gate 2")


async def test_on_off_machines(hass: HomeAssistant, hub: Hub) -> None:
    hub.add("binary_sensor.saw", "Band saw running", device_class="running")
    hub.add("vacuum.robot", "Shop robot", "docked")
    hub.add("sensor.router", "Router state", "Ready")
    form = await _collector(hass)
    await form.send(machines=["binary_sensor.saw", "vacuum.robot", "sensor.router"])
    await form.send()
    assert form.values["name"] == "Band saw"
    assert "running_states" not in form.fields
    await form.send()
    assert "running_states" not in form.fields
    await form.send()
    assert form.fields["running_states"].config["options"] == ["Ready"]
    await form.send()
    assert form.errors == {"running_states": "states_missing"}
    assert form.said["states_missing"].endswith("for Router state.")
    await form.send(running_states=["unknown"])
    assert form.errors == {"running_states": "states_unusable"}
    await form.send(running_states=["Cutting", " "])
    entry = form.created
    saw = part_named(entry, "Band saw")[1]
    assert saw["running_states"] == ["on"]
    assert (saw["start_settle"], saw["stop_settle"]) == (0.0, 1.0)
    assert "unit" not in saw
    assert "start" not in saw
    assert part_named(entry, "Shop robot")[1]["running_states"] == ["cleaning"]
    assert part_named(entry, "Router")[1]["running_states"] == ["Cutting"]


async def test_collector_mistakes_are_told_at_once(
    hass: HomeAssistant, hub: Hub
) -> None:
    system(hass, "Old shop", _stored(hass, "switch.planer_plug"))
    hub.add("sensor.load", "Load", "3", device_class="power")
    form = await Form(hass).start()
    assert "switch.planer_plug" not in form.offered("switch")
    await form.send(
        name="old shop", switch="switch.planer_plug", power="sensor.planer_plug_voltage"
    )
    assert form.errors == {
        "name": "name_used",
        "switch": "used_elsewhere",
        "power": "not_power",
    }
    assert "Planer plug (Old shop, Old shop)" in form.said["used_elsewhere"]
    assert "Planer plug voltage (V)" in form.said["not_power"]
    await form.send(name="New shop", power="sensor.load")
    assert form.errors == {"switch": "used_elsewhere", "power": "no_unit"}
    await form.send(switch="switch.collector", power=None)
    assert form.step == "machines"


@pytest.mark.parametrize(
    ("picked", "code"),
    [
        ("sensor.planer_plug_voltage", "wrong_unit"),
        ("sensor.planer_plug_energy", "wrong_unit"),
        ("sensor.collector_current", "collector_reading"),
        ("sensor.collector_power", "already_used"),
        ("switch.collector", "already_used"),
        ("sensor.bare", "no_unit"),
        ("input_number.bare", "no_unit"),
        ("sensor.gone", "entity_missing"),
        ("0123456789abcdef0123456789abcdef", "entity_missing"),
        ("sensor.own", "own_entity"),
        ("camera.bench", "not_usable"),
    ],
)
async def test_sensors_that_do_not_work(
    hass: HomeAssistant, hub: Hub, picked: str, code: str
) -> None:
    hub.add("sensor.bare", "Bare", "12.5")
    hub.add("input_number.bare", "Bare helper", "12.5")
    hub.add("camera.bench", "Bench")
    hub.add("sensor.own", "Own", "1", unit="W", device="Own", platform="gatewright")
    form = await _collector(hass, power="sensor.collector_power")
    hub.add(
        "sensor.collector_current",
        "Collector current",
        "0",
        unit="A",
        device="Collector relay",
    )
    assert picked not in form.offered("machines")
    await form.send(machines=["sensor.planer_plug_power", picked])
    assert form.errors == {"machines": code}
    assert form.values["machines"] == ["sensor.planer_plug_power", picked]
    await form.send(machines=["sensor.planer_plug_power"] * 2)
    await form.send()
    await form.send()
    assert len(form.created.subentries) == 1


async def test_names_of_pickups(hass: HomeAssistant, hub: Hub) -> None:
    form = await _collector(hass)
    await form.send(pickups=["Bench", "bench", "dust COLLECTOR"])
    assert form.errors == {"pickups": "name_used"}
    assert "bench, dust COLLECTOR" in form.said["name_used"]
    await form.send(pickups=["Bench"])
    await form.send(open_inlets=["Wall", "WALL"])
    assert form.errors == {"other_gates": "name_used"}
    assert form.opened == {"other_gates"}
    await form.send(open_inlets=["Wall"])
    await form.send()
    assert form.created.title == "Dust collector"


async def test_an_entity_in_two_places(hass: HomeAssistant, hub: Hub) -> None:
    hub.add("switch.lamp_saw", "Band saw lamp")
    system(
        hass,
        "West wing",
        "switch.other",
        parts={
            "g1": gate("Jointer gate", _stored(hass, "cover.miter_saw_gate_actuator"))
        },
    )
    form = await _collector(hass)
    await form.send(machines=["switch.lamp_saw", "sensor.planer_plug_power"])
    assert form.offered("gates") == [
        "cover.planer_gate_actuator",
        "switch.miter_saw_plug",
        "switch.sweep",
    ]
    await form.send(
        gates=["switch.collector", "switch.lamp_saw", "cover.miter_saw_gate_actuator"],
        hand_sensors=["binary_sensor.lathe", "binary_sensor.lathe"],
    )
    assert form.errors == {"gates": ["already_used", "used_elsewhere"]}
    assert form.said["already_used"] == (
        "Already used in this system: Collector relay (Dust collector), "
        "Band saw lamp (Band saw lamp)."
    )
    assert "(Jointer gate, West wing)" in form.said["used_elsewhere"]
    await form.send(gates=["cover.planer_gate_actuator"])
    assert form.step == "machine"


async def test_gates_that_cannot_open_and_shut(hass: HomeAssistant, hub: Hub) -> None:
    hub.damper("Stuck gate", features=1)
    hub.add("valve.half", "Half valve", supported_features=2)
    form = await _collector(hass)
    await form.send(pickups=["Bench"])
    assert "cover.stuck_gate" not in form.offered("gates")
    await form.send(
        gates=["cover.stuck_gate", "valve.half", "cover.planer_gate_actuator"]
    )
    assert form.errors == {"gates": "no_open_shut"}
    assert form.said["no_open_shut"].endswith("Stuck gate, Half valve.")
    await form.send(gates=["cover.planer_gate_actuator"])
    await form.send()
    assert form.created.title == "Dust collector"


async def test_what_vanishes_meanwhile_is_asked_again(
    hass: HomeAssistant, hub: Hub
) -> None:
    form = await _collector(hass)
    await form.send(machines=["sensor.planer_plug_power"])
    await form.send(gates=["cover.planer_gate_actuator"])
    hass.states.async_remove("sensor.planer_plug_power")
    await form.send()
    assert form.step == "machines"
    assert form.errors == {"machines": "entity_missing"}
    await form.send(machines=["sensor.miter_saw_plug_power"])
    # The gates were answered already, and are still right.
    assert form.step == "machine"
    await form.send(name="Miter saw")
    assert form.created.title == "Dust collector"


async def test_two_forms_for_one_collector(hass: HomeAssistant, hub: Hub) -> None:
    first = await _collector(hass)
    second = await _collector(hass)
    for form in (first, second):
        await form.send(pickups=["Bench"])
        await form.send()
    await first.send()
    entry = first.created
    await second.send()
    assert second.step == "user"
    assert second.errors == {"name": "name_used", "switch": "used_elsewhere"}
    # The first system was not replaced.
    assert hass.config_entries.async_entries("gatewright") == [entry]
    hub.add("fan.other", "Other collector", supported_features=48)
    await second.send(name="Second collector", switch="fan.other")
    # A pickup of that name exists in the first system by now.
    assert second.step == "machines"
    assert second.errors == {"pickups": "name_used"}
    await second.send(pickups=["Bench two"])
    await second.send()
    assert second.created.data["switch"] == "fan.other"


async def test_gate_removed_while_choosing_is_told(
    hass: HomeAssistant, hub: Hub
) -> None:
    form = await _collector(hass)
    await form.send(pickups=["Bench"])
    await form.send(gates=["cover.planer_gate_actuator"])
    hass.states.async_remove("cover.planer_gate_actuator")
    await form.send()
    assert form.step == "gates"
    assert form.errors == {"gates": "entity_missing"}
    await form.send(gates=["cover.miter_saw_gate_actuator"])
    # The bench was given the gate that has gone.
    assert form.step == "machine"
    assert form.errors == {"gates": "unknown_gate"}
    await form.send(gates=[_id_of(form, "Miter saw gate")])
    assert part_named(form.created, "Bench")


async def test_registry_ids_are_taken_as_well(hass: HomeAssistant, hub: Hub) -> None:
    form = await _collector(hass, switch=_stored(hass, "switch.collector"))
    await form.send(machines=[_stored(hass, "sensor.planer_plug_power")])
    await form.send(gates=[_stored(hass, "cover.planer_gate_actuator")])
    await form.send()
    assert form.created.data["switch"] == _stored(hass, "switch.collector")
    assert part_named(form.created, "Planer gate")


async def test_another_systems_machines_may_be_read(
    hass: HomeAssistant, hub: Hub
) -> None:
    system(
        hass,
        "West wing",
        "switch.other",
        parts={"m1": machine("Big planer", sensor="sensor.planer_plug_power")},
    )
    form = await _collector(hass)
    assert "sensor.planer_plug_power" in form.offered("machines")
    await form.send(machines=["sensor.planer_plug_power"])
    assert form.step == "gates"
