"""Totals are written when they're due: every five minutes, just before the statistics."""

from datetime import datetime, timedelta
import logging
from typing import Any

from homeassistant.components.recorder.statistics import statistics_during_period
from homeassistant.core import Event, EventStateChangedData, HomeAssistant
from homeassistant.helpers.recorder import get_instance
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)

from .test_record import summary
from .workshop import PLANER_POWER, SAW_POWER, Workshop, change_part, system_entry

LATER = "2030-03-05T17:00:00+00:00"
"""After the recorder has armed its timers, by the real clock."""
HOURS = "sensor.dust_collector_running_hours"
SAW_TIME = "sensor.table_saw_running_time"
SAW_SHARE = "sensor.table_saw_collected_share"

pytestmark = pytest.mark.paced

# The test plugin has every statement logged, which takes longer than executing it.
logging.getLogger("sqlalchemy.engine").setLevel(logging.WARNING)


class Written:
    """The instants at which an entity was written, with its states."""

    def __init__(self, hass: HomeAssistant, *entity_ids: str) -> None:
        """Start to listen."""
        self.states: list[tuple[datetime, str]] = []
        self._entity_ids = entity_ids
        hass.bus.async_listen("state_changed", self._changed)

    def _changed(self, event: Event[EventStateChangedData]) -> None:
        new = event.data["new_state"]
        if event.data["entity_id"] in self._entity_ids and new is not None:
            self.states.append((dt_util.utcnow(), new.state))

    @property
    def seconds(self) -> list[float]:
        """Return each write's offset into its five minutes [s]."""
        return [at.timestamp() % 300 for at, _ in self.states]


async def work(workshop: Workshop, seconds: float, plug: str = SAW_POWER) -> None:
    """Run a machine for a while."""
    workshop.watts(plug, 1400)
    await workshop.pass_time(seconds, 1)
    workshop.watts(plug, 3)
    await workshop.pass_time(20, 1)


async def without_collection(workshop: Workshop) -> None:
    """Run the saw under a start block, so that each later run changes its share."""
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    await work(workshop, 20)
    await workshop.call("turn_off", "switch.dust_collector_block_starts")
    assert workshop.state(SAW_SHARE) == "0.0"


async def test_a_total_is_written_just_before_each_five_minutes_end(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    written = Written(hass, HOURS, SAW_TIME)
    await work(workshop, 900)
    assert len(written.states) == 6
    assert all(285 <= second < 295 for second in written.seconds)
    # With everything up to then: five minutes of work between two of them.
    times = [float(state) for at, state in written.states if at.minute % 10 == 4]
    assert times
    saw = [float(state) * 3600 for _, state in written.states[1::2]]
    assert saw[1] - saw[0] == pytest.approx(300, abs=0.5)
    assert saw[2] - saw[1] == pytest.approx(300, abs=0.5)
    # At rest nothing is written, once the last work is.
    await workshop.pass_time(300, 1)
    written.states.clear()
    await workshop.pass_time(900, 1)
    assert written.states == []


async def test_a_share_is_written_when_its_machine_stops(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await without_collection(workshop)
    written = Written(hass, SAW_SHARE)
    for _ in range(3):
        await work(workshop, 40)
    assert len(written.states) == 3
    assert [float(state) for _, state in written.states] == sorted(
        {float(state) for _, state in written.states}
    )
    # Another machine's work doesn't matter, nor does the half-minute tick.
    await work(workshop, 60, PLANER_POWER)
    assert len(written.states) == 3


async def test_a_machine_that_runs_for_long_tells_its_share_meanwhile(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await without_collection(workshop)
    written = Written(hass, SAW_SHARE)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(640, 1)
    assert 1 <= len(written.states) <= 3
    assert all(285 <= second < 295 for second in written.seconds)


async def test_what_cannot_be_served_any_more_is_said_at_once(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    assert workshop.state(SAW_TIME) != "unavailable"
    change_part(hass, entry, "saw", gates=[])
    await hass.async_block_till_done()
    assert workshop.state(SAW_TIME) == "unavailable"
    change_part(hass, entry, "saw", gates=["saw_gate"])
    await hass.async_block_till_done()
    assert workshop.state(SAW_TIME) != "unavailable"


async def sums(
    hass: HomeAssistant, entity_id: str, begin: datetime
) -> dict[int, float]:
    """Return a total's growth in each five minutes, by their beginning [s]."""
    await async_wait_recording_done(hass)
    found = await get_instance(hass).async_add_executor_job(
        lambda: statistics_during_period(
            hass, begin, None, {entity_id}, "5minute", {"duration": "s"}, {"sum"}
        )
    )
    rows = found.get(entity_id, [])
    grown: dict[int, float] = {}
    before = 0.0
    for row in rows:
        total = row["sum"]
        assert total is not None
        grown[round(row["start"])] = total - before
        before = total
    return grown


@pytest.mark.parametrize("enable_statistics", [True])
async def test_statistics_have_the_work_of_their_own_five_minutes(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> None:
    """The real recorder's statistics, from its own timer, compared with the run."""
    workshop.freezer.move_to(LATER)
    await workshop.pass_time(1)
    begin = dt_util.utcnow() - timedelta(minutes=5)
    await workshop.start(system_entry())
    # From 20 s on, over four five minutes, the last of them in part.
    await workshop.pass_time(9, 1)
    since = dt_util.utcnow()
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(1000, 1)
    workshop.watts(SAW_POWER, 3)
    until = dt_util.utcnow()
    await workshop.pass_time(500, 1)
    reported = await summary(hass, period="day")
    run_time = next(
        row["run_time"] for row in reported["machines"] if row["machine_id"] == "saw"
    )
    assert run_time == pytest.approx((until - since).total_seconds() + 3, abs=2)
    grown = await sums(hass, SAW_TIME, begin)
    assert sum(grown.values()) == pytest.approx(run_time, abs=0.2)
    for start, seconds in grown.items():
        first = datetime.fromtimestamp(start, since.tzinfo)
        last = first + timedelta(seconds=300)
        ran = (min(until, last) - max(since, first)).total_seconds()
        # What is left of the five minutes after the total was written is 10 s.
        assert seconds == pytest.approx(max(0.0, ran), abs=15), first
    assert len(grown) >= 4
