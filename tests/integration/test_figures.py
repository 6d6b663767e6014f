"""Sensors: their values, how often they're written, and when they're available."""

from collections import Counter
from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from homeassistant.const import (
    EVENT_STATE_CHANGED,
    EVENT_STATE_REPORTED,
    STATE_UNAVAILABLE,
)
from homeassistant.core import Event, HomeAssistant, callback
from homeassistant.helpers import entity_registry as er
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import async_capture_events

from custom_components.gatewright.const import DOMAIN

from .workshop import (
    COLLECTOR,
    PLANER_GATE,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    gate,
    machine,
    standard_parts,
    system_entry,
)

PHASE = "sensor.dust_collector_phase"


def capture_reports(hass: HomeAssistant) -> list[Event[Any]]:
    """Return a list that fills with unchanged reports."""
    events: list[Event[Any]] = []

    @callback
    def note(event: Event[Any]) -> None:
        events.append(event)

    @callback
    def every(_data: object) -> bool:
        return True

    hass.bus.async_listen(EVENT_STATE_REPORTED, note, event_filter=every)
    return events


def new_states(changes: Iterable[Event[Any]], entity_id: str) -> list[str]:
    """Return an entity's states, one after the other."""
    return [
        event.data["new_state"].state
        for event in changes
        if event.data["entity_id"] == entity_id
        and event.data["old_state"].state != event.data["new_state"].state
    ]


def ours(hass: HomeAssistant, events: Iterable[Event[Any]]) -> list[str]:
    """Return our entities' ids among the events, in order."""
    registry = er.async_get(hass)
    return [
        event.data["entity_id"]
        for event in events
        if (entry := registry.async_get(event.data["entity_id"])) is not None
        and entry.platform == DOMAIN
    ]


async def test_the_phases_of_a_run(hass: HomeAssistant, workshop: Workshop) -> None:
    await workshop.start(system_entry(start_delay=1.0))
    changes = async_capture_events(hass, EVENT_STATE_CHANGED)
    await workshop.saw_runs()
    await workshop.pass_time(5)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30)

    def states(entity_id: str) -> list[str]:
        return new_states(changes, entity_id)

    assert states(PHASE) == [
        "opening",
        "collecting",
        "shutting_off",
        "spinning_down",
        "idle",
    ]
    assert states("sensor.table_saw_phase") == ["running", "idle"]
    assert states("binary_sensor.dust_collector_turning") == ["on", "off"]
    assert states("binary_sensor.dust_collector_needed") == ["on", "off"]
    assert states("binary_sensor.table_saw_running") == ["on", "off"]
    assert states("binary_sensor.table_saw_collecting") == ["on", "off"]
    assert states("switch.dust_collector") == ["on", "off"]


async def test_phases_of_a_stop_start_saw_with_a_clearing_step(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    parts = standard_parts()
    parts[3] = machine(
        "saw",
        "Table saw",
        gates=["saw_gate"],
        sensor=SAW_POWER,
        hold=15.0,
        clearing=[{"gates": ["sweep_gate"], "duration": 5.0}],
    )
    await workshop.start(system_entry(parts))
    changes = async_capture_events(hass, EVENT_STATE_CHANGED)
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(45)
    phases = new_states(changes, "sensor.table_saw_phase")
    assert phases == ["running", "holding", "purging", "idle"]


async def test_phase_ends_is_an_instant(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(run_on=20.0, coast=30.0))
    await workshop.pass_time(20, 1)
    assert workshop.attribute(PHASE, "ends") is None
    await workshop.saw_runs()
    assert workshop.attribute(PHASE, "ends") is None
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(4.5)
    assert workshop.state(PHASE) == "shutting_off"
    ends = workshop.attribute(PHASE, "ends")
    left = (ends - dt_util.utcnow()).total_seconds()
    assert left == pytest.approx(19.5, abs=1.1)
    await workshop.pass_time(21)
    assert workshop.state(PHASE) == "spinning_down"
    ends = workshop.attribute(PHASE, "ends")
    assert ends - dt_util.utcnow() > timedelta(seconds=25)


async def test_no_countdown_is_written(hass: HomeAssistant, workshop: Workshop) -> None:
    """In shut-off delay and spin-down the instant is fixed, and nothing else is written."""
    await workshop.start(system_entry(run_on=25.0, coast=25.0))
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(5)
    assert workshop.state(PHASE) == "shutting_off"
    changes = async_capture_events(hass, EVENT_STATE_CHANGED)
    await workshop.pass_time(45)
    counted = Counter(ours(hass, changes))
    assert counted[PHASE] == 1
    assert workshop.state(PHASE) == "spinning_down"
    # The change of phase itself, and the totals of the collector at most twice more.
    assert counted.pop("sensor.dust_collector_running_hours") <= 3
    assert set(counted.values()) == {1}


async def test_a_minute_of_running_writes_the_totals_twice(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Readings come every second, and change nothing that is shown."""
    await workshop.start(system_entry())
    await workshop.saw_runs()
    changes = async_capture_events(hass, EVENT_STATE_CHANGED)
    written = capture_reports(hass)
    for second in range(60):
        workshop.watts(SAW_POWER, 1400 + second % 7)
        await workshop.pass_time(1)
    counted = Counter(ours(hass, changes))
    assert counted.pop("sensor.dust_collector_running_hours") == 2
    assert counted.pop("sensor.table_saw_running_time") == 2
    assert counted.pop("sensor.dust_collector_machine_hours") == 2
    shares = {
        "sensor.table_saw_collected_share",
        "sensor.dust_collector_collected_share",
        *(
            f"sensor.dust_collector_collected_share_{reach}"
            for reach in ("today", "this_week", "this_month")
        ),
    }
    assert counted.keys() <= shares
    assert max(counted.values(), default=0) <= 2
    # Written again at those two instants, and at no other.
    assert max(Counter(ours(hass, written)).values()) <= 2


async def test_nothing_is_written_at_rest(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    changes = async_capture_events(hass, EVENT_STATE_CHANGED)
    written = capture_reports(hass)
    for second in range(90):
        workshop.watts(SAW_POWER, 3 + second % 3)
        await workshop.pass_time(1, 1)
    assert ours(hass, changes) == []
    assert ours(hass, written) == []


async def test_an_instant_is_not_written_again_because_the_clocks_differ_a_little(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(run_on=50.0))
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(5)
    before = workshop.attribute(PHASE, "ends")
    assert before is not None
    changes = async_capture_events(hass, EVENT_STATE_CHANGED)
    # The mode switches update the collector's entities.
    for _ in range(5):
        workshop.freezer.tick(timedelta(microseconds=333_333))
        await workshop.call("turn_off", "switch.dust_collector_automatic")
        await workshop.call("turn_on", "switch.dust_collector_automatic")
    assert workshop.attribute(PHASE, "ends") == before
    assert PHASE not in ours(hass, changes)


async def test_the_end_of_a_phase_is_there_for_those_who_want_it(
    hass: HomeAssistant, workshop: Workshop, entity_registry: er.EntityRegistry
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    entity_id = "sensor.floor_sweep_phase_ends"
    collector = "sensor.dust_collector_phase_ends"
    for name in (entity_id, collector):
        entity_registry.async_update_entity(name, disabled_by=None)
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert workshop.state(entity_id) == "unknown"
    await workshop.call("turn_on", "switch.floor_sweep")
    ends = dt_util.parse_datetime(workshop.state(entity_id))
    assert ends is not None
    left = (ends - dt_util.utcnow()).total_seconds()
    assert left == pytest.approx(600, abs=1.1)
    assert workshop.attribute("sensor.floor_sweep_phase", "ends") is not None
    await workshop.pass_time(5)
    await workshop.call("turn_off", "switch.floor_sweep")
    assert workshop.state(PHASE) == "shutting_off"
    ends = dt_util.parse_datetime(workshop.state(collector))
    assert ends is not None
    difference = ends - workshop.attribute(PHASE, "ends")
    assert abs(difference) < timedelta(seconds=1)


async def test_hours_cuts_coverage_and_starts(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Half of the planer's time passes before its gate has opened."""
    parts = standard_parts()
    parts[1] = gate("planer_gate", "Planer gate", actuator=PLANER_GATE, travel=30.0)
    await workshop.start(system_entry(parts))
    assert workshop.state("sensor.planer_collected_share") == "unknown"
    workshop.watts(PLANER_POWER, 1450)
    await workshop.pass_time(61)
    workshop.watts(PLANER_POWER, 2)
    await workshop.pass_time(20)
    assert float(workshop.state("sensor.planer_running_time")) * 3600 == pytest.approx(
        64, abs=2
    )
    assert float(workshop.state("sensor.planer_collected_share")) == pytest.approx(
        53, abs=3
    )
    assert workshop.state("sensor.planer_cuts") == "1"
    assert workshop.state("sensor.dust_collector_starts") == "1"
    hours = float(workshop.state("sensor.dust_collector_running_hours")) * 3600
    assert hours == pytest.approx(37, abs=2)
    # The saw, which is always served at once, raises the share of the whole shop.
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(61)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(20)
    assert float(workshop.state("sensor.table_saw_collected_share")) > 95
    shop = float(workshop.state("sensor.dust_collector_collected_share"))
    assert 70 < shop < 85


async def test_a_pickup_counts_its_time_without_cuts(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.pass_time(36)
    await workshop.call("turn_off", "switch.floor_sweep")
    assert float(workshop.state("sensor.floor_sweep_running_time")) == pytest.approx(
        0.01, abs=0.001
    )
    assert hass.states.get("sensor.floor_sweep_cuts") is None


# Available exactly when what they need is ---------------------------------------------


NEEDS_COLLECTOR = {
    "binary_sensor.dust_collector_turning",
    "switch.dust_collector",
    "binary_sensor.table_saw_collecting",
    "binary_sensor.planer_collecting",
    "binary_sensor.floor_sweep_collecting",
}


def away(hass: HomeAssistant) -> set[str]:
    """Return our unavailable entities."""
    return {
        entry.entity_id
        for entry in er.async_get(hass).entities.values()
        if entry.platform == DOMAIN
        and (state := hass.states.get(entry.entity_id)) is not None
        and state.state == STATE_UNAVAILABLE
    }


async def test_without_the_collector(hass: HomeAssistant, workshop: Workshop) -> None:
    await workshop.start(system_entry())
    workshop.collector.become(available=False)
    await workshop.pass_time(1)
    assert away(hass) == NEEDS_COLLECTOR
    workshop.collector.become(available=True)
    await workshop.pass_time(1)
    assert away(hass) == set()


async def test_without_a_gate(hass: HomeAssistant, workshop: Workshop) -> None:
    await workshop.start(system_entry())
    workshop.saw_gate.become(available=False)
    await workshop.pass_time(1)
    assert away(hass) == {"cover.saw_gate", "binary_sensor.table_saw_collecting"}
    workshop.saw_gate.become(available=True)
    await workshop.pass_time(1)
    assert away(hass) == set()


async def test_without_a_reading(hass: HomeAssistant, workshop: Workshop) -> None:
    await workshop.start(system_entry())
    workshop.watts(SAW_POWER, STATE_UNAVAILABLE)
    await workshop.pass_time(1)
    assert away(hass) == {"binary_sensor.table_saw_running"}
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(1)
    assert away(hass) == set()


async def test_an_entity_that_disappears_is_away_as_well(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    hass.states.async_remove(SAW_POWER)
    hass.states.async_remove(SAW_GATE)
    await workshop.pass_time(1)
    assert away(hass) == {
        "binary_sensor.table_saw_collecting",
        "binary_sensor.table_saw_running",
        "cover.saw_gate",
    }


async def test_turning_needs_the_power_where_it_is_measured(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    power = "sensor.collector_power"
    workshop.watts(power, 4)
    await workshop.start(system_entry(power=power))
    await workshop.saw_runs()
    # Turned on, but it draws nothing: a tripped breaker.
    assert workshop.state("binary_sensor.dust_collector_turning") == "off"
    assert workshop.state("binary_sensor.table_saw_collecting") == "off"
    workshop.put(power, "2.2", {"unit_of_measurement": "kW", "device_class": "power"})
    await workshop.pass_time(1)
    assert workshop.state("binary_sensor.dust_collector_turning") == "on"
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    # Without its power the switch counts.
    workshop.watts(power, STATE_UNAVAILABLE)
    await workshop.pass_time(1)
    assert workshop.state("binary_sensor.dust_collector_turning") == "on"
    assert workshop.state(COLLECTOR) == "on"


# Problems -----------------------------------------------------------------------------


async def test_a_problem_is_shown_at_its_part_and_at_the_system(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(14)
    assert workshop.state("binary_sensor.saw_gate_problem") == "on"
    assert workshop.attribute("binary_sensor.saw_gate_problem", "alarms") == [
        "gate_not_moving"
    ]
    assert workshop.state("binary_sensor.planer_gate_problem") == "off"
    assert workshop.state("binary_sensor.dust_collector_problem") == "on"
    assert workshop.state("binary_sensor.table_saw_problem") == "on"
    assert workshop.attribute("binary_sensor.table_saw_problem", "alarms") == [
        "no_gate_open"
    ]
    workshop.deaf.clear()
    workshop.saw_gate.by_hand(is_closed=False)
    await workshop.pass_time(2)
    for part in ("saw_gate", "dust_collector", "table_saw"):
        assert workshop.state(f"binary_sensor.{part}_problem") == "off"


async def test_a_gate_that_has_to_be_opened_by_hand_is_shown(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    hass.states.async_set("binary_sensor.back_open", "off")
    parts = [
        *standard_parts(),
        gate(
            "back",
            "Back gate",
            gate_kind="hand",
            open_sensor="binary_sensor.back_open",
        ),
        machine("lathe", "Lathe", gates=["back"], sensor="sensor.lathe_power"),
    ]
    workshop.watts("sensor.lathe_power", 5)
    await workshop.start(system_entry(parts))
    workshop.watts("sensor.lathe_power", 900)
    await workshop.pass_time(3)
    assert workshop.state("binary_sensor.back_gate_problem") == "on"
    hass.states.async_set("binary_sensor.back_open", "on")
    await workshop.pass_time(2)
    assert workshop.state("binary_sensor.back_gate_problem") == "off"
    assert workshop.sent() == [("turn_on", COLLECTOR)]


async def test_an_entity_that_cannot_be_written_does_not_stop_the_shop(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(4, 2)
    assert workshop.state(PHASE) == "shutting_off"

    def broken() -> None:
        raise ValueError("cannot be written")

    unlisten = entry.runtime_data.context.listen("collector", broken)
    await workshop.pass_time(14)
    unlisten()
    assert "collector cannot be shown" in caplog.text
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_cover", SAW_GATE)]
    assert workshop.state(PHASE) == "idle"
