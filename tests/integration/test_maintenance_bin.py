"""The bin in Home Assistant: filled, forecast, full, emptied by button, sensor, action, repair."""

from copy import deepcopy
from datetime import datetime, timedelta
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import issue_registry as ir
from homeassistant.util import dt as dt_util
import pytest

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.statistics.summary import Period
from custom_components.gatewright.features.cards.snapshot_maintenance import (
    draw_maintenance,
)
from custom_components.gatewright.repairs import async_create_fix_flow

from .workshop import SAW_POWER, Workshop, add_part, machine, system_entry

FILL = "sensor.dust_collector_bin_level"
LEFT = "sensor.dust_collector_bin_time_left"
FULL_ON = "sensor.dust_collector_bin_full_on"
EMPTIED = "button.dust_collector_bin_emptied"
EMPTIED_AT = "sensor.dust_collector_bin_last_emptied"
PROBLEM = "binary_sensor.dust_collector_problem"
FULL = "binary_sensor.bin_full"
LEVEL = "sensor.bin_level"
HOUR = 3600.0

# 15 liters an hour (a machine of no particular kind) into a bin of 30.
SMALL: dict[str, Any] = {"bin_volume": 0.03}


async def saw(workshop: Workshop, hours: float) -> None:
    """Run the saw, and come to rest."""
    await workshop.saw_runs()
    await workshop.pass_time(hours * HOUR, 60)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(30, 1)


def shown(hass: HomeAssistant, entity_id: str) -> str:
    state = hass.states.get(entity_id)
    assert state is not None, entity_id
    return state.state


async def act(hass: HomeAssistant, action: str, **data: Any) -> None:
    await hass.services.async_call(
        DOMAIN, action, {"entity_id": FILL, **data}, blocking=True
    )
    await hass.async_block_till_done()


async def test_nothing_is_looked_after_that_nobody_asked_for(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    assert hass.states.get(FILL) is None
    assert hass.states.async_all("button") == []


async def test_a_bin_fills_is_reported_and_is_emptied_with_the_button(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(**SMALL))
    assert shown(hass, FILL) == "0"
    assert shown(hass, EMPTIED_AT) == "unknown"
    await saw(workshop, 1.0)
    assert shown(hass, FILL) == "50"
    assert float(shown(hass, LEFT)) == pytest.approx(1.0, abs=0.06)
    assert workshop.attribute(FILL, "known") == "guess"
    assert workshop.attribute(PROBLEM, "alarms") == []
    await saw(workshop, 0.65)
    assert workshop.attribute(PROBLEM, "alarms") == ["bin_nearly_full"]
    issues = ir.async_get(hass).issues
    issue = next(issue for key, issue in issues.items() if key[0] == DOMAIN)
    assert issue.translation_key == "alarm_bin_nearly_full"
    assert issue.severity is ir.IssueSeverity.WARNING
    await saw(workshop, 0.5)
    assert shown(hass, FILL) == "100"
    await workshop.call("press", EMPTIED)
    assert shown(hass, FILL) == "0"
    assert shown(hass, EMPTIED_AT) == dt_util.utcnow().isoformat(timespec="seconds")
    assert workshop.attribute(PROBLEM, "alarms") == []
    assert not [key for key in issues if key[0] == DOMAIN]


async def test_what_the_owner_says_teaches_the_forecast(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """The saw fills the bin twice as fast as its kind usually does."""
    await workshop.start(system_entry(**SMALL))
    for _ in range(5):
        await saw(workshop, 0.5)
        await act(hass, "mark_bin_emptied", share=50)
    assert workshop.attribute(FILL, "known") != "guess"
    assert float(shown(hass, LEFT)) == pytest.approx(1.0, rel=0.1)


async def test_the_repair_is_the_word_that_it_was_done(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(**SMALL))
    await saw(workshop, 1.7)
    (key,) = [key for key in ir.async_get(hass).issues if key[0] == DOMAIN]
    issue = ir.async_get(hass).issues[key]
    flow: Any = await async_create_fix_flow(hass, key[1], issue.data)
    flow.hass = hass
    form = await flow.async_step_init(None)
    assert form["type"] == "form"
    await flow.async_step_confirm({})
    await hass.async_block_till_done()
    assert shown(hass, FILL) == "0"
    assert key not in ir.async_get(hass).issues


async def test_a_full_sensor_trips_and_says_when_it_was_emptied(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put(FULL, "off")
    await workshop.start(system_entry(bin_full=FULL, **SMALL))
    await saw(workshop, 1.0)
    workshop.put(FULL, "on")
    await workshop.pass_time(30, 1)
    assert workshop.attribute(PROBLEM, "alarms") == ["bin_full"]
    assert shown(hass, FILL) == "100"
    assert workshop.attribute(FILL, "seen_by") == "full_sensor"
    workshop.put(FULL, "off")
    await workshop.pass_time(60, 1)
    assert workshop.attribute(PROBLEM, "alarms") == []
    assert shown(hass, FILL) == "0"
    # It took an hour: the next filling is estimated from that.
    assert float(shown(hass, LEFT)) == pytest.approx(1.0, rel=0.15)


async def test_nothing_is_made_up_where_only_a_contact_tells(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    """Neither a share nor hours, until it has been full once after real work."""
    workshop.put(FULL, "off")
    entry = system_entry(bin_full=FULL)
    await workshop.start(entry)
    figures = (FILL, LEFT, FULL_ON)
    assert [shown(hass, figure) for figure in figures] == ["unknown"] * 3
    await saw(workshop, 1.0)
    assert [shown(hass, figure) for figure in figures] == ["unknown"] * 3
    summary = entry.runtime_data.record.summary(Period.DAY)["bin"]
    assert summary == {
        "emptyings": 0,
        "share": None,
        "known": None,
        "hours_left": None,
        "full_on": None,
    }
    assert draw_maintenance(entry.runtime_data.maintenance) is None
    # Full and emptied: an hour's yield of the saw is known from now on.
    workshop.put(FULL, "on")
    await workshop.pass_time(30, 1)
    workshop.put(FULL, "off")
    await workshop.pass_time(30, 1)
    assert shown(hass, FILL) == "0"
    assert float(shown(hass, LEFT)) > 0


async def test_a_distance_sensor_is_read_at_rest_and_bars_a_full_bin(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put(LEVEL, "600", {"unit_of_measurement": "mm"})
    entry = system_entry(
        bin_level=LEVEL,
        bin_empty_reading=600.0,
        bin_full_reading=100.0,
        bin_answer="refuse",
    )
    await workshop.start(entry)
    await workshop.pass_time(30, 1)
    assert shown(hass, FILL) == "0"
    workshop.put(LEVEL, "350")
    await workshop.pass_time(30, 1)
    assert shown(hass, FILL) == "50"
    assert workshop.attribute(FILL, "seen_by") == "level_sensor"
    workshop.put(LEVEL, "unavailable")
    await workshop.pass_time(30, 1)
    assert shown(hass, FILL) == "50"
    workshop.put(LEVEL, "95")
    await workshop.pass_time(30, 1)
    assert workshop.attribute(PROBLEM, "alarms") == ["bin_full"]
    await workshop.saw_runs()
    await workshop.pass_time(20, 1)
    assert not workshop.collector.is_on
    workshop.watts(SAW_POWER, 3)
    workshop.put(LEVEL, "590")
    await workshop.pass_time(60, 1)
    assert workshop.attribute(PROBLEM, "alarms") == []
    assert shown(hass, FILL) == "2"
    assert shown(hass, EMPTIED_AT) != "unknown"


async def test_the_date_follows_the_habits_across_a_change_of_the_clock(
    hass: HomeAssistant, workshop: Workshop, freezer: FrozenDateTimeFactory
) -> None:
    """An hour each Monday in a bin for six: full on the sixth one, summer time or not."""
    await hass.config.async_set_time_zone("Europe/Berlin")
    freezer.move_to("2026-03-09 09:00:00+00:00")
    entry = system_entry(bin_volume=0.09)
    await workshop.start(entry)
    monday = datetime.fromisoformat("2026-03-09T10:00:00+01:00")
    for week in range(3):
        at = monday + timedelta(weeks=week)
        await workshop.pass_time((at - dt_util.now()).total_seconds(), 6 * HOUR)
        await saw(workshop, 1.0)
    # The next Monday is after the change of 29 March.
    await workshop.pass_time(6 * 24 * HOUR, 6 * HOUR)
    assert shown(hass, FILL) == "50"
    assert shown(hass, FULL_ON) == "2026-04-13"


async def test_a_reload_and_a_restart_keep_what_is_in_the_bin(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry(**SMALL)
    await workshop.start(entry)
    await saw(workshop, 1.0)
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    assert shown(hass, FILL) == "50"
    await saw(workshop, 0.2)
    assert shown(hass, FILL) == "60"
    # Disabled for a while, and enabled again.
    await hass.config_entries.async_unload(entry.entry_id)
    await workshop.pass_time(HOUR, 600)
    await workshop.load(entry)
    await workshop.pass_time(11, 1)
    assert shown(hass, FILL) == "60"


@pytest.mark.parametrize("older", ["ledger", "upkeep"])
async def test_after_a_crash_calendar_and_ledger_agree(
    hass: HomeAssistant,
    workshop: Workshop,
    hass_storage: dict[str, Any],
    older: str,
) -> None:
    """Either of the two files may be the older one."""
    entry = system_entry(**SMALL)
    await workshop.start(entry)
    await saw(workshop, 0.5)
    maintenance = entry.runtime_data.maintenance
    files = {"ledger": "gatewright.system", "upkeep": "gatewright.system.upkeep"}

    async def written() -> dict[str, Any]:
        await entry.runtime_data.save()
        return {name: deepcopy(hass_storage[file]) for name, file in files.items()}

    before = await written()
    await saw(workshop, 0.25)
    after = await written()
    total = maintenance.keeper.calendar.total()
    await hass.config_entries.async_unload(entry.entry_id)
    hass.data.pop("gatewright_handovers", None)
    hass_storage |= {
        files[name]: (before if name == older else after)[name] for name in files
    }
    await workshop.load(entry)
    await workshop.pass_time(11, 1)
    again = entry.runtime_data.maintenance.keeper.calendar.total()
    ledger = entry.runtime_data.shop.ledger
    assert again.machines["saw"].run == pytest.approx(ledger.of("saw").run_time)
    assert again.machines["saw"].run == pytest.approx(total.machines["saw"].run)
    assert again.collector.on == pytest.approx(ledger.collector.on_time)
    assert again.collector.starts == ledger.collector.starts == 2
    assert shown(hass, FILL) == "38"


async def test_a_machine_that_is_removed_and_added_again_keeps_its_past(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry(**SMALL)
    await workshop.start(entry)
    await saw(workshop, 1.0)
    keeper = entry.runtime_data.maintenance.keeper
    before = keeper.calendar.total().machines["saw"].run
    hass.config_entries.async_remove_subentry(entry, "saw")
    await hass.async_block_till_done()
    assert shown(hass, FILL) == "50"
    add_part(
        hass, entry, machine("new", "Table saw", gates=["saw_gate"], sensor=SAW_POWER)
    )
    await hass.async_block_till_done()
    total = keeper.calendar.total()
    assert total.machines["new"].run == before
    assert "saw" not in total.machines
    run_time = float(shown(hass, "sensor.table_saw_running_time"))
    assert run_time == pytest.approx(before / HOUR, abs=0.01)
    await saw(workshop, 0.5)
    assert shown(hass, FILL) == "75"


async def test_an_owner_without_a_bin_gets_that_answer(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    with pytest.raises(ServiceValidationError) as refused:
        await hass.services.async_call(
            DOMAIN,
            "mark_bin_emptied",
            {"entity_id": "sensor.dust_collector_phase"},
            blocking=True,
        )
    assert refused.value.translation_key == "bin_not_looked_after"


async def test_a_guess_is_not_reported_where_a_sensor_knows_better(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    workshop.put(FULL, "off")
    await workshop.start(system_entry(bin_full=FULL, **SMALL))
    await saw(workshop, 1.8)
    assert float(shown(hass, FILL)) >= 80
    assert workshop.attribute(FILL, "known") == "guess"
    assert workshop.attribute(PROBLEM, "alarms") == []


async def test_a_record_that_cannot_be_read_begins_anew(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    hass_storage["gatewright.system.upkeep"] = {
        "version": 1,
        "minor_version": 1,
        "key": "gatewright.system.upkeep",
        "data": {"version": 1, "calendar": {"days": 3}},
    }
    entry = system_entry(**SMALL)
    await workshop.start(entry)
    await saw(workshop, 1.0)
    assert shown(hass, FILL) == "50"
    assert await hass.config_entries.async_remove(entry.entry_id)
    await hass.async_block_till_done()
    assert "gatewright.system.upkeep" not in hass_storage


async def test_what_a_person_said_is_written_down_at_once(
    hass: HomeAssistant, workshop: Workshop, hass_storage: dict[str, Any]
) -> None:
    """Although a pending write at work may take its time."""
    entry = system_entry(**SMALL)
    await workshop.start(entry)
    await workshop.saw_runs()
    await workshop.pass_time(180, 30)
    await workshop.call("press", EMPTIED)
    await workshop.pass_time(3, 1)
    kept = hass_storage["gatewright.system.upkeep"]["data"]["bin"]
    assert len(kept["emptyings"]) == 1
    workshop.watts(SAW_POWER, 3)
