"""Adding a machine or pickup."""

from collections.abc import Iterator
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.runtime.entity_references import to_entity_id

from .flow_helpers import (
    Form,
    Hub,
    part_named,
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


async def test_sensor_and_gate_are_enough(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine")
    assert form.values == {
        "find_levels": True,
        "simulate": False,
    }
    assert form.offered("sensor") == [
        "binary_sensor.saw",
        "sensor.jointer_plug_power",
        "sensor.lathe",
        "sensor.router",
        "vacuum.robot",
    ]
    other = await Form(hass, entry).part("machine", "m1", "more")
    assert other.offered("companions") == [
        "light.bench",
        "switch.cleaner",
        "switch.jointer_plug",
        "switch.planer_plug",
    ]
    options = form.fields["gates"].config["options"]
    assert [option["label"] for option in options] == [
        "Planer gate",
        "Rear gate",
        "Saw gate",
    ]
    await form.send(sensor="sensor.jointer_plug_power", gates=["g1"])
    assert form.result["type"] == "create_entry"
    assert part_named(entry, "Jointer")[1] == {
        "kind": "jointer",
        "gates": ["g1"],
        "needs_air": True,
        **sensed(stored(hass, "sensor.jointer_plug_power"), start_settle=0.5),
        "hold": 0.0,
        "clearing": [],
        "companions": [],
    }


async def test_everything_can_be_said(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine")
    await form.send(
        name="  Long   lathe ",
        kind="lathe",
        sensor="sensor.lathe",
        gates=["g2"],
        start=2,
        stop=0.5,
        start_settle=0.5,
        stop_settle=3,
        grace=30,
        on_lost="running",
        silence=2.5,
        run_limit=90,
        hold=7,
        needs_air=False,
        clearing_1_gates=["g3"],
        clearing_1_time=4,
        clearing_2_gates=["g1", "g2"],
        attached="binary_sensor.docked",
        companions=["light.bench", "switch.cleaner", "light.bench"],
        request_limit=2.5,
    )
    assert part_named(entry, "Long lathe")[1] == {
        "kind": "lathe",
        "gates": ["g2"],
        "needs_air": False,
        "sensor": "sensor.lathe",
        "unit": "A",
        "start": 2.0,
        "stop": 0.5,
        "start_settle": 0.5,
        "stop_settle": 3.0,
        "grace": 30.0,
        "on_lost": "running",
        "silence": 150.0,
        "run_limit": 5400.0,
        "hold": 7.0,
        "clearing": [
            {"gates": ["g3"], "duration": 4.0},
            {"gates": ["g1", "g2"], "duration": 5.0},
        ],
        "attached": "binary_sensor.docked",
        "companions": ["light.bench", "switch.cleaner"],
        "request_limit": 150.0,
    }


async def test_pickups(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).part("machine")
    await form.send(name="Floor sweep", gates=["g1"])
    data = part_named(entry, "Floor sweep")[1]
    assert data["kind"] == "floor_sweep"
    assert data["request_limit"] == 600.0
    assert not data.keys() & {"sensor", "unit", "grace", "start", "silence"}
    # Zero means no limit, whatever the default.
    form = await Form(hass, entry).part("machine")
    await form.send(name="Bench hood", gates=["g1"], request_limit=0)
    assert "request_limit" not in part_named(entry, "Bench hood")[1]


async def test_signals(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).part("machine")
    await form.send(sensor="vacuum.robot", gates=["g1"])
    robot = part_named(entry, "Shop robot")[1]
    assert robot["running_states"] == ["cleaning"]
    assert (robot["start_settle"], robot["stop_settle"]) == (0.0, 1.0)
    assert not robot.keys() & {"unit", "start", "stop", "silence"}

    form = await Form(hass, entry).part("machine")
    await form.send(sensor="sensor.router", gates=["g1"])
    assert form.codes == {"states_missing"}
    assert form.fields["running_states"].config["options"] == ["idle", "cut"]
    await form.send(running_states=["cut"])
    assert part_named(entry, "Router")[1]["running_states"] == ["cut"]


async def test_a_shop_without_gates(hass: HomeAssistant, hub: Hub) -> None:
    entry = system(hass)
    form = await Form(hass, entry).part("machine")
    assert not form.fields.keys() & {"gates", "clearing_1_gates", "clearing_2_gates"}
    await form.send(sensor="sensor.lathe", clearing_1_time=6)
    assert part_named(entry, "Lathe")[1]["clearing"] == [{"gates": [], "duration": 6.0}]


_GOOD = {"sensor": "sensor.jointer_plug_power", "gates": ["g1"]}


@pytest.mark.parametrize(
    ("typed", "errors", "mended"),
    [
        (
            {},
            {"name": "name_missing", "gates": "machine_without_gates"},
            {"name": "Bench", "gates": ["g1"]},
        ),
        ({**_GOOD, "name": "PLANER GATE"}, {"name": "name_used"}, {"name": None}),
        ({**_GOOD, "gates": []}, {"gates": "machine_without_gates"}, {"gates": ["g1"]}),
        (
            {**_GOOD, "name": "Big", "sensor": "sensor.planer_plug_power"},
            {"sensor": "already_used"},
            _GOOD,
        ),
        (
            {**_GOOD, "sensor": "sensor.jointer_plug_voltage"},
            {"sensor": "wrong_unit"},
            _GOOD,
        ),
        # What a sensor of another kind would need isn't requested as well.
        (
            {**_GOOD, "sensor": "sensor.jointer_plug_voltage", "silence": 5},
            {"sensor": "wrong_unit"},
            _GOOD,
        ),
        ({**_GOOD, "sensor": "sensor.bare"}, {"sensor": "no_unit"}, _GOOD),
        ({**_GOOD, "sensor": "sensor.nowhere"}, {"sensor": "entity_missing"}, _GOOD),
        ({**_GOOD, "sensor": "camera.bench"}, {"sensor": "not_usable"}, _GOOD),
        ({**_GOOD, "sensor": "sensor.own"}, {"sensor": "own_entity"}, _GOOD),
        (
            {**_GOOD, "sensor": "sensor.collector_power"},
            {"sensor": "collector_reading"},
            _GOOD,
        ),
        ({**_GOOD, "sensor": "switch.collector"}, {"sensor": "already_used"}, _GOOD),
        (
            {"sensor": "switch.cleaner", "gates": ["g1"], "name": "Cleaner"}
            | {"companions": ["switch.cleaner"]},
            {"sensor": "already_used"},
            {**_GOOD},
        ),
        (
            {"sensor": "switch.jointer_plug", "gates": ["g1"], "name": "Jointer"}
            | {"companions": ["switch.jointer_plug"]},
            {"more": "switches_itself"},
            {"companions": []},
        ),
        (
            {"sensor": "binary_sensor.saw", "gates": ["g1"]}
            | {"attached": "binary_sensor.saw"},
            {"movable": "picked_twice"},
            {"attached": None},
        ),
        (
            {**_GOOD, "companions": ["fan.weak", "switch.taken", "camera.bench"]},
            {"more": ["no_on_off", "used_elsewhere", "not_usable"]},
            {"companions": ["light.bench"]},
        ),
        ({**_GOOD, "start": 40}, {"detection": "stop_not_below_start"}, {"stop": 20}),
        (
            {**_GOOD, "start": 0, "stop": -1},
            {"detection": ["bad_stop", "bad_start"]},
            {"start": 20, "stop": 10},
        ),
        (
            {**_GOOD, "sensor": "sensor.lathe", "start": 900, "stop": 0.2},
            {"detection": "bad_start"},
            {"start": 2},
        ),
        (
            {**_GOOD, "start_settle": 61, "stop_settle": 1e4, "grace": -1},
            {"detection": ["bad_start_settle", "bad_stop_settle", "bad_grace"]},
            {"start_settle": 1, "stop_settle": 1, "grace": 1},
        ),
        (
            {**_GOOD, "running_states": ["on"]},
            {"detection": "states_without_signal"},
            {"running_states": []},
        ),
        (
            {"sensor": "binary_sensor.saw", "gates": ["g1"], "start": 5},
            {"detection": "levels_without_reading"},
            {"start": None},
        ),
        (
            {"sensor": "vacuum.robot", "gates": ["g1"]}
            | {"running_states": ["unavailable"]},
            {"detection": "states_unusable"},
            {"running_states": ["returning"]},
        ),
        (
            {**_GOOD, "silence": -1, "run_limit": 1e4},
            {"detection": ["bad_silence", "bad_run_limit"]},
            {"silence": 0, "run_limit": None},
        ),
        (
            {"sensor": "vacuum.robot", "gates": ["g1"], "silence": 5}
            | {"run_limit": 45},
            {"detection": "silence_without_reading"},
            {"silence": 0},
        ),
        (
            {"name": "Bench", "gates": ["g1"], "run_limit": 45},
            {"more": "run_limit_without_sensor"},
            {"run_limit": 0},
        ),
        ({**_GOOD, "hold": -3}, {"afterwards": "bad_hold"}, {"hold": 3}),
        (
            {**_GOOD, "needs_air": False},
            {"afterwards": "machine_never_gets_air"},
            {"needs_air": True},
        ),
        (
            {**_GOOD, "clearing_1_gates": ["g1"], "clearing_1_time": 0}
            | {"clearing_2_time": 4},
            {"afterwards": ["clearing_without_time", "clearing_without_gates"]},
            {"clearing_1_time": 2, "clearing_2_time": None},
        ),
        (
            {**_GOOD, "clearing_1_gates": ["g1"], "clearing_1_time": -1}
            | {"clearing_2_gates": ["g1"], "clearing_2_time": 1e6},
            {"afterwards": ["bad_clearing_1_time", "bad_clearing_2_time"]},
            {"clearing_1_time": None, "clearing_2_time": None},
        ),
        (
            {**_GOOD, "request_limit": 1e5},
            {"more": "bad_request_limit"},
            {"request_limit": 5},
        ),
        (
            {**_GOOD, "request_limit": -5},
            {"more": "bad_request_limit"},
            {"request_limit": 0},
        ),
    ],
)
async def test_mistakes_and_recovery(
    hass: HomeAssistant,
    hub: Hub,
    entry: MockConfigEntry,
    typed: dict[str, Any],
    errors: dict[str, Any],
    mended: dict[str, Any],
) -> None:
    hub.add("sensor.bare", "Bare", "12")
    hub.add("sensor.own", "Own", "1", unit="W", device="Own", platform="gatewright")
    hub.add("camera.bench", "Bench camera")
    hub.add("switch.taken", "Taken")
    hub.add(
        "sensor.collector_power", "Collector", "0", unit="W", device="Collector relay"
    )
    system(hass, "West wing", "switch.taken")
    before = len(entry.subentries)
    form = await Form(hass, entry).part("machine")
    await form.send(**typed)
    assert form.codes == set().union(
        *([code] if isinstance(code, str) else code for code in errors.values())
    )
    for field, value in typed.items():
        if field in form.fields and field in form.errors and value != []:
            assert form.values[field] == value
    # Another page refused it after the machine existed.
    refused_later = len(entry.subentries) - before
    await form.send(**mended)
    assert form.result["type"] == ("abort" if refused_later else "create_entry")
    assert len(entry.subentries) == before + 1


async def test_linked_devices_and_contacts_may_be_shared(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine", "m1", "more")
    assert "binary_sensor.docked" in form.offered("attached")
    form = await Form(hass, entry).part("machine")
    await form.send(
        **_GOOD, companions=["switch.cleaner"], attached="binary_sensor.docked"
    )
    data = part_named(entry, "Jointer")[1]
    assert data["companions"] == ["switch.cleaner"]
    assert data["attached"] == "binary_sensor.docked"


async def test_home_assistant_without_a_recorder_has_nothing_to_find_levels_in(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine")
    await form.send(**_GOOD, find_levels=True)
    assert form.step == "not_found"
    assert "recorder isn't set up" in form.text
    await form.choose("keep")
    assert part_named(entry, "Jointer")[1]["start"] == 100.0


async def test_levels_are_found_for_numbers_only(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine")
    await form.send(sensor="vacuum.robot", gates=["g1"], find_levels=True)
    assert form.result["type"] == "create_entry"


async def test_a_reading_beyond_doubt(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine")
    await form.send(
        name="Lathe", sensor="sensor.lathe", gates=["g1"], certain_level=0.5
    )
    assert form.codes == {"certain_below_start"}
    assert form.unit("certain_level") == "A"
    await form.send(certain_level=400)
    assert form.codes == {"bad_certain_level"}
    assert form.said["bad_certain_level"] == "Enter 0–250 A."
    # Just at the start level every start counts at once.
    await form.send(certain_level=0.6)
    part_id, data = part_named(entry, "Lathe")
    assert data["certain_level"] == 0.6

    async def change(**typed: Any) -> dict[str, Any]:
        form = await Form(hass, entry).part("machine", part_id)
        await form.send(**typed)
        assert form.ended == "reconfigure_successful"
        return dict(entry.subentries[part_id].data)

    assert (await change(certain_level=3))["certain_level"] == 3.0
    assert (await change(hold=2))["certain_level"] == 3.0
    # It means nothing in another unit; a signal has none.
    assert "certain_level" not in await change(sensor="sensor.jointer_plug_power")
    assert (await change(certain_level=900))["certain_level"] == 900.0
    assert "certain_level" not in await change(certain_level=None)
    await change(certain_level=900)
    assert "certain_level" not in await change(sensor="binary_sensor.saw")
    form = await Form(hass, entry).part("machine", part_id)
    await form.send(certain_level=900)
    assert form.codes == {"levels_without_reading"}
    # Typed anew with another sensor, it counts.
    form = await Form(hass, entry).part("machine", part_id)
    await form.send(sensor="sensor.lathe", certain_level=2)
    assert entry.subentries[part_id].data["certain_level"] == 2.0


async def test_the_same_thing_chosen_by_two_of_its_names(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    plug = er.async_get(hass).entities["sensor.jointer_plug_power"]
    lamp = er.async_get(hass).async_get_or_create("light", "test", "lamp")
    hass.states.async_set(lamp.entity_id, "off")
    form = await Form(hass, entry).part("machine")
    await form.send(
        name="Lathe",
        sensor=plug.entity_id,
        gates=["g1"],
        companions=[lamp.entity_id, lamp.id],
    )
    assert part_named(entry, "Lathe")[1]["companions"] == [lamp.id]


async def test_a_plugs_switch_and_a_hose_that_bounces(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine", "m1", "more")
    relay = form.offered("relay")[0]
    form = await Form(hass, entry).part("machine")
    await form.send(
        name="Lathe",
        sensor="sensor.lathe",
        gates=["g1"],
        relay=relay,
        hose_confirm=100,
    )
    assert form.codes == {"bad_hose_confirm"}
    assert form.said["bad_hose_confirm"] == "Enter 0–60 s."
    await form.send(hose_confirm=0.5)
    part_id, data = part_named(entry, "Lathe")
    assert data["hose_confirm"] == 0.5
    assert to_entity_id(hass, data["relay"]) == relay
    form = await Form(hass, entry).part("machine", part_id)
    await form.send(relay=None, hose_confirm=None)
    assert not entry.subentries[part_id].data.keys() & {"relay", "hose_confirm"}


async def test_somebody_is_about_to_work(
    hass: HomeAssistant, hub: Hub, entry: MockConfigEntry
) -> None:
    presence = hub.add(
        "binary_sensor.bench", "Bench presence", device="B", device_class="occupancy"
    )
    hub.add("binary_sensor.smoke", "Smoke", device_class="smoke")
    hub.add("input_boolean.here", "I am here")
    form = await Form(hass, entry).part("machine", "m1", "more")
    assert form.offered("foretold") == [
        "binary_sensor.bench",
        "input_boolean.here",
        "light.bench",
        "switch.jointer_plug",
        "switch.planer_plug",
    ]
    form = await Form(hass, entry).part("machine")
    await form.send(name="Router", gates=["g1"], foretold="sensor.lathe")
    assert form.codes == {"not_usable"}
    # A linked device can't announce its machine.
    await form.send(foretold="light.bench", companions=["light.bench"])
    assert form.codes == {"picked_twice"}
    await form.send(foretold="binary_sensor.bench", companions=None)
    part_id, data = part_named(entry, "Router")
    assert data["foretold"] == presence
    # One room may announce several machines.
    form = await Form(hass, entry).part("machine")
    await form.send(name="Lathe", gates=["g2"], foretold="binary_sensor.bench")
    assert part_named(entry, "Lathe")[1]["foretold"] == presence
    # The hose contact isn't for this.
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(foretold="binary_sensor.docked")
    assert form.codes == {"already_used"}
    await form.send(foretold=None)
    form = await Form(hass, entry).part("machine", part_id)
    assert form.values["foretold"] == "binary_sensor.bench"
    await form.send(foretold=None)
    assert "foretold" not in entry.subentries[part_id].data
