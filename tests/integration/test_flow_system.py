"""Setting up a whole system by forms."""

from collections.abc import Iterator

from homeassistant.core import HomeAssistant
from homeassistant.helpers import device_registry as dr, entity_registry as er
import pytest

from .flow_helpers import (
    TEXTS,
    Form,
    Hub,
    machine,
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


async def test_a_whole_shop_at_once(hass: HomeAssistant, hub: Hub) -> None:
    form = await Form(hass).start()
    assert form.step == "user"
    assert form.values == {
        "name": "Dust collector",
        "hide_wrapped": True,
        "watch_only": False,
    }
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
    assert entry.title == "Dust collector"
    assert entry.unique_id == stored(hass, "switch.collector")
    assert entry.data == {
        "switch": stored(hass, "switch.collector"),
        "power": stored(hass, "sensor.collector_power"),
        "run_on": 3.0,
        "coast": 10.0,
        "start_delay": 0.0,
        "confirm": 10.0,
        "rest_time": 0.0,
        "hand_gates": [],
        "hide_wrapped": True,
        "start_when": "gate_opening",
    }
    planer_gate, planer_gate_data = part_named(entry, "Planer gate")
    assert planer_gate_data == {
        "gate_kind": "powered",
        "actuator": stored(hass, "cover.planer_gate_actuator"),
        "inverted": False,
        "travel": 5.0,
        "rest": "shut",
    }
    miter_gate, _ = part_named(entry, "Miter saw gate")
    sweep_gate, _ = part_named(entry, "Floor sweep gate")
    assert part_named(entry, "Planer")[1] == {
        "kind": "planer",
        "sensor": stored(hass, "sensor.planer_plug_power"),
        "unit": "W",
        "start": 100.0,
        "stop": 50.0,
        "start_settle": 0.5,
        "stop_settle": 4.0,
        "grace": 60.0,
        "on_lost": "stopped",
        "silence": 900.0,
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
    form = await describe_collector(hass, hide_wrapped=False)
    await form.send(machines=["sensor.planer_plug_power"])
    await form.send()
    assert "gates" not in form.fields
    await form.send()
    assert form.created.data["hide_wrapped"] is False
    assert part_named(form.created, "Planer")[1]["gates"] == []


async def test_all_gates_that_are_picked_have_one_sort_of_actuator(
    hass: HomeAssistant, hub: Hub
) -> None:
    form = await describe_collector(hass)
    await form.send(pickups=["Floor sweep", "Lathe"])
    assert form.values == {"ask_positions": False}
    await form.send(
        gates=["cover.planer_gate_actuator", "switch.sweep"],
        actuator_sort="compressed_air",
        ask_positions=True,
        hand_sensors=["binary_sensor.lathe"],
    )
    # Left empty on the gate's own page, the time is the kind's default as well.
    assert form.step == "gate"
    assert "actuator_sort" not in form.fields
    await form.send()
    for _ in range(2):
        assert form.step == "machine"
        await form.send()
    await form.choose("finish")
    for name in ("Planer gate", "Floor sweep gate"):
        data = part_named(form.created, name)[1]
        assert (data["actuator_sort"], data["travel"]) == ("compressed_air", 1.0)
    by_hand = part_named(form.created, "Lathe gate")[1]
    assert "actuator_sort" not in by_hand
    assert by_hand["travel"] == 5.0


async def test_every_kind_of_gate(hass: HomeAssistant, hub: Hub) -> None:
    hub.add(
        "cover.blind", "Hose gate", "unknown", supported_features=3, assumed_state=True
    )
    form = await describe_collector(hass)
    await form.send(pickups=["Floor sweep", "Lathe", "Wall port", "Hose"])
    await form.send(
        gates=["cover.planer_gate_actuator", "switch.sweep", "cover.blind"],
        ask_positions=True,
        hand_sensors=["binary_sensor.lathe"],
        open_inlets=["Wall port"],
    )
    # The cover reports its position; it isn't asked about.
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
    assert form.said["bad_travel"] == "Enter 0–120 s."
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
        "actuator": stored(hass, "switch.sweep"),
        "open_sensor": stored(hass, "binary_sensor.sweep_open"),
        "shut_sensor": stored(hass, "binary_sensor.sweep_shut"),
        "actuator_sort": "compressed_air",
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


async def test_gates_without_a_machine_are_asked_about(
    hass: HomeAssistant, hub: Hub
) -> None:
    form = await describe_collector(hass)
    await form.send(machines=["sensor.planer_plug_power"], pickups=["Bench"])
    await form.send(
        gates=["cover.planer_gate_actuator", "cover.miter_saw_gate_actuator"]
    )
    await form.send()
    await form.send(gates=[gate_id(form, "Planer gate")])
    assert form.step == "unused_gates"
    assert form.result["description_placeholders"] == {"gates": "Miter saw gate"}
    await form.choose("again")
    assert form.step == "machine"
    assert form.values["name"] == "Planer"
    await form.send(name="Big planer")
    # The first choice is still there.
    assert form.values["gates"] == [gate_id(form, "Planer gate")]
    await form.send()
    assert form.step == "unused_gates"
    await form.choose("finish")
    assert part_named(form.created, "Miter saw gate")
    assert part_named(form.created, "Big planer")


async def test_same_machine_names_get_numbers(hass: HomeAssistant, hub: Hub) -> None:
    hub.add("sensor.planer_current", "Planer clamp current", "0", unit="A")
    form = await describe_collector(hass)
    await form.send(machines=["sensor.planer_plug_power", "sensor.planer_current"])
    await form.send(gates=["cover.planer_gate_actuator"])
    await form.send()
    assert form.values["name"] == "Planer 2"
    await form.send()
    data = part_named(form.created, "Planer 2")[1]
    assert (data["unit"], data["start"], data["stop"]) == ("A", 0.6, 0.3)


async def test_same_gate_names_get_numbers(hass: HomeAssistant, hub: Hub) -> None:
    hub.add("switch.other", "Planer gate relay")
    form = await describe_collector(hass)
    await form.send(pickups=["Planer"])
    await form.send(gates=["cover.planer_gate_actuator", "switch.other"])
    await form.send()
    assert part_named(form.created, "Planer gate 2")


async def test_on_off_machines(hass: HomeAssistant, hub: Hub) -> None:
    hub.add("binary_sensor.saw", "Band saw running", device_class="running")
    hub.add("vacuum.robot", "Shop robot", "docked")
    hub.add("sensor.router", "Router state", "Ready")
    form = await describe_collector(hass)
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
    assert form.said["states_missing"].endswith("of Router state.")
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


async def test_registry_ids_are_taken_as_well(hass: HomeAssistant, hub: Hub) -> None:
    form = await describe_collector(hass, switch=stored(hass, "switch.collector"))
    await form.send(machines=[stored(hass, "sensor.planer_plug_power")])
    await form.send(gates=[stored(hass, "cover.planer_gate_actuator")])
    await form.send()
    assert form.created.data["switch"] == stored(hass, "switch.collector")
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
    form = await describe_collector(hass)
    assert "sensor.planer_plug_power" in form.offered("machines")
    await form.send(machines=["sensor.planer_plug_power"])
    assert form.step == "gates"


async def test_a_plug_chosen_by_two_of_its_names_is_one_machine(
    hass: HomeAssistant, hub: Hub
) -> None:
    form = await Form(hass).start()
    await form.send(name="Dust collector", switch="switch.collector")
    plug = er.async_get(hass).entities["sensor.planer_plug_power"]
    await form.send(machines=[plug.entity_id, plug.id])
    await form.send()
    assert form.step == "machine"
    assert form.result["description_placeholders"]["count"] == "1"


async def test_a_place_without_a_gate_gets_an_inlet_or_is_left_out(
    hass: HomeAssistant, hub: Hub
) -> None:
    """Nobody has to go back for what the gates' page didn't ask for."""
    form = await describe_collector(hass)
    await form.send(
        machines=["sensor.planer_plug_power"], pickups=["Floor sweep", "Bench hood"]
    )
    await form.send(
        gates=["cover.planer_gate_actuator", "cover.miter_saw_gate_actuator"]
    )
    # If a gate was found by its name, there's nothing to ask.
    assert form.values["name"] == "Planer"
    assert "without_gate" not in form.fields
    await form.send()
    assert form.values["name"] == "Floor sweep"
    assert form.fields["without_gate"].config["options"] == ["open_inlet", "leave_out"]
    await form.send()
    assert form.errors == {"gates": "machine_without_gates"}
    await form.send(without_gate="open_inlet")
    assert form.values["name"] == "Bench hood"
    await form.send(without_gate="leave_out")
    assert form.result["description_placeholders"] == {"gates": "Miter saw gate"}
    await form.choose("finish")
    inlet, data = part_named(form.created, "Floor sweep inlet")
    assert data["gate_kind"] == "fixed"
    assert part_named(form.created, "Floor sweep")[1]["gates"] == [inlet]
    assert "Bench hood" not in {p.title for p in form.created.subentries.values()}


async def test_an_inlet_of_its_own_beside_a_gate(hass: HomeAssistant, hub: Hub) -> None:
    form = await describe_collector(hass)
    await form.send(pickups=["Lathe"])
    await form.send(
        gates=["cover.planer_gate_actuator", "cover.miter_saw_gate_actuator"]
    )
    gate = gate_id(form, "Planer gate")
    await form.send(gates=[gate], without_gate="open_inlet")
    await form.choose("finish")
    inlet, _ = part_named(form.created, "Lathe inlet")
    assert part_named(form.created, "Lathe")[1]["gates"] == [gate, inlet]


async def test_the_end_says_whether_the_collector_starts_now(
    hass: HomeAssistant, hub: Hub
) -> None:
    for watch_only, description, switch in (
        (False, None, "switch.collector"),
        (True, "monitor_only", "switch.planer_plug"),
    ):
        form = await describe_collector(
            hass, name=switch, switch=switch, watch_only=watch_only
        )
        await form.send(pickups=[f"Bench {switch}"])
        await form.send()
        await form.send()
        assert form.created
        assert form.result["description"] == description
        reported = TEXTS["config"]["create_entry"][description or "default"]
        assert ("It's live" in reported) is not watch_only


async def test_the_power_of_the_collectors_own_plug_is_found(
    hass: HomeAssistant, hub: Hub
) -> None:
    hub.plug("Cyclone")
    hub.plug("Old fan")
    hub.add("sensor.old_fan_second", "Second", "0", unit="W", device="Old fan")
    hub.add("switch.strip_1", "Strip 1", device="Strip")
    hub.add("switch.strip_2", "Strip 2", device="Strip")
    hub.add("sensor.strip_power", "Strip power", "0", unit="W", device="Strip")
    for number, (switch, power) in enumerate(
        (
            ("switch.cyclone", "sensor.cyclone_power"),
            # Which of two is its own, or what a strip measures, is unknown.
            ("switch.old_fan", None),
            ("switch.strip_1", None),
        )
    ):
        form = await describe_collector(hass, name=f"Shop {number}", switch=switch)
        await form.send(pickups=[f"Bench {number}"])
        await form.send()
        await form.send()
        kept = form.created.data.get("power")
        assert kept == (power and stored(hass, power))
        reported = form.result["description_placeholders"]["power"]
        assert ("**Cyclone power** shows whether" in reported) is bool(power)


async def test_the_collectors_name_is_filled_in(hass: HomeAssistant, hub: Hub) -> None:
    assert (await Form(hass).start()).values["name"] == "Dust collector"
    system(hass, "Dust collector", "switch.other")
    assert (await Form(hass).start()).values["name"] == "Dust collector 2"


async def test_what_moves_a_gate_is_guessed_from_its_name(
    hass: HomeAssistant, hub: Hub
) -> None:
    hub.add("switch.servo", "Lathe gate servo")
    hub.add("switch.linear", "Band saw gate linear drive")
    form = await describe_collector(hass)
    await form.send(pickups=["Bench"])
    assert "actuator_sort" not in form.values
    await form.send(
        gates=[
            "switch.sweep",
            "switch.servo",
            "switch.linear",
            "cover.planer_gate_actuator",
        ]
    )
    await form.send(gates=[gate_id(form, "Lathe gate")])
    await form.choose("finish")
    found = {
        part.title: (part.data.get("actuator_sort"), part.data["travel"])
        for part in form.created.subentries.values()
        if part.subentry_type == "gate"
    }
    assert found == {
        "Floor sweep gate": ("compressed_air", 1.0),
        "Lathe gate": ("servo", 2.0),
        "Band saw gate linear": ("motor", 6.0),
        "Planer gate": (None, 5.0),
    }


async def test_a_service_is_no_machine(hass: HomeAssistant, hub: Hub) -> None:
    """Backups have states too, but nobody saws with them."""
    hub.add(
        "sensor.backups",
        "Backup manager state",
        "idle",
        device="Backup",
        device_class="enum",
        options=["idle", "create_backup"],
    )
    form = await describe_collector(hass)
    assert "sensor.backups" in form.offered("machines")
    dr.async_get(hass).async_get_or_create(
        config_entry_id=hub.entry.entry_id,
        identifiers={("plugs", "Backup")},
        entry_type=dr.DeviceEntryType.SERVICE,
    )
    form = await describe_collector(hass)
    assert "sensor.backups" not in form.offered("machines")
