"""Mistakes while a whole system is set up by forms, and their correction."""

from collections.abc import Iterator

from homeassistant.core import HomeAssistant
import pytest

from .flow_helpers import (
    Form,
    Hub,
    gate,
    part_named,
    system,
    without_engine,
)
from .flow_shops import (
    describe_collector,
    gate_id,
    new_shop,
    stored,
)


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def hub(hass: HomeAssistant) -> Hub:
    """Return a workshop with plugs at the machines and motors at the gates."""
    return new_shop(hass)


async def test_nothing_chosen_is_refused(hass: HomeAssistant, hub: Hub) -> None:
    form = await describe_collector(hass)
    await form.send()
    assert form.errors == {"machines": "nothing_chosen"}
    await form.send(pickups=["Bench hood"])
    assert form.step == "gates"


async def test_machine_mistakes_and_recovery(hass: HomeAssistant, hub: Hub) -> None:
    form = await describe_collector(hass)
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
    await form.send(name="Dust collector", gates=[gate_id(form, "Miter saw gate")])
    assert form.errors == {"name": "name_used"}
    await form.send(name="Small lathe")
    assert part_named(form.created, "Small lathe")[1]["kind"] == "lathe"


async def test_collector_mistakes_are_reported_at_once(
    hass: HomeAssistant, hub: Hub
) -> None:
    system(hass, "Old shop", stored(hass, "switch.planer_plug"))
    hub.add("sensor.load", "Load", "3", device_class="power")
    form = await Form(hass).start()
    assert "switch.planer_plug" not in form.offered("switch")
    await form.send(
        name="old shop", switch="switch.planer_plug", power="sensor.planer_plug_voltage"
    )
    assert form.errors == {
        "name": "name_used",
        "switch": "used_elsewhere",
        "more": "not_power",
    }
    assert "Planer plug (Old shop, Old shop)" in form.said["used_elsewhere"]
    assert "Planer plug voltage (V)" in form.said["not_power"]
    await form.send(name="New shop", power="sensor.load")
    assert form.errors == {"switch": "used_elsewhere", "more": "no_unit"}
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
    form = await describe_collector(hass, power="sensor.collector_power")
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
    form = await describe_collector(hass)
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
            "g1": gate("Jointer gate", stored(hass, "cover.miter_saw_gate_actuator"))
        },
    )
    form = await describe_collector(hass)
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


async def test_gates_that_cannot_open_and_close(hass: HomeAssistant, hub: Hub) -> None:
    hub.damper("Stuck gate", features=1)
    hub.add("valve.half", "Half valve", supported_features=2)
    form = await describe_collector(hass)
    await form.send(pickups=["Bench"])
    assert "cover.stuck_gate" not in form.offered("gates")
    await form.send(
        gates=["cover.stuck_gate", "valve.half", "cover.planer_gate_actuator"]
    )
    assert form.errors == {"gates": "no_open_shut"}
    assert form.said["no_open_shut"].startswith("Stuck gate, Half valve ")
    await form.send(gates=["cover.planer_gate_actuator"])
    await form.send()
    assert form.created.title == "Dust collector"


async def test_what_vanishes_meanwhile_is_asked_again(
    hass: HomeAssistant, hub: Hub
) -> None:
    form = await describe_collector(hass)
    await form.send(machines=["sensor.planer_plug_power"])
    await form.send(gates=["cover.planer_gate_actuator"])
    hass.states.async_remove("sensor.planer_plug_power")
    await form.send()
    assert form.step == "machines"
    assert form.errors == {"machines": "entity_missing"}
    await form.send(machines=["sensor.miter_saw_plug_power"])
    # The gates were already answered, and are still valid.
    assert form.step == "machine"
    await form.send(name="Miter saw")
    assert form.created.title == "Dust collector"


async def test_two_forms_for_one_collector(hass: HomeAssistant, hub: Hub) -> None:
    first = await describe_collector(hass)
    second = await describe_collector(hass)
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


async def test_gate_removed_while_choosing_is_reported(
    hass: HomeAssistant, hub: Hub
) -> None:
    form = await describe_collector(hass)
    await form.send(pickups=["Bench"])
    await form.send(gates=["cover.planer_gate_actuator"])
    hass.states.async_remove("cover.planer_gate_actuator")
    await form.send()
    assert form.step == "gates"
    assert form.errors == {"gates": "entity_missing"}
    await form.send(gates=["cover.miter_saw_gate_actuator"])
    # The bench got the gate that is gone.
    assert form.step == "machine"
    assert form.errors == {"gates": "unknown_gate"}
    await form.send(gates=[gate_id(form, "Miter saw gate")])
    assert part_named(form.created, "Bench")
