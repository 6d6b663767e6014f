"""The statistics compared with Home Assistant's own recorder for the same session."""

from datetime import datetime, timedelta
from functools import partial
import random
from typing import Any
from zoneinfo import ZoneInfo

from homeassistant.components.recorder import get_instance, history
from homeassistant.components.recorder.statistics import statistics_during_period
from homeassistant.core import HomeAssistant
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_recorder_block_till_done,
    async_wait_recording_done,
    do_adhoc_statistics,
)

from .test_record import summary
from .test_restart import restart
from .workshop import (
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    add_part,
    machine,
    system_entry,
)

MORNING = datetime(2026, 3, 4, 9, tzinfo=ZoneInfo("Europe/Berlin"))
FIVE_MINUTES = timedelta(minutes=5)

type Spans = list[tuple[float, float]]


async def session(workshop: Workshop) -> None:
    """Work for twenty minutes, with various interruptions."""
    lots = random.Random(20260304)
    for number in range(12):
        plug = lots.choice((SAW_POWER, PLANER_POWER))
        if number == 4:
            workshop.deaf.add(SAW_GATE)
        if number == 7:
            workshop.deaf.clear()
            await workshop.call("turn_on", "switch.dust_collector_block_starts")
        if number == 9:
            await workshop.call("turn_off", "switch.dust_collector_block_starts")
        workshop.watts(plug, 1400)
        await workshop.pass_time(lots.uniform(3, 90))
        workshop.watts(plug, 3)
        await workshop.pass_time(lots.uniform(1, 30))
    workshop.watts(SAW_POWER, 3)
    workshop.watts(PLANER_POWER, 3)
    await workshop.pass_time(40)


async def spans(hass: HomeAssistant, entity_id: str, begin: datetime) -> Spans:
    """Return when an entity was on, according to the recorder."""
    end = dt_util.utcnow()
    changes = await get_instance(hass).async_add_executor_job(
        partial(
            history.state_changes_during_period,
            hass,
            begin,
            end,
            entity_id,
            no_attributes=True,
        )
    )
    states = changes[entity_id]
    ends = [*(state.last_changed for state in states[1:]), end]
    return [
        (state.last_changed.timestamp(), until.timestamp())
        for state, until in zip(states, ends, strict=True)
        if state.state == "on"
    ]


def lasting(found: Spans) -> float:
    """Return how long all spans last together."""
    return sum(end - begin for begin, end in found)


def within(some: Spans, other: Spans) -> Spans:
    """Return the time in both."""
    return [
        (max(a, c), min(b, d))
        for a, b in some
        for c, d in other
        if max(a, c) < min(b, d)
    ]


async def grown(hass: HomeAssistant, entity_id: str, begin: datetime) -> float:
    """Return a total's growth in the recorder's statistics; s or counts."""
    now = dt_util.utcnow()
    start = begin.replace(minute=begin.minute - begin.minute % 5, second=0)
    for number in range(int((now - start) / FIVE_MINUTES) + 1):
        do_adhoc_statistics(hass, start=start + number * FIVE_MINUTES)
    await async_recorder_block_till_done(hass)
    found = await get_instance(hass).async_add_executor_job(
        partial(
            statistics_during_period,
            hass,
            start,
            None,
            {entity_id},
            "5minute",
            {"duration": "s"},
            {"sum"},
        )
    )
    total = found[entity_id][-1]["sum"]
    assert total is not None
    return total


async def test_the_ledger_adds_up_to_the_second_with_the_history(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.freezer.move_to(MORNING)
    begin = dt_util.utcnow()
    await workshop.start(system_entry())
    await session(workshop)
    await async_wait_recording_done(hass)
    found = await summary(hass, period="day")
    assert found["shop"]["run_time"] > 300
    assert {"gate_stuck", "start_block"} <= found["shop"]["not_collecting"].keys()
    machines = {row["machine_id"]: row for row in found["machines"]}
    for machine_id, name in (("saw", "table_saw"), ("planer", "planer")):
        reported = machines[machine_id]
        running = await spans(hass, f"binary_sensor.{name}_running", begin)
        air = await spans(hass, f"binary_sensor.{name}_collecting", begin)
        assert reported["run_time"] == pytest.approx(lasting(running), abs=0.5)
        served = lasting(within(running, air))
        assert reported["collecting_time"] == pytest.approx(served, abs=0.5)
        lacking = sum(reported["not_collecting"].values())
        assert lacking == pytest.approx(reported["run_time"] - served, abs=0.5)
        assert reported["cuts"] == len(running)
    turning = await spans(hass, "binary_sensor.dust_collector_turning", begin)
    assert found["collector"]["on_time"] == pytest.approx(lasting(turning), abs=0.5)
    assert found["collector"]["starts"] == len(turning)


async def test_statistics_agree_with_the_record(
    recorder_mock: Any,
    hass: HomeAssistant,
    workshop: Workshop,
    hass_storage: dict[str, Any],
) -> None:
    """The recorder's own, from the totals' state classes; with a restart in between."""
    workshop.freezer.move_to(MORNING)
    begin = dt_util.utcnow()
    await workshop.start(system_entry())
    await session(workshop)
    await restart(hass, workshop)
    await session(workshop)
    await async_wait_recording_done(hass)
    found = await summary(hass, period="day")
    machines = {row["machine_id"]: row for row in found["machines"]}
    shop, collector = found["shop"], found["collector"]
    lacking = sum(shop["not_collecting"].values())
    for entity_id, expected in (
        ("sensor.table_saw_running_time", machines["saw"]["run_time"]),
        ("sensor.planer_running_time", machines["planer"]["run_time"]),
        ("sensor.table_saw_cuts", machines["saw"]["cuts"]),
        ("sensor.dust_collector_running_hours", collector["on_time"]),
        ("sensor.dust_collector_starts", collector["starts"]),
        ("sensor.dust_collector_machine_hours", shop["run_time"]),
        ("sensor.dust_collector_time_without_dust_collection", lacking),
    ):
        total = await grown(hass, entity_id, begin)
        assert total == pytest.approx(expected, abs=0.6), entity_id
        assert expected > 0, entity_id


async def test_past_that_is_taken_over_is_not_counted_again(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> None:
    """A machine that comes back doesn't run for an hour in a moment."""
    workshop.freezer.move_to(MORNING)
    begin = dt_util.utcnow()
    entry = system_entry()
    await workshop.start(entry)
    await session(workshop)
    before = (await summary(hass, period="day"))["shop"]["run_time"]
    hass.config_entries.async_remove_subentry(entry, "saw")
    await workshop.pass_time(10)
    saw = machine("saw_2", "Table saw", gates=["saw_gate"], sensor=SAW_POWER)
    add_part(hass, entry, saw)
    await workshop.pass_time(10)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(60)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30)
    await async_wait_recording_done(hass)
    after = (await summary(hass, period="day"))["shop"]["run_time"]
    total = await grown(hass, "sensor.dust_collector_machine_hours", begin)
    assert total == pytest.approx(after, abs=0.6)
    assert after == pytest.approx(before + 63, abs=1.5)
