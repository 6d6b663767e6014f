"""The virtual workshop in a Home Assistant: its entities, its actions and its faults."""

import asyncio
import json
from pathlib import Path
from typing import Any

from homeassistant import config_entries
from homeassistant.const import STATE_UNAVAILABLE, STATE_UNKNOWN
from homeassistant.core import Context, HomeAssistant
from homeassistant.exceptions import HomeAssistantError, ServiceValidationError
from homeassistant.helpers import (
    area_registry as ar,
    device_registry as dr,
    entity_registry as er,
)
from homeassistant.helpers.selector import validate_selector
from homeassistant.setup import async_setup_component
from homeassistant.util.yaml import load_yaml_dict
import pytest
import voluptuous as vol

from demo.custom_components.virtual_workshop.layouts import build_layout
from demo.custom_components.virtual_workshop.model.faults import Fault
from demo.hub_directory import ROOT

from .conftest import Pass, SetUp

DOMAIN = "virtual_workshop"


def entity(hass: HomeAssistant, domain: str, unique_id: str) -> str:
    """Return the id of an entity."""
    found = er.async_get(hass).async_get_entity_id(domain, DOMAIN, unique_id)
    assert found is not None, unique_id
    return found


def state(hass: HomeAssistant, domain: str, unique_id: str) -> str:
    """Return the state of an entity."""
    found = hass.states.get(entity(hass, domain, unique_id))
    assert found is not None
    return found.state


def watts(hass: HomeAssistant, machine: str) -> float:
    """Return a machine's plug reading."""
    return float(state(hass, "sensor", f"{machine}_power"))


async def do(hass: HomeAssistant, action: str, **data: Any) -> None:
    """Call an action of the workshop."""
    await hass.services.async_call(DOMAIN, action, data, blocking=True)


async def tell(hass: HomeAssistant, domain: str, action: str, unique_id: str) -> None:
    """Command an actuator."""
    target = {"entity_id": entity(hass, domain, unique_id)}
    await hass.services.async_call(domain, action, target, blocking=True)


async def truth(hass: HomeAssistant) -> dict[str, Any]:
    """Return the workshop's record."""
    answer = await hass.services.async_call(
        DOMAIN, "get_truth", {}, blocking=True, return_response=True
    )
    assert isinstance(answer, dict)
    return answer


async def test_every_part_has_its_entities_in_its_area(
    hass: HomeAssistant, set_up: SetUp
) -> None:
    await set_up()
    layout = build_layout({})
    registry = er.async_get(hass)
    found = {
        (item.domain, item.unique_id)
        for item in registry.entities.values()
        if item.platform == DOMAIN
    }
    assert ("switch", "collector_relay") in found
    assert ("sensor", "collector_power") in found
    for key in layout.gates:
        assert {domain for domain, uid in found if uid.startswith(f"{key}_")}
    for key, machine in layout.machines.items():
        clamp = machine.meter_kind == "clamp"
        reading = "current" if clamp else "power"
        assert ("sensor", f"{key}_{reading}") in found
        assert (("switch", f"{key}_relay") in found) is not clamp
        assert (("binary_sensor", f"{key}_attached") in found) is machine.movable
    areas = {area.name for area in ar.async_get(hass).async_list_areas()}
    assert areas == set(layout.areas)
    device = dr.async_get(hass).async_get_device_by_identifier(
        (DOMAIN, "planer_gate"),
        hass.config_entries.async_entries(DOMAIN)[0].entry_id,
    )
    assert device is not None
    assert device.area_id == "machine_room"
    names = [
        found_state.name
        for found_state in hass.states.async_all()
        if registry.async_get(found_state.entity_id) is not None
    ]
    assert len(names) == len(set(names))


async def test_what_is_enabled_is_there_at_once_and_nowhere_else(
    hass: HomeAssistant, set_up: SetUp
) -> None:
    """The delay belongs to the process: tests that follow in it have Home Assistant's."""
    usual = config_entries.RELOAD_AFTER_UPDATE_DELAY
    await set_up()
    assert usual > config_entries.RELOAD_AFTER_UPDATE_DELAY
    await hass.async_stop(force=True)
    assert usual == config_entries.RELOAD_AFTER_UPDATE_DELAY


async def test_plug_reads_a_machine_at_its_own_pace(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up()
    await pass_time(5)
    assert watts(hass, "table_saw") == pytest.approx(3, abs=1)
    await do(hass, "run_machine", machine="table_saw", load=100)
    await pass_time(2)
    assert watts(hass, "table_saw") == pytest.approx(1850, rel=0.1)
    first = watts(hass, "table_saw")
    await pass_time(2)
    assert watts(hass, "table_saw") != first
    await do(hass, "run_machine", machine="drum_sander", load=0)
    await pass_time(5.25)
    assert watts(hass, "drum_sander") == pytest.approx(640, rel=0.1)
    await do(hass, "stop_machine", machine="table_saw")
    await pass_time(1.25)
    assert watts(hass, "table_saw") < 10
    assert state(hass, "sensor", "lathe_current") == "0.05"


async def test_gates_of_all_kinds_move(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up()
    await tell(hass, "cover", "open_cover", "table_saw_gate_actuator")
    await tell(hass, "valve", "open_valve", "planer_gate_actuator")
    await tell(hass, "switch", "turn_on", "miter_saw_gate_relay")
    await pass_time(0.75)
    assert state(hass, "cover", "table_saw_gate_actuator") == "opening"
    assert state(hass, "valve", "planer_gate_actuator") == "opening"
    assert state(hass, "switch", "miter_saw_gate_relay") == "on"
    assert state(hass, "binary_sensor", "miter_saw_gate_shut_limit") == "off"
    assert state(hass, "binary_sensor", "miter_saw_gate_open_limit") == "off"
    await pass_time(1.0)
    cover = hass.states.get(entity(hass, "cover", "table_saw_gate_actuator"))
    assert cover is not None
    assert 20 < cover.attributes["current_position"] < 80
    await pass_time(2.0)
    assert state(hass, "cover", "table_saw_gate_actuator") == "open"
    assert state(hass, "valve", "planer_gate_actuator") == "open"
    assert state(hass, "binary_sensor", "miter_saw_gate_open_limit") == "on"

    await hass.services.async_call(
        "cover",
        "set_cover_position",
        {
            "entity_id": entity(hass, "cover", "table_saw_gate_actuator"),
            "position": 40,
        },
        blocking=True,
    )
    await tell(hass, "valve", "close_valve", "planer_gate_actuator")
    await tell(hass, "switch", "turn_off", "miter_saw_gate_relay")
    await do(hass, "move_gate", gate="router_table_gate", position=100)
    await pass_time(1.0)
    assert state(hass, "cover", "table_saw_gate_actuator") == "closing"
    assert state(hass, "valve", "planer_gate_actuator") == "closing"
    assert state(hass, "binary_sensor", "router_table_gate_contact") == "on"
    await tell(hass, "cover", "stop_cover", "table_saw_gate_actuator")
    await pass_time(4.0)
    cover = hass.states.get(entity(hass, "cover", "table_saw_gate_actuator"))
    assert cover is not None
    assert 60 < cover.attributes["current_position"] < 90
    assert state(hass, "valve", "planer_gate_actuator") == "closed"
    await tell(hass, "cover", "close_cover", "table_saw_gate_actuator")
    await pass_time(4.0)
    assert state(hass, "cover", "table_saw_gate_actuator") == "closed"
    record = (await truth(hass))["commands"]
    assert record["table_saw_gate"] == {
        "open": 1,
        "set 40%": 1,
        "stop": 1,
        "close": 1,
    }
    assert record["miter_saw_gate"] == {"on": 1, "off": 1}


async def test_collector_runs_coasts_and_keeps_the_callers_context(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up()
    relay = entity(hass, "switch", "collector_relay")
    mine = Context()
    await do(hass, "move_gate", gate="planer_gate", position=100)
    await pass_time(4)
    await hass.services.async_call(
        "switch", "turn_on", {"entity_id": relay}, blocking=True, context=mine
    )
    assert state(hass, "switch", "collector_relay") == "off"
    await pass_time(0.5)
    found = hass.states.get(relay)
    assert found is not None
    assert found.state == "on"
    assert found.context.id == mine.id
    await pass_time(5)
    assert float(state(hass, "sensor", "collector_speed")) > 2700
    assert float(state(hass, "sensor", "collector_power")) > 1500
    await do(hass, "switch_collector", on=False)
    await pass_time(5)
    assert state(hass, "switch", "collector_relay") == "off"
    assert state(hass, "binary_sensor", "collector_impeller_turning") == "on"
    await pass_time(5)
    assert state(hass, "binary_sensor", "collector_impeller_turning") == "off"
    record = await truth(hass)
    assert record["motor_starts"] == 1
    assert record["turning_all_shut"] == 0
    assert record["commands"]["collector"] == {"on": 1}


async def test_bin_contact_and_detector_speak(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up()
    assert state(hass, "binary_sensor", "collector_bin_full") == "off"
    await do(hass, "set_bin", level=95)
    assert state(hass, "binary_sensor", "collector_bin_full") == "on"
    await pass_time(6)
    assert float(state(hass, "sensor", "collector_bin_level")) == 95
    assert state(hass, "binary_sensor", "shop_vacuum_attached") == "off"
    await do(hass, "attach_machine", machine="shop_vacuum", attached=True)
    assert state(hass, "binary_sensor", "shop_vacuum_attached") == "on"
    await do(hass, "break", part="site", fault="smoke")
    assert state(hass, "binary_sensor", "site_smoke") == "on"


async def test_stop_start_cuts(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up()
    await do(hass, "make_cuts", machine="miter_saw", count=2, cut=3.5, pause=5)
    seen = []
    for _ in range(13):
        await pass_time(1)
        seen.append(watts(hass, "miter_saw") > 100)
    assert seen.count(True) in (6, 7, 8)
    assert seen[2] is True
    assert seen[6] is False
    assert seen[10] is True
    assert (await truth(hass))["machines"]["miter_saw"]["running"] == pytest.approx(7)


@pytest.mark.parametrize(
    ("fault", "error"),
    [("command_error", HomeAssistantError), ("command_timeout", TimeoutError)],
)
async def test_commands_fail(
    hass: HomeAssistant,
    set_up: SetUp,
    pass_time: Pass,
    fault: str,
    error: type[Exception],
) -> None:
    await set_up()
    await do(hass, "break", part="planer_gate", fault=fault)
    with pytest.raises(error):
        await tell(hass, "valve", "open_valve", "planer_gate_actuator")
    await pass_time(5)
    assert state(hass, "valve", "planer_gate_actuator") == "closed"
    await do(hass, "mend", part="planer_gate", fault=fault)
    await tell(hass, "valve", "open_valve", "planer_gate_actuator")
    await pass_time(5)
    assert state(hass, "valve", "planer_gate_actuator") == "open"
    assert (await truth(hass))["commands"]["planer_gate"] == {"open": 2}


async def test_command_is_late(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up()
    for part in ("collector", "planer_gate", "planer"):
        await do(hass, "break", part=part, fault="command_late")
    await tell(hass, "switch", "turn_on", "collector_relay")
    await tell(hass, "valve", "open_valve", "planer_gate_actuator")
    await tell(hass, "switch", "turn_off", "planer_relay")
    await pass_time(15)
    assert state(hass, "switch", "collector_relay") == "off"
    assert state(hass, "valve", "planer_gate_actuator") == "closed"
    assert state(hass, "switch", "planer_relay") == "on"
    await pass_time(0.5)
    assert state(hass, "switch", "collector_relay") == "on"
    assert state(hass, "valve", "planer_gate_actuator") == "opening"
    assert state(hass, "switch", "planer_relay") == "off"


async def test_command_is_lost(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up()
    await do(hass, "break", part="collector", fault="command_lost")
    await tell(hass, "switch", "turn_on", "collector_relay")
    await pass_time(5)
    assert state(hass, "switch", "collector_relay") == "off"


async def test_command_hangs_until_mended(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up()
    await do(hass, "break", part="collector", fault="command_hang")
    command = asyncio.create_task(
        tell(hass, "switch", "turn_on", "collector_relay"), name="hangs"
    )
    for _ in range(50):
        await asyncio.sleep(0)
    assert not command.done()
    # Others are served meanwhile, and repairing something else doesn't help.
    await tell(hass, "switch", "turn_on", "hose_gate_relay")
    await do(hass, "break", part="planer_gate", fault="gate_slow")
    await do(hass, "mend", part="planer_gate")
    for _ in range(50):
        await asyncio.sleep(0)
    assert not command.done()
    await do(hass, "mend")
    await command
    await pass_time(1)
    assert state(hass, "switch", "hose_gate_relay") == "on"
    assert state(hass, "switch", "collector_relay") == "off"


async def test_command_that_hangs_does_not_keep_home_assistant_from_unloading(
    hass: HomeAssistant, set_up: SetUp
) -> None:
    await set_up()
    await do(hass, "break", part="collector", fault="command_hang")
    command = asyncio.create_task(tell(hass, "switch", "turn_on", "collector_relay"))
    for _ in range(50):
        await asyncio.sleep(0)
    entry = hass.config_entries.async_entries(DOMAIN)[0]
    assert await hass.config_entries.async_unload(entry.entry_id)
    await command


@pytest.mark.parametrize(
    ("part", "fault", "gone", "left"),
    [
        (
            "planer",
            "plug_offline",
            [("sensor", "planer_power"), ("switch", "planer_relay")],
            [("valve", "planer_gate_actuator"), ("sensor", "jointer_power")],
        ),
        (
            "planer_gate",
            "gate_unpowered",
            [("valve", "planer_gate_actuator")],
            [("sensor", "planer_power")],
        ),
        (
            "collector",
            "collector_offline",
            [("switch", "collector_relay"), ("sensor", "collector_power")],
            [
                ("sensor", "planer_power"),
                ("binary_sensor", "collector_impeller_turning"),
                ("sensor", "collector_speed"),
            ],
        ),
        (
            "orbital_sander",
            "contact_lost",
            [("binary_sensor", "orbital_sander_attached")],
            [("sensor", "orbital_sander_power")],
        ),
        (
            "router_table_gate",
            "contact_lost",
            [("binary_sensor", "router_table_gate_contact")],
            [],
        ),
        (
            "site",
            "mains_out",
            [("sensor", "planer_power"), ("switch", "collector_relay")],
            [
                ("binary_sensor", "orbital_sander_attached"),
                ("binary_sensor", "site_smoke"),
            ],
        ),
    ],
)
async def test_things_become_unavailable_and_come_back(
    hass: HomeAssistant,
    set_up: SetUp,
    part: str,
    fault: str,
    gone: list[tuple[str, str]],
    left: list[tuple[str, str]],
) -> None:
    await set_up()
    await do(hass, "break", part=part, fault=fault)
    assert [state(hass, *key) for key in gone] == [STATE_UNAVAILABLE] * len(gone)
    assert STATE_UNAVAILABLE not in [state(hass, *key) for key in left]
    await do(hass, "mend", part=part)
    assert STATE_UNAVAILABLE not in [state(hass, *key) for key in gone]


async def test_meters_change_their_unit_lose_their_reading_or_read_something_else(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up()
    await do(hass, "run_machine", machine="planer")
    await do(hass, "run_machine", machine="lathe")
    await pass_time(3)
    power = entity(hass, "sensor", "planer_power")
    current = entity(hass, "sensor", "lathe_current")

    def shown(entity_id: str) -> tuple[Any, str | None, str | None]:
        found = hass.states.get(entity_id)
        assert found is not None
        return (
            float(found.state),
            found.attributes.get("unit_of_measurement"),
            found.attributes.get("device_class"),
        )

    await do(hass, "break", part="planer", fault="plug_unit")
    await do(hass, "break", part="lathe", fault="plug_unit")
    assert shown(power) == (pytest.approx(2.3, rel=0.2), "kW", "power")
    assert shown(current) == (pytest.approx(4130, rel=0.2), "mA", "current")
    await do(hass, "mend")
    await do(hass, "break", part="planer", fault="plug_volts")
    assert shown(power) == (230, "V", "voltage")
    await do(hass, "mend")
    assert shown(power) == (pytest.approx(2300, rel=0.2), "W", "power")
    await do(hass, "break", part="planer", fault="plug_unknown")
    assert state(hass, "sensor", "planer_power") == STATE_UNKNOWN
    await do(hass, "mend")
    assert watts(hass, "planer") > 1800


async def test_late_devices_are_late(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up(
        machines={"jointer": {"meter": {"late": 4}}},
        gates={"planer_gate": {"late": 6}},
        collector={"late": 2},
    )
    assert state(hass, "switch", "collector_relay") == STATE_UNAVAILABLE
    assert state(hass, "valve", "planer_gate_actuator") == STATE_UNAVAILABLE
    assert state(hass, "sensor", "jointer_power") == STATE_UNAVAILABLE
    await pass_time(3.5)
    assert state(hass, "switch", "jointer_relay") == STATE_UNAVAILABLE
    await pass_time(1)
    assert state(hass, "switch", "jointer_relay") == "on"
    assert watts(hass, "jointer") < 10
    assert state(hass, "switch", "collector_relay") == "off"
    assert state(hass, "valve", "planer_gate_actuator") == STATE_UNAVAILABLE
    await pass_time(2)
    assert state(hass, "valve", "planer_gate_actuator") == "closed"


async def test_the_world_keeps_running_while_it_is_unloaded(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up()
    await do(hass, "run_machine", machine="planer")
    await do(hass, "make_cuts", machine="miter_saw", count=1, cut=8)
    await do(hass, "break", part="jointer_gate", fault="gate_stuck")
    await tell(hass, "valve", "open_valve", "planer_gate_actuator")
    await tell(hass, "switch", "turn_on", "collector_relay")
    await pass_time(1)
    entry = hass.config_entries.async_entries(DOMAIN)[0]
    assert await hass.config_entries.async_unload(entry.entry_id)
    await pass_time(20)
    assert await hass.config_entries.async_setup(entry.entry_id)
    await hass.async_block_till_done()
    assert state(hass, "valve", "planer_gate_actuator") == "open"
    assert state(hass, "switch", "collector_relay") == "on"
    assert watts(hass, "planer") > 1800
    record = await truth(hass)
    assert record["machines"]["planer"]["running"] == pytest.approx(21, abs=0.1)
    assert record["machines"]["miter_saw"]["running"] == pytest.approx(8, abs=0.1)
    assert record["standing"]["faults"] == {"jointer_gate": ["gate_stuck"]}
    assert record["motor_starts"] == 1


async def test_a_file_that_cannot_be_read_is_no_end_of_the_world(
    hass: HomeAssistant, set_up: SetUp, caplog: pytest.LogCaptureFixture
) -> None:
    file = Path(hass.config.path("virtual_workshop.json"))
    await hass.async_add_executor_job(file.write_text, '{"world": ')
    await set_up()
    assert state(hass, "switch", "collector_relay") == "off"
    assert "cannot be read" in caplog.text


async def test_truth_begins_anew(
    hass: HomeAssistant, set_up: SetUp, pass_time: Pass
) -> None:
    await set_up()
    await do(hass, "switch_collector", on=True)
    await pass_time(5)
    assert (await truth(hass))["turning_all_shut"] > 4
    await do(hass, "reset_truth")
    record = await truth(hass)
    assert record["turning_all_shut"] == 0
    assert record["standing"]["collector"]["turning"] is True


@pytest.mark.parametrize(
    ("action", "data", "error"),
    [
        ("run_machine", {"machine": "anvil"}, ServiceValidationError),
        (
            "attach_machine",
            {"machine": "planer", "attached": True},
            ServiceValidationError,
        ),
        ("break", {"part": "planer", "fault": "gate_stuck"}, ServiceValidationError),
        ("break", {"part": "planer", "fault": "hiccup"}, vol.Invalid),
        ("move_gate", {"gate": "planer_gate", "position": 101}, vol.Invalid),
    ],
)
async def test_nonsense_is_refused(
    hass: HomeAssistant,
    set_up: SetUp,
    action: str,
    data: dict[str, Any],
    error: type[Exception],
) -> None:
    await set_up()
    with pytest.raises(error):
        await do(hass, action, **data)


async def test_actions_need_a_workshop(hass: HomeAssistant, set_up: SetUp) -> None:
    await set_up()
    entry = hass.config_entries.async_entries(DOMAIN)[0]
    assert await hass.config_entries.async_unload(entry.entry_id)
    with pytest.raises(ServiceValidationError, match="not set up"):
        await do(hass, "set_bin", level=1)


@pytest.mark.usefixtures("_findable")
async def test_a_workshop_that_makes_no_sense_is_not_set_up(
    hass: HomeAssistant,
) -> None:
    config = {DOMAIN: {"gates": {"planer_gate": {"travel": -1}}}}
    assert not await async_setup_component(hass, DOMAIN, config)


async def test_settings_are_taken_over_at_the_next_start(
    hass: HomeAssistant, set_up: SetUp
) -> None:
    await set_up(name="Elm Yard")
    entry = hass.config_entries.async_entries(DOMAIN)[0]
    assert entry.data == {"name": "Elm Yard"}
    flow = await hass.config_entries.flow.async_init(DOMAIN, context={"source": "user"})
    assert flow["reason"] == "already_configured"


async def test_actions_are_described(
    hass: HomeAssistant, set_up: SetUp, caplog: pytest.LogCaptureFixture
) -> None:
    """Every action, and every field of it, has a selector and a text."""
    await set_up()
    folder = ROOT / "demo" / "custom_components" / DOMAIN
    caplog.clear()
    described = load_yaml_dict(str(folder / "services.yaml"))
    # Home Assistant reads the file when somebody opens a page, and the demo checks its log.
    assert caplog.messages == []
    texts = json.loads((folder / "translations" / "en.json").read_text())["services"]
    assert set(described) == set(hass.services.async_services_for_domain(DOMAIN))
    assert set(texts) == set(described)
    for name, description in described.items():
        fields = (description or {}).get("fields", {})
        assert set(texts[name].get("fields", {})) == set(fields)
        for field in fields.values():
            validate_selector(field["selector"])
    faults = described["break"]["fields"]["fault"]["selector"]["select"]["options"]
    assert set(faults) == set(Fault)
