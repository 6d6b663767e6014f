"""An offline or disabled entity, as the owner sees it."""

from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers import entity_registry as er, issue_registry as ir
from homeassistant.helpers.translation import async_get_translations
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.runtime.alarm_issues import FIXABLE
from custom_components.gatewright.texts.alarm_texts import alarm_text

from .test_alarms import issues, post
from .workshop import (
    COLLECTOR,
    PLANER_GATE,
    SAW_GATE,
    SAW_POWER,
    Workshop,
    gate,
    machine,
    standard_parts,
    system_entry,
)

PROBLEM = "binary_sensor.saw_gate_problem"
ALARMS = "binary_sensor.dust_collector_problem"


async def test_gate_that_is_offline_while_its_machine_runs(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    assert await async_setup_component(hass, "repairs", {})
    await workshop.start(system_entry())
    await workshop.pass_time(60, 5)
    workshop.saw_gate.become(available=False)
    await workshop.pass_time(5)
    # Nothing needs it yet.
    assert workshop.state(PROBLEM) == "off"
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(2)
    assert workshop.state(PROBLEM) == "on"
    assert workshop.attribute(PROBLEM, "messages") == ["Saw gate is offline"]
    issue = issues(hass)["alarm_gate_offline"]
    client = await hass_client()
    fix = {"handler": DOMAIN, "issue_id": issue.issue_id}
    flow = await post(client, "/api/repairs/issues/fix", fix)
    again = await post(client, f"/api/repairs/issues/fix/{flow['flow_id']}", {})
    assert again["type"] == "form"
    assert again["errors"] == {"base": "still_offline"}
    assert again["description_placeholders"]["part"] == "Saw gate"
    assert "alarm_gate_offline" in issues(hass)
    workshop.saw_gate.become(available=True)
    await workshop.pass_time(4)
    assert issues(hass) == {}
    assert workshop.state("binary_sensor.table_saw_collecting") == "on"


@pytest.mark.parametrize("language", ["en", "de", "fr"])
async def test_only_a_repair_speaks_of_submitting(
    hass: HomeAssistant, workshop: Workshop, language: str
) -> None:
    """A phone's message has nothing to submit; the paragraph would puzzle there."""
    await workshop.start(system_entry())
    texts = await async_get_translations(hass, language, "issues", {DOMAIN})
    submits = {"en": "Submit", "de": "„OK“ drücken", "fr": "Validez"}[language]
    for kind in FIXABLE:
        key = f"component.{DOMAIN}.issues.alarm_{kind}.fix_flow.step.confirm"
        *_, last = texts[f"{key}.description"].split("\n\n")
        assert last.startswith(submits), kind
        reported = alarm_text(
            hass, kind, {"part": "A", "system": "B", "detail": "C"}, language
        )
        assert submits not in reported.description, kind
        assert reported.description.count("\n\n") == 1, kind


async def test_a_repair_whose_cause_stays_is_not_called_done(
    hass: HomeAssistant, workshop: Workshop, hass_client: ClientSessionGenerator
) -> None:
    """The breaker is tripped: on by its switch, and without power."""
    assert await async_setup_component(hass, "repairs", {})
    power = "sensor.collector_power"
    workshop.watts(power, 0)
    await workshop.start(system_entry(power=power))
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(25)
    issue = issues(hass)["alarm_collector_not_starting"]
    client = await hass_client()
    fix = {"handler": DOMAIN, "issue_id": issue.issue_id}
    flow = await post(client, "/api/repairs/issues/fix", fix)
    done = await post(client, f"/api/repairs/issues/fix/{flow['flow_id']}", {})
    assert (done["type"], done["reason"]) == ("abort", "tried_again")
    assert "alarm_collector_not_starting" in issues(hass)


def registered(hass: HomeAssistant, domain: str, name: str) -> er.RegistryEntry:
    owner = MockConfigEntry(domain="plugs")
    owner.add_to_hass(hass)
    return er.async_get(hass).async_get_or_create(
        domain, "plugs", name, suggested_object_id=name, config_entry=owner
    )


def disabled_issues(hass: HomeAssistant) -> list[Any]:
    return [
        issue.translation_placeholders
        for (domain, issue_id), issue in ir.async_get(hass).issues.items()
        if domain == DOMAIN and issue_id.startswith("disabled_")
    ]


async def test_disabled_sensor_is_reported_once_as_disabled(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    sensor = registered(hass, "sensor", "saw_meter")
    parts = [part for part in standard_parts() if part.get("subentry_id") != "saw"]
    parts.append(machine("saw", "Table saw", gates=["saw_gate"], sensor=sensor.id))
    workshop.watts(sensor.entity_id, 3)
    await workshop.start(system_entry(parts))
    registry = er.async_get(hass)
    registry.async_update_entity(
        sensor.entity_id, disabled_by=er.RegistryEntryDisabler.USER
    )
    hass.states.async_remove(sensor.entity_id)
    await workshop.pass_time(120, 5)
    assert workshop.attribute(ALARMS, "alarms") == []
    assert disabled_issues(hass) == [
        {
            "entity": "sensor.saw_meter",
            "entity_id": "sensor.saw_meter",
            "name": "Table saw",
            "system": "Dust collector",
        }
    ]
    registry.async_update_entity(sensor.entity_id, disabled_by=None)
    await workshop.pass_time(1)
    assert disabled_issues(hass) == []
    # Enabled and still without a reading: now it's lost.
    await workshop.pass_time(70, 5)
    assert workshop.attribute(ALARMS, "alarms") == ["reading_lost"]


async def test_disabled_gate_is_no_gate_that_is_offline(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    relay = registered(hass, "switch", "saw_gate_relay")
    parts = [part for part in standard_parts() if part.get("subentry_id") != "saw_gate"]
    parts.append(gate("saw_gate", "Saw gate", actuator=relay.id))
    er.async_get(hass).async_update_entity(
        relay.entity_id, disabled_by=er.RegistryEntryDisabler.USER
    )
    await workshop.start(system_entry(parts))
    await workshop.pass_time(70, 5)
    workshop.watts(SAW_POWER, 1400)
    await workshop.pass_time(120, 5)
    alarms = workshop.attribute(ALARMS, "alarms")
    # That the saw runs without it is still reported.
    assert alarms == ["no_gate_open"]
    assert [issue["name"] for issue in disabled_issues(hass)] == ["Saw gate"]


async def test_only_open_gate_closed_by_hand_in_home_assistant(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await workshop.start(system_entry(hand_gates=["saw_gate"]))
    await workshop.saw_runs()
    await workshop.pass_time(15)
    workshop.calls.clear()
    workshop.saw_gate.by_hand(is_closed=True)
    await workshop.pass_time(3)
    sent = workshop.sent()
    assert ("open_cover", SAW_GATE) not in sent
    assert ("turn_off", COLLECTOR) not in sent
    assert any(entity_id == PLANER_GATE for _, entity_id in sent)
    assert workshop.attribute(PROBLEM, "messages") == [
        "Saw gate was moved while in use"
    ]
