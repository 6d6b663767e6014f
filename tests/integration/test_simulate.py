"""A recorded time simulated through the action: what would have been, and what was."""

import asyncio
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any
from unittest.mock import patch

from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import ServiceValidationError
from homeassistant.helpers import service
from homeassistant.helpers.event import async_track_state_change_event
from homeassistant.helpers.translation import async_load_integrations
from homeassistant.util import dt as dt_util
import pytest
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)
from sqlalchemy.exc import OperationalError
import voluptuous as vol

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.features.simulation.figures_text import chart_text
from custom_components.gatewright.features.simulation.manager import simulate_system
from custom_components.gatewright.runtime.entry_data import read_config
from custom_components.gatewright.texts.texts import Texts

from .workshop import (
    COLLECTOR,
    PLANER_POWER,
    SAW_GATE,
    SAW_POWER,
    WATTS,
    Workshop,
    gate,
    machine,
    standard_parts,
    system_entry,
)

DRAW = "sensor.collector_power"


@pytest.fixture
def measured(hass: HomeAssistant, workshop: Workshop) -> Iterator[None]:
    """Measure the collector's power: 1500 W while it's on."""

    @callback
    def draw(_event: Any) -> None:
        workshop.put(DRAW, "1500" if workshop.state(COLLECTOR) == "on" else "0", WATTS)

    workshop.put(DRAW, "0", WATTS)
    unsub = async_track_state_change_event(hass, [COLLECTOR], draw)
    yield
    unsub()


async def simulate(hass: HomeAssistant, **asked: Any) -> Any:
    """Request a simulation of everything recorded so far."""
    await async_wait_recording_done(hass)
    return await hass.services.async_call(
        "gatewright",
        "simulate",
        {"config_entry_id": "system", **asked},
        blocking=True,
        return_response=True,
    )


def of(figures: dict[str, Any], name: str) -> dict[str, Any]:
    """Return the figures of a machine."""
    found: dict[str, Any] = next(
        machine for machine in figures["machines"] if machine["machine"] == name
    )
    return found


async def cut(workshop: Workshop, sensor: str, seconds: float) -> None:
    """Run a machine, and wait until its stop is confirmed."""
    workshop.watts(sensor, 1400)
    await workshop.pass_time(seconds)
    workshop.watts(sensor, 3)
    await workshop.pass_time(5)


async def test_a_simulation_agrees_with_what_the_system_did(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop, measured: None
) -> None:
    entry = system_entry(power=DRAW)
    await workshop.start(entry)
    await cut(workshop, SAW_POWER, 20)
    await workshop.pass_time(30, 1)
    await cut(workshop, PLANER_POWER, 40)
    await cut(workshop, SAW_POWER, 10)
    await workshop.pass_time(30, 1)
    found = await simulate(hass, days=1)
    would, was = found["simulated"], found["happened"]
    ledger = entry.runtime_data.shop.ledger
    assert would["starts"] == was["starts"] == ledger.collector.starts == 2
    saw = of(would, "Table saw")
    assert (saw["runs"], saw["cuts"]) == (2, 2)
    assert saw["run_time"] == pytest.approx(ledger.of("saw").run_time, abs=0.6)
    assert was["on_time"] == pytest.approx(ledger.collector.on_time, abs=1)
    assert would["on_time"] == pytest.approx(was["on_time"], abs=10)
    assert was["energy"] == pytest.approx(1500 * was["on_time"] / 3.6e6, rel=0.05)
    assert would["energy"] == pytest.approx(1500 * would["on_time"] / 3.6e6, rel=0.05)
    assert was["collected_share"] > 90
    assert would["collected_share"] > 80
    assert would["alarms"] == was["alarms"] == []
    assert found["difference"]["starts"] == 0
    assert found["not_recorded"] == []


async def test_settings_are_tried_without_being_stored(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    for _ in range(4):
        await cut(workshop, SAW_POWER, 8)
        await workshop.pass_time(20, 1)
    stored = dict(entry.subentries["saw"].data)
    waiting = [{"machine": "table SAW", "hold": 40}]
    as_it_is = await simulate(hass)
    with_hold = await simulate(hass, machines=waiting)
    assert as_it_is["simulated"]["starts"] == 4
    assert with_hold["simulated"]["starts"] == 1
    assert of(with_hold["simulated"], "Table saw")["runs"] == 1
    assert (
        with_hold["simulated"]["collected_share"]
        > as_it_is["simulated"]["collected_share"]
    )
    assert with_hold["difference"]["starts"] == -3
    deaf = [{"machine": "saw", "start": 2000, "stop": 1900}]
    assert of((await simulate(hass, machines=deaf))["simulated"], "Table saw") == {
        "machine": "Table saw",
        "runs": 0,
        "cuts": 0,
        "run_time": 0,
        "collecting_time": 0,
        "collected_share": None,
        "time_to_air": None,
    }
    longer = await simulate(hass, shutoff_delay=60)
    assert longer["simulated"]["starts"] == 1
    assert dict(entry.subentries["saw"].data) == stored


async def test_what_happened_is_reported_where_it_was_worse(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> None:
    """A gate that did not open, and a unit that has changed in between."""
    workshop.put(SAW_POWER, "0.003", {"unit_of_measurement": "kW"})
    await workshop.start(system_entry())
    workshop.deaf.add(SAW_GATE)
    workshop.put(SAW_POWER, "1.4")
    await workshop.pass_time(30, 1)
    workshop.put(SAW_POWER, "0.003")
    await workshop.pass_time(30, 1)
    workshop.deaf.clear()
    await cut(workshop, SAW_POWER, 10)
    workshop.watts(SAW_POWER, 3)
    found = await simulate(hass)
    assert of(found["simulated"], "Table saw")["runs"] == 2
    assert of(found["happened"], "Table saw")["collecting_time"] < 15
    assert of(found["simulated"], "Table saw")["collecting_time"] > 30
    assert {"alarm": "no_gate_open", "part": "Table saw", "times": 1} in found[
        "happened"
    ]["alarms"]
    assert found["simulated"]["alarms"] == []


async def test_connected_contacts_requests_hand_gates_and_start_block_are_heeded(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> None:
    contact, slide = "binary_sensor.hose", "binary_sensor.sander_gate"
    workshop.put(contact, "off")
    workshop.put(slide, "off")
    sander = machine(
        "sander",
        "Sander",
        gates=["sander_gate"],
        sensor="sensor.sander",
        attached=contact,
    )
    workshop.watts("sensor.sander", 1)
    by_hand = gate("sander_gate", "Sander gate", gate_kind="hand", open_sensor=slide)
    await workshop.start(system_entry([*standard_parts(), by_hand, sander]))
    await cut(workshop, "sensor.sander", 10)
    workshop.put(contact, "on")
    await cut(workshop, "sensor.sander", 10)
    await workshop.pass_time(20, 1)
    workshop.put(slide, "on")
    await cut(workshop, "sensor.sander", 10)
    await workshop.pass_time(20, 1)
    await workshop.call("turn_on", "switch.floor_sweep")
    await workshop.pass_time(20)
    await workshop.call("turn_off", "switch.floor_sweep")
    await workshop.pass_time(20, 1)
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    await cut(workshop, "sensor.sander", 20)
    found = await simulate(hass)
    would, was = found["simulated"], found["happened"]
    # Without its hose it didn't count; then twice on its own, and once blocked.
    assert of(would, "Sander")["cuts"] == 3
    assert of(would, "Floor sweep")["collecting_time"] == pytest.approx(18, abs=3)
    for figures in (would, was):
        assert 8 < of(figures, "Sander")["collecting_time"] < 16
        assert figures["starts"] == 2


async def test_a_machine_without_records_is_named(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> None:
    parts = standard_parts()
    parts.append(
        machine("lathe", "Lathe", gates=["saw_gate"], sensor="sensor.never_there")
    )
    await workshop.start(system_entry(parts))
    await cut(workshop, SAW_POWER, 10)
    found = await simulate(hass)
    assert found["not_recorded"] == ["Lathe"]
    assert of(found["simulated"], "Table saw")["runs"] == 1


async def test_only_the_time_that_was_asked_for_counts(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    await cut(workshop, SAW_POWER, 10)
    await workshop.pass_time(30, 1)
    middle = dt_util.utcnow()
    await cut(workshop, PLANER_POWER, 10)
    await workshop.pass_time(30, 1)
    after = await simulate(hass, start=middle.isoformat())
    assert of(after["simulated"], "Table saw")["runs"] == 0
    assert of(after["simulated"], "Planer")["runs"] == 1
    assert dt_util.parse_datetime(after["start"]) == middle
    before = await simulate(hass, end=middle.isoformat())
    assert of(before["simulated"], "Table saw")["runs"] == 1
    assert of(before["simulated"], "Planer")["runs"] == 0
    assert before["happened"]["starts"] == after["happened"]["starts"] == 1


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        ({"end": "2020-01-01T00:00:00+00:00"}, "simulate_nothing_recorded"),
        ({"start": "2100-01-01T00:00:00+00:00"}, "simulate_empty"),
        ({"start": "2020-01-01T00:00:00+00:00"}, "simulate_too_long"),
        ({"machines": [{"machine": "Anvil"}]}, "simulate_no_such_machine"),
        ({"machines": [{"machine": "Floor sweep", "start": 5}]}, "simulate_not_sensed"),
        (
            {"machines": [{"machine": "Table saw", "start": 5, "stop": 9}]},
            "simulate_bad_settings",
        ),
    ],
)
async def test_what_cannot_be_simulated_is_refused_in_words(
    recorder_mock: Any,
    hass: HomeAssistant,
    workshop: Workshop,
    asked: dict[str, Any],
    why: str,
) -> None:
    await workshop.start(system_entry())
    with pytest.raises(ServiceValidationError) as refused:
        await simulate(hass, **asked)
    assert refused.value.translation_key == why
    assert "{" not in str(refused.value)
    assert str(refused.value) != why


async def test_nonsense_does_not_pass(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    for asked in ({"days": 32}, {"shutoff_delay": -1}, {"machines": [{"hold": 3}]}):
        with pytest.raises(vol.Invalid):
            await simulate(hass, **asked)


async def test_without_a_recorder_it_says_so(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry())
    with pytest.raises(ServiceValidationError, match="recorder isn't set up"):
        await hass.services.async_call(
            "gatewright",
            "simulate",
            {"config_entry_id": "system"},
            blocking=True,
            return_response=True,
        )


@pytest.mark.usefixtures("recorder_mock")
async def test_a_database_offline_is_reported_in_words(
    hass: HomeAssistant, workshop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    """Like a database server that is being restarted; the next time all is well."""
    await workshop.start(system_entry())
    await cut(workshop, SAW_POWER, 10)
    await workshop.pass_time(30, 1)
    gone = OperationalError("SELECT", {}, ConnectionRefusedError("nobody listens"))
    with (
        patch(
            "homeassistant.components.recorder.history.get_significant_states",
            side_effect=gone,
        ),
        pytest.raises(
            ServiceValidationError, match="database can't be read"
        ) as reported,
    ):
        await simulate(hass)
    assert reported.value.translation_key == "simulate_unreadable"
    assert "nobody listens" in caplog.text
    assert of((await simulate(hass))["simulated"], "Table saw")["runs"] == 1


async def test_the_loop_goes_on_and_progress_is_reported(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    for number in range(1500):
        workshop.watts(SAW_POWER, 1300 + number % 50)
        workshop.freezer.tick(1)
    await async_wait_recording_done(hass)
    shares: list[float] = []
    beats = 0
    now = dt_util.utcnow()
    task = hass.async_create_task(
        simulate_system(
            hass, read_config(entry), now - timedelta(days=1), now, shares.append
        )
    )
    while not task.done():
        beats += 1
        await asyncio.sleep(0)
    assert (await task).records.count > 1500
    assert beats > 100
    assert shares == sorted(shares)
    assert len(shares) >= 8
    assert shares[-1] == 1


async def test_the_action_is_described(hass: HomeAssistant, workshop: Workshop) -> None:
    await workshop.start(system_entry())
    described = (await service.async_get_all_descriptions(hass))["gatewright"]
    fields = described["simulate"]["fields"]
    assert fields.keys() == {
        "config_entry_id",
        "days",
        "start",
        "end",
        "shutoff_delay",
        "spin_down",
        "machines",
    }


@pytest.mark.parametrize(
    ("language", "days"),
    [
        ("en", ["Sun 01 Mar", "Mon 02 Mar"]),
        ("de", ["So 01. Mär", "Mo 02. Mär"]),
        ("fr", ["dim 01 mars", "lun 02 mars"]),
    ],
)
async def test_the_chart_has_its_days_in_home_assistants_language(
    hass: HomeAssistant, language: str, days: list[str]
) -> None:
    hass.config.language = language
    await async_load_integrations(hass, {DOMAIN})
    zone = dt_util.get_default_time_zone()
    begins = datetime(2026, 3, 1, tzinfo=zone)
    noon = (begins + timedelta(hours=36)).timestamp()
    chart = chart_text(
        Texts.cached(hass),
        [(noon, noon + 3600)],
        begins,
        begins + timedelta(days=2),
    )
    hours, *rows = chart.splitlines()
    assert [row[: len(day)] for row, day in zip(rows, days, strict=True)] == days
    # Every mark is below its hour, however long the names of the days are.
    assert rows[1].index("█") == hours.index("12")
    assert {len(row) for row in rows} == {len(days[0]) + 24}


async def test_times_are_local_unless_they_say_otherwise(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> None:
    """As the editor of an action writes them: no zone."""
    await hass.config.async_set_time_zone("Europe/Berlin")
    await workshop.start(system_entry())
    await cut(workshop, SAW_POWER, 20)
    await workshop.pass_time(30, 1)
    here = dt_util.now().replace(tzinfo=None)
    start, end = (here - timedelta(minutes=5)), here - timedelta(seconds=1)
    for begins, ends in (
        (start, end),
        (f"{start:%Y-%m-%d %H:%M:%S}", f"{end:%Y-%m-%d %H:%M:%S}"),
        (start.isoformat(), dt_util.as_utc(end).isoformat()),
    ):
        found = await simulate(hass, start=begins, end=ends)
        assert of(found["simulated"], "Table saw")["runs"] == 1
    only_start = await simulate(hass, start=start)
    assert of(only_start["simulated"], "Table saw")["runs"] == 1
    # Taken for UTC it would be the recorded hour.
    with pytest.raises(ServiceValidationError) as err:
        await simulate(hass, start=start - timedelta(hours=1), end=start)
    assert err.value.translation_key == "simulate_nothing_recorded"


@pytest.mark.parametrize(
    "asked",
    [
        {"start": "0001-01-01 00:00:00"},
        {"end": "0001-01-01 00:00:00"},
        {"start": "9999-12-31 23:59:59"},
        {"end": "9999-12-31T23:59:59+00:00"},
        {"days": float("nan")},
        {"days": float("inf")},
        {"shutoff_delay": float("inf")},
        {"machines": [{"machine": "saw", "hold": float("nan")}]},
    ],
)
async def test_the_ends_of_the_calendar_and_of_numbers_end_in_a_clear_error(
    hass: HomeAssistant, workshop: Workshop, asked: dict[str, Any]
) -> None:
    await workshop.load(system_entry())
    with pytest.raises(vol.Invalid) as err:
        await hass.services.async_call(
            "gatewright",
            "simulate",
            {"config_entry_id": "system", **asked},
            blocking=True,
            return_response=True,
        )
    assert "must be" in str(err.value)
