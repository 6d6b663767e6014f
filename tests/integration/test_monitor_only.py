"""A monitored system: nothing moves, and the simulated results are shown."""

from collections.abc import Callable
from datetime import timedelta
from random import Random
from typing import Any

from homeassistant.components.repairs import (
    DOMAIN as REPAIRS,
    repairs_flow_manager,
)
from homeassistant.config_entries import ConfigEntryDisabler, ConfigEntryState
from homeassistant.const import EVENT_CALL_SERVICE
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import entity_registry as er, issue_registry as ir
from homeassistant.setup import async_setup_component
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_capture_events,
    async_fire_time_changed,
)

from custom_components.gatewright.core.simulation.shadow_control import OF_ACTUATORS

from .flow_helpers import Form
from .workshop import (
    COLLECTOR,
    LAMP,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    change_system,
    machine,
    standard_parts,
    system_entry,
)

SWITCH = "switch.dust_collector_monitor_only"
WOULD_RUN = "binary_sensor.dust_collector_simulated_running"
WOULD_START = "sensor.dust_collector_simulated_starts"
WOULD_COVER = "sensor.dust_collector_simulated_collected_share"


def with_linked_devices() -> list[Any]:
    """Return the standard parts, with a lamp linked to the saw."""
    parts = standard_parts()
    saw = parts[3]
    saw["data"] = {**saw["data"], "companions": [LAMP]}
    return parts


def watched(**data: Any) -> MockConfigEntry:
    """Return a system that only monitors, from now on."""
    return system_entry(watch_since=dt_util.utcnow().isoformat(), **data)


@pytest.fixture
def calls(hass: HomeAssistant) -> Callable[[], list[tuple[str, str]]]:
    """Return a list of every action called on anything but ourselves."""
    events = async_capture_events(hass, EVENT_CALL_SERVICE)

    def called() -> list[tuple[str, str]]:
        return [
            (event.data["service"], event.data["service_data"].get("entity_id", ""))
            for event in events
        ]

    return called


async def test_nothing_moves_and_it_shows_what_would(
    hass: HomeAssistant, workshop: Workshop, calls: Callable[[], Any]
) -> None:
    entry = watched()
    await workshop.start(entry)
    assert workshop.state(WOULD_RUN) == "off"
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(20)
    assert workshop.state("binary_sensor.table_saw_running") == "on"
    assert workshop.state("binary_sensor.table_saw_collecting") == "off"
    assert workshop.state(WOULD_RUN) == "on"
    assert workshop.state(WOULD_START) == "1"
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(40, 1)
    assert workshop.state(WOULD_RUN) == "off"
    assert float(workshop.state(WOULD_COVER)) > 70
    assert workshop.state("sensor.dust_collector_starts") == "0"
    assert workshop.state("sensor.table_saw_collected_share") == "0.0"
    assert calls() == workshop.sent() == []
    assert entry.runtime_data.shop.alarms.standing == {}
    assert er.async_get(hass).async_get(COLLECTOR).hidden_by is None  # type: ignore[union-attr]


async def test_what_people_do_by_hand_is_neither_fought_nor_an_alarm(
    hass: HomeAssistant, workshop: Workshop, calls: Callable[[], Any]
) -> None:
    await workshop.start(entry := watched())
    workshop.collector.by_hand(is_on=True)
    await workshop.pass_time(5)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(20)
    assert workshop.state("binary_sensor.table_saw_collecting") == "off"
    workshop.saw_gate.by_hand(is_closed=False)
    await workshop.pass_time(20)
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(90, 1)
    workshop.saw_gate.by_hand(is_closed=True)
    workshop.collector.by_hand(is_on=False)
    await workshop.pass_time(90, 1)
    assert workshop.state("sensor.dust_collector_starts") == "1"
    assert 40 < float(workshop.state("sensor.table_saw_collected_share")) < 60
    assert calls() == []
    assert entry.runtime_data.shop.alarms.standing == {}
    assert not ir.async_get(hass).issues


async def test_whatever_a_person_asks_of_it_is_refused_in_words(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(watched())
    for service, entity_id in (
        ("turn_on", "switch.dust_collector"),
        ("turn_off", "switch.dust_collector"),
        ("turn_on", "switch.floor_sweep"),
        ("open_cover", "cover.saw_gate"),
    ):
        with pytest.raises(ServiceValidationError, match="monitor-only mode"):
            await workshop.call(service, entity_id)
    assert workshop.sent() == []


async def test_what_is_wrong_with_a_sensor_is_reported(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(entry := watched())
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    workshop.watts(SAW_POWER, "unavailable")
    await workshop.pass_time(70, 1)
    assert [kind for kind, _ in entry.runtime_data.shop.alarms.standing] == [
        "reading_lost"
    ]


@pytest.mark.parametrize("seed", range(3))
async def test_whatever_happens_no_call_leaves(
    hass: HomeAssistant,
    workshop: Workshop,
    calls: Callable[[], list[tuple[str, str]]],
    seed: int,
) -> None:
    """Readings, manual changes, modes, changes and reloads in any order."""
    random = Random(seed)
    entry = watched(parts=with_linked_devices())
    await workshop.start(entry)
    asked = 0
    for _ in range(60):
        match random.randrange(8):
            case 0 | 1:
                sensor = random.choice([SAW_POWER, PLANER_POWER])
                readings: list[float | str] = [2.0, 900.0, "unavailable"]
                workshop.watts(sensor, random.choice(readings))
            case 2:
                workshop.collector.by_hand(is_on=random.random() < 0.5)
            case 3:
                workshop.saw_gate.by_hand(is_closed=random.random() < 0.5)
            case 4:
                workshop.lamp.by_hand(is_on=random.random() < 0.5)
            case 5:
                mode = random.choice(["automatic", "lockout"])
                service = random.choice(["turn_on", "turn_off"])
                await workshop.call(service, f"switch.dust_collector_{mode}")
                asked += 1
            case 6:
                change_system(hass, entry, run_on=random.uniform(1.0, 9.0))
            case _:
                assert await hass.config_entries.async_reload(entry.entry_id)
        await workshop.pass_time(random.choice([0.5, 3.0, 20.0, 70.0]), 2.0)
    assert len(calls()) == asked
    assert workshop.sent() == []
    assert not [
        kind
        for kind, _ in entry.runtime_data.shop.alarms.standing
        if kind in OF_ACTUATORS
    ]


async def test_going_live_begins_from_rest(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = watched()
    await workshop.start(entry)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    with pytest.raises(ServiceValidationError, match="Table saw is running"):
        await workshop.call("turn_off", SWITCH)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30, 1)
    await workshop.call("turn_off", SWITCH)
    await workshop.pass_time(15, 1)
    assert "watch_since" not in entry.data
    assert workshop.state(SWITCH) == "off"
    assert hass.states.get(WOULD_START) is None
    assert workshop.sent() == []
    await workshop.saw_runs()
    assert workshop.collector.is_on
    assert not workshop.saw_gate.is_closed
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    # The totals of monitor-only mode aren't lost.
    assert workshop.state("sensor.table_saw_cuts") == "2"


async def test_a_collector_found_on_is_taken_over_in_order(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Somebody had turned it on; it always keeps an open gate."""
    await workshop.start(watched())
    workshop.collector.by_hand(is_on=True)
    await workshop.pass_time(5)
    await workshop.call("turn_off", SWITCH)
    await workshop.pass_time(5)
    assert workshop.sent() == [("open_valve", "valve.sweep_gate_actuator")]
    await workshop.call("turn_off", "switch.dust_collector")
    await workshop.pass_time(20, 1)
    assert not workshop.collector.is_on


async def test_monitoring_begins_only_from_rest(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    with pytest.raises(ServiceValidationError, match="has stopped: in monitor-only"):
        await workshop.call("turn_on", SWITCH)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(40, 1)
    workshop.sent()
    await workshop.call("turn_on", SWITCH)
    assert entry.state is ConfigEntryState.LOADED
    assert workshop.state(SWITCH) == "on"
    workshop.watts(PLANER_POWER, 1400)
    await workshop.pass_time(20)
    assert workshop.state(WOULD_RUN) == "on"
    assert workshop.sent() == []


async def test_what_would_have_been_survives_restarts_and_changes(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = watched()
    await workshop.start(entry)
    await _cut(workshop)
    change_system(hass, entry, run_on=5.0)
    await workshop.pass_time(15, 1)
    await _cut(workshop)
    assert workshop.state(WOULD_START) == "2"
    assert await hass.config_entries.async_reload(entry.entry_id)
    await workshop.pass_time(15, 1)
    await _cut(workshop)
    assert workshop.state(WOULD_START) == "3"
    # Disabled or removed, what somebody turned on by hand stays on.
    workshop.collector.by_hand(is_on=True)
    await workshop.pass_time(5)
    await hass.config_entries.async_remove(entry.entry_id)
    assert workshop.collector.is_on
    assert workshop.sent() == []


async def test_after_a_week_it_asks(hass: HomeAssistant, workshop: Workshop) -> None:
    assert await async_setup_component(hass, REPAIRS, {})
    entry = watched()
    await workshop.start(entry)
    await _cut(workshop)
    assert _questions(hass) == []
    _days_pass(hass, workshop, 7)
    await hass.async_block_till_done()
    (question,) = _questions(hass)
    assert question.translation_placeholders is not None
    assert question.translation_placeholders["would_starts"] == "1"
    assert question.translation_placeholders["was_starts"] == "0"
    assert question.translation_placeholders["was_coverage"] == "0 %"
    manager = repairs_flow_manager(hass)
    assert manager

    async def fix(flow_id: str | None = None, **typed: Any) -> Any:
        if flow_id is None:
            return await manager.async_init(
                "gatewright", data={"issue_id": question.issue_id}
            )
        return await manager.async_configure(flow_id, typed)

    shown = await fix()
    assert shown["type"] == "menu"
    assert shown["description_placeholders"]["days"] == "7"
    await fix(flow_id=shown["flow_id"], next_step_id="watch_on")
    assert _questions(hass) == []
    _days_pass(hass, workshop, 6)
    assert _questions(hass) == []
    _days_pass(hass, workshop, 2)
    assert len(_questions(hass)) == 1
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    shown = await fix()
    shown = await fix(flow_id=shown["flow_id"], next_step_id="go_live")
    assert shown["step_id"] == "go_live_running"
    assert shown["description_placeholders"]["machines"] == "Table saw"
    await hass.async_block_till_done()
    assert workshop.sent() == []
    await fix(flow_id=shown["flow_id"])
    await hass.async_block_till_done()
    await workshop.pass_time(15)
    assert "watch_since" not in entry.data
    assert workshop.collector.is_on
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    assert _questions(hass) == []


async def test_a_system_that_is_disabled_does_not_ask(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = watched()
    await workshop.start(entry)
    _days_pass(hass, workshop, 8)
    await hass.async_block_till_done()
    assert len(_questions(hass)) == 1
    disabled = ConfigEntryDisabler.USER
    await hass.config_entries.async_set_disabled_by(entry.entry_id, disabled)
    assert _questions(hass) == []
    await hass.config_entries.async_set_disabled_by(entry.entry_id, None)
    _days_pass(hass, workshop, 1)
    await hass.async_block_till_done()
    assert len(_questions(hass)) == 1


async def test_the_form_of_the_system(hass: HomeAssistant, workshop: Workshop) -> None:
    parts = standard_parts()[:3]
    parts.append(
        machine("saw", "Table saw", gates=["saw_gate"], sensor=SAW_POWER, clearing=[])
    )
    entry = system_entry(parts)
    await workshop.start(entry)
    await workshop.saw_runs()
    form = await Form(hass, entry).change("watching")
    assert form.values["watch_only"] is False
    await form.send(watch_only=True)
    assert form.errors == {"watch_only": "watch_not_at_rest"}
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(40, 1)
    await form.send()
    assert form.saved
    assert workshop.state(SWITCH) == "on"
    since = entry.data["watch_since"]
    workshop.sent()
    form = await Form(hass, entry).change()
    assert form.values["watch_only"] is True
    await form.send(run_on=7)
    assert form.saved
    assert (entry.data["watch_since"], entry.data["run_on"]) == (since, 7)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    form = await Form(hass, entry).change("watching")
    await form.send(watch_only=False)
    assert form.step == "go_live"
    assert form.result["description_placeholders"]["machines"] == "Table saw"
    assert workshop.sent() == []
    await form.send()
    assert form.saved
    await workshop.pass_time(15)
    assert ("turn_on", COLLECTOR) in workshop.sent()
    assert workshop.state(SAW_GATE) == "open"


async def test_a_system_that_is_off_can_be_made_live(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = watched()
    await workshop.start(entry)
    await workshop.saw_runs()
    await hass.config_entries.async_unload(entry.entry_id)
    form = await Form(hass, entry).change("watching")
    await form.send(watch_only=False)
    assert form.step == "go_live"
    # Nobody knows what runs.
    assert form.result["description_placeholders"]["machines"] == "–"
    await form.send()
    assert "watch_since" not in entry.data


async def _cut(workshop: Workshop) -> None:
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(20)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(40, 1)


def _days_pass(hass: HomeAssistant, workshop: Workshop, days: int) -> None:
    workshop.freezer.tick(timedelta(days=days, seconds=5))
    async_fire_time_changed(hass)


def _questions(hass: HomeAssistant) -> list[ir.IssueEntry]:
    return [
        issue
        for issue in ir.async_get(hass).issues.values()
        if issue.translation_key == "watched_week" and issue.active
    ]


async def test_a_new_system_can_begin_by_monitoring(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    form = await Form(hass).start()
    await form.send(name="Yard", switch=COLLECTOR, watch_only=True)
    await form.send(pickups=["Floor sweep"])
    await form.send(open_inlets=["Inlet"])
    while form.result["type"] is FlowResultType.FORM:
        assert not form.errors
        await form.send()
    entry = form.created
    assert dt_util.parse_datetime(entry.data["watch_since"]) is not None
    assert workshop.state("switch.yard_monitor_only") == "on"
    with pytest.raises(ServiceValidationError, match="monitor-only mode"):
        await workshop.call("turn_on", "switch.yard")
    assert workshop.sent() == []
