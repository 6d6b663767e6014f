"""How soon dust is collected in Home Assistant, with a new system's settings."""

from typing import Any

from homeassistant.core import HomeAssistant
import pytest

from .workshop import (
    COLLECTOR,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    change_part,
    standard_parts,
    system_entry,
)

AIR = "binary_sensor.table_saw_collecting"
NEW: dict[str, Any] = {"spin_up": 3.0, "start_when": "gate_opening"}


async def used(hass: HomeAssistant, workshop: Workshop, **data: Any) -> Any:
    """Set a system up whose saw gate has been seen to open once."""
    entry = system_entry(standard_parts(), **{**NEW, **data})
    await workshop.start(entry)
    await workshop.saw_runs()
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30)
    # Its plug is unambiguous.
    change_part(hass, entry, "saw", certain_level=700.0)
    workshop.calls.clear()
    return entry


async def test_gate_at_the_first_sign_and_the_collector_once_it_is_certain(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await used(hass, workshop)
    workshop.hangs.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.settle()
    # At the very reading, gate first, although it hasn't answered.
    assert workshop.sent() == [("open_cover", SAW_GATE), ("turn_on", COLLECTOR)]


async def test_doubtful_reading_opens_the_gate_and_no_more(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await used(hass, workshop)
    workshop.watts(SAW_POWER, 300)
    await workshop.settle()
    assert workshop.sent() == [("open_cover", SAW_GATE)]
    workshop.watts(SAW_POWER, 3)
    await workshop.settle()
    assert workshop.sent() == [("close_cover", SAW_GATE)]


async def test_collecting_counts_from_four_fifths_of_the_speed(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await used(hass, workshop)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(1.0)
    assert workshop.state("binary_sensor.dust_collector_turning") == "on"
    seen = [workshop.state(AIR)]
    await workshop.pass_time(3.0)
    seen.append(workshop.state(AIR))
    assert seen == ["off", "on"]


@pytest.mark.parametrize("start_when", ["gate_opening", "gate_open", None])
async def test_system_of_an_earlier_version_waits_for_its_gate(
    hass: HomeAssistant, workshop: Workshop, start_when: str | None
) -> None:
    entry = await used(hass, workshop)
    data = {key: value for key, value in entry.data.items() if key != "start_when"}
    if start_when is not None:
        data["start_when"] = start_when
    hass.config_entries.async_update_entry(entry, data=data)
    await workshop.settle()
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.settle()
    started = ("turn_on", COLLECTOR) in workshop.sent()
    assert started is (start_when == "gate_opening")


async def test_gate_that_sticks_is_started_against_once(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    await used(hass, workshop)
    workshop.deaf.add(SAW_GATE)
    for _ in range(4):
        workshop.watts(SAW_POWER, 1400)
        await workshop.pass_time(20, 1)
        workshop.watts(SAW_POWER, 3)
        await workshop.pass_time(30, 1)
    calls = workshop.sent()
    assert calls.count(("turn_on", COLLECTOR)) == 1
    assert calls.count(("turn_off", COLLECTOR)) == 1
    # Another gate was opened for the spin-down.
    assert ("open_valve", "valve.sweep_gate_actuator") in calls
    assert "Traceback" not in caplog.text


async def test_cover_that_says_opening_forever_counts_by_its_position(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await used(hass, workshop)
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(1.0)
    workshop.saw_gate.become(is_opening=True, current_cover_position=100)
    await workshop.pass_time(40, 1)
    assert workshop.state(AIR) == "on"
    assert workshop.attribute("binary_sensor.dust_collector_problem", "alarms") == []


async def test_owner_says_from_where_a_gate_counts_as_open(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = await used(hass, workshop)
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(1.0)
    workshop.saw_gate.become(is_opening=False, current_cover_position=85)
    await workshop.pass_time(4.0)
    seen = [workshop.state(AIR)]
    change_part(hass, entry, "saw_gate", open_from=80.0)
    await workshop.pass_time(1.0)
    seen.append(workshop.state(AIR))
    assert seen == ["off", "on"]
