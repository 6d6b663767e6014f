"""A form can be cut into pages, each validated together with the others."""

from collections.abc import Iterator
from typing import Any

from homeassistant.core import HomeAssistant
import pytest

from custom_components.gatewright.features.airflow.readable_config import readable_data
from custom_components.gatewright.forms.entity_usage import ROLES, EntityUsage
from custom_components.gatewright.forms.field import FormContext
from custom_components.gatewright.forms.flow.collector import COLLECTOR
from custom_components.gatewright.forms.flow.duct import DUCT
from custom_components.gatewright.forms.flow.gate import GATE
from custom_components.gatewright.forms.flow.machine import MACHINE
from custom_components.gatewright.forms.flow.maintenance import (
    BIN_GROUP,
    CLEANING_GROUP,
)
from custom_components.gatewright.forms.flow.part_steps import gate_names
from custom_components.gatewright.forms.form import Form
from custom_components.gatewright.forms.kinds import EntityField

from .flow_helpers import Hub, gate, system, without_engine

KEPT: dict[str, Any] = {
    "later": "kept",
    "bin_full": "binary_sensor.full",
    "bin_answer": "finish",
    "filter_hours": 40.0,
    "motor_rating": 3000.0,
    "motor_phases": "three",
    "motor_poles": 2,
    "rest_time": 7.0,
    "starts_per_hour": 6.0,
}


@pytest.fixture(autouse=True)
def _without_engine(hass: HomeAssistant) -> Iterator[None]:
    hub = Hub(hass)
    hub.add("switch.collector", "Collector")
    hub.add("binary_sensor.full", "Full", device_class="problem")
    with without_engine(hass):
        yield


def _opened(hass: HomeAssistant, form: Form, **data: Any) -> FormContext:
    parts = {"g1": gate("Saw gate", "cover.saw")}
    entry = system(hass, parts=parts, **KEPT | {"hand_gates": ["g1"]} | data)
    return form.begun(
        FormContext(
            hass=hass,
            claims=EntityUsage(hass, entry),
            entry=entry,
            name=entry.title,
            new=False,
            stored=readable_data(entry),
            part_names=gate_names(entry),
        )
    )


def _keys(form: Form, context: FormContext) -> set[str]:
    return {str(marker) for marker in form.show(context)["data_schema"].schema}


@pytest.mark.parametrize("number", range(len(COLLECTOR.groups)))
def test_any_group_is_a_page_that_leaves_the_rest(
    hass: HomeAssistant, number: int
) -> None:
    """Saved as displayed, it stores what was stored."""
    group = COLLECTOR.groups[number]
    page = COLLECTOR.cut(group)
    context = _opened(hass, page)
    shown = {
        field.key: value
        for field in group.fields
        if (value := context.shown[field.key]) is not None
    }
    assert _keys(page, context) == (
        {group.name} if group.collapsed else {field.key for field in group.fields}
    )
    answers = page.read(context, shown)
    assert not answers.mistakes
    assert answers.name == "Dust collector"
    stored = context.system.data
    assert page.merged(stored, answers.data) == dict(stored)


def test_a_page_is_judged_with_what_the_others_hold(hass: HomeAssistant) -> None:
    page = COLLECTOR.cut(BIN_GROUP)
    # Twenty percent more need a known bin: the sensor of another page counts.
    answers = page.read(_opened(hass, page), {"bin": {"bin_usual": 60}})
    assert not answers.mistakes
    assert answers.data["bin_usual"] == 60.0
    assert answers.data["rest_time"] == 7.0


def test_what_is_wrong_on_another_page_is_said_for_the_whole_page(
    hass: HomeAssistant,
) -> None:
    page = COLLECTOR.cut(CLEANING_GROUP)
    context = _opened(hass, page, confirm=0)
    answers = page.read(context, {"filter_cleaning": {"cleaning_times": 0}})
    errors: dict[str, Any] = {**answers.mistakes.errors}
    assert errors == {
        "filter_cleaning": ["bad_cleaning_times", "cleaning_missing"],
    }
    shown = page.show(context, {"filter_cleaning": {}}, answers.mistakes)
    section = shown["data_schema"].schema["filter_cleaning"]
    assert section.options == {"collapsed": False}


def test_every_entity_is_known_by_the_role_that_its_picker_is_for() -> None:
    """The uses are found in stored data, where there are no pickers."""
    assert {
        field.key: field.pick.role
        for form in (COLLECTOR, GATE, MACHINE, DUCT)
        for field in form.fields
        if isinstance(field, EntityField)
    } == ROLES
