"""The filter in Home Assistant: hours, pressure, and a switch that cleans it."""

from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers import issue_registry as ir
import pytest

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.repairs import async_create_fix_flow

from .air_shop import FAN, ducted_parts
from .maintenance_shop import (
    CLEANING,
    GAUGE,
    HOUR,
    SHAKEN,
    SHAKER,
    SINCE,
    WORK,
    alarms,
    on,
    saw,
)
from .workshop import (
    SAW_POWER,
    FakeSwitch,
    Workshop,
    system_entry,
)


@pytest.fixture
async def shaker(workshop: Workshop) -> FakeSwitch:
    """Return the switch of the filter's shaker."""
    shaker = FakeSwitch(workshop, SHAKER)
    await workshop.add(shaker)
    return shaker


async def test_the_shaker_runs_only_after_the_spin_down(
    workshop: Workshop, shaker: FakeSwitch
) -> None:
    await workshop.start(system_entry(**SHAKEN))
    assert workshop.state(CLEANING) == "idle"
    await saw(workshop, 0.6)
    assert workshop.state(CLEANING) == "waiting"
    # Ten seconds of spin-down, and five more.
    await workshop.pass_time(12)
    assert ("turn_on", SHAKER) not in workshop.sent()
    await workshop.pass_time(5)
    assert on(shaker)
    assert workshop.state(CLEANING) == "on"
    await workshop.pass_time(30)
    strokes = [call for call in workshop.sent() if call[1] == SHAKER]
    assert strokes == [("turn_on", SHAKER), ("turn_off", SHAKER)] * 2
    assert workshop.state(CLEANING) == "idle"
    assert float(workshop.state(SINCE)) == 0.0
    assert alarms(workshop) == []


async def test_a_start_ends_the_cleaning_at_once(
    workshop: Workshop, shaker: FakeSwitch
) -> None:
    await workshop.start(system_entry(**SHAKEN))
    await saw(workshop, 0.6)
    await workshop.pass_time(15)
    assert on(shaker)
    workshop.sent()
    await workshop.saw_runs()
    assert not on(shaker)
    await workshop.pass_time(60)
    assert not on(shaker)
    assert workshop.state(CLEANING) == "waiting"
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(60)
    assert workshop.state(CLEANING) == "idle"


async def test_nothing_is_shaken_under_start_block(
    workshop: Workshop, shaker: FakeSwitch
) -> None:
    await workshop.start(system_entry(**SHAKEN))
    await saw(workshop, 0.6)
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    await workshop.pass_time(60)
    assert not on(shaker)
    await workshop.call("turn_off", "switch.dust_collector_block_starts")
    await workshop.pass_time(8)
    assert on(shaker)


async def test_a_shaker_that_fails_is_reported_and_the_filter_is_not_taken_for_clean(
    workshop: Workshop, shaker: FakeSwitch
) -> None:
    workshop.fails[SHAKER] = HomeAssistantError("no answer")
    await workshop.start(system_entry(**SHAKEN))
    await saw(workshop, 0.6)
    await workshop.pass_time(60)
    assert alarms(workshop) == ["maintenance_not_switching"]
    assert float(workshop.state(SINCE)) > 0.5
    assert workshop.state(CLEANING) == "waiting"
    workshop.fails.clear()
    await saw(workshop, 0.1)
    await workshop.pass_time(60)
    assert workshop.state(CLEANING) == "idle"
    assert float(workshop.state(SINCE)) == 0.0
    await workshop.pass_time(120, 5)
    assert alarms(workshop) == []


async def test_a_shaker_that_stays_on_is_reported_and_tried_again(
    workshop: Workshop, shaker: FakeSwitch
) -> None:
    await workshop.start(system_entry(**SHAKEN))
    await saw(workshop, 0.6)
    await workshop.pass_time(15)
    assert on(shaker)
    workshop.deaf.add(SHAKER)
    await workshop.pass_time(60)
    assert "maintenance_not_switching" in alarms(workshop)
    workshop.deaf.clear()
    await workshop.pass_time(120, 1)
    assert not on(shaker)


async def test_the_shaker_is_let_go_of_when_it_is_no_longer_ours(
    hass: HomeAssistant, workshop: Workshop, shaker: FakeSwitch
) -> None:
    entry = system_entry(**SHAKEN)
    await workshop.start(entry)
    await saw(workshop, 0.6)
    await workshop.pass_time(15)
    assert on(shaker)
    data = {key: value for key, value in entry.data.items() if key != "cleaning"}
    hass.config_entries.async_update_entry(entry, data=data)
    await hass.async_block_till_done()
    assert not on(shaker)
    assert hass.states.get(CLEANING) is None


async def test_a_restart_in_the_middle_of_a_stroke_ends_it_and_cleans_anew(
    hass: HomeAssistant, workshop: Workshop, shaker: FakeSwitch
) -> None:
    entry = system_entry(**SHAKEN)
    await workshop.start(entry)
    await saw(workshop, 0.6)
    await workshop.pass_time(15)
    assert on(shaker)
    await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert not on(shaker)
    await workshop.pass_time(90)
    assert not on(shaker)
    assert workshop.state(CLEANING) == "idle"
    assert float(workshop.state(SINCE)) == 0.0


async def test_a_monitored_system_switches_nothing(
    workshop: Workshop, shaker: FakeSwitch
) -> None:
    await workshop.start(
        system_entry(watch_since="2026-01-01T08:00:00+00:00", **SHAKEN)
    )
    await workshop.saw_runs()
    workshop.collector.by_hand(is_on=True)
    await workshop.pass_time(0.6 * HOUR, 60)
    workshop.watts(SAW_POWER, 3)
    workshop.collector.by_hand(is_on=False)
    await workshop.pass_time(90)
    assert [call for call in workshop.sent() if call[1] == SHAKER] == []
    assert alarms(workshop) == []


async def test_cleaning_on_a_button(workshop: Workshop, shaker: FakeSwitch) -> None:
    await workshop.start(system_entry(**SHAKEN))
    await workshop.call("press", "button.dust_collector_clean_filter")
    await workshop.pass_time(8)
    assert on(shaker)
    await workshop.pass_time(30)
    assert not on(shaker)


async def test_hours_and_the_words_that_it_was_done(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(filter_hours=1.0, filter_life=2.0))
    assert workshop.state(WORK) == "nothing"
    await saw(workshop, 1.1)
    assert workshop.state(WORK) == "clean"
    assert workshop.attribute(WORK, "reason") == "hours"
    assert alarms(workshop) == ["filter_clean_due"]
    await workshop.call("press", "button.dust_collector_filter_cleaned")
    assert workshop.state(WORK) == "nothing"
    assert alarms(workshop) == []
    await saw(workshop, 0.95)
    assert alarms(workshop) == ["filter_replace_due"]
    await hass.services.async_call(
        DOMAIN, "mark_filter_replaced", {"entity_id": WORK}, blocking=True
    )
    await hass.async_block_till_done()
    assert alarms(workshop) == []
    assert (
        workshop.state("sensor.dust_collector_filter_hours_until_replacement") == "2.0"
    )


async def test_a_gauge_says_when_to_clean(workshop: Workshop) -> None:
    """250 Pa at first, 100 Pa more each hour: at 500 Pa it is time."""
    pascals = {"unit_of_measurement": "Pa"}
    workshop.put(GAUGE, "0", pascals)
    await workshop.start(system_entry(filter_pressure=GAUGE, filter_limit=500.0))
    await workshop.saw_runs()
    for step in range(30):
        workshop.put(GAUGE, str(250 + 10 * step))
        await workshop.pass_time(360, 30)
        if step == 15:
            assert workshop.state(WORK) == "nothing"
            left = workshop.state("sensor.dust_collector_filter_hours_until_cleaning")
            assert float(left) == pytest.approx(1.0, abs=0.15)
    assert workshop.state(WORK) == "clean"
    assert workshop.attribute(WORK, "reason") == "pressure"
    assert float(workshop.state("sensor.dust_collector_filter_pressure")) > 500
    assert "filter_clean_due" in alarms(workshop)
    # At rest the gauge doesn't show the filter.
    workshop.watts(SAW_POWER, 3)
    workshop.put(GAUGE, "0")
    await workshop.pass_time(90, 1)
    assert workshop.state(WORK) == "clean"
    assert float(workshop.state("sensor.dust_collector_filter_pressure")) > 500


async def test_the_computed_loss_where_there_is_no_gauge(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """The loss of a clean filter: it's shown, without any conclusion."""
    entry = system_entry(ducted_parts(), **FAN, filter_hours=20.0)
    await workshop.start(entry)
    await workshop.saw_runs()
    await workshop.pass_time(1.5 * HOUR, 30)
    solution = entry.runtime_data.air.now.solution
    assert solution.filter_pressure > 0
    # Converted to the reference flow of the filter's loss.
    wanted = solution.filter_pressure * FAN["filter_flow"] / solution.flow
    shown = float(workshop.state("sensor.dust_collector_filter_pressure"))
    assert shown == pytest.approx(wanted, abs=1)
    assert not entry.runtime_data.maintenance.seen.filter.measured
    left = workshop.state("sensor.dust_collector_filter_hours_until_cleaning")
    assert float(left) == pytest.approx(18.5, abs=0.1)
    assert workshop.state(WORK) == "nothing"


async def test_a_repair_tries_a_shaker_again(
    hass: HomeAssistant, workshop: Workshop, shaker: FakeSwitch
) -> None:
    await workshop.start(system_entry(**SHAKEN))
    await saw(workshop, 0.6)
    await workshop.pass_time(15)
    workshop.deaf.add(SHAKER)
    await workshop.pass_time(60)
    assert alarms(workshop) == ["maintenance_not_switching"]
    workshop.deaf.clear()
    workshop.sent()
    registry = ir.async_get(hass)
    ((domain, issue_id),) = [key for key in registry.issues if key[0] == DOMAIN]
    data = registry.issues[domain, issue_id].data
    flow: Any = await async_create_fix_flow(hass, issue_id, data)
    flow.hass = hass
    await flow.async_step_confirm({})
    await workshop.pass_time(1)
    assert ("turn_off", SHAKER) in workshop.sent()
    assert not on(shaker)
