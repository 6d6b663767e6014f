"""Results from a machine's history are offered in its form, and no typed value is lost."""

import asyncio
from collections.abc import Iterator
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.components.recorder import Recorder
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_fire_time_changed,
)
from sqlalchemy.exc import SQLAlchemyError

from custom_components.gatewright.core.calibration.history import Reading
from custom_components.gatewright.features.calibration.history import without
from custom_components.gatewright.features.simulation.recorder import Archive

from ..calibration.traces import Motor, Plug, Trace
from .flow_helpers import Form, gate, machine, part_named, sensed, system
from .recorded import record, saw_trace, without_engine

SAW = "sensor.saw_plug_power"


@pytest.fixture(autouse=True)
def _without_engine(recorder_mock: Recorder, hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
def entry(hass: HomeAssistant) -> MockConfigEntry:
    """Return a system with a gate and a machine with default levels."""
    hass.states.async_set("switch.collector", "off")
    return system(
        hass,
        starts_per_hour=6.0,
        power="sensor.collector_power",
        parts={
            "g1": gate("Saw gate", "cover.saw"),
            "m1": machine(
                "Miter saw", "g1", **sensed(SAW), kind="miter_saw", hold=15.0
            ),
        },
    )


async def new_saw(hass: HomeAssistant, entry: MockConfigEntry, **typed: Any) -> Form:
    """Add a second machine at the plug, and find its levels."""
    hass.config_entries.async_remove_subentry(entry, "m1")
    form = await Form(hass, entry).part("machine")
    return await form.send(
        **{"name": "Band saw", "sensor": SAW, "gates": ["g1"], "find_levels": True}
        | typed
    )


async def recorded(hass: HomeAssistant, trace: Trace | None = None) -> Trace:
    """Put the history of the saw into the recorder."""
    trace = trace or saw_trace()
    await record(hass, SAW, trace.history, trace.until)
    return trace


async def test_what_was_found_is_accepted(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    await recorded(hass)
    form = await new_saw(hass, entry, kind="planer")
    assert form.step == "found"
    assert "Clear result." in form.text
    assert "reports about every 2" in form.text
    assert "```\n" in form.text
    assert "▶ █" in form.text
    await form.choose("accept")
    assert form.result["type"] == "create_entry"
    data = part_named(entry, "Band saw")[1]
    # At rest the saw draws 3 W, free 620 W.
    assert 3 < data["stop"] < data["start"] < 620
    assert data["start"] > 100
    assert data["start_settle"] == 0.0
    assert data["stop_settle"] >= 2.4
    assert data["start"] <= data["certain_level"] < 620
    assert (data["grace"], data["kind"], data["silence"]) == (60.0, "planer", 900.0)


async def test_kilowatts_and_outages_make_no_difference(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    trace = saw_trace(Plug(interval=2, outages=2))
    assert trace.outages
    await record(
        hass, SAW, trace.history, trace.until, unit="kW", factor=1e-3, name="Saw"
    )
    form = await new_saw(hass, entry, kind="planer")
    await form.choose("accept")
    data = part_named(entry, "Band saw")[1]
    assert data["unit"] == "W"
    assert 3 < data["stop"] < data["start"] < 620


async def test_the_figures_can_be_changed_before_they_are_taken(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    await recorded(hass)
    form = await new_saw(hass, entry, kind="planer")
    await form.choose("figures")
    proposed = form.values
    assert proposed["start"] > proposed["stop"] > 3
    await form.send(start=60_000)
    assert form.errors == {"start": "bad_start"}
    assert form.values == {**proposed, "start": 60_000}
    await form.send(start=proposed["stop"])
    assert form.errors == {"stop": "stop_not_below_start"}
    await form.send(start=300, stop_settle=7)
    data = part_named(entry, "Band saw")[1]
    assert (data["start"], data["stop_settle"]) == (300.0, 7.0)
    assert data["stop"] == proposed["stop"]


@pytest.mark.parametrize("certain", [110, 600])
async def test_a_certain_level_that_was_found_replaces_what_was_typed(
    hass: HomeAssistant, entry: MockConfigEntry, certain: float
) -> None:
    await recorded(hass)
    form = await new_saw(hass, entry, kind="planer", certain_level=certain)
    await form.choose("accept")
    data = part_named(entry, "Band saw")[1]
    assert 110 < data["start"] < 600
    assert data["start"] <= data["certain_level"]
    assert data["certain_level"] != certain


async def test_a_certain_level_below_the_usual_start_level_goes(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    await recorded(hass)
    form = await new_saw(
        hass, entry, kind="planer", start=50, stop=20, certain_level=70
    )
    await form.choose("figures")
    await form.send(start=None, stop=None)
    data = part_named(entry, "Band saw")[1]
    assert data["start"] == 100.0
    assert "certain_level" not in data


async def test_a_figure_that_is_emptied_is_the_usual_one(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    await recorded(hass)
    form = await new_saw(hass, entry, kind="planer")
    await form.choose("figures")
    await form.send(start_settle=None)
    assert form.result["type"] == "create_entry"
    assert part_named(entry, "Band saw")[1]["start_settle"] == 0.5


async def test_what_was_found_beyond_the_limits_is_shown_to_be_changed(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    await recorded(
        hass,
        saw_trace(
            Plug(interval=2, noise=0.0), motor=Motor(free=5e6, work=2e7, standby=6e4)
        ),
    )
    form = await new_saw(hass, entry, kind="planer")
    await form.choose("accept")
    assert form.step == "figures"
    assert form.errors == {"start": "bad_start", "stop": "bad_stop"}
    await form.send(start=400, stop=300)
    assert part_named(entry, "Band saw")[1]["start"] == 400.0


async def test_figures_typed_before_are_kept_when_nothing_is_taken(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    await recorded(hass)
    form = await new_saw(hass, entry)
    await form.choose("keep")
    part_id, data = part_named(entry, "Band saw")
    assert (data["start"], data["stop"]) == (100.0, 50.0)
    assert "certain_level" not in data
    form = await Form(hass, entry).part("machine", part_id)
    await form.send(start=222, stop=111)
    form = await Form(hass, entry).part("machine", part_id, "basics")
    await form.send(kind="planer", find_levels=True)
    await form.choose("keep")
    data = {**entry.subentries[part_id].data}
    assert (data["start"], data["stop"], data["kind"]) == (222.0, 111.0, "planer")


async def test_a_certain_level_goes_with_what_it_was_found_for(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    await recorded(hass)
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(find_levels=True)
    await form.choose("accept")
    if form.result["type"] == "menu":
        await form.choose("keep_hold")
    if form.result["type"] == "menu":
        await form.choose("keep_run_on")
    found = part_named(entry, "Miter saw")[1]["certain_level"]
    assert found > 100.0
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(request_limit=9)
    assert part_named(entry, "Miter saw")[1]["certain_level"] == found
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(start=333)
    assert "certain_level" not in part_named(entry, "Miter saw")[1]


@pytest.mark.parametrize(
    ("interval", "longest", "pace"),
    [
        (10.0, 90.0, "reports about every 1"),
        (30.0, 240.0, "reports about every 3"),
        # Cuts so short that two reports hardly ever fall into one.
        (30.0, 40.0, "reports about every 3"),
    ],
)
async def test_a_slow_plug_cannot_protect_the_first_cut(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    interval: float,
    longest: float,
    pace: str,
) -> None:
    motor = Motor(free=620, work=1850, standby=3)
    plug = Plug(interval=interval)
    await recorded(hass, saw_trace(plug, motor=motor, days=4, longest=longest))
    form = await new_saw(hass, entry)
    assert form.step == "found"
    assert pace in form.text
    assert "of the first cut may pass" in form.text
    assert "{" not in form.text
    assert "reporting interval" in form.text
    assert ("current switch" in form.text) is (interval == 30.0)


async def test_a_hold_is_proposed_with_its_figures(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    trace = await recorded(hass)
    await record(
        hass,
        "sensor.collector_power",
        [
            (at, power)
            for first, last in trace.ran
            for at, power in ((first, 1500.0), (last, 0.0))
        ],
        trace.until,
        name="Collector power",
    )
    form = await Form(hass, entry).part("machine", "m1")
    await form.send(request_limit=9)
    form = await Form(hass, entry).part("machine", "m1", "basics")
    await form.send(find_levels=True)
    await form.choose("accept")
    assert form.step == "hold_found"
    assert "Starts saved per week: +" in form.text
    assert "kWh per week" in form.text
    assert "10 min of running" in form.text
    await form.choose("take_hold")
    # With that hold there is hardly a pause left that a longer shut-off delay would bridge.
    if form.result["type"] == "menu":
        await form.choose("keep_run_on")
    assert form.ended == "reconfigure_successful"
    data = part_named(entry, "Miter saw")[1]
    assert data["hold"] > 15.0
    assert data["hold"] == round(data["hold"])
    assert data["start"] > 100.0
    assert data["request_limit"] == 540.0

    for answer in ("keep_run_on", "take_run_on"):
        assert entry.data["run_on"] == 3.0
        form = await Form(hass, entry).part("machine", "m1")
        await form.send(hold=1)
        form = await Form(hass, entry).part("machine", "m1", "basics")
        await form.send(find_levels=True)
        await form.choose("accept")
        await form.choose("keep_hold")
        assert form.step == "run_on_found"
        assert "A shut-off delay of " in form.text
        assert "Starts saved per week: +" in form.text
        await form.choose(answer)
        assert form.ended == "reconfigure_successful"
    assert part_named(entry, "Miter saw")[1]["hold"] == 1.0
    assert 3.0 < entry.data["run_on"] <= 300.0
    assert entry.data["coast"] == 10.0


# Where the history isn't enough


async def test_an_empty_history_is_refused_with_the_reason(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    await record(hass, SAW, [(0.0, 2.0), (1.0, 2.5)], 60.0)
    form = await new_saw(hass, entry)
    assert form.step == "not_found"
    assert "isn't enough" in form.text
    assert "guided minute" in form.text
    await form.choose("figures")
    await form.send(start=80)
    data = part_named(entry, "Band saw")[1]
    assert (data["start"], data["stop"]) == (80.0, 50.0)


async def test_a_sensor_left_out_of_the_history_is_said(
    hass: HomeAssistant, entry: MockConfigEntry, recorder_mock: Recorder
) -> None:
    hass.states.async_set(SAW, "0", {"unit_of_measurement": "W"})
    recorder_mock.entity_filter = lambda entity_id: entity_id != SAW
    form = await new_saw(hass, entry)
    assert "recorder's settings exclude this sensor" in form.text
    await form.choose("keep")
    assert part_named(entry, "Band saw")[1]["start"] == 100.0


async def test_a_database_that_fails_is_said(
    hass: HomeAssistant, entry: MockConfigEntry, monkeypatch: pytest.MonkeyPatch
) -> None:
    hass.states.async_set(SAW, "0", {"unit_of_measurement": "W"})

    async def fail(*_: Any) -> None:
        raise SQLAlchemyError("the disk is full")

    monkeypatch.setattr(Archive, "readings", fail)
    form = await new_saw(hass, entry)
    assert "history can't be read" in form.text
    issue = ir.async_get(hass).async_get_issue("gatewright", "internal_recorder")
    assert issue is not None
    assert issue.translation_placeholders is not None
    assert "the disk is full" in issue.translation_placeholders["error"]


def test_while_home_assistant_was_off_nothing_is_known() -> None:
    readings: list[Reading] = [(0.0, 5.0), (10.0, 700.0), (500.0, 4.0)]
    known = without(readings, [12.0, 900.0])
    assert known == [(0, 5), (10, 700), (12, None), (500, 4), (900, None)]


async def test_a_simulation_follows_what_was_accepted(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    """With both requested, the simulation uses the figures that were found."""
    await recorded(hass)
    form = await new_saw(hass, entry, simulate=True)
    await form.choose("keep")
    assert form.result["type"] == "progress"
    await form.watched()
    assert form.step in {"simulated", "user"}


# The guided minute


async def minute(
    hass: HomeAssistant,
    freezer: FrozenDateTimeFactory,
    seconds: int,
    power: float | None = None,
) -> None:
    """Let time pass while the sensor reports every second."""
    for second in range(seconds):
        if power is not None:
            hass.states.async_set(
                SAW, f"{power + second % 2}", {"unit_of_measurement": "W"}
            )
        freezer.tick(1)
        async_fire_time_changed(hass)
        await hass.async_block_till_done()


async def watched(
    hass: HomeAssistant, freezer: FrozenDateTimeFactory, form: Form
) -> None:
    """Wait for what the form watches, however slow this computer is."""
    for _ in range(200):
        await minute(hass, freezer, 1)
        await form.watched()
        if form.result["type"] != "progress":
            return
        await asyncio.sleep(0)


async def test_a_guided_minute_finds_the_levels(
    hass: HomeAssistant, entry: MockConfigEntry, freezer: FrozenDateTimeFactory
) -> None:
    hass.states.async_set(SAW, "2", {"unit_of_measurement": "W"})
    form = await new_saw(hass, entry, kind="lathe")
    await form.choose("guided")
    assert "Leave the machine off" in form.text
    assert "may start while the machine runs" in form.text
    await form.send()
    assert form.result["type"] == "progress"
    await minute(hass, freezer, 15, 2.0)
    await watched(hass, freezer, form)
    assert form.step == "guided_switch"
    await form.send()
    await minute(hass, freezer, 4, 2.0)
    await minute(hass, freezer, 20, 700.0)
    await watched(hass, freezer, form)
    assert form.step == "found"
    assert "Fairly certain: watch the first cuts." in form.text
    assert "reports about every 1 s" in form.text
    await form.choose("accept")
    data = part_named(entry, "Band saw")[1]
    assert 3 < data["stop"] < data["start"] < 700
    assert data["kind"] == "lathe"


async def test_a_guided_minute_without_a_machine_says_so_and_can_be_repeated(
    hass: HomeAssistant, entry: MockConfigEntry, freezer: FrozenDateTimeFactory
) -> None:
    hass.states.async_set(SAW, "2", {"unit_of_measurement": "W"})
    form = await new_saw(hass, entry)
    await form.choose("guided")
    await form.send()
    await watched(hass, freezer, form)
    await form.send()
    await watched(hass, freezer, form)
    assert form.step == "not_found"
    assert "never changed" in form.text
    await form.choose("guided")
    assert form.step == "guided"


# A whole system


async def test_a_new_system_takes_what_was_found(hass: HomeAssistant) -> None:
    await recorded(hass)
    hass.states.async_set("switch.collector", "off", {"friendly_name": "Collector"})
    hass.states.async_set(
        "sensor.lathe_power",
        "0",
        {"unit_of_measurement": "W", "friendly_name": "Lathe power"},
    )
    for left_out in (False, True):
        form = await Form(hass).start()
        await form.send(name=f"Shop {left_out}", switch="switch.collector")
        await form.send(machines=[SAW, "sensor.lathe_power"])
        await form.send()
        await form.send()
        await form.send()
        assert form.step == "levels"
        assert "**Lathe:** no suggestion, so the default applies." in form.text
        assert "**Saw:** Running from" in form.text
        (option,) = form.fields["accepted"].config["options"]
        assert option["label"] == "Saw"
        await form.send(**({"accepted": None} if left_out else {}))
        data = part_named(form.created, "Saw")[1]
        assert (data["start"] == 100.0) is left_out
        assert part_named(form.created, "Lathe")[1]["start"] == 100.0
        await hass.config_entries.async_remove(form.created.entry_id)
