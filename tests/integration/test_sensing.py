"""Machines are recognized by the readings of any plug, and by any signal."""

from typing import Any

from homeassistant.core import HomeAssistant
import pytest
from pytest_homeassistant_custom_component.common import async_capture_events

from custom_components.gatewright.runtime.control_loop import ControlLoop
from custom_components.gatewright.runtime.updates import ChangedParts

from .workshop import (
    COLLECTOR,
    SAW_GATE,
    SAW_POWER,
    SWEEP_GATE,
    WATTS,
    Workshop,
    gate,
    machine,
    standard_parts,
    system_entry,
)

RUNNING = "binary_sensor.table_saw_running"
PROBLEM = "binary_sensor.table_saw_problem"


def parts_with(**data: Any) -> list[Any]:
    """Return the standard parts with another sensor at the saw; None leaves out."""
    parts = standard_parts()
    saw = machine("saw", "Table saw", gates=["saw_gate"], sensor=SAW_POWER)
    saw["data"] = {
        key: value
        for key, value in {**saw["data"], **data}.items()
        if value is not None
    }
    parts[3] = saw
    return parts


@pytest.mark.parametrize(
    ("unit", "idle", "working"),
    [
        ("W", "3", "1400"),
        ("kW", "0.003", "1.4"),
        ("mW", "3000", "1400000"),
        ("MW", "0.000003", "0.0014"),
        ("BTU/h", "10", "4777"),
    ],
)
async def test_power_in_any_unit(
    hass: HomeAssistant, workshop: Workshop, unit: str, idle: str, working: str
) -> None:
    attributes = {"unit_of_measurement": unit}
    workshop.put(SAW_POWER, idle, attributes)
    await workshop.start(system_entry(parts_with()))
    assert workshop.state(RUNNING) == "off"
    workshop.put(SAW_POWER, working, attributes)
    await workshop.pass_time(2)
    assert workshop.state(RUNNING) == "on"
    workshop.put(SAW_POWER, idle, attributes)
    await workshop.pass_time(5)
    assert workshop.state(RUNNING) == "off"


@pytest.mark.parametrize(
    ("unit", "idle", "working"), [("A", "0.02", "6.1"), ("mA", "20", "6100")]
)
async def test_current_in_any_unit(
    hass: HomeAssistant, workshop: Workshop, unit: str, idle: str, working: str
) -> None:
    clamp = "sensor.saw_clamp"
    attributes = {"unit_of_measurement": unit, "device_class": "current"}
    workshop.put(clamp, idle, attributes)
    parts = parts_with(sensor=clamp, unit="A", start=0.6, stop=0.3)
    await workshop.start(system_entry(parts))
    assert workshop.state(RUNNING) == "off"
    workshop.put(clamp, working, attributes)
    await workshop.pass_time(2)
    assert workshop.state(RUNNING) == "on"


async def test_a_unit_that_flips_while_it_runs(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(parts_with()))
    await workshop.saw_runs()
    workshop.put(SAW_POWER, "1.38", {"unit_of_measurement": "kW"})
    await workshop.pass_time(6)
    assert workshop.state(RUNNING) == "on"
    workshop.put(SAW_POWER, "0.004", {"unit_of_measurement": "kW"})
    await workshop.pass_time(6)
    assert workshop.state(RUNNING) == "off"


@pytest.mark.parametrize("attributes", [{}, {"unit_of_measurement": "V"}])
async def test_without_a_unit_of_power_there_is_no_reading(
    hass: HomeAssistant, workshop: Workshop, attributes: dict[str, str]
) -> None:
    workshop.put(SAW_POWER, "230", attributes)
    await workshop.start(system_entry(parts_with()))
    await workshop.pass_time(2)
    assert workshop.state(RUNNING) == "unavailable"
    assert workshop.sent() == []


@pytest.mark.parametrize(
    "nonsense", ["unknown", "unavailable", "", "lots", "nan", "inf", "-inf"]
)
async def test_what_is_no_number_starts_nothing_and_stops_nothing(
    hass: HomeAssistant, workshop: Workshop, nonsense: str
) -> None:
    await workshop.start(system_entry(parts_with()))
    workshop.watts(SAW_POWER, nonsense)
    await workshop.pass_time(5)
    assert workshop.state(RUNNING) == "unavailable"
    assert workshop.sent() == []
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, nonsense)
    await workshop.pass_time(20)
    assert workshop.sent() == []
    assert workshop.state("sensor.table_saw_phase") == "running"
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(5)
    assert workshop.state(RUNNING) == "off"


async def test_a_clamp_put_on_the_wrong_way_round_measures_the_same_machine(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(parts_with()))
    workshop.watts(SAW_POWER, -1400)
    await workshop.pass_time(2)
    assert workshop.state(RUNNING) == "on"
    workshop.watts(SAW_POWER, -4)
    await workshop.pass_time(5)
    assert workshop.state(RUNNING) == "off"


async def test_the_same_reading_again_says_that_the_plug_is_alive(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """A report without a change of value is noted, and changes nothing."""
    entry = system_entry(parts_with())
    await workshop.start(entry)
    await workshop.saw_runs()
    run = entry.runtime_data.sequence.machines["saw"]
    assert run.sensor is not None
    assert run.sensor.report_interval is None
    changes = async_capture_events(hass, "state_changed")
    for _ in range(8):
        await workshop.pass_time(3, 1)
        workshop.watts(SAW_POWER, 1400)
    assert run.sensor.report_interval == pytest.approx(3, abs=0.1)
    assert [e for e in changes if e.data["entity_id"] == SAW_POWER] == []


async def test_a_short_spike_and_a_short_dip_are_no_run_and_no_stop(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(parts_with()))
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(0.5)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(3)
    # A first sign opens the gate, and nothing more.
    assert workshop.sent() == [("open_cover", SAW_GATE), ("close_cover", SAW_GATE)]
    assert workshop.state("sensor.table_saw_cuts") == "0"
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(3)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(10)
    assert workshop.sent() == []


@pytest.mark.parametrize(
    ("entity_id", "states", "on", "off"),
    [
        ("binary_sensor.saw_runs", ["on"], "on", "off"),
        ("switch.saw", ["on"], "on", "off"),
        ("vacuum.rover", ["cleaning", "returning"], "returning", "docked"),
        ("media_player.saw", ["playing"], "playing", "idle"),
    ],
)
async def test_any_signal_with_the_states_that_mean_running(
    hass: HomeAssistant,
    workshop: Workshop,
    entity_id: str,
    states: list[str],
    on: str,
    off: str,
) -> None:
    hass.states.async_set(entity_id, off)
    parts = parts_with(sensor=entity_id, running_states=states)
    del parts[3]["data"]["unit"]
    await workshop.start(system_entry(parts))
    assert workshop.state(RUNNING) == "off"
    hass.states.async_set(entity_id, on)
    await workshop.pass_time(2)
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]
    hass.states.async_set(entity_id, "unavailable")
    await workshop.pass_time(20)
    assert workshop.sent() == []
    assert workshop.state(RUNNING) == "unavailable"
    hass.states.async_set(entity_id, off)
    await workshop.pass_time(6)
    assert workshop.state(RUNNING) == "off"


async def test_a_found_running_machine_is_served(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Levels count, not crossings."""
    workshop.watts(SAW_POWER, 1400)
    await workshop.load(system_entry(parts_with()))
    await workshop.pass_time(2)
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]


async def test_a_reading_lost_while_running_stays_served_for_the_dropout_time(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(parts_with()))
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, "unavailable")
    await workshop.pass_time(59, 1)
    assert workshop.sent() == []
    assert workshop.state(PROBLEM) == "off"
    await workshop.pass_time(2)
    assert workshop.state(PROBLEM) == "on"
    assert workshop.attribute(PROBLEM, "alarms") == ["reading_lost"]
    await workshop.pass_time(20)
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_cover", SAW_GATE)]
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(2)
    assert workshop.state(PROBLEM) == "off"


async def test_a_machine_may_stay_served_until_the_reading_is_back(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(parts_with(on_lost="running", grace=10.0)))
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, "unavailable")
    await workshop.pass_time(120, 2)
    assert workshop.state(PROBLEM) == "on"
    assert workshop.sent() == []
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(20)
    assert workshop.state(PROBLEM) == "off"
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_cover", SAW_GATE)]


async def test_a_disconnected_machine_that_makes_noise_is_not_served(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    hass.states.async_set("binary_sensor.plugged", "off")
    parts = parts_with(attached="binary_sensor.plugged")
    await workshop.start(system_entry(parts))
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(5)
    assert workshop.sent() == []
    assert workshop.state(RUNNING) == "off"
    hass.states.async_set("binary_sensor.plugged", "on")
    await workshop.pass_time(2)
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]
    # A signal that goes offline means nothing.
    hass.states.async_set("binary_sensor.plugged", "unavailable")
    await workshop.pass_time(10)
    assert workshop.sent() == []
    hass.states.async_set("binary_sensor.plugged", "off")
    await workshop.pass_time(20)
    assert workshop.sent() == [("turn_off", COLLECTOR), ("close_cover", SAW_GATE)]


async def test_a_machine_with_an_extractor_of_its_own_is_only_cleared(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    parts = parts_with(
        needs_air=False, clearing=[{"gates": ["sweep_gate"], "duration": 5.0}]
    )
    await workshop.start(system_entry(parts))
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(20)
    assert workshop.sent() == []
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(40)
    assert workshop.sent() == [
        ("open_valve", SWEEP_GATE),
        ("turn_on", COLLECTOR),
        ("turn_off", COLLECTOR),
        ("close_valve", SWEEP_GATE),
    ]
    assert hass.states.get("sensor.table_saw_collected_share") is None


async def test_linked_devices_run_with_their_machine(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    parts = parts_with(companions=["switch.lamp", "switch.not_there"])
    await workshop.start(system_entry(parts))
    await workshop.saw_runs()
    assert workshop.state("switch.lamp") == "on"
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(6)
    assert workshop.state("switch.lamp") == "off"
    # Switched by hand it's the owner's.
    workshop.lamp.by_hand(is_on=True)
    await workshop.pass_time(30, 1)
    assert workshop.state("switch.lamp") == "on"


async def test_a_shop_without_gates(hass: HomeAssistant, workshop: Workshop) -> None:
    parts = [machine("saw", "Table saw", gates=[], sensor=SAW_POWER)]
    await workshop.start(system_entry(parts, hand_gates=[]))
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.sent() == [("turn_on", COLLECTOR)]
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    assert hass.states.async_all("select") == []


async def test_an_inlet_that_is_always_open(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    parts = [
        gate("inlet", "Bench inlet", gate_kind="fixed"),
        machine("saw", "Table saw", gates=["inlet"], sensor=SAW_POWER),
    ]
    await workshop.start(system_entry(parts, hand_gates=[]))
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.sent() == [("turn_on", COLLECTOR)]
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"
    assert hass.states.get("cover.bench_inlet") is None


async def test_many_readings_cost_no_round_of_the_shop(
    hass: HomeAssistant, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    entry = system_entry(parts_with())
    await workshop.start(entry)
    rounds = 0
    go_round = ControlLoop._round

    def counted(loop: ControlLoop, touched: ChangedParts, now: float) -> None:
        nonlocal rounds
        rounds += 1
        go_round(loop, touched, now)

    monkeypatch.setattr(ControlLoop, "_round", counted)
    for watts in range(50):
        workshop.put(SAW_POWER, str(watts), WATTS)
    assert rounds == 0
    workshop.put(SAW_POWER, "500", WATTS)
    # The reading opens the gate, and the gate reports open.
    await workshop.settle()
    assert rounds == 2
