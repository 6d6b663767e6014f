"""Every text that a form needs exists, and none is left over."""

from collections.abc import Iterator
import json
from pathlib import Path
import re
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.setup import async_setup_component
import pytest
from pytest_homeassistant_custom_component.typing import ClientSessionGenerator

import custom_components.gatewright
from custom_components.gatewright.config_flow import GatewrightConfigFlow
from custom_components.gatewright.core.airflow import MATERIALS, MATERIALS_CARRIED
from custom_components.gatewright.core.commissioning.task import Ask
from custom_components.gatewright.core.config import (
    SIGNAL_LEVELS,
    CollectorConfig,
    GateConfig,
    GateKind,
    IdlePosition,
    StartWhen,
    Thresholds,
    WhenBinFull,
    WhenSensorLost,
)
from custom_components.gatewright.core.control.first_sign import (
    EARLY_SIGNAL_LASTS,
    EARLY_SIGNAL_SETTLE,
)
from custom_components.gatewright.core.control.motor_rating import POLES
from custom_components.gatewright.core.control.spin_up import DEFAULT_SPIN_UP
from custom_components.gatewright.core.kinds import (
    KIND_DEFAULTS,
    LEVEL_DEFAULTS,
    TRAVEL_DEFAULTS,
    ActuatorSort,
    MachineKind,
)
from custom_components.gatewright.core.stored.system import DischargeKind
from custom_components.gatewright.forms.flow.detection import LEVELS
from custom_components.gatewright.forms.flow.duct import (
    CONSTRUCTIONS,
    DUCT_PAGES,
    DuctFlow,
)
from custom_components.gatewright.forms.flow.gate import GATE_PAGES, GateFlow
from custom_components.gatewright.forms.flow.levels_page import LevelsPage
from custom_components.gatewright.forms.flow.levels_steps import figures_form
from custom_components.gatewright.forms.flow.machine import MACHINE_PAGES
from custom_components.gatewright.forms.flow.machine_steps import MachineFlow
from custom_components.gatewright.forms.flow.place import HOOD_CHOICES
from custom_components.gatewright.forms.flow.settings import MENU, SettingsFlow
from custom_components.gatewright.forms.flow.settings_pages import PAGES
from custom_components.gatewright.forms.flow.setup_import_steps import REVIEW
from custom_components.gatewright.forms.flow.setup_pages import (
    CollectorPage,
    GatePage,
    GatesPage,
    MachinePage,
    MachinesPage,
)
from custom_components.gatewright.forms.form import Form as FormTable

from .flow_helpers import TEXTS, Form, Hub, gate, system, without_engine

FLOWS: dict[str, Any] = {
    "config": TEXTS["config"],
    "options": TEXTS["options"],
    **TEXTS["config_subentries"],
}
COMPONENT = Path(custom_components.gatewright.__file__).parent


FORMS: dict[str, dict[str, FormTable]] = {
    "config": {
        "reconfigure": PAGES["collector"].form,
        "setup_review": REVIEW,
        **{
            page.step: page.form
            for page in (
                CollectorPage,
                MachinesPage,
                GatesPage,
                GatePage,
                MachinePage,
                LevelsPage,
            )
        },
    },
    "options": {step: page.form for step, page in PAGES.items()},
    "gate": {**GATE_PAGES},
    "machine": {**MACHINE_PAGES, "figures": figures_form("W")},
    "duct": {**DUCT_PAGES},
}
"""The form of every step that has fields."""
CHECKS = {"begin", "calibrate", "calibrate_at", "found", "presets", "setup_file"}
"""The steps without a table of fields."""
OF_THE_CHECKS = {
    "nothing_chosen",
    "walk_going",
    "walk_start_block",
    "walk_fire_shutdown",
    "walk_at_work",
    "walk_monitor_only",
    "filter_not_clean",
    "collector_stands",
    "other_gates_open",
    "not_steady",
    "no_gauge",
    "value_missing",
    "no_setup",
    "no_file",
    "setup_faults",
}
"""Their own errors."""


@pytest.mark.parametrize("flow", FLOWS)
def test_every_error_of_a_form_has_a_text_and_every_text_an_error(flow: str) -> None:
    codes = {code for form in FORMS[flow].values() for code in form.errors}
    others = OF_THE_CHECKS if flow == "options" else set()
    assert FLOWS[flow]["error"].keys() == codes | others


@pytest.mark.parametrize("flow", FLOWS)
def test_every_field_of_a_form_has_texts_and_every_text_a_field(flow: str) -> None:
    steps = FLOWS[flow]["step"]
    assert (
        FORMS[flow].keys()
        == {
            name for name, step in steps.items() if "data" in step or "sections" in step
        }
        - CHECKS
    )
    for name, form in FORMS[flow].items():
        step = steps[name]
        sections = step.get("sections", {})
        assert sections.keys() == {g.name for g in form.groups if g.collapsed}
        for group in (g for g in form.groups if g.collapsed):
            keys = {field.key for field in group.fields}
            texts = sections[group.name]
            assert texts["name"]
            assert texts["description"]
            assert texts["data"].keys() == texts["data_description"].keys() == keys
        in_view = {f.key for g in form.groups if not g.collapsed for f in g.fields}
        assert step["data"].keys() == step["data_description"].keys() == in_view


@pytest.mark.parametrize("flow", FLOWS)
def test_an_error_that_names_no_field_is_at_its_field(flow: str) -> None:
    """A section's errors are above the section, and have to name their field."""
    nameless = {
        code
        for code, text in FLOWS[flow]["error"].items()
        if text.startswith("Enter {")
    }
    assert nameless
    for form in FORMS[flow].values():
        in_sections = {
            code
            for g in form.groups
            if g.collapsed
            for f in g.fields
            for code in f.errors
        }
        assert not nameless & in_sections


@pytest.mark.parametrize("flow", FLOWS)
def test_an_error_speaks_of_nothing_but_its_own_detail(flow: str) -> None:
    for code, text in FLOWS[flow]["error"].items():
        assert set(re.findall(r"{(\w+)}", text)) <= {code}
        assert "<" not in text


@pytest.mark.parametrize("language", ["en", "de", "fr"])
@pytest.mark.parametrize("flow", ["config", "options"])
def test_titles_that_are_never_filled_in_have_no_gaps(flow: str, language: str) -> None:
    """The frontend fills in titles of forms, but not those of menus.

    With a placeholder, the page's title is an error message, and so is a log entry.
    """
    file = COMPONENT / "translations" / f"{language}.json"
    steps = json.loads(file.read_text(encoding="utf-8"))[flow]["step"]
    asked = {ask.value for ask in Ask} if flow == "options" else set()
    assert asked <= steps.keys()
    for name, step in steps.items():
        if "menu_options" in step:
            assert "{" not in step.get("title", ""), name
    for name in asked:
        # The first line says what the title can't.
        first, _, _ = steps[name]["description"].partition("\n")
        assert "**{part}**" in first, name


@pytest.mark.parametrize("flow", sorted(FLOWS.keys() - {"options"}))
def test_every_end_has_a_text(flow: str) -> None:
    """Without one, Home Assistant shows the bare code."""
    source = (COMPONENT / "forms" / "flow" / "gate.py").read_text(encoding="utf-8")
    own = set(re.findall(r'reason="(\w+)"', source)) if flow == "gate" else set()
    assert FLOWS[flow]["abort"].keys() == {"reconfigure_successful"} | own


@pytest.mark.parametrize(
    ("flow", "handler"),
    [
        ("config", GatewrightConfigFlow),
        ("options", SettingsFlow),
        ("gate", GateFlow),
        ("machine", MachineFlow),
        ("duct", DuctFlow),
    ],
)
def test_every_step_has_texts(flow: str, handler: type) -> None:
    steps = {
        name.removeprefix("async_step_")
        for owner in handler.__mro__
        if owner.__module__.startswith("custom_components.")
        for name in vars(owner)
        if name.startswith("async_step_")
    }
    # Most options of menus lead on at once, they show nothing.
    options = {
        option
        for step in FLOWS[flow]["step"].values()
        for option in step.get("menu_options", ())
    }
    # The system check shows its progress, and continues from there.
    options |= {"moving", "onward"} if flow == "options" else set()
    assert steps - options <= FLOWS[flow]["step"].keys() <= steps
    assert options <= steps


def test_every_choice_has_texts() -> None:
    for key, words in (
        ("gate_kind", GateKind),
        ("actuator_sort", ActuatorSort),
        ("start_when", StartWhen),
        ("kind", MachineKind),
        ("on_lost", WhenSensorLost),
        ("rest", IdlePosition),
        ("bin_answer", WhenBinFull),
        ("motor_poles", [str(poles) for poles in POLES]),
        ("duct_material", MATERIALS),
        ("elbow_construction", CONSTRUCTIONS),
        ("hood", HOOD_CHOICES),
        ("discharge", DischargeKind),
        ("carried", MATERIALS_CARRIED),
    ):
        assert list(TEXTS["selector"][key]["options"]) == list(words)


def test_subentries_have_names() -> None:
    for kind in ("gate", "machine", "duct"):
        texts = TEXTS["config_subentries"][kind]
        assert texts["entry_type"]
        assert texts["initiate_flow"].keys() == {"user", "reconfigure"}


def test_the_first_page_says_what_gatewright_is_not() -> None:
    description = TEXTS["config"]["step"]["user"]["description"]
    assert "not a safety device" in description
    assert "electrician" in description


def test_the_usual_values_that_texts_name_are_those_of_the_code() -> None:
    timing = TEXTS["options"]["step"]["timing"]
    collector = CollectorConfig(name="")
    for field, usual in (
        ("run_on", collector.shutoff_delay),
        ("coast", collector.spin_down),
        ("confirm", collector.confirm),
    ):
        assert f"Leave empty for {usual:g} s." in timing["data_description"][field]
    assert f"{DEFAULT_SPIN_UP:g} s" in timing["data_description"]["spin_up"]
    gate_texts = TEXTS["config_subentries"]["gate"]["step"]["user"]
    air, servo, motor, other = (TRAVEL_DEFAULTS[sort] for sort in ActuatorSort)
    usual_travel = (
        f"compressed air {air:g} s, servo {servo:g} s, "
        f"motor {motor:g} s, other {other:g} s."
    )
    sections = TEXTS["config"]["step"]["gates"]["sections"]
    page = sections["other_gates"]["data_description"]
    for texts in (gate_texts["data_description"], page):
        assert usual_travel in texts["actuator_sort"]
    assert GateConfig(gate_id="", name="").travel == other

    pages = TEXTS["config_subentries"]["machine"]["step"]
    detection = pages["detection"]["data_description"]
    for field, watts, amperes in zip(
        LEVELS, LEVEL_DEFAULTS["W"], LEVEL_DEFAULTS["A"], strict=True
    ):
        assert f"Leave empty for {watts:g} W or {amperes:g} A." in detection[field]
    levels = Thresholds(start=1, stop=0)
    assert f"Leave empty for {levels.stop_confirm:g} s" in detection["stop_settle"]
    assert f"Leave empty for {levels.dropout:g} s" in detection["grace"]
    assert f"Leave empty for {levels.start_confirm:g} s" in detection["start_settle"]
    ahead = pages["more"]["data_description"]["foretold"]
    assert f"after {EARLY_SIGNAL_SETTLE:g} s" in ahead
    assert f"at most {EARLY_SIGNAL_LASTS / 60:g} minutes" in ahead
    assert (
        f"or {SIGNAL_LEVELS.stop_confirm:g} s with an on/off sensor."
        in detection["stop_settle"]
    )
    # What a new machine gets is tested with the machine's form.
    assert "Leave empty for 15 min" in detection["silence"]
    purge = {defaults.purge for defaults in KIND_DEFAULTS.values()}
    assert purge == {5.0}
    assert (
        pages["afterwards"]["data_description"]["clearing_1_time"]
        == "Leave empty for 5 s."
    )


@pytest.fixture
def _engine_left_out(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


async def test_forms_travel_to_the_browser_and_back(
    hass: HomeAssistant, hass_client: ClientSessionGenerator
) -> None:
    hub = Hub(hass)
    hub.add("switch.collector", "Collector")
    hub.plug("Planer plug")
    hub.damper("Planer gate actuator")
    assert await async_setup_component(hass, "config", {})
    # Once a client exists, no release accepts further views of an integration.
    assert await async_setup_component(hass, "gatewright", {})
    client = await hass_client()
    address = "/api/config/config_entries/flow"

    async def post(path: str, body: dict[str, Any]) -> dict[str, Any]:
        response = await client.post(path, data=json.dumps(body))
        assert response.status == 200, await response.text()
        answer: dict[str, Any] = await response.json()
        return answer

    shown = await post(address, {"handler": "gatewright"})
    by_name = {field["name"]: field for field in shown["data_schema"]}
    assert not by_name["more"]["expanded"]
    assert by_name["switch"]["selector"]["entity"]["include_entities"] == [
        "switch.collector",
        "switch.planer_plug",
    ]
    flow = f"{address}/{shown['flow_id']}"
    more = {"more": {"hide_wrapped": True}}
    shown = await post(flow, {"name": "", "switch": "switch.collector"} | more)
    assert shown["errors"] == {"name": "name_missing"}
    await post(flow, {"name": "Shop", "switch": "switch.collector"} | more)
    await post(flow, {"machines": ["sensor.planer_plug_power"]})
    shown = await post(
        flow,
        {
            "gates": ["cover.planer_gate_actuator"],
            "other_gates": {"ask_positions": False, "open_inlets": ["Shop", "shop"]},
        },
    )
    assert shown["errors"] == {"other_gates": "name_used"}
    section = next(
        field for field in shown["data_schema"] if field["name"] == "other_gates"
    )
    assert section["expanded"] is True
    await post(
        flow,
        {
            "gates": ["cover.planer_gate_actuator"],
            "other_gates": {"ask_positions": False},
        },
    )
    done = await post(flow, {"name": "Planer", "kind": "planer"} | {"gates": []})
    assert done["errors"] == {"gates": "machine_without_gates"}
    gates = next(field for field in done["data_schema"] if field["name"] == "gates")
    gate_id = gates["selector"]["select"]["options"][0]["value"]
    done = await post(flow, {"name": "Planer", "kind": "planer", "gates": [gate_id]})
    assert done["type"] == "create_entry"

    entry_id = done["result"]["entry_id"]
    assert done["result"]["state"] == "loaded"
    hub.add("sensor.line", "Line pressure", "6", unit="bar")
    address = "/api/config/config_entries/options/flow"
    shown = await post(address, {"handler": entry_id})
    assert shown["menu_options"] == list(MENU)
    assert shown["description_placeholders"]["watching_mark"] == ""
    settings = f"{address}/{shown['flow_id']}"
    shown = await post(settings, {"next_step_id": "watching"})
    watch = {field["name"]: field for field in shown["data_schema"]}
    assert watch["air_supply"]["selector"]["entity"]["include_entities"] == [
        "sensor.line"
    ]
    limit = watch["air_supply_low"]["selector"]["number"]
    assert (limit["min"], limit["unit_of_measurement"]) == (0.5, "bar")
    assert shown["description_placeholders"]["usual_air_supply_low"] == "4 bar"
    shown = await post(settings, {"air_supply": "sensor.line", "watch_only": False})
    assert shown["description_placeholders"]["watching_mark"] == "✓"
    for page, answer in (
        ("motor", {"motor_rating": 3, "motor_phases": "three", "motor_poles": "2"}),
        ("bin", {"bin_answer": "warn", "bin_volume": 120}),
        ("service", {"services": ["Belt 200 h"]}),
    ):
        await post(settings, {"next_step_id": page})
        shown = await post(settings, answer)
        assert shown["step_id"] == "init"
        assert shown["description_placeholders"][f"{page}_mark"] == "✓"
    await post(settings, {"next_step_id": "airflow"})
    await post(settings, {"next_step_id": "fan"})
    shown = await post(settings, {"free_flow": 1700, "max_suction": 2500})
    assert shown["description_placeholders"]["airflow_mark"] == "✓"
    done = await post(settings, {"next_step_id": "done"})
    assert done["type"] == "create_entry"
    entry = hass.config_entries.async_get_entry(entry_id)
    assert entry
    assert entry.data["motor_rating"] == 3000.0
    assert entry.data["air_supply_low"] == 400_000.0

    address = "/api/config/config_entries/subentries/flow"
    shown = await post(address, {"handler": [entry_id, "machine"]})
    flow = f"{address}/{shown['flow_id']}"
    answer = {"name": "Bench", "gates": [], "find_levels": True}
    shown = await post(flow, answer)
    assert shown["errors"] == {"gates": "machine_without_gates"}
    done = await post(flow, answer | {"gates": [gate_id]})
    assert done["type"] == "create_entry"


@pytest.mark.usefixtures("_engine_left_out")
async def test_domain_wide_forms_open_for_a_system(hass: HomeAssistant) -> None:
    entry = system(hass, parts={"g1": gate("Planer gate", "cover.planer")})
    assert GatewrightConfigFlow.async_get_supported_subentry_types(entry) == {
        "gate": GateFlow,
        "machine": MachineFlow,
        "duct": DuctFlow,
    }
    assert entry.supports_reconfigure
    form = await Form(hass, entry).part("machine")
    assert form.step == "user"
