"""Faults as the owner sees them: problem sensors, events, repairs, texts."""

from typing import Any

from homeassistant.core import Event, HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import (
    device_registry as dr,
    entity_registry as er,
    issue_registry as ir,
)
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_capture_events,
)
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.control.alarms import AlarmKind
from custom_components.gatewright.repairs import async_create_fix_flow
from custom_components.gatewright.runtime.events import EVENT_ALARM
from custom_components.gatewright.texts.alarm_texts import alarm_text

from .workshop import (
    COLLECTOR,
    LAMP,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    machine,
    standard_parts,
    system_entry,
)

SMOKE = "binary_sensor.smoke"
BIN = "binary_sensor.bin_full"
AIR = "sensor.air_supply"
FILTER = "sensor.filter_gauge"
ALARM = "event.dust_collector_alarm"
PROBLEM = "binary_sensor.dust_collector_problem"


def issues(hass: HomeAssistant) -> dict[str, ir.IssueEntry]:
    """Return our repair issues by translation key."""
    return {
        str(issue.translation_key): issue
        for (domain, _), issue in ir.async_get(hass).issues.items()
        if domain == DOMAIN and issue.active
    }


def alarms(workshop: Workshop) -> Any:
    return workshop.attribute(PROBLEM, "alarms")


@pytest.fixture
def events(hass: HomeAssistant) -> list[Event]:
    """Return a list that fills with the alarm events."""
    return async_capture_events(hass, EVENT_ALARM)


async def test_an_alarm_is_logged_when_it_comes_and_when_it_goes(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    workshop.put(BIN, "off")
    await workshop.start(system_entry(bin_full=BIN))
    for state in ("on", "on", "off"):
        workshop.put(BIN, state)
        await workshop.pass_time(1)
    logged = [
        (record.levelname, record.message)
        for record in caplog.records
        if record.name == "custom_components.gatewright.runtime.events"
    ]
    assert logged == [
        ("INFO", "Dust collector: alarm bin_full of Dust collector raised"),
        ("INFO", "Dust collector: alarm bin_full of Dust collector cleared"),
    ]


async def test_words_of_all_alarms(hass: HomeAssistant, workshop: Workshop) -> None:
    await workshop.start(system_entry())
    for kind in AlarmKind:
        text = alarm_text(
            hass, kind, {"part": "Planer gate", "system": "Shop", "detail": "lost"}
        )
        assert text.title != kind.value, kind
        assert "Planer gate" in text.title, kind
        happened, _, advice = text.description.partition("\n\n**What to do:** ")
        assert happened.endswith("."), kind
        assert advice.endswith("."), kind
        assert "{" not in text.title + text.description, kind


async def test_gate_that_does_not_move_and_one_more_try(
    hass: HomeAssistant,
    workshop: Workshop,
    hass_client: ClientSessionGenerator,
    events: list[Event],
) -> None:
    assert await async_setup_component(hass, "repairs", {})
    await workshop.start(system_entry())
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(15)
    assert workshop.state("binary_sensor.saw_gate_problem") == "on"
    assert workshop.attribute("binary_sensor.saw_gate_problem", "messages") == [
        "Saw gate doesn't move"
    ]
    assert workshop.attribute(ALARM, "event_type") == "raised"
    assert [e.data["kind"] for e in events] == ["gate_not_moving", "no_gate_open"]
    issue = issues(hass)["alarm_gate_not_moving"]
    assert issue.is_fixable
    client = await hass_client()
    flow = await post(
        client,
        "/api/repairs/issues/fix",
        {"handler": DOMAIN, "issue_id": issue.issue_id},
    )
    assert flow["step_id"] == "confirm"
    assert flow["description_placeholders"]["part"] == "Saw gate"
    workshop.deaf.clear()
    workshop.sent()
    done = await post(client, f"/api/repairs/issues/fix/{flow['flow_id']}", {})
    assert done["type"] == "create_entry"
    await workshop.pass_time(3)
    assert workshop.sent() == [
        ("open_cover", SAW_GATE),
        ("turn_on", COLLECTOR),
    ]
    assert workshop.state("binary_sensor.saw_gate_problem") == "off"
    assert issues(hass) == {}
    assert workshop.attribute(ALARM, "event_type") == "cleared"


async def post(client: Any, url: str, data: dict[str, Any]) -> Any:
    answer = await client.post(url, json=data)
    assert answer.status == 200, await answer.text()
    return await answer.json()


async def test_fire_shutdown_locks_until_it_is_reset(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    assert await async_setup_component(hass, "repairs", {})
    workshop.put(SMOKE, "off")
    await workshop.start(system_entry(emergency=[SMOKE]))
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    workshop.put(SMOKE, "on")
    await workshop.pass_time(1)
    assert workshop.sent()[-1] == ("turn_off", COLLECTOR)
    await workshop.pass_time(12)
    assert workshop.sent()[-1] == ("close_cover", SAW_GATE)
    assert alarms(workshop) == ["fire_shutdown"]
    client = await hass_client()
    fix = {
        "handler": DOMAIN,
        "issue_id": issues(hass)["alarm_fire_shutdown"].issue_id,
    }
    flow = await post(client, "/api/repairs/issues/fix", fix)
    refused = await post(client, f"/api/repairs/issues/fix/{flow['flow_id']}", {})
    assert refused["reason"] == "refused_fire_shutdown"
    # The detector is quiet again; that alone resets nothing.
    workshop.put(SMOKE, "off")
    await workshop.pass_time(5)
    with pytest.raises(HomeAssistantError):
        await workshop.call("turn_on", "switch.dust_collector")
    flow = await post(client, "/api/repairs/issues/fix", fix)
    await post(client, f"/api/repairs/issues/fix/{flow['flow_id']}", {})
    await workshop.pass_time(3)
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    assert alarms(workshop) == []


async def test_detector_that_is_gone_changes_nothing(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put(SMOKE, "off")
    await workshop.start(system_entry(emergency=[SMOKE]))
    for nothing in ("unavailable", "unknown"):
        workshop.put(SMOKE, nothing)
        await workshop.pass_time(1)
    assert alarms(workshop) == []


async def test_fire_shutdown_survives_a_reload(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put(SMOKE, "on")
    entry = system_entry(emergency=[SMOKE])
    await workshop.start(entry)
    workshop.put(SMOKE, "off")
    assert await hass.config_entries.async_reload(entry.entry_id)
    await workshop.pass_time(2)
    assert alarms(workshop) == ["fire_shutdown"]
    assert "alarm_fire_shutdown" in issues(hass)
    assert await hass.config_entries.async_remove(entry.entry_id)
    assert issues(hass) == {}


async def test_full_bin_refuses_the_next_start(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put(BIN, "off")
    await workshop.start(system_entry(bin_full=BIN, bin_answer="refuse"))
    workshop.put(BIN, "on")
    await workshop.pass_time(1)
    assert alarms(workshop) == ["bin_full"]
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    assert workshop.sent() == [("open_cover", SAW_GATE)]
    with pytest.raises(HomeAssistantError, match="bin of Floor sweep is full"):
        await workshop.call("turn_on", "switch.floor_sweep")
    workshop.put(BIN, "off")
    await workshop.pass_time(2)
    assert ("turn_on", COLLECTOR) in workshop.sent()


@pytest.mark.parametrize(
    ("state", "unit", "expected"),
    [
        ("3.5", "bar", True),
        ("4.1", "bar", False),
        ("50", "psi", True),
        ("700", "kPa", False),
    ],
)
async def test_compressed_air_against_its_limit(
    hass: HomeAssistant, workshop: Workshop, state: str, unit: str, expected: bool
) -> None:
    workshop.put(AIR, state, {"unit_of_measurement": unit})
    await workshop.start(system_entry(air_supply=AIR, air_supply_low=400_000.0))
    assert ("air_supply_low" in alarms(workshop)) is expected


async def test_pressure_at_its_limit_does_not_come_and_go(
    hass: HomeAssistant, workshop: Workshop, events: list[Event]
) -> None:
    pascal = {"unit_of_measurement": "Pa"}
    workshop.put(FILTER, "900", pascal)
    await workshop.start(system_entry(filter_pressure=FILTER, filter_limit=1000.0))
    for reading in ("1001", "999", "1001", "unknown", "-1002", "960"):
        workshop.put(FILTER, reading)
        await workshop.pass_time(1)
    assert [e.data["raised"] for e in events] == [True]
    assert "alarm_filter_pressure_high" in issues(hass)
    workshop.put(FILTER, "940")
    await workshop.pass_time(1)
    assert [e.data["raised"] for e in events] == [True, False]
    assert issues(hass) == {}


async def test_air_supply_that_says_itself_when_it_is_low(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put("binary_sensor.air_low", "on")
    entry = system_entry(air_supply="binary_sensor.air_low")
    await workshop.start(entry)
    assert alarms(workshop) == ["air_supply_low"]
    data = {key: value for key, value in entry.data.items() if key != "air_supply"}
    hass.config_entries.async_update_entry(entry, data=data)
    await workshop.pass_time(1)
    assert alarms(workshop) == []


async def test_device_that_refuses_its_commands(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    await workshop.start(system_entry())
    workshop.fails[SAW_GATE] = HomeAssistantError("radio is silent")
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(8)
    assert "command_failed" in alarms(workshop)
    issue = issues(hass)["alarm_command_failed"]
    assert issue.translation_placeholders == {
        "part": "Saw gate",
        "system": "Dust collector",
        "detail": "radio is silent",
    }
    workshop.fails.clear()
    workshop.saw_gate.become(is_closed=False)
    await workshop.pass_time(2)
    assert alarms(workshop) == []
    assert "Traceback" not in caplog.text


async def test_refused_commands_are_over_with_the_work_they_were_for(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    workshop.fails[SAW_GATE] = HomeAssistantError("radio is silent")
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(15)
    assert "command_failed" in alarms(workshop)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(20)
    # It's closed, as it should be.
    assert alarms(workshop) == []
    assert workshop.state("binary_sensor.saw_gate_problem") == "off"


async def test_linked_device_goes_by_its_own_name(
    hass: HomeAssistant, workshop: Workshop, events: list[Event]
) -> None:
    parts = [part for part in standard_parts() if part.get("subentry_id") != "planer"]
    parts.append(
        machine(
            "planer",
            "Planer",
            gates=["planer_gate"],
            sensor=PLANER_POWER,
            companions=[LAMP],
        )
    )
    await workshop.start(system_entry(parts))
    workshop.fails[LAMP] = HomeAssistantError("gone")
    workshop.watts(PLANER_POWER, 1400)
    await workshop.pass_time(25)
    kinds = {(e.data["kind"], e.data["part"]) for e in events if e.data["raised"]}
    assert ("command_failed", "lamp") in kinds
    assert ("linked_device_not_switching", "Planer") in kinds


async def test_machine_left_on_and_reading_that_stands_still(
    hass: HomeAssistant, workshop: Workshop, events: list[Event]
) -> None:
    parts = [part for part in standard_parts() if part.get("subentry_id") != "saw"]
    parts.append(
        machine(
            "saw",
            "Table saw",
            gates=["saw_gate"],
            sensor=SAW_POWER,
            run_limit=60.0,
            silence=100.0,
        )
    )
    await workshop.start(system_entry(parts))
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(110, 1)
    assert [e.data["kind"] for e in events] == ["left_on", "reading_stuck"]
    await workshop.pass_time(70, 1)
    assert workshop.state("switch.dust_collector") == "off"
    assert ("turn_off", COLLECTOR) in workshop.sent()


async def test_plug_that_is_switched_off_at_its_relay(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """With their relay off, some plugs repeat their last reading forever."""
    owner = MockConfigEntry(domain="plugs")
    owner.add_to_hass(hass)
    device = dr.async_get(hass).async_get_or_create(
        config_entry_id=owner.entry_id, identifiers={("plugs", "saw")}
    )
    registry = er.async_get(hass)
    for domain, name in (("sensor", "power"), ("switch", "relay")):
        registry.async_get_or_create(
            domain,
            "plugs",
            name,
            suggested_object_id=f"saw_{name}",
            config_entry=owner,
            device_id=device.id,
        )
    parts = [part for part in standard_parts() if part.get("subentry_id") != "saw"]
    parts.append(
        machine("saw", "Table saw", gates=["saw_gate"], sensor="sensor.saw_power")
    )
    workshop.watts("sensor.saw_power", 3)
    workshop.put("switch.saw_relay", "on")
    await workshop.start(system_entry(parts))
    workshop.watts("sensor.saw_power", 1400)
    await workshop.pass_time(5)
    assert workshop.state("binary_sensor.table_saw_running") == "on"
    workshop.put("switch.saw_relay", "off")
    await workshop.pass_time(5)
    assert workshop.state("binary_sensor.table_saw_running") == "off"
    # A bridge that repeats a stored reading starts nothing.
    for _ in range(3):
        workshop.watts("sensor.saw_power", 1350)
        await workshop.pass_time(20, 1)
    assert workshop.state("binary_sensor.table_saw_running") == "off"
    assert "relay_not_cutting" not in workshop.attribute(PROBLEM, "alarms")
    # Changing readings count: the relay has welded, or feeds something else.
    for watts in (1340, 1360):
        workshop.watts("sensor.saw_power", watts)
        await workshop.pass_time(2)
    assert workshop.state("binary_sensor.table_saw_running") == "on"
    assert "relay_not_cutting" in workshop.attribute(
        "binary_sensor.table_saw_problem", "alarms"
    )


async def test_plugs_switch_that_its_owner_chose(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    parts = [part for part in standard_parts() if part.get("subentry_id") != "saw"]
    parts.append(
        machine(
            "saw",
            "Table saw",
            gates=["saw_gate"],
            sensor=SAW_POWER,
            relay="switch.lamp",
        )
    )
    await workshop.start(system_entry(parts))
    workshop.lamp.become(is_on=True)
    await workshop.saw_runs()
    workshop.lamp.become(is_on=False)
    await workshop.pass_time(6)
    seen = [workshop.state("binary_sensor.table_saw_running")]
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(6)
    seen.append(workshop.state("binary_sensor.table_saw_running"))
    assert seen == ["off", "off"]


async def test_issue_of_an_entry_that_is_gone(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    data: dict[str, str | int | float | None] = {
        "entry_id": "gone",
        "kind": "fire_shutdown",
        "part": "collector",
    }
    flow = await async_create_fix_flow(hass, "alarm_gone", data)
    assert type(flow).__name__ == "ConfirmRepairFlow"
    # A system that couldn't be set up again has nothing to act on either.
    entry = system_entry()
    await workshop.start(entry)
    await hass.config_entries.async_unload(entry.entry_id)
    data["entry_id"] = entry.entry_id
    flow = await async_create_fix_flow(hass, "alarm_left", data)
    assert type(flow).__name__ == "ConfirmRepairFlow"
