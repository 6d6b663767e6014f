"""A release of Home Assistant that changed an unstable part: a repair, and everything else works."""

import logging
from pathlib import Path
import re
from typing import Any

from homeassistant.components.homeassistant.exposed_entities import (
    async_expose_entity,
    async_should_expose,
)
from homeassistant.components.recorder import Recorder, db_schema
from homeassistant.core import HomeAssistant
from homeassistant.helpers import issue_registry as ir
from homeassistant.setup import async_setup_component
import pytest

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.features.calibration.history import (
    NoHistory,
    read_history,
)

from .test_voice import say
from .workshop import COLLECTOR, SAW_POWER, Workshop, change_system, system_entry

COMPONENT = Path(__file__).parents[2] / "custom_components" / "gatewright"
EXPOSED = "homeassistant.components.homeassistant.exposed_entities"
AGENT = "homeassistant.components.conversation.agent_manager"


def repair(hass: HomeAssistant, part: str) -> ir.IssueEntry | None:
    """Return the repair of a part that changed."""
    return ir.async_get(hass).async_get_issue(DOMAIN, f"internal_{part}")


def complaints(caplog: pytest.LogCaptureFixture) -> list[str]:
    """Return the logged warnings and errors, by us or about us."""
    return [
        record.getMessage()
        for record in caplog.records
        if record.levelno >= logging.WARNING
        and not record.name.startswith("homeassistant.loader")
        and "zlib" not in record.getMessage()
    ]


async def listening(hass: HomeAssistant) -> None:
    """Set up what a Home Assistant with an assistant has."""
    for component in ("homeassistant", "intent", "conversation"):
        assert await async_setup_component(hass, component, {})


async def works(workshop: Workshop) -> None:
    """Check that the shop still works, whatever the assistant does."""
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(12)
    assert workshop.state(COLLECTOR) == "on"


@pytest.mark.parametrize("change", ["gone", "takes something else"])
async def test_an_agent_that_changed(
    hass: HomeAssistant,
    workshop: Workshop,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    change: str,
) -> None:
    if change == "gone":
        monkeypatch.delattr(f"{AGENT}.get_agent_manager")
    else:
        monkeypatch.setattr(f"{AGENT}.AgentManager.register_trigger", lambda _: None)
    caplog.clear()
    await listening(hass)
    await workshop.start(system_entry())
    issue = repair(hass, "sentences")
    assert issue is not None
    assert issue.translation_key == "internal_sentences"
    assert issue.translation_placeholders is not None
    assert re.match(r"(Import|Type)Error: ", issue.translation_placeholders["error"])
    assert complaints(caplog) == []
    await works(workshop)


async def test_an_agent_as_it_is_raises_no_repair(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    # The repair from an earlier release is deleted.
    ir.async_create_issue(
        hass,
        DOMAIN,
        "internal_sentences",
        is_fixable=False,
        severity=ir.IssueSeverity.WARNING,
        translation_key="internal_sentences",
    )
    await listening(hass)
    await workshop.start(system_entry())
    assert repair(hass, "sentences") is None
    assert repair(hass, "exposure") is None


async def test_exposure_that_moved(
    hass: HomeAssistant, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was hidden is restored once that is possible again."""
    await listening(hass)
    async_expose_entity(hass, "cloud.alexa", COLLECTOR, True)
    entry = system_entry()
    with monkeypatch.context() as patched:
        patched.delattr(f"{EXPOSED}.async_get_entity_settings")
        patched.delattr("homeassistant.components.homeassistant.async_should_expose")
        await workshop.start(entry)
        issue = repair(hass, "exposure")
        assert issue is not None
        assert issue.severity is ir.IssueSeverity.WARNING
        # Nobody gets an answer without certain rights.
        assert "Dust collector" not in (await say(hass, "who has air"))[1]
        await works(workshop)
    assert async_should_expose(hass, "cloud.alexa", COLLECTOR)
    assert await hass.config_entries.async_reload(entry.entry_id)
    await hass.async_block_till_done()
    # One use works again; the repair stays until the other does.
    assert repair(hass, "exposure") is not None
    await say(hass, "who has air")
    assert repair(hass, "exposure") is None
    assert not async_should_expose(hass, "cloud.alexa", COLLECTOR)

    with monkeypatch.context() as patched:
        patched.delattr(f"{EXPOSED}.async_expose_entity")
        change_system(hass, entry, hide_wrapped=False)
        await hass.async_block_till_done()
        assert repair(hass, "exposure") is not None
    assert not async_should_expose(hass, "cloud.alexa", COLLECTOR)
    change_system(hass, entry, hide_wrapped=True)
    await hass.async_block_till_done()
    change_system(hass, entry, hide_wrapped=False)
    await hass.async_block_till_done()
    assert async_should_expose(hass, "cloud.alexa", COLLECTOR)
    assert repair(hass, "exposure") is None


@pytest.mark.parametrize("what", ["RecorderRuns", "RecorderRuns.end"])
async def test_a_recorder_whose_tables_changed(
    recorder_mock: Recorder,
    hass: HomeAssistant,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    what: str,
) -> None:
    class Other:
        """A table with other columns."""

    caplog.clear()
    with monkeypatch.context() as patched:
        if what == "RecorderRuns":
            patched.delattr(db_schema, what)
        else:
            patched.setattr(db_schema, "RecorderRuns", Other)
        assert await read_history(hass, SAW_POWER, "W") is NoHistory.UNREADABLE
    issue = repair(hass, "recorder")
    assert issue is not None
    assert issue.translation_placeholders is not None
    assert "RecorderRuns" in issue.translation_placeholders["error"] or (
        "Other" in issue.translation_placeholders["error"]
    )
    assert complaints(caplog) == []
    found: Any = await read_history(hass, SAW_POWER, "W")
    assert isinstance(found, list)
    assert repair(hass, "recorder") is None


def test_each_part_is_used_in_one_module() -> None:
    used = {
        r"agent_manager": "runtime/internals/sentence_triggers.py",
        r"async_should_expose|exposed_entities|DATA_EXPOSED": "runtime/internals/exposure.py",
        r"db_schema|session_scope": "runtime/internals/recorder_runs.py",
    }
    for pattern, module in used.items():
        found = {
            path.relative_to(COMPONENT).as_posix()
            for path in COMPONENT.rglob("*.py")
            if re.search(pattern, path.read_text("utf-8"))
        }
        assert found == {module}, pattern
