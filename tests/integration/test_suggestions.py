"""Suggestions for the owner, which do nothing without consent."""

from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.components.repairs import DOMAIN as REPAIRS, repairs_flow_manager
from homeassistant.config_entries import ConfigEntryDisabler, ConfigSubentryDataWithId
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_fire_time_changed,
)

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.config import StartWhen
from custom_components.gatewright.core.control.spin_up import SpinUpMeter
from custom_components.gatewright.features.suggestions.manager import LOOK
from tests.maintenance.kept_runs import kept_run

from .flow_helpers import TEXTS, Form
from .workshop import (
    ENTRY_DATA,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    change_part,
    change_system,
    machine,
    standard_parts,
    system_entry,
)

LATER = ("spin_up", "start_when")
"""What version 0.1.0 did not store."""

ASKED = "start_when_system"
TRAVEL = "travel_system_saw_gate"
IDLE = "idle_system_saw"


@pytest.fixture(autouse=True)
async def _repairs(hass: HomeAssistant, workshop: Workshop) -> None:
    assert await async_setup_component(hass, REPAIRS, {})


def suggested(hass: HomeAssistant) -> dict[str, ir.IssueEntry]:
    """Return our active issues, by their ids."""
    return {
        issue_id: issue
        for (domain, issue_id), issue in ir.async_get(hass).issues.items()
        if domain == DOMAIN and issue.active
    }


async def fix(hass: HomeAssistant, issue_id: str, *steps: str) -> Any:
    """Open the repair of an issue, take these steps, and return the result.

    A step is a menu choice, or "" to submit. Every displayed text is checked, with its
    placeholders filled.
    """
    manager = repairs_flow_manager(hass)
    assert manager is not None
    key = ir.async_get(hass).issues[DOMAIN, issue_id].translation_key
    assert key is not None
    texts = TEXTS["issues"][key]["fix_flow"]
    result = await manager.async_init(DOMAIN, data={"issue_id": issue_id})
    for step in (*steps, None):
        if result["type"] is FlowResultType.ABORT:
            assert texts["abort"][result["reason"]]
        elif result["type"] is not FlowResultType.CREATE_ENTRY:
            shown = texts["step"][result["step_id"]]
            assert shown["description"].format_map(result["description_placeholders"])
            assert shown["title"].format_map(result["description_placeholders"])
        if result["type"] is FlowResultType.MENU:
            assert list(shown["menu_options"]) == result["menu_options"]
        if step is None:
            break
        answer = {"next_step_id": step} if step else {}
        result = await manager.async_configure(result["flow_id"], answer)
        await hass.async_block_till_done()
    return result


def of_0_1_0(
    parts: list[ConfigSubentryDataWithId] | None = None, **data: Any
) -> MockConfigEntry:
    """Return a system as stored by version 0.1.0."""
    stored = {key: ENTRY_DATA[key] for key in ENTRY_DATA if key not in LATER}
    return MockConfigEntry(
        domain=DOMAIN,
        minor_version=2,
        entry_id="system",
        title="Dust collector",
        data=stored | data,
        subentries_data=standard_parts() if parts is None else parts,
    )


def whole_parts() -> list[ConfigSubentryDataWithId]:
    """Return the standard parts with everything that the forms store."""
    return [
        part
        if part["subentry_type"] == "gate"
        else {**part, "data": {"clearing": [], "companions": [], **part["data"]}}
        for part in standard_parts()
    ]


# When the collector starts ------------------------------------------------------------


@pytest.mark.parametrize("choice", list(StartWhen))
async def test_an_old_system_is_asked_once_when_to_start(
    hass: HomeAssistant, workshop: Workshop, choice: StartWhen
) -> None:
    entry = of_0_1_0()
    await workshop.start(entry)
    engine = entry.runtime_data
    assert engine.layout.system.collector.start_when is StartWhen.GATE_OPEN
    assert suggested(hass).keys() == {ASKED}
    assert suggested(hass)[ASKED].is_fixable
    # It stays until there's an answer.
    assert await hass.config_entries.async_reload("system")
    assert suggested(hass).keys() == {ASKED}
    shown = await fix(hass, ASKED)
    assert shown["menu_options"] == ["gate_opening", "gate_open"]
    assert "start_when" not in entry.data
    done = await fix(hass, ASKED, choice)
    assert done["type"] is FlowResultType.CREATE_ENTRY
    assert entry.data["start_when"] == choice
    engine = entry.runtime_data
    assert engine.layout.system.collector.start_when is choice
    assert suggested(hass) == {}
    assert await hass.config_entries.async_reload("system")
    assert suggested(hass) == {}


async def test_the_question_explains_gain_and_caution(hass: HomeAssistant) -> None:
    text = TEXTS["issues"]["start_when"]["fix_flow"]["step"]["init"]["description"]
    assert "earlier" in text
    assert "thin-walled" in text
    options = TEXTS["issues"]["start_when"]["fix_flow"]["step"]["init"]["menu_options"]
    assert options == TEXTS["selector"]["start_when"]["options"]


async def test_the_form_answers_too(hass: HomeAssistant, workshop: Workshop) -> None:
    entry = of_0_1_0()
    await workshop.start(entry)
    form = await Form(hass, entry).change()
    assert "start_when" not in form.values
    # A change for another reason is no answer.
    await form.send(run_on=4)
    assert "start_when" not in entry.data
    assert suggested(hass).keys() == {ASKED}
    form = await Form(hass, entry).change()
    await form.send(start_when="gate_open")
    assert entry.data["start_when"] == "gate_open"
    assert suggested(hass) == {}


async def test_an_answer_is_not_lost_to_a_form_that_stood_open(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = of_0_1_0()
    await workshop.start(entry)
    form = await Form(hass, entry).change()
    await fix(hass, ASKED, "gate_opening")
    await form.send(run_on=4)
    assert entry.data["run_on"] == 4.0
    assert entry.data["start_when"] == "gate_opening"


async def test_a_repair_that_stood_open_while_the_form_answered(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    entry = of_0_1_0()
    await workshop.start(entry)
    manager = repairs_flow_manager(hass)
    assert manager is not None
    issue = suggested(hass)[ASKED]
    change_system(hass, entry, start_when="gate_open")
    await hass.async_block_till_done()
    # Somebody opens the repair of an issue that has just gone.
    ir.async_create_issue(
        hass,
        DOMAIN,
        ASKED,
        data=issue.data,
        is_fixable=True,
        severity=ir.IssueSeverity.WARNING,
        translation_key="start_when",
    )
    done = await fix(hass, ASKED)
    assert done["type"] is FlowResultType.CREATE_ENTRY
    assert entry.data["start_when"] == "gate_open"


async def test_who_has_no_gate_that_moves_is_not_asked(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    saw = machine("saw", "Table saw", gates=[], sensor=SAW_POWER)
    entry = of_0_1_0([saw], hand_gates=[])
    await workshop.start(entry)
    assert suggested(hass) == {}


async def test_the_question_goes_with_the_system(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(of_0_1_0())
    await hass.config_entries.async_set_disabled_by("system", ConfigEntryDisabler.USER)
    assert (DOMAIN, ASKED) not in ir.async_get(hass).issues
    await hass.config_entries.async_set_disabled_by("system", None)
    await hass.async_block_till_done()
    assert suggested(hass).keys() == {ASKED}
    assert await hass.config_entries.async_remove("system")
    assert (DOMAIN, ASKED) not in ir.async_get(hass).issues


# How long a gate takes ----------------------------------------------------------------


async def cut(workshop: Workshop, stroke: float) -> None:
    """Make one cut with the saw, its gate taking this many seconds each way."""
    workshop.deaf.add(SAW_GATE)
    workshop.watts(SAW_POWER, 1400)
    # The gate is commanded at the first sign that the saw runs.
    await workshop.pass_time(stroke)
    workshop.saw_gate.become(is_closed=False)
    await workshop.pass_time(3, 1)
    workshop.watts(SAW_POWER, 3)
    # Stop confirmation, shut-off delay and spin-down are over, and the gate is commanded to close.
    while ("close_cover", SAW_GATE) not in workshop.calls:
        await workshop.pass_time(1, 1)
    await workshop.pass_time(stroke)
    workshop.saw_gate.become(is_closed=True)
    await workshop.pass_time(1, 1)
    workshop.calls.clear()


def seen(entry: MockConfigEntry, gate_id: str, *strokes: float) -> None:
    """Let a gate look as if it had opened like this."""
    travel = entry.runtime_data.sequence.gates.travel(gate_id)
    travel.recall(travel.remember(0.0) | {"opening": strokes, "closing": ()})


async def look(hass: HomeAssistant, freezer: FrozenDateTimeFactory) -> None:
    """Let an hour pass until the next check."""
    freezer.tick(LOOK)
    async_fire_time_changed(hass)
    await hass.async_block_till_done()


async def test_measured_strokes_suggest_a_travel_time(
    hass: HomeAssistant, workshop: Workshop, freezer: FrozenDateTimeFactory
) -> None:
    entry = system_entry(whole_parts())
    await workshop.start(entry)
    form = await Form(hass, entry).part("gate", "saw_gate")
    assert form.text.endswith("Measured: opens in –, closes in –.")
    for _ in range(4):
        await cut(workshop, 2.0)
    await look(hass, freezer)
    assert suggested(hass) == {}
    await cut(workshop, 2.0)
    assert suggested(hass) == {}
    await look(hass, freezer)
    assert suggested(hass).keys() == {TRAVEL}
    issue = suggested(hass)[TRAVEL]
    assert issue.translation_key == "travel_too_long"
    assert issue.translation_placeholders is not None
    longest = issue.translation_placeholders["longest"]
    assert 2.0 <= float(longest.removesuffix(" s")) < 2.5
    assert issue.translation_placeholders["entered"] == "5.0 s"
    form = await Form(hass, entry).part("gate", "saw_gate")
    assert "opens in 2." in form.text
    assert "closes in 2." in form.text
    # Only shown, nothing is done.
    shown = await fix(hass, TRAVEL)
    assert shown["step_id"] == "confirm"
    assert entry.subentries["saw_gate"].data["travel"] == 5.0
    done = await fix(hass, TRAVEL, "")
    assert done["type"] is FlowResultType.CREATE_ENTRY
    travel = entry.subentries["saw_gate"].data["travel"]
    assert travel in (3.0, 3.5)
    plans = {gate.gate_id: gate for gate in entry.runtime_data.layout.system.gates}
    assert plans["saw_gate"].travel == travel
    assert suggested(hass) == {}


async def test_a_time_that_is_too_short_is_suggested_and_goes(
    hass: HomeAssistant, workshop: Workshop, freezer: FrozenDateTimeFactory
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    seen(entry, "saw_gate", *[6.0] * 5)
    await look(hass, freezer)
    assert suggested(hass)[TRAVEL].translation_key == "travel_too_short"
    # Set in the form, it fits.
    change_part(hass, entry, "saw_gate", travel=8.0)
    await hass.async_block_till_done()
    assert suggested(hass) == {}
    change_part(hass, entry, "saw_gate", travel=5.0)
    await hass.async_block_till_done()
    assert suggested(hass).keys() == {TRAVEL}
    # The slide was cleaned, and it's as fast as before.
    seen(entry, "saw_gate", *[4.0] * 5)
    assert (await fix(hass, TRAVEL))["reason"] == "gone"
    await look(hass, freezer)
    assert suggested(hass) == {}


@pytest.mark.parametrize(("language", "stroke"), [("en", "2.4 s"), ("de", "2,4 s")])
async def test_the_form_shows_the_measured_spin_up(
    hass: HomeAssistant, workshop: Workshop, language: str, stroke: str
) -> None:
    hass.config.language = language
    entry = system_entry()
    await workshop.start(entry)
    entry.runtime_data.sequence.motor.spin_up_meter = SpinUpMeter((2.4, 2.4, 9.0))
    form = await Form(hass, entry).change()
    assert f"({stroke})" in form.help("spin_up")


async def test_only_what_says_where_it_is_is_measured(
    hass: HomeAssistant, workshop: Workshop, freezer: FrozenDateTimeFactory
) -> None:
    entry = system_entry(whole_parts())
    await workshop.start(entry)
    seen(entry, "planer_gate", *[2.0] * 5)
    await look(hass, freezer)
    assert suggested(hass) == {}
    form = await Form(hass, entry).part("gate", "planer_gate")
    assert form.text.endswith("opens in –, closes in –.")


async def test_a_suggestion_goes_with_its_gate_and_its_system(
    hass: HomeAssistant, workshop: Workshop, freezer: FrozenDateTimeFactory
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    for gate in ("saw_gate", "sweep_gate"):
        seen(entry, gate, *[1.0] * 5)
    await look(hass, freezer)
    other = "travel_system_sweep_gate"
    assert suggested(hass).keys() == {TRAVEL, other}
    # The repair is open while the gate is removed.
    manager = repairs_flow_manager(hass)
    assert manager is not None
    flow = await manager.async_init(DOMAIN, data={"issue_id": TRAVEL})
    hass.config_entries.async_remove_subentry(entry, "saw_gate")
    await hass.async_block_till_done()
    assert suggested(hass).keys() - {other} == {"missing_system_saw_gates"}
    gone = await manager.async_configure(flow["flow_id"], {})
    assert gone["reason"] == "gone"
    assert await hass.config_entries.async_remove("system")
    assert suggested(hass) == {}


# Where a gate idles -------------------------------------------------------------------


def ran(entry: MockConfigEntry, machine_id: str, times: int = 20) -> None:
    """Let a machine look as if it had been the first this often."""
    record = entry.runtime_data.record.keeper.record
    begin = record.runs[-1].ended + 600 if record.runs else 0.0
    for number in range(times):
        at = begin + number * 600
        record.keep(kept_run(machine_id, at, at + 60))


@pytest.fixture
async def entry(
    hass: HomeAssistant, workshop: Workshop, freezer: FrozenDateTimeFactory
) -> MockConfigEntry:
    """Return a system whose saw is most often the first."""
    entry = system_entry()
    await workshop.start(entry)
    seen(entry, "saw_gate", *[4.0] * 5)
    ran(entry, "saw")
    await look(hass, freezer)
    return entry


async def test_the_gate_that_is_needed_next_may_idle_open(
    hass: HomeAssistant, entry: MockConfigEntry, workshop: Workshop
) -> None:
    assert suggested(hass).keys() == {IDLE}
    # The collector waits for the gate here, so that its whole stroke is saved.
    assert suggested(hass)[IDLE].translation_placeholders == {
        "machine": "Table saw",
        "system": "Dust collector",
        "gates": "Saw gate",
        "times": "20",
        "first_runs": "20",
        "saved": "4.0 s",
    }
    shown = await fix(hass, IDLE)
    assert shown["step_id"] == "confirm"
    await workshop.pass_time(5)
    assert entry.subentries["saw_gate"].data["rest"] == "shut"
    assert ("open_cover", SAW_GATE) not in workshop.calls
    done = await fix(hass, IDLE, "")
    assert done["type"] is FlowResultType.CREATE_ENTRY
    assert entry.subentries["saw_gate"].data["rest"] == "open"
    assert suggested(hass) == {}
    await workshop.pass_time(5)
    assert ("open_cover", SAW_GATE) in workshop.calls


async def test_there_is_one_at_a_time_and_none_again_that_was_ignored(
    hass: HomeAssistant, entry: MockConfigEntry, freezer: FrozenDateTimeFactory
) -> None:
    ran(entry, "planer", 60)
    await look(hass, freezer)
    assert suggested(hass).keys() == {"idle_system_planer"}
    ir.async_get(hass).async_ignore(DOMAIN, "idle_system_planer", True)
    ran(entry, "saw", 100)
    await look(hass, freezer)
    open_ones = {
        issue_id
        for issue_id, issue in suggested(hass).items()
        if issue.dismissed_version is None
    }
    assert open_ones == {IDLE}
    ran(entry, "planer", 100)
    await look(hass, freezer)
    ignored = suggested(hass)["idle_system_planer"]
    assert ignored.dismissed_version is not None
    assert suggested(hass).keys() == {"idle_system_planer"}
    # Not even once the system has been away, until it is removed.
    await hass.config_entries.async_set_disabled_by("system", ConfigEntryDisabler.USER)
    await hass.config_entries.async_set_disabled_by("system", None)
    await hass.async_block_till_done()
    ignored = suggested(hass)["idle_system_planer"]
    assert ignored.dismissed_version is not None
    assert await hass.config_entries.async_remove("system")
    assert (DOMAIN, "idle_system_planer") not in ir.async_get(hass).issues


@pytest.mark.parametrize(
    ("gate", "collector"),
    [
        ({"rest": "open"}, {}),
        ({"rest": "leave"}, {}),
        # By the time the impeller is up to speed the gate is nearly open.
        ({}, {"start_when": "gate_opening", "spin_up": 5.0}),
        ({}, {"start_delay": 4.0}),
    ],
)
async def test_what_saves_nothing_is_not_suggested(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    gate: dict[str, Any],
    collector: dict[str, Any],
) -> None:
    change_part(hass, entry, "saw_gate", **gate)
    change_system(hass, entry, **collector)
    await hass.async_block_till_done()
    assert suggested(hass) == {}


async def test_a_machine_with_its_own_extractor_needs_no_gate(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    change_part(
        hass,
        entry,
        "saw",
        needs_air=False,
        clearing=[{"gates": ["sweep_gate"], "duration": 5.0}],
    )
    await hass.async_block_till_done()
    assert suggested(hass) == {}


async def test_a_repair_that_stood_open_too_long(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    ran(entry, "planer", 100)
    assert (await fix(hass, IDLE))["reason"] == "gone"
    assert entry.subentries["saw_gate"].data["rest"] == "shut"


async def test_a_gate_that_was_never_seen_to_open_says_nothing(
    hass: HomeAssistant, workshop: Workshop, freezer: FrozenDateTimeFactory
) -> None:
    entry = system_entry()
    await workshop.start(entry)
    ran(entry, "saw")
    await look(hass, freezer)
    assert suggested(hass) == {}
    # One that only repeats its last command is waited for.
    ran(entry, "planer", 100)
    await look(hass, freezer)
    placeholders = suggested(hass)["idle_system_planer"].translation_placeholders
    assert placeholders is not None
    assert placeholders["saved"] == "5.0 s"


async def test_a_monitored_system_does_not_notify(
    hass: HomeAssistant, workshop: Workshop, freezer: FrozenDateTimeFactory
) -> None:
    entry = system_entry(watch_since="2026-11-24T17:00:00+00:00")
    await workshop.start(entry)
    ran(entry, "planer", 100)
    await look(hass, freezer)
    assert suggested(hass) == {}


async def test_figures_are_written_as_the_language_does(
    hass: HomeAssistant, workshop: Workshop, freezer: FrozenDateTimeFactory
) -> None:
    hass.config.language = "de"
    entry = system_entry()
    await workshop.start(entry)
    ran(entry, "planer")
    await look(hass, freezer)
    placeholders = suggested(hass)["idle_system_planer"].translation_placeholders
    assert placeholders is not None
    assert placeholders["saved"] == "5,0 s"
