"""The statistics in Home Assistant: time with and without dust collection, by day; reports."""

from datetime import datetime, timedelta
import json
from typing import Any
from unittest.mock import patch
from zoneinfo import ZoneInfo

from homeassistant.core import Event, EventStateChangedData, HomeAssistant, callback
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import entity_registry as er
from homeassistant.helpers.event import async_track_state_change_event
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.common import (
    async_capture_events,
)
import voluptuous as vol

from custom_components.gatewright.core.airflow import solve
from custom_components.gatewright.entity import GatewrightEntity
from custom_components.gatewright.features.statistics.manager import EVENT_SUMMARY
from custom_components.gatewright.features.statistics.summary_text import caution
from custom_components.gatewright.texts.texts import Texts

from .air_shop import FAN, ducted_parts
from .test_restart import forget_the_process, restart
from .workshop import (
    COLLECTOR,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    add_part,
    change_part,
    machine,
    system_entry,
)

BERLIN = "Europe/Berlin"
# A Wednesday.
MORNING = datetime(2026, 3, 4, 9, tzinfo=ZoneInfo(BERLIN))

SAW = "sensor.table_saw"
SHOP = "sensor.dust_collector"


@pytest.fixture
async def wednesday(hass: HomeAssistant, workshop: Workshop) -> Workshop:
    """Return the workshop on a Wednesday morning."""
    await hass.config.async_set_time_zone(BERLIN)
    workshop.freezer.move_to(MORNING)
    return workshop


async def saw_for(workshop: Workshop, seconds: float, step: float = 0.5) -> None:
    """Run the table saw for a while, and come to rest."""
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    await workshop.pass_time(seconds - 2, step)
    workshop.watts(SAW_POWER, 3)
    await workshop.pass_time(25, 1)


async def wait_until(workshop: Workshop, when: datetime) -> None:
    """Let hours pass in which nothing happens, up to a local time."""
    begin = dt_util.utcnow()
    left = (when.astimezone(ZoneInfo("UTC")) - begin).total_seconds()
    await workshop.pass_time(left, 900)


async def summary(hass: HomeAssistant, **asked: Any) -> dict[str, Any]:
    """Request a summary."""
    found = await hass.services.async_call(
        "gatewright",
        "get_summary",
        {"config_entry_id": "system", **asked},
        blocking=True,
        return_response=True,
    )
    # An automation gets plain data.
    assert json.loads(json.dumps(found)) == found
    assert isinstance(found, dict)
    return found


def seconds(workshop: Workshop, entity_id: str) -> float:
    """Return a duration in s of a sensor that shows hours."""
    return float(workshop.state(entity_id)) * 3600


# Reasons for missing dust collection ------------------------------------------------


async def test_why_a_machine_was_not_served(
    hass: HomeAssistant, wednesday: Workshop
) -> None:
    workshop = wednesday
    await workshop.start(system_entry())
    await saw_for(workshop, 60)
    assert seconds(workshop, f"{SAW}_time_without_dust_collection") < 1
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    await saw_for(workshop, 30)
    await workshop.call("turn_off", "switch.dust_collector_block_starts")
    workshop.deaf.add(SAW_GATE)
    await saw_for(workshop, 60)
    today = workshop.attribute(f"{SAW}_time_without_dust_collection", "today")
    # A stop is confirmed after 4 s, a start after 1 s; a gate has 5 s, and a second try.
    assert today["start_block"] == pytest.approx(33, abs=1.5)
    assert today["gate_stuck"] > 30
    ran = seconds(workshop, f"{SAW}_running_time")
    lacking = seconds(workshop, f"{SAW}_time_without_dust_collection")
    assert sum(today.values()) == pytest.approx(lacking, abs=1)
    shop = workshop.attribute(f"{SHOP}_time_without_dust_collection", "in_all")
    assert shop == today
    for reach in ("today", "this_week", "this_month"):
        share = float(workshop.state(f"{SHOP}_collected_share_{reach}")) / 100
        assert share == pytest.approx(1 - lacking / ran, abs=0.01)
    assert workshop.state(f"{SHOP}_collected_share") == workshop.state(
        f"{SAW}_collected_share"
    )


async def test_too_little_airflow_is_reported_beside_the_collected_share(
    hass: HomeAssistant, wednesday: Workshop
) -> None:
    """By the computed flow: both at once leave less than the planer needs."""
    workshop = wednesday
    entry = system_entry(ducted_parts(), **FAN)
    with patch.object(GatewrightEntity, "entity_registry_enabled_default", new=True):
        await workshop.start(entry)
    air = entry.runtime_data.air
    network = air.shop.network
    flows = [
        solve(network, gates).flow_of("planer_gate")
        for gates in ({"planer_gate"}, {"planer_gate", "saw_gate"})
    ]
    assert flows[0] > flows[1]
    change_part(hass, entry, "planer", required_flow=sum(flows) / 2)
    workshop.watts(PLANER_POWER, 1450)
    await workshop.pass_time(20)
    little = "sensor.planer_time_with_low_airflow"
    assert air.too_low("planer") is False
    assert seconds(workshop, little) == 0
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(12)
    assert air.too_low("planer") is True
    workshop.watts(SAW_POWER, 3)
    workshop.watts(PLANER_POWER, 2)
    await workshop.pass_time(30)
    # From the moment of computation, not from the next look at it.
    both = seconds(workshop, little)
    assert both == pytest.approx(15, abs=1.5)
    # Its gate took some seconds; with the rest held against it, half would be left.
    assert float(workshop.state("sensor.planer_collected_share")) > 80
    saw = seconds(workshop, f"{SAW}_time_with_low_airflow")
    shop = seconds(workshop, f"{SHOP}_time_with_low_airflow")
    assert shop == pytest.approx(both + saw)
    found = await summary(hass, period="day")
    planer = next(row for row in found["machines"] if row["name"] == "Planer")
    assert planer["low_airflow_time"] == pytest.approx(both, abs=0.1)
    assert "Airflow was below the need" in found["text"]


async def test_pickup_has_time_but_no_run(
    hass: HomeAssistant, wednesday: Workshop
) -> None:
    workshop = wednesday
    await workshop.start(system_entry())
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.pass_time(30)
    await workshop.call("turn_off", "switch.floor_sweep")
    await workshop.pass_time(20)
    assert seconds(workshop, f"{SHOP}_machine_hours") == 0
    assert workshop.state(f"{SHOP}_collected_share_today") == "unknown"
    found = await summary(hass, period="day")
    assert found["shop"]["run_time"] == 0
    (sweep,) = found["machines"]
    assert sweep["pickup"] is True
    assert sweep["run_time"] == pytest.approx(30, abs=1)
    assert "no machine ran" in found["text"]


# Days, weeks, months -----------------------------------------------------------------


async def test_days_begin_anew_at_midnight(
    hass: HomeAssistant, wednesday: Workshop
) -> None:
    """With nothing going on that would update the figures."""
    workshop = wednesday
    await workshop.start(system_entry())
    await saw_for(workshop, 60)
    assert workshop.state(f"{SHOP}_collected_share_today") != "unknown"
    await wait_until(workshop, MORNING.replace(day=5, hour=0, minute=1))
    assert workshop.state(f"{SHOP}_collected_share_today") == "unknown"
    assert workshop.attribute(f"{SAW}_time_without_dust_collection", "today") == {}
    assert float(workshop.state(f"{SHOP}_collected_share_this_week")) > 95
    await wait_until(workshop, MORNING.replace(day=9, hour=0, minute=1))
    assert workshop.state(f"{SHOP}_collected_share_this_week") == "unknown"
    assert float(workshop.state(f"{SHOP}_collected_share_this_month")) > 95
    await wait_until(workshop, MORNING.replace(month=4, day=1, hour=0, minute=1))
    assert workshop.state(f"{SHOP}_collected_share_this_month") == "unknown"
    assert float(workshop.state(f"{SHOP}_collected_share")) > 95


@pytest.mark.parametrize(
    ("zone", "evening"),
    [
        # The clock goes from 2:00 to 3:00; and from 3:00 back to 2:00.
        (BERLIN, datetime(2026, 3, 28, 22)),  # noqa: DTZ001 - the zone comes below
        (BERLIN, datetime(2026, 10, 24, 22)),  # noqa: DTZ001
        # Midnight itself is skipped.
        ("America/Santiago", datetime(2026, 9, 5, 22)),  # noqa: DTZ001
        # Month's and year's end.
        ("America/New_York", datetime(2026, 12, 31, 22)),  # noqa: DTZ001
    ],
)
async def test_a_night_in_which_the_clock_is_set(
    hass: HomeAssistant, workshop: Workshop, zone: str, evening: datetime
) -> None:
    """The saw keeps running: nothing is lost and nothing counted twice."""
    await hass.config.async_set_time_zone(zone)
    begin = evening.replace(tzinfo=ZoneInfo(zone))
    workshop.freezer.move_to(begin)
    entry = system_entry()
    await workshop.start(entry)
    began = dt_util.utcnow()
    await saw_for(workshop, 6 * 3600.0, 60)
    lasted = (dt_util.utcnow() - began).total_seconds()
    first, second = begin.date(), begin.date() + timedelta(days=1)
    one, other = [
        (await summary(hass, period="day", date=day.isoformat()))["shop"]["run_time"]
        for day in (first, second)
    ]
    # Until the local midnight it took two hours, however the clock is set then.
    midnight = dt_util.start_of_local_day(second)
    assert one == pytest.approx((midnight - began).total_seconds(), abs=2)
    ledger = entry.runtime_data.shop.ledger.machines["saw"].run_time
    assert one + other == pytest.approx(ledger, abs=1e-3)
    assert ledger == pytest.approx(lasted - 25 + 3, abs=2)
    both = await summary(
        hass,
        period="custom",
        first_day=first.isoformat(),
        last_day=second.isoformat(),
    )
    assert both["shop"]["run_time"] == pytest.approx(ledger, abs=1e-3)
    assert seconds(workshop, f"{SHOP}_machine_hours") == pytest.approx(ledger, abs=36)
    if second.day == 1:
        assert one == pytest.approx(
            (await summary(hass, period="month", date=first.isoformat()))["shop"][
                "run_time"
            ]
        )


# What lasts --------------------------------------------------------------------------


async def test_everything_survives_a_restart(
    hass: HomeAssistant, wednesday: Workshop, hass_storage: dict[str, Any]
) -> None:
    workshop = wednesday
    await workshop.start(system_entry())
    workshop.deaf.add(SAW_GATE)
    await saw_for(workshop, 60)
    workshop.deaf.clear()
    before = await summary(hass, period="day")
    assert before["alarms"]
    shown = {
        name: workshop.state(f"{SHOP}_{name}")
        for name in (
            "collected_share",
            "collected_share_today",
            "machine_hours",
            "time_without_dust_collection",
        )
    }
    await restart(hass, workshop)
    await workshop.pass_time(2)
    after = await summary(hass, period="day")
    for key in ("shop", "machines", "collector", "alarms"):
        assert after[key] == before[key], key
    assert {name: workshop.state(f"{SHOP}_{name}") for name in shown} == shown


async def test_machine_that_is_removed_and_comes_back_keeps_its_past(
    hass: HomeAssistant, wednesday: Workshop
) -> None:
    workshop = wednesday
    entry = system_entry()
    await workshop.start(entry)
    await saw_for(workshop, 60)
    before = await summary(hass, period="week")
    total = workshop.state(f"{SHOP}_machine_hours")
    hass.config_entries.async_remove_subentry(entry, "saw")
    await workshop.pass_time(40, 10)
    # It's still in the week, under its name; nothing limits what isn't there.
    gone = {"time_to_air_at_best": None, "limited_by": None}
    assert (await summary(hass, period="week"))["machines"] == [
        row | gone for row in before["machines"]
    ]
    assert workshop.state(f"{SHOP}_machine_hours") == total
    await restart(hass, workshop)
    add_part(
        hass,
        entry,
        machine("new_saw", "Table saw", gates=["saw_gate"], sensor=SAW_POWER),
    )
    await workshop.pass_time(20)
    after = await summary(hass, period="week")
    (saw,) = after["machines"]
    assert saw == {**before["machines"][0], "machine_id": "new_saw"}
    assert after["shop"] == before["shop"]
    # The total of the new entity begins where the old one ended.
    assert seconds(workshop, f"{SAW}_running_time") == pytest.approx(
        before["shop"]["run_time"], abs=1
    )
    assert float(workshop.state(f"{SAW}_collected_share")) > 95
    await saw_for(workshop, 60)
    found = await summary(hass, period="week")
    assert found["machines"][0]["runs"] == 2
    assert found["shop"]["run_time"] > before["shop"]["run_time"] + 60


async def test_an_unreadable_file_of_alarms_starts_anew(
    hass: HomeAssistant, wednesday: Workshop, hass_storage: dict[str, Any]
) -> None:
    workshop = wednesday
    hass_storage["gatewright.system.record"] = {
        "version": 1,
        "minor_version": 1,
        "key": "gatewright.system.record",
        "data": {"told": "yesterday", "alarms": []},
    }
    await workshop.start(system_entry())
    assert (await summary(hass))["alarms"] == []


async def test_an_alarm_of_another_version_is_named_by_its_part(
    hass: HomeAssistant, wednesday: Workshop, hass_storage: dict[str, Any]
) -> None:
    workshop = wednesday
    hass_storage["gatewright.system.record"] = {
        "version": 1,
        "minor_version": 1,
        "key": "gatewright.system.record",
        "data": {"alarms": {"2026-03-04": [["martians", "Saw gate", 2]]}},
    }
    await workshop.start(system_entry())
    found = await summary(hass, period="day")
    assert [(row["title"], row["times"]) for row in found["alarms"]] == [
        ("Saw gate", 2)
    ]
    assert "Alarms: Saw gate (2 times)." in found["text"]


# The summary -------------------------------------------------------------------------


async def test_summary_says_everything(
    hass: HomeAssistant, wednesday: Workshop
) -> None:
    workshop = wednesday
    hass.config.currency = "EUR"
    workshop.put("sensor.motor", "0", {"unit_of_measurement": "W"})
    workshop.put("sensor.dust", "2.5", {"unit_of_measurement": "mg/m³"})
    await workshop.start(
        system_entry(
            power="sensor.motor",
            energy_price=0.4,
            particles="sensor.dust",
            bin_volume=0.12,
            services=[{"id": "belt", "name": "Belt", "hours": 0.001}],
        )
    )

    @callback
    def motor(event: Event[EventStateChangedData]) -> None:
        on = event.data["new_state"] is not None and event.data["new_state"].state
        workshop.put("sensor.motor", "36000" if on == "on" else "0")

    async_track_state_change_event(hass, COLLECTOR, motor)
    await saw_for(workshop, 600, 5)
    workshop.deaf.add(SAW_GATE)
    await saw_for(workshop, 60)
    found = await summary(hass, period="day")
    assert found["first_day"] == found["last_day"] == "2026-03-04"
    assert found["collector"]["starts"] == 1
    assert found["collector"]["energy_kwh"] == pytest.approx(6.2, abs=0.2)
    assert found["collector"]["cost"] == pytest.approx(2.5, abs=0.1)
    assert found["collector"]["currency"] == "EUR"
    assert found["bin"]["share"] > 0
    assert {
        "alarm": "gate_not_moving",
        "part": "Saw gate",
        "times": 1,
        "title": "Saw gate doesn't move",
    } in found["alarms"]
    assert found["services"][0]["name"] == "Belt"
    assert {row["name"] for row in found["needs"]} >= {"Belt"}
    assert found["dust"]["peak"] == 2.5
    text = found["text"]
    for part in (
        "Dust collector, Wednesday, March 4: machines ran for 11 min",
        "of it with dust collection",
        "(gate stuck)",
        "Table saw 11 min",
        "The collector ran for",
        "in 1 start and used 6.",
        "EUR)",
        "The bin is about",
        "Saw gate doesn't move",
        "To do: Belt is due",
        "Dust on March 4",
        caution(Texts.cached(hass)),
    ):
        assert part in text, part


async def test_summary_of_a_week_is_beside_the_one_before(
    hass: HomeAssistant, wednesday: Workshop
) -> None:
    workshop = wednesday
    await workshop.start(system_entry())
    await saw_for(workshop, 60)
    await wait_until(workshop, MORNING + timedelta(days=7))
    await saw_for(workshop, 120)
    this = await summary(hass)
    assert (this["first_day"], this["last_day"]) == ("2026-03-09", "2026-03-15")
    last = await summary(hass, period="week", date="2026-03-04")
    assert this["before"] == last["shop"]
    assert "Before: 1 min" in this["text"]
    assert "March 9 to 15" in this["text"]
    month = await summary(hass, period="month")
    assert month["shop"]["runs"] == 2
    assert month["shop"]["run_time"] == pytest.approx(
        this["shop"]["run_time"] + last["shop"]["run_time"]
    )


@pytest.mark.parametrize(
    "days",
    [
        {},
        {"first_day": "2026-03-04"},
        {"first_day": "2026-03-04", "last_day": "2026-03-03"},
    ],
)
async def test_days_that_are_none(
    hass: HomeAssistant, wednesday: Workshop, days: dict[str, str]
) -> None:
    await wednesday.start(system_entry())
    with pytest.raises(ServiceValidationError) as refused:
        await summary(hass, period="custom", **days)
    assert refused.value.translation_key == "days_wrong"


# Reports --------------------------------------------------------------


async def test_a_day_and_a_week_are_reported_when_they_are_over(
    hass: HomeAssistant, wednesday: Workshop
) -> None:
    workshop = wednesday
    reported = async_capture_events(hass, EVENT_SUMMARY)
    await workshop.start(system_entry())
    await saw_for(workshop, 60)
    await wait_until(workshop, MORNING.replace(hour=23, minute=59))
    assert reported == []
    assert workshop.state("event.dust_collector_summary") == "unknown"
    await wait_until(workshop, MORNING.replace(day=5, hour=0, minute=1))
    (day,) = reported
    assert day.data["period"] == "day"
    assert day.data["first_day"] == "2026-03-04"
    assert day.data["shop"]["runs"] == 1
    assert day.data["entry_id"] == "system"
    assert "Table saw 1 min" in day.data["text"]
    entity = hass.states.get("event.dust_collector_summary")
    assert entity is not None
    assert entity.attributes["event_type"] == "day"
    assert entity.attributes["text"] == day.data["text"]
    assert entity.attributes["collected_share"] > 95
    # A day without work isn't reported; the week is.
    await wait_until(workshop, MORNING.replace(day=9, hour=0, minute=1))
    _, week = reported
    assert week.data["period"] == "week"
    assert (week.data["first_day"], week.data["last_day"]) == (
        "2026-03-02",
        "2026-03-08",
    )
    assert week.data["shop"]["run_time"] == day.data["shop"]["run_time"]
    await wait_until(workshop, MORNING.replace(day=16, hour=0, minute=1))
    assert [event.data["period"] for event in reported] == ["day", "week", "week"]
    assert "no machine ran" in reported[-1].data["text"]


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("de", "Dust collector, Mittwoch, 4. März: Die Maschinen liefen 1 min, davon"),
        (
            "fr",
            "Dust collector, mercredi 4 mars\xa0: les machines ont tourné 1 min, dont",
        ),
    ],
)
async def test_it_is_reported_in_home_assistants_language(
    hass: HomeAssistant,
    wednesday: Workshop,
    entity_registry: er.EntityRegistry,
    language: str,
    said: str,
) -> None:
    workshop = wednesday
    hass.config.language = language
    reported = async_capture_events(hass, EVENT_SUMMARY)
    await workshop.start(system_entry())
    await saw_for(workshop, 60)
    assert (await summary(hass, period="day"))["text"].startswith(said)
    await wait_until(workshop, MORNING.replace(day=5, hour=0, minute=1))
    (day,) = reported
    assert day.data["text"].startswith(said)
    entity_id = entity_registry.async_get_entity_id(
        "event", "gatewright", "system_summary"
    )
    assert entity_id is not None
    assert workshop.attribute(entity_id, "text") == day.data["text"]


async def test_what_was_over_while_home_assistant_was_off_is_reported_once(
    hass: HomeAssistant, wednesday: Workshop, hass_storage: dict[str, Any]
) -> None:
    workshop = wednesday
    await workshop.start(system_entry())
    await saw_for(workshop, 60)
    reported = async_capture_events(hass, EVENT_SUMMARY)
    await forget_the_process(hass)
    workshop.freezer.move_to(MORNING + timedelta(days=6))
    assert await hass.config_entries.async_setup("system")
    await hass.async_block_till_done()
    assert [(event.data["period"], event.data["first_day"]) for event in reported] == [
        ("day", "2026-03-04"),
        ("week", "2026-03-02"),
    ]
    assert workshop.attribute("event.dust_collector_summary", "event_type") == "week"
    await restart(hass, workshop)
    await hass.config.async_update(time_zone="America/New_York")
    await hass.config.async_update(time_zone=BERLIN)
    await workshop.pass_time(60, 10)
    assert len(reported) == 2


async def test_days_go_by_the_time_zone_that_is_set(
    hass: HomeAssistant, wednesday: Workshop
) -> None:
    """Home Assistant learns its location: the day ends by that time zone."""
    workshop = wednesday
    await hass.config.async_set_time_zone("America/New_York")
    reported = async_capture_events(hass, EVENT_SUMMARY)
    await workshop.start(system_entry())
    await saw_for(workshop, 60)
    await hass.config.async_update(time_zone=BERLIN)
    await hass.async_block_till_done()
    await wait_until(workshop, MORNING.replace(day=5, hour=0, minute=1))
    assert [event.data["first_day"] for event in reported] == ["2026-03-04"]


async def test_removed_system_leaves_no_file(
    hass: HomeAssistant, wednesday: Workshop, hass_storage: dict[str, Any]
) -> None:
    workshop = wednesday
    await workshop.start(system_entry())
    await saw_for(workshop, 60)
    await hass.config_entries.async_reload("system")
    assert "gatewright.system.record" in hass_storage
    await hass.config_entries.async_remove("system")
    await workshop.pass_time(60, 10)
    assert not [key for key in hass_storage if key.startswith("gatewright")]


# Dust --------------------------------------------------------------------------------


async def test_dust_is_beside_the_published_limits(
    hass: HomeAssistant, wednesday: Workshop
) -> None:
    workshop = wednesday
    workshop.put("sensor.dust", "4000", {"unit_of_measurement": "µg/m³"})
    await workshop.start(system_entry(particles="sensor.dust"))
    entity_id = f"{SHOP}_dust_today_8_h_average"
    assert workshop.state(entity_id) == "unknown"
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(1800, 15)
    # Half an hour of 4 mg/m³ in a shift of eight hours.
    assert float(workshop.state(entity_id)) == pytest.approx(0.25, abs=0.01)
    assert workshop.attribute(entity_id, "unit_of_measurement") == "mg/m³"
    assert workshop.attribute(entity_id, "caution") == caution(Texts.cached(hass))
    assert workshop.attribute(entity_id, "peak") == 4
    niosh = workshop.attribute(entity_id, "limits")["niosh"]
    assert niosh["limit"] == 1
    assert niosh["share"] == pytest.approx(25, abs=1)
    assert "npgd0667" in niosh["source"]


@pytest.mark.parametrize(
    ("language", "limit", "cautioned"),
    [
        ("de", "Großbritannien, Hartholz", "Ein günstiger optischer Sensor"),
        ("fr", "Grande-Bretagne, bois dur", "Un capteur optique"),
    ],
)
async def test_limits_are_named_in_home_assistants_language(
    hass: HomeAssistant,
    wednesday: Workshop,
    entity_registry: er.EntityRegistry,
    language: str,
    limit: str,
    cautioned: str,
) -> None:
    workshop = wednesday
    hass.config.language = language
    workshop.put("sensor.dust", "4000", {"unit_of_measurement": "µg/m³"})
    await workshop.start(system_entry(particles="sensor.dust"))
    entity_id = entity_registry.async_get_entity_id(
        "sensor", "gatewright", "system_dust_today"
    )
    assert entity_id is not None
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(60, 15)
    limits = workshop.attribute(entity_id, "limits")
    assert limit in [beside["name"] for beside in limits.values()]
    assert workshop.attribute(entity_id, "caution").startswith(cautioned)


async def test_no_particle_sensor_no_dust(
    hass: HomeAssistant, wednesday: Workshop, entity_registry: er.EntityRegistry
) -> None:
    await wednesday.start(system_entry())
    keys = {entry.unique_id for entry in entity_registry.entities.values()}
    assert "system_dust_today" not in keys
    assert (await summary(hass))["dust"] is None


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
async def test_days_at_the_ends_of_the_calendar_end_in_a_clear_error(
    hass: HomeAssistant, workshop: Workshop, day: str
) -> None:
    await workshop.load(system_entry())
    for asked in (
        {"date": day},
        {"period": "month", "date": day},
        {"period": "custom", "first_day": day, "last_day": "2026-01-01"},
        {"period": "custom", "first_day": "2026-01-01", "last_day": day},
    ):
        with pytest.raises(vol.Invalid, match="year must be"):
            await summary(hass, **asked)
    for first, last in (("1970-01-01", "2999-12-31"), ("2999-12-31", "2999-12-31")):
        assert await summary(hass, period="custom", first_day=first, last_day=last)
    for period in ("day", "week", "month"):
        for near in ("1970-01-01", "2999-12-31"):
            assert await summary(hass, period=period, date=near)
