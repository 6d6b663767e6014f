"""Automatic control by the airflow: bleed gates, shut-off delay, alarm and drive."""

import asyncio
from typing import Any

from homeassistant.core import HomeAssistant, ServiceCall, State
from homeassistant.exceptions import HomeAssistantError
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_mock_service,
    mock_restore_cache_with_extra_data,
)

from custom_components.gatewright.core.airflow import lowest_speed, solve
from custom_components.gatewright.features.airflow.automatic_control import (
    emptying_time,
)

from .air_shop import FAN, ducted_parts
from .workshop import (
    PLANER_POWER,
    SAW_POWER,
    Workshop,
    change_part,
    change_system,
    system_entry,
)

DRIVE = {
    "drive": "fan.drive",
    "drive_floor": 40.0,
    "drive_ceiling": 100.0,
    "speed_control": True,
}


async def _start(workshop: Workshop, **data: Any) -> MockConfigEntry:
    entry = system_entry(ducted_parts(), **FAN, **data)
    await workshop.start(entry)
    return entry


def _follow(hass: HomeAssistant, entity_id: str) -> list[tuple[float, float]]:
    """Let a drive accept every speed at once; return when it got which."""
    reported: list[tuple[float, float]] = []

    async def take(call: ServiceCall) -> None:
        if "percentage" in call.data:
            reported.append((hass.loop.time(), call.data["percentage"]))
            hass.states.async_set(
                entity_id, "on", {"percentage": call.data["percentage"]}
            )
        else:
            reported.append((hass.loop.time(), call.data["value"]))
            hass.states.async_set(entity_id, str(call.data["value"]), {"max": 60})

    hass.services.async_register("fan", "set_percentage", take)
    hass.services.async_register("number", "set_value", take)
    return reported


async def test_a_relief_gate_keeps_the_main_moving(workshop: Workshop) -> None:
    entry = await _start(workshop, relief=True, carried="fine_dust")
    await workshop.saw_runs()
    await workshop.pass_time(8)
    air = entry.runtime_data.air
    relieved = entry.runtime_data.sequence.bleed
    assert relieved
    assert not relieved & {"saw_gate"}
    assert air.now.gates.keys() == {"saw_gate", *relieved}
    needed = air.shop.needs["saw"].transport
    assert air.now.solution.main_velocity >= needed
    # Alone the main is marginal: fast enough, but by less than the figures are off.
    alone = solve(air.shop.network, {"saw_gate"}).main_velocity
    assert needed < alone < air.shop.margin * needed
    # The planer brings enough flow of its own.
    workshop.watts(PLANER_POWER, 2000)
    await workshop.pass_time(12)
    assert air.now.gates.keys() == {"saw_gate", "planer_gate"}
    workshop.watts(PLANER_POWER, 2)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(40, 1)
    assert entry.runtime_data.sequence.bleed == frozenset()
    assert workshop.state("cover.sweep_gate") == "closed"


async def test_without_the_owners_word_nothing_is_opened(workshop: Workshop) -> None:
    entry = await _start(workshop)
    await workshop.saw_runs()
    await workshop.pass_time(8)
    assert entry.runtime_data.air.now.gates.keys() == {"saw_gate"}
    assert entry.runtime_data.sequence.least_shutoff_delay == 0


async def test_the_shutoff_delay_empties_the_ducts(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = await _start(workshop, transport_run_on=True)
    change_system(hass, entry, run_on=0.0)
    change_part(hass, entry, "main", length=150.0)
    await workshop.settle()
    await workshop.saw_runs()
    await workshop.pass_time(8)
    air = entry.runtime_data.air
    seconds = emptying_time(air.now.solution, air.now.gates)
    assert seconds > 5
    # Sawdust falls behind the air that carries it.
    assert seconds > 1.2 * air.now.solution.network.path("saw_gate")[-1].runs[
        0
    ].length / (air.now.solution.duct_velocity("main"))
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(4.5)
    assert workshop.state("sensor.dust_collector_phase") == "shutting_off"
    await workshop.pass_time(seconds - 2)
    assert workshop.state("sensor.dust_collector_phase") == "shutting_off"
    await workshop.pass_time(2.5)
    assert workshop.state("sensor.dust_collector_phase") == "spinning_down"


async def test_too_much_at_once_is_reported(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = await _start(workshop, together_alarm=True)
    change_part(hass, entry, "saw", required_flow=0.01)
    change_part(hass, entry, "planer", required_flow=2.0)
    await workshop.settle()
    problem = "binary_sensor.dust_collector_problem"
    workshop.watts(PLANER_POWER, 2000)
    await workshop.pass_time(8)
    # Alone it falls short as well, but that has nothing to do with running together.
    assert workshop.attribute(problem, "alarms") == []
    await workshop.saw_runs()
    await workshop.pass_time(8)
    assert workshop.attribute(problem, "alarms") == ["not_enough_airflow"]
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(8)
    assert workshop.attribute(problem, "alarms") == []


async def test_the_drive_goes_to_the_lowest_speed_in_steps(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put("fan.drive", "on", {"percentage": 100})
    entry = await _start(workshop, **DRIVE)
    change_part(hass, entry, "saw", required_flow=0.12)
    change_part(hass, entry, "main", diameter=0.125)
    change_system(hass, entry, carried="fine_dust")
    await workshop.settle()
    reported = _follow(hass, "fan.drive")
    await workshop.saw_runs()
    await workshop.pass_time(20)
    air = entry.runtime_data.air
    advice = lowest_speed(air.shop.network, {"saw_gate"}, floor=0.4)
    steps = [percent for _, percent in reported]
    assert steps[-1] == pytest.approx(100 * advice.speed, abs=1.001)
    assert steps[-1] >= 100 * advice.speed
    assert all(0 < a - b <= 5 for a, b in zip([100, *steps], steps, strict=False))
    assert air.now.speed == steps[-1] / 100
    # More flow is needed: up twice as fast.
    reported.clear()
    workshop.watts(PLANER_POWER, 2000)
    await workshop.pass_time(20)
    assert reported
    assert all(
        0 < b - a <= 10 for a, b in zip(steps[-1:], [reported[0][1]], strict=True)
    )
    # Nothing is sent to a stopped collector: a fan would start.
    workshop.watts(PLANER_POWER, 2)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(40, 1)
    reported.clear()
    await workshop.pass_time(10, 1)
    assert reported == []


async def test_what_a_lower_speed_saves(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    saved = "sensor.dust_collector_energy_saved_by_speed_control"
    mock_restore_cache_with_extra_data(
        hass,
        [
            (
                State(saved, "1.5"),
                {"native_value": 1.5, "native_unit_of_measurement": "kWh"},
            )
        ],
    )
    workshop.put("fan.drive", "on", {"percentage": 50})
    async_mock_service(hass, "fan", "set_percentage")
    entry = await _start(workshop, **DRIVE)
    assert workshop.state(saved) == "1.5"
    await workshop.saw_runs()
    await workshop.pass_time(120, 1)
    air = entry.runtime_data.air
    slow = solve(air.shop.network, {"saw_gate"}, speed=0.5).air_power
    full = solve(air.shop.network, {"saw_gate"}).air_power
    kwh = float(workshop.state(saved)) - 1.5
    assert kwh == pytest.approx((full - slow) * 110 / 3.6e6, rel=0.3)


async def test_a_number_can_be_the_drive(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put("number.drive", "30", {"max": 60})
    reported = _follow(hass, "number.drive")
    await _start(workshop, **{**DRIVE, "drive": "number.drive", "drive_floor": 90.0})
    await workshop.saw_runs()
    await workshop.pass_time(10)
    assert reported[0][1] == 36
    assert reported[-1][1] >= 54


async def test_a_drive_that_refuses_is_reported_once(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    workshop.put("fan.drive", "on", {"percentage": 60})

    async def refuse(call: ServiceCall) -> None:
        raise HomeAssistantError("no power")

    hass.services.async_register("fan", "set_percentage", refuse)
    entry = await _start(workshop, **{**DRIVE, "drive_floor": 100.0})
    await workshop.saw_runs()
    await workshop.pass_time(10)
    assert caplog.text.count("did not take the speed: no power") == 1
    # Turned off, it's left as it is.
    change_system(hass, entry, speed_control=False)
    await workshop.settle()
    assert entry.runtime_data.air.control.target is None


async def test_a_drive_that_hangs_has_one_call_at_a_time_and_ten_seconds(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    workshop.put("fan.drive", "on", {"percentage": 60})
    going = most = calls = 0

    async def hang(call: ServiceCall) -> None:
        nonlocal going, most, calls
        calls, going = calls + 1, going + 1
        most = max(most, going)
        try:
            await asyncio.sleep(3600)
        finally:
            going -= 1

    hass.services.async_register("fan", "set_percentage", hang)
    workshop.hangs.add("fan.drive")
    await _start(workshop, **{**DRIVE, "drive_floor": 100.0})
    await workshop.saw_runs()
    await workshop.pass_time(8)
    assert (calls, most, going) == (1, 1, 1)
    await workshop.pass_time(15)
    assert calls > 1
    assert most == 1
    assert caplog.text.count("did not take the speed: timeout") == 1


async def test_a_drive_may_raise_anything(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    workshop.put("fan.drive", "on", {"percentage": 60})

    async def fail(call: ServiceCall) -> None:
        raise OSError("no route")

    hass.services.async_register("fan", "set_percentage", fail)
    await _start(workshop, **{**DRIVE, "drive_floor": 100.0})
    await workshop.saw_runs()
    await workshop.pass_time(10)
    assert caplog.text.count("did not take the speed: no route") == 1
    assert "Traceback" not in caplog.text
