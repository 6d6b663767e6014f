"""A changed machine is reported, quietly and once; its texts exist."""

import asyncio
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from freezegun.api import FrozenDateTimeFactory
from homeassistant.components.recorder import Recorder
from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
from homeassistant.helpers import issue_registry as ir
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_fire_time_changed,
)

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.stored.parts import StoredMachine
from custom_components.gatewright.core.stored.table import unreadable_in
from custom_components.gatewright.features.calibration import manager
from custom_components.gatewright.features.calibration.learning_texts import CODES
from custom_components.gatewright.features.calibration.manager import (
    EVERY,
    LOOK,
    QUIET,
    DriftMonitor,
    drift_file,
    forget_drift,
    issue_of,
)
from custom_components.gatewright.features.calibration.repair import DriftFlow
from custom_components.gatewright.repairs import async_create_fix_flow
from custom_components.gatewright.runtime.entry_data import read_part

from .flow_helpers import TEXTS, gate, machine, part_named, sensed, system
from .recorded import record, saw_trace, without_engine

SAW = "sensor.saw_plug_power"


@pytest.fixture(autouse=True)
def _without_engine(recorder_mock: Recorder, hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.fixture
async def entry(hass: HomeAssistant) -> MockConfigEntry:
    """Return a system with a saw whose standby power exceeds its levels."""
    trace = saw_trace()
    await record(hass, SAW, trace.history, trace.until)
    return system(
        hass,
        parts={
            "g1": gate("Saw gate", "cover.saw"),
            "m1": machine(
                "Miter saw", "g1", **sensed(SAW, start=5.0, stop=2.5), later="kept"
            ),
            "m2": machine("Bench", "g1"),
        },
    )


@pytest.fixture
async def watch(hass: HomeAssistant, entry: MockConfigEntry) -> Any:
    """Return that system's monitor."""
    watch = DriftMonitor(hass, entry)
    await watch.start()
    yield watch
    watch.stop()


def issue(hass: HomeAssistant, entry: MockConfigEntry) -> ir.IssueEntry | None:
    return ir.async_get(hass).async_get_issue(DOMAIN, issue_of(entry, "m1"))


async def look(entry: MockConfigEntry, watch: DriftMonitor) -> None:
    await watch.look(read_part(StoredMachine, entry.subentries["m1"]))


async def repair(hass: HomeAssistant, entry: MockConfigEntry) -> DriftFlow:
    standing = issue(hass, entry)
    assert standing is not None
    flow = await async_create_fix_flow(hass, standing.issue_id, standing.data)
    assert isinstance(flow, DriftFlow)
    flow.hass, flow.issue_id = hass, standing.issue_id
    return flow


async def test_new_figures_are_reported_and_taken(
    hass: HomeAssistant, entry: MockConfigEntry, watch: DriftMonitor
) -> None:
    await look(entry, watch)
    standing = issue(hass, entry)
    assert standing is not None
    assert standing.data
    assert standing.is_fixable
    assert standing.is_persistent
    flow = await repair(hass, entry)
    shown = await flow.async_step_init()
    text = TEXTS["issues"]["levels_drifted"]["fix_flow"]["step"]["confirm"]
    said = text["description"].format_map(shown["description_placeholders"])
    assert "almost too much to count as stopped" in said
    assert "Running from 5.0 W, stopped at 2.5 W or below" in said
    new = standing.data["start"]
    assert f"Running from {new:.0f} W" in said
    assert "Miter saw" in text["title"].format_map(shown["description_placeholders"])
    done = await flow.async_step_confirm({})
    assert done["type"] is FlowResultType.CREATE_ENTRY
    data = part_named(entry, "Miter saw")[1]
    assert 3 < data["stop"] < data["start"] == new
    assert data["later"] == "kept"
    # It no longer holds: the issue is deleted.
    await look(entry, watch)
    assert issue(hass, entry) is None


async def test_a_start_that_waits_in_vain_is_reported_with_its_own_text(
    hass: HomeAssistant, entry: MockConfigEntry, watch: DriftMonitor
) -> None:
    """Version 0.1.0 learned confirmation times from short runs: they can be dropped."""
    saw = entry.subentries["m1"]
    learned_then = {"start": 210.0, "stop": 90.0, "start_settle": 10.4}
    hass.config_entries.async_update_subentry(
        entry, saw, data={**saw.data, **learned_then, "certain_level": 400.0}
    )
    await look(entry, watch)
    standing = issue(hass, entry)
    assert standing is not None
    assert standing.translation_key == "start_waits"
    flow = await repair(hass, entry)
    shown = await flow.async_step_init()
    text = TEXTS["issues"]["start_waits"]["fix_flow"]["step"]["confirm"]
    said = text["description"].format_map(shown["description_placeholders"])
    assert "delays every start" in said
    assert "confirmation 10.4 s for a start" in said
    assert "confirmation 0 s for a start" in said
    await flow.async_step_confirm({})
    data = part_named(entry, "Miter saw")[1]
    # The levels themselves still fit.
    assert (data["start"], data["stop"], data["start_settle"]) == (210.0, 90.0, 0.0)
    assert data["certain_level"] == 400.0
    await look(entry, watch)
    assert issue(hass, entry) is None


async def test_the_certain_level_is_that_of_the_new_figures(
    hass: HomeAssistant, entry: MockConfigEntry, watch: DriftMonitor
) -> None:
    for certain in (6.0, 5000.0):
        saw = entry.subentries["m1"]
        levels = {"start": 5.0, "stop": 2.5, "certain_level": certain}
        hass.config_entries.async_update_subentry(
            entry, saw, data={**saw.data, **levels}
        )
        await look(entry, watch)
        flow = await repair(hass, entry)
        await flow.async_step_confirm({})
        data = part_named(entry, "Miter saw")[1]
        assert 6 < data["start"] <= data["certain_level"] < 5000


async def test_a_certain_level_that_was_not_found_again_goes(
    hass: HomeAssistant, entry: MockConfigEntry, watch: DriftMonitor
) -> None:
    """A machine with none stored as nothing could not be read any more."""
    saw = entry.subentries["m1"]
    hass.config_entries.async_update_subentry(
        entry, saw, data={**saw.data, "certain_level": 5000.0}
    )
    await look(entry, watch)
    standing = issue(hass, entry)
    assert standing is not None
    assert standing.data
    flow = DriftFlow(entry, {**standing.data, "certain_level": None})
    flow.hass, flow.issue_id = hass, standing.issue_id
    await flow.async_step_confirm({})
    data = part_named(entry, "Miter saw")[1]
    assert "certain_level" not in data
    assert unreadable_in(StoredMachine, data) == []


async def test_it_goes_when_the_owner_has_mended_it(
    hass: HomeAssistant, entry: MockConfigEntry, watch: DriftMonitor
) -> None:
    await look(entry, watch)
    saw = entry.subentries["m1"]
    hass.config_entries.async_update_subentry(
        entry, saw, data={**saw.data, "start": 150.0, "stop": 75.0}
    )
    await look(entry, watch)
    assert issue(hass, entry) is None


async def test_a_repair_of_a_machine_that_was_changed_does_nothing(
    hass: HomeAssistant, entry: MockConfigEntry, watch: DriftMonitor
) -> None:
    await look(entry, watch)
    flow = await repair(hass, entry)
    saw = entry.subentries["m1"]
    hass.config_entries.async_update_subentry(
        entry, saw, data={**saw.data, "sensor": "sensor.other"}
    )
    ended = await flow.async_step_confirm({})
    assert ended["reason"] == "gone"
    assert "gone" in TEXTS["issues"]["levels_drifted"]["fix_flow"]["abort"]
    hass.config_entries.async_remove_subentry(entry, "m1")
    assert (await flow.async_step_init())["reason"] == "gone"
    watch.tidy()
    assert issue(hass, entry) is None


async def test_what_was_ignored_is_not_reported_again_for_a_while(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    watch: DriftMonitor,
    freezer: FrozenDateTimeFactory,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(
        "custom_components.gatewright.features.calibration.history.DAYS", 10
    )
    await look(entry, watch)
    ir.async_get(hass).async_ignore(DOMAIN, issue_of(entry, "m1"), True)
    await look(entry, watch)
    standing = issue(hass, entry)
    assert standing is not None
    assert standing.dismissed_version is not None
    # Reverted by hand, it doesn't come back at once either.
    ir.async_delete_issue(hass, DOMAIN, issue_of(entry, "m1"))
    await look(entry, watch)
    assert issue(hass, entry) is None
    freezer.tick(QUIET)
    trace = saw_trace()
    await record(hass, SAW, trace.history, trace.until)
    await look(entry, watch)
    standing = issue(hass, entry)
    assert standing is not None
    assert standing.dismissed_version is None


async def test_each_machine_is_looked_at_once_a_week_and_never_at_the_start(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    watch: DriftMonitor,
    freezer: FrozenDateTimeFactory,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    looked: list[str] = []

    async def note(self: DriftMonitor, machine: StoredMachine) -> None:
        looked.append(machine.name)

    monkeypatch.setattr(DriftMonitor, "look", note)

    async def hours(count: int) -> None:
        for _ in range(count):
            freezer.tick(LOOK + timedelta(seconds=1))
            async_fire_time_changed(hass)
            await hass.async_block_till_done()

    await hours(1)
    assert looked == []
    freezer.tick(EVERY)
    await hours(5)
    assert looked == ["Miter saw"]
    # It is remembered over a restart.
    freezer.tick(61)
    async_fire_time_changed(hass)
    await hass.async_block_till_done()
    kept = await drift_file(hass, entry).read()
    assert kept is not None
    assert kept["looked"].keys() == {"m1"}
    watch.stop()
    again = DriftMonitor(hass, entry)
    await again.start()
    await hours(3)
    assert looked == ["Miter saw"]
    freezer.tick(EVERY)
    await hours(1)
    assert looked == ["Miter saw"] * 2
    again.stop()
    await forget_drift(hass, entry)
    assert await drift_file(hass, entry).read() is None


async def test_a_history_that_cannot_tell_changes_nothing(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    watch: DriftMonitor,
    freezer: FrozenDateTimeFactory,
) -> None:
    await look(entry, watch)
    assert issue(hass, entry) is not None
    freezer.tick(timedelta(days=40))
    await look(entry, watch)
    assert issue(hass, entry) is not None
    await forget_drift(hass, entry)
    assert issue(hass, entry) is None


async def test_what_cannot_be_read_says_nothing(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    watch: DriftMonitor,
    recorder_mock: Recorder,
) -> None:
    recorder_mock.entity_filter = lambda entity_id: False
    await look(entry, watch)
    assert issue(hass, entry) is None
    recorder_mock.entity_filter = None
    saw = entry.subentries["m1"]
    # A reference to a removed entity.
    gone = {**saw.data, "sensor": "0123456789abcdef0123456789abcdef"}
    hass.config_entries.async_update_subentry(entry, saw, data=gone)
    await look(entry, watch)
    assert issue(hass, entry) is None


async def test_a_machine_removed_while_it_is_looked_at_is_not_reported(
    hass: HomeAssistant, entry: MockConfigEntry, watch: DriftMonitor
) -> None:
    saw = entry.subentries["m1"]
    hass.config_entries.async_remove_subentry(entry, "m1")
    await watch.look(read_part(StoredMachine, saw))
    assert issue(hass, entry) is None


@pytest.mark.parametrize("key", CODES)
def test_every_code_has_its_words(key: str) -> None:
    options = TEXTS["selector"][key]["options"]
    assert list(options) == [member.value for member in CODES[key]]
    assert all(options.values())


async def test_a_look_ends_with_the_watch(
    hass: HomeAssistant,
    entry: MockConfigEntry,
    watch: DriftMonitor,
    freezer: FrozenDateTimeFactory,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """It would report on a system that is gone, from a database that may be closed."""
    began, ended = asyncio.Event(), asyncio.Event()

    async def read_for_ever(*_: Any) -> None:
        began.set()
        try:
            await asyncio.Event().wait()
        finally:
            ended.set()

    monkeypatch.setattr(manager, "read_history", read_for_ever)
    for wait in (LOOK, EVERY + LOOK):
        freezer.tick(wait + timedelta(seconds=1))
        async_fire_time_changed(hass)
        await hass.async_block_till_done()
    assert began.is_set()
    watch.stop()
    await hass.async_block_till_done()
    assert ended.is_set()
