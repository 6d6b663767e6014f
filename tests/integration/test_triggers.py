"""Triggers and conditions, through real automations."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from homeassistant.core import HomeAssistant, ServiceCall
from homeassistant.helpers import (
    area_registry as ar,
    config_validation as cv,
    device_registry as dr,
)
from homeassistant.helpers.trigger import async_validate_trigger_config
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import async_mock_service
import voluptuous as vol

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.control.alarms import AlarmKind
from custom_components.gatewright.trigger import BIN_ALARMS, FILTER_ALARMS

from .workshop import (
    PLANER_POWER,
    SAW_POWER,
    Workshop,
    change_part,
    system_entry,
)

BIN = "binary_sensor.bin_level"
TO_STATE = "(trigger.to_state | default({'attributes': {}}))"


async def automate(
    hass: HomeAssistant,
    trigger: dict[str, Any],
    conditions: list[dict[str, Any]] | None = None,
) -> list[ServiceCall]:
    """Let an automation report what triggered it; return its reports."""
    calls = async_mock_service(hass, "test", "told")
    automation = {
        "alias": "Told",
        "triggers": [trigger],
        "conditions": conditions or [],
        "actions": [
            {
                "action": "test.told",
                "data": {
                    "entity": "{{ trigger.entity_id | default('') }}",
                    "state": f"{{{{ {TO_STATE}.state }}}}",
                    "alarm": f"{{{{ {TO_STATE}.attributes.alarm }}}}",
                    "event": f"{{{{ {TO_STATE}.attributes.event_type }}}}",
                },
            }
        ],
    }
    assert await async_setup_component(hass, "automation", {"automation": [automation]})
    await hass.async_block_till_done()
    state = hass.states.get("automation.told")
    assert state
    assert state.state == "on"
    return calls


def reports(calls: list[ServiceCall], what: str = "entity") -> list[str]:
    """Return the reports since the last call."""
    found = [call.data[what] for call in calls]
    calls.clear()
    return found


def device(hass: HomeAssistant, part: str, entry_id: str = "system") -> str:
    """Return the device of a part."""
    found = dr.async_get(hass).async_get_device_by_identifier((DOMAIN, part), entry_id)
    assert found
    return found.id


async def cut(workshop: Workshop, plug: str = SAW_POWER) -> None:
    """Run a machine for a moment and let all come to rest."""
    workshop.watts(plug, 1400)
    await workshop.pass_time(3)
    workshop.watts(plug, 3)
    await workshop.pass_time(25, 1)


@pytest.mark.parametrize(
    ("key", "entity"),
    [
        ("machine_started", "binary_sensor.table_saw_running"),
        ("machine_collection_started", "binary_sensor.table_saw_collecting"),
        ("machine_finished", "sensor.table_saw_phase"),
    ],
)
async def test_what_a_machine_does_triggers_once(
    hass: HomeAssistant, workshop: Workshop, key: str, entity: str
) -> None:
    await workshop.start(system_entry())
    calls = await automate(
        hass,
        {"trigger": f"{DOMAIN}.{key}", "target": {"device_id": device(hass, "saw")}},
    )
    await cut(workshop)
    assert reports(calls) == [entity]
    await cut(workshop, PLANER_POWER)
    assert reports(calls) == []


async def test_a_pickup_starts_when_it_is_asked_for(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """A request at a sensed machine isn't its start."""
    await workshop.start(system_entry())
    area = ar.async_get(hass).async_create("Machine room").id
    for part in ("saw", "sweep", "planer"):
        dr.async_get(hass).async_update_device(device(hass, part), area_id=area)
    calls = await automate(
        hass, {"trigger": f"{DOMAIN}.machine_started", "target": {"area_id": area}}
    )
    await workshop.call("turn_on", "switch.table_saw_dust_collection")
    await workshop.pass_time(1)
    assert reports(calls) == []
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.pass_time(1)
    workshop.watts(PLANER_POWER, 900)
    await workshop.pass_time(2)
    assert reports(calls) == ["switch.floor_sweep", "binary_sensor.planer_running"]


async def test_air_is_lost_only_while_the_machine_runs(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    calls = await automate(
        hass,
        {
            "trigger": f"{DOMAIN}.machine_collection_lost",
            "target": {"entity_id": "binary_sensor.table_saw_collecting"},
        },
    )
    await cut(workshop)
    assert workshop.state("binary_sensor.table_saw_collecting") == "off"
    assert reports(calls) == []
    await workshop.saw_runs()
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    workshop.collector.by_hand(is_on=False)
    await workshop.pass_time(12, 1)
    assert reports(calls) == ["binary_sensor.table_saw_collecting"]


@pytest.mark.parametrize(
    ("options", "phases"),
    [
        ({}, ["collecting", "shutting_off", "spinning_down", "idle"]),
        ({"phase": ["shutting_off", "idle"]}, ["shutting_off", "idle"]),
        ({"phase": "spinning_down", "for": {"seconds": 5}}, ["spinning_down"]),
        ({"phase": "spinning_down", "for": {"seconds": 15}}, []),
    ],
)
async def test_phases_of_the_collector(
    hass: HomeAssistant, workshop: Workshop, options: Any, phases: list[str]
) -> None:
    await workshop.start(system_entry())
    calls = await automate(
        hass,
        {
            "trigger": f"{DOMAIN}.collector_phase_changed",
            "target": {"device_id": device(hass, "system")},
            "options": options,
        },
    )
    await cut(workshop)
    assert reports(calls, "state") == phases


async def test_phases_of_a_machine(hass: HomeAssistant, workshop: Workshop) -> None:
    entry = system_entry()
    await workshop.start(entry)
    change_part(hass, entry, "saw", hold=5.0)
    calls = await automate(
        hass,
        {
            "trigger": f"{DOMAIN}.machine_phase_changed",
            "target": {"device_id": [device(hass, "saw"), device(hass, "planer")]},
            "options": {"phase": ["holding", "idle"]},
        },
    )
    await cut(workshop)
    assert reports(calls, "state") == ["holding", "idle"]


@pytest.mark.parametrize(
    ("key", "options", "alarms"),
    [
        ("alarm_raised", {}, ["bin_full", "reading_lost"]),
        ("alarm_raised", {"alarm": "reading_lost"}, ["reading_lost"]),
        ("alarm_raised", {"alarm": ["fire_shutdown", "no_gate_open"]}, []),
        ("alarm_cleared", {"alarm": ["bin_full"]}, ["bin_full"]),
        ("alarm_cleared", {}, ["bin_full", "reading_lost"]),
        ("bin_due", None, ["bin_full"]),
        ("filter_due", None, []),
    ],
)
async def test_alarms_of_chosen_kinds(
    hass: HomeAssistant,
    workshop: Workshop,
    key: str,
    options: Any,
    alarms: list[str],
) -> None:
    hass.states.async_set(BIN, "off")
    entry = system_entry(bin_full=BIN)
    await workshop.start(entry)
    trigger = {
        "trigger": f"{DOMAIN}.{key}",
        "target": {"device_id": device(hass, "system")},
    }
    calls = await automate(
        hass, trigger if options is None else {**trigger, "options": options}
    )
    hass.states.async_set(BIN, "on")
    await workshop.pass_time(1)
    hass.states.async_set(BIN, "off")
    await workshop.pass_time(1)
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, "unavailable")
    await workshop.pass_time(62, 2)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(2)
    assert reports(calls, "alarm") == alarms


async def test_two_alarms_in_the_same_millisecond_both_trigger(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    calls = await automate(
        hass,
        {
            "trigger": f"{DOMAIN}.alarm_raised",
            "target": {"entity_id": "event.dust_collector_alarm"},
        },
    )
    workshop.watts(SAW_POWER, "unavailable")
    workshop.watts(PLANER_POWER, "unavailable")
    await workshop.pass_time(62, 2)
    assert reports(calls, "alarm") == ["reading_lost", "reading_lost"]


async def test_a_reload_triggers_nothing(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    hass.states.async_set(BIN, "on")
    entry = system_entry(bin_full=BIN)
    await workshop.start(entry)
    calls = await automate(
        hass,
        {
            "trigger": f"{DOMAIN}.alarm_raised",
            "target": {"entity_id": "event.dust_collector_alarm"},
        },
    )
    assert await hass.config_entries.async_reload(entry.entry_id)
    await workshop.pass_time(2)
    assert reports(calls) == []


@pytest.mark.parametrize(
    ("key", "options"),
    [
        ("alarm_raised", {"alarm": ["teapot"]}),
        ("collector_phase_changed", {"phase": ["running"]}),
        ("machine_phase_changed", {"phase": "spinning_down"}),
        ("bin_due", {"alarm": ["bin_full"]}),
    ],
)
async def test_an_unknown_alarm_or_phase_is_refused(
    hass: HomeAssistant, workshop: Workshop, key: str, options: Any
) -> None:
    await workshop.start(system_entry())
    config = {
        "trigger": f"{DOMAIN}.{key}",
        "target": {"device_id": device(hass, "system")},
    }
    (checked,) = cv.TRIGGER_SCHEMA([config])
    assert await async_validate_trigger_config(hass, [checked])
    (checked,) = cv.TRIGGER_SCHEMA([{**config, "options": options}])
    with pytest.raises(vol.Invalid):
        await async_validate_trigger_config(hass, [checked])


@pytest.mark.parametrize(
    ("options", "periods"),
    [({}, ["day"]), ({"period": "day"}, ["day"]), ({"period": "week"}, ["week"])],
)
async def test_a_day_or_a_week_is_over(
    hass: HomeAssistant, workshop: Workshop, options: Any, periods: list[str]
) -> None:
    """Both fire at the same moment, at the end of a Sunday."""
    await hass.config.async_set_time_zone("UTC")
    workshop.freezer.move_to(datetime(2026, 3, 8, 23, 50, tzinfo=UTC))
    await workshop.start(system_entry())
    calls = await automate(
        hass,
        {
            "trigger": f"{DOMAIN}.summary_ready",
            "target": {"device_id": device(hass, "system")},
            "options": options,
        },
    )
    await cut(workshop)
    assert reports(calls) == []
    await workshop.pass_time(700, 60)
    assert [call.data["event"] for call in calls] == periods


# Conditions ---------------------------------------------------------------------------


async def saw_at_work(workshop: Workshop) -> None:
    await workshop.saw_runs()


async def sweep_asked(workshop: Workshop) -> None:
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.pass_time(2)


async def locked(workshop: Workshop) -> None:
    await workshop.call("turn_on", "switch.dust_collector_block_starts")


async def nothing(workshop: Workshop) -> None:
    pass


@pytest.mark.parametrize(
    ("key", "part", "happens", "behavior", "passes"),
    [
        ("is_running", "saw", nothing, "any", False),
        ("is_running", "saw", saw_at_work, "any", True),
        ("is_running", "sweep", saw_at_work, "any", False),
        ("is_running", "sweep", sweep_asked, "any", True),
        ("is_running", "saw planer", saw_at_work, "any", True),
        ("is_running", "saw planer", saw_at_work, "all", False),
        ("is_collecting", "saw", saw_at_work, "any", True),
        ("is_collecting", "planer", saw_at_work, "any", False),
        ("is_idle", "system", nothing, "any", True),
        ("is_idle", "system", saw_at_work, "any", False),
        ("is_start_blocked", "system", nothing, "any", False),
        ("is_start_blocked", "system", locked, "any", True),
    ],
)
async def test_conditions(
    hass: HomeAssistant,
    workshop: Workshop,
    key: str,
    part: str,
    happens: Callable[[Workshop], Any],
    behavior: str,
    passes: bool,
) -> None:
    await workshop.start(system_entry())
    condition = {
        "condition": f"{DOMAIN}.{key}",
        "target": {"device_id": [device(hass, name) for name in part.split()]},
        "options": {"behavior": behavior},
    }
    calls = await automate(hass, {"trigger": "event", "event_type": "ask"}, [condition])
    await happens(workshop)
    hass.bus.async_fire("ask")
    await hass.async_block_till_done()
    assert len(calls) == passes


def test_bin_and_filter_are_among_the_alarms() -> None:
    assert AlarmKind.BIN_FULL in BIN_ALARMS
    assert AlarmKind.FILTER_PRESSURE_HIGH in FILTER_ALARMS
    assert not BIN_ALARMS & FILTER_ALARMS
