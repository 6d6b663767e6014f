"""The simulated last week, requested from a machine's form."""

from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.data_entry_flow import FlowResultType
import pytest
from pytest_homeassistant_custom_component.common import (
    MockConfigEntry,
    async_capture_events,
)
from pytest_homeassistant_custom_component.components.recorder.common import (
    async_wait_recording_done,
)

from custom_components.gatewright.core.config import ConfigError
from custom_components.gatewright.forms.entity_usage import EntityUsage
from custom_components.gatewright.forms.field import FormContext
from custom_components.gatewright.forms.flow import simulate_steps

from .flow_helpers import Form
from .workshop import (
    PLANER_POWER,
    SAW_POWER,
    Workshop,
    machine,
    standard_parts,
    system_entry,
)

ROUTER_POWER = "sensor.router_plug_power"


def complete(name: str) -> Any:
    """Return a machine of the workshop as its form would have stored it."""
    sensor = {"Table saw": SAW_POWER, "Planer": PLANER_POWER}[name]
    gates = {"Table saw": ["saw_gate"], "Planer": ["planer_gate"]}[name]
    return machine(
        name.rsplit(maxsplit=1)[-1].lower(),
        name,
        gates=gates,
        sensor=sensor,
        clearing=[],
        companions=[],
    )


@pytest.fixture
async def entry(
    recorder_mock: Any, hass: HomeAssistant, workshop: Workshop
) -> MockConfigEntry:
    """Return a system with a little recorded work."""
    workshop.watts(ROUTER_POWER, 1)
    entry = system_entry(
        [*standard_parts()[:3], complete("Table saw"), complete("Planer")]
    )
    await workshop.start(entry)
    for sensor in (SAW_POWER, ROUTER_POWER, ROUTER_POWER):
        workshop.watts(sensor, 900)
        await workshop.pass_time(20)
        workshop.watts(sensor, 3)
        await workshop.pass_time(30, 1)
    await async_wait_recording_done(hass)
    return entry


async def shown(form: Form) -> Form:
    """Wait until a simulation has finished and its result is displayed."""
    assert _goes_on(form)
    assert form.texts["progress"][form.result["progress_action"]]
    while _goes_on(form):
        await form.hass.async_block_till_done()
        form.result = await form.manager.async_configure(form.result["flow_id"])
    form._check()
    return form


def said(form: Form) -> str:
    """Return the text of the present step."""
    text: str = form.texts["step"][form.step]["description"]
    return text.format_map(form.result["description_placeholders"])


async def test_a_changed_machine(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    progress = async_capture_events(hass, "data_entry_flow_progress_update")
    form = await Form(hass, entry).part("machine", "saw")
    await form.send(start=200)
    form = await Form(hass, entry).part("machine", "saw", "afterwards")
    await form.send(simulate=True, hold=31)
    await shown(form)
    assert form.step == "simulated"
    text = said(form)
    assert "| Table saw: runs | 1 |" in text
    assert "| Collector starts | 1 | 1 |" in text
    assert "**21 s**" in text or "**20 s**" in text or "**23 s**" in text
    marks = form.result["description_placeholders"]["chart"].splitlines()
    assert len(marks) in (2, 3)
    assert sum(line.count("▁") for line in marks) == 1
    assert all(0 <= event.data["progress"] <= 1 for event in progress)
    assert len(progress) > 3
    await form.send()
    assert form.step == "afterwards"
    assert form.values["simulate"] is False
    assert form.values["hold"] == 31
    assert entry.subentries["saw"].data["hold"] == 0
    await form.send()
    assert form.ended == "reconfigure_successful"
    assert entry.subentries["saw"].data["hold"] == 31
    assert "simulate" not in entry.subentries["saw"].data


async def test_a_new_machine(hass: HomeAssistant, entry: MockConfigEntry) -> None:
    form = await Form(hass, entry).part("machine")
    await form.send(
        simulate=True, name="Router", sensor=ROUTER_POWER, gates=["sweep_gate"]
    )
    await shown(form)
    text = said(form)
    assert "| Router: runs | 2 |" in text
    assert "| Collector starts | 3 | 1 |" in text
    assert "| Router: with dust collection | 8" in text
    assert all(part.title != "Router" for part in entry.subentries.values())
    await form.send()
    assert form.step == "user"
    assert form.values["name"] == "Router"
    await form.send()
    assert form.result["type"] is FlowResultType.CREATE_ENTRY
    assert form.result["title"] == "Router"


async def test_what_cannot_be_shown_is_said_at_the_box(
    hass: HomeAssistant, workshop: Workshop, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine")
    await form.send(simulate=True, name="Bench", gates=["sweep_gate"])
    assert form.errors == {"simulate": "simulate_without_sensor"}
    assert form.values["name"] == "Bench"
    workshop.put("binary_sensor.new_lathe", "off")
    await form.send(simulate=True, sensor="binary_sensor.new_lathe")
    await shown(form)
    assert form.errors == {"simulate": "simulate_machine_not_recorded"}
    assert form.said
    await form.send()
    assert form.result["type"] is FlowResultType.CREATE_ENTRY


async def test_settings_that_cannot_work_are_said_at_the_box(
    hass: HomeAssistant, entry: MockConfigEntry, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The form rejects the known ones; this is for the others."""
    progress = async_capture_events(hass, "data_entry_flow_progress_update")

    async def refuse(*args: Any) -> Any:
        tell = args[-1]
        tell(0.001)
        raise ConfigError([])

    monkeypatch.setattr(simulate_steps, "simulate_system", refuse)
    form = await Form(hass, entry).part("machine", "saw", "afterwards")
    await form.send(simulate=True)
    assert form.step == "afterwards"
    assert form.errors == {"simulate": "simulate_bad_settings"}
    assert form.said
    # Too small a step for a message.
    assert not progress


async def test_without_a_recorder_there_is_nothing_to_simulate(
    hass: HomeAssistant,
) -> None:
    context = FormContext(hass=hass, claims=EntityUsage(hass))
    assert not simulate_steps.SIMULATE.is_there(context)


async def test_a_form_that_is_closed_gives_the_simulation_up(
    hass: HomeAssistant, entry: MockConfigEntry
) -> None:
    form = await Form(hass, entry).part("machine", "saw", "detection")
    manager = form.manager
    form.result = await manager.async_configure(
        form.result["flow_id"],
        {**form.values, "simulate": True},
    )
    assert form.result["type"] is FlowResultType.SHOW_PROGRESS
    manager.async_abort(form.result["flow_id"])
    await hass.async_block_till_done()
    assert form.result["flow_id"] not in {
        flow["flow_id"] for flow in manager.async_progress()
    }


def _goes_on(form: Form) -> bool:
    return bool(form.result["type"] is FlowResultType.SHOW_PROGRESS)
