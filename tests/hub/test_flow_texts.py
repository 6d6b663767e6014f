"""Every text that a form needs is there, and none is left over."""

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
from custom_components.gatewright.airflow import MATERIALS, MATERIALS_CARRIED
from custom_components.gatewright.config_flow import GatewrightConfigFlow
from custom_components.gatewright.flow.collector import COLLECTOR
from custom_components.gatewright.flow.detection import LEVELS
from custom_components.gatewright.flow.duct import CONSTRUCTIONS, DUCT, DuctFlow
from custom_components.gatewright.flow.found import figures_form
from custom_components.gatewright.flow.gate import GATE, GateFlow
from custom_components.gatewright.flow.machine import MACHINE
from custom_components.gatewright.flow.machines import MachineFlow
from custom_components.gatewright.flow.pages import (
    CollectorPage,
    GatePage,
    GatesPage,
    LevelsPage,
    MachinePage,
    MachinesPage,
)
from custom_components.gatewright.flow.place import HOOD_CHOICES
from custom_components.gatewright.forms.form import Form as FormTable
from custom_components.gatewright.shop.commissioning.task import Ask
from custom_components.gatewright.shop.first_sign import (
    FORETOLD_LASTS,
    FORETOLD_SETTLE,
)
from custom_components.gatewright.shop.kinds import (
    KIND_DEFAULTS,
    LEVEL_DEFAULTS,
    TRAVEL_DEFAULTS,
    ActuatorSort,
    MachineKind,
)
from custom_components.gatewright.shop.motor_rating import POLES
from custom_components.gatewright.shop.plan import (
    SIGNAL_LEVELS,
    BinAnswer,
    Collector,
    Gate,
    GateKind,
    Levels,
    OnLost,
    Rest,
    StartWhen,
)
from custom_components.gatewright.shop.spin_up import DEFAULT_SPIN_UP
from custom_components.gatewright.stored.system import DischargeKind

from .flow_helpers import TEXTS, Form, Hub, gate, system, without_engine

FLOWS: dict[str, Any] = {
    "config": TEXTS["config"],
    **TEXTS["config_subentries"],
}
COMPONENT = Path(custom_components.gatewright.__file__).parent


FORMS: dict[str, dict[str, FormTable]] = {
    "config": {
        "reconfigure": COLLECTOR,
        "user": CollectorPage.form,
        **{
            page.step: page.form
            for page in (MachinesPage, GatesPage, GatePage, MachinePage, LevelsPage)
        },
    },
    "gate": {
        "user": GATE,
        # Which machines it is for is asked of a new gate only.
        "reconfigure": GATE.cut(*(g for g in GATE.groups if g.name != "users")),
    },
    "machine": {
        "user": MACHINE,
        "reconfigure": MACHINE,
        "figures": figures_form("W"),
    },
    "duct": {"user": DUCT, "reconfigure": DUCT},
}
"""The form of every step that has fields."""


@pytest.mark.parametrize("flow", FLOWS)
def test_every_error_of_a_form_has_a_text_and_every_text_an_error(flow: str) -> None:
    codes = {code for form in FORMS[flow].values() for code in form.errors}
    assert FLOWS[flow]["error"].keys() == codes


@pytest.mark.parametrize("flow", FLOWS)
def test_every_field_of_a_form_has_texts_and_every_text_a_field(flow: str) -> None:
    steps = FLOWS[flow]["step"]
    assert FORMS[flow].keys() == {
        name for name, step in steps.items() if "data" in step or "sections" in step
    }
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
def test_an_error_speaks_of_nothing_but_its_own_detail(flow: str) -> None:
    for code, text in FLOWS[flow]["error"].items():
        assert set(re.findall(r"{(\w+)}", text)) <= {code}
        assert "<" not in text


@pytest.mark.parametrize("language", ["en", "de", "fr"])
@pytest.mark.parametrize("flow", ["config", "options"])
def test_titles_that_are_never_filled_in_have_no_gaps(flow: str, language: str) -> None:
    """The frontend fills in titles of forms, but not those of menus.

    With a gap the page's title is an error message, and the log gets one as well.
    """
    file = COMPONENT / "translations" / f"{language}.json"
    steps = json.loads(file.read_text(encoding="utf-8"))[flow]["step"]
    asked = {ask.value for ask in Ask} if flow == "options" else set()
    assert asked <= steps.keys()
    for name, step in steps.items():
        if "menu_options" in step:
            assert "{" not in step.get("title", ""), name
    for name in asked:
        # What the title cannot say, the first line does.
        first, _, _ = steps[name]["description"].partition("\n")
        assert "**{part}**" in first, name


@pytest.mark.parametrize("flow", FLOWS)
def test_every_end_has_a_text(flow: str) -> None:
    """Without one the hub shows the bare code."""
    source = (COMPONENT / "flow" / "gate.py").read_text(encoding="utf-8")
    own = set(re.findall(r'reason="(\w+)"', source)) if flow == "gate" else set()
    assert FLOWS[flow]["abort"].keys() == {"reconfigure_successful"} | own


@pytest.mark.parametrize(
    ("flow", "handler"),
    [
        ("config", GatewrightConfigFlow),
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
    assert steps - options <= FLOWS[flow]["step"].keys() <= steps
    assert options <= steps


def test_every_choice_has_texts() -> None:
    for key, words in (
        ("gate_kind", GateKind),
        ("actuator_sort", ActuatorSort),
        ("start_when", StartWhen),
        ("kind", MachineKind),
        ("on_lost", OnLost),
        ("rest", Rest),
        ("bin_answer", BinAnswer),
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
    reconfigure = TEXTS["config"]["step"]["reconfigure"]["sections"]["timing"]
    collector = Collector(name="")
    for field in ("run_on", "coast", "confirm"):
        usual = getattr(collector, field)
        assert f"Empty: {usual:g} s." in reconfigure["data_description"][field]
    assert f"{DEFAULT_SPIN_UP:g} s" in reconfigure["data_description"]["spin_up"]
    gate_texts = TEXTS["config_subentries"]["gate"]["step"]["user"]["sections"]
    air, servo, motor, other = (TRAVEL_DEFAULTS[sort] for sort in ActuatorSort)
    usual_travel = (
        f"compressed air {air:g} s, a servo {servo:g} s, "
        f"a motor or linear actuator {motor:g} s, anything else {other:g} s."
    )
    page = TEXTS["config"]["step"]["gates"]["data_description"]
    for texts in (gate_texts["movement"]["data_description"], page):
        assert usual_travel in texts["actuator_sort"]
    assert Gate(gate_id="", name="").travel == other

    sections = TEXTS["config_subentries"]["machine"]["step"]["user"]["sections"]
    detection = sections["detection"]["data_description"]
    for field, watts, amperes in zip(
        LEVELS, LEVEL_DEFAULTS["W"], LEVEL_DEFAULTS["A"], strict=True
    ):
        assert f"Empty: {watts:g} W or {amperes:g} A." in detection[field]
    usual = Levels(start=1, stop=0)
    for field in ("stop_settle", "grace"):
        assert f"Empty: {getattr(usual, field):g} s" in detection[field]
    assert f"Leave it empty for {usual.start_settle:g} s" in detection["start_settle"]
    ahead = sections["ahead"]["data_description"]["foretold"]
    assert f"after {FORETOLD_SETTLE:g} s" in ahead
    assert f"at most {FORETOLD_LASTS / 60:g} minutes" in ahead
    assert f"sensor {SIGNAL_LEVELS.stop_settle:g} s." in detection["stop_settle"]
    # What a new machine gets is tested with the machine's form.
    assert "Empty: 15 min." in detection["silence"]
    clearing = {defaults.clearing for defaults in KIND_DEFAULTS.values()}
    assert clearing == {5.0}
    assert (
        sections["afterwards"]["data_description"]["clearing_1_time"] == "Empty: 5 s."
    )


@pytest.fixture
def _engine_left_out(hass: HomeAssistant) -> Iterator[None]:
    with without_engine(hass):
        yield


@pytest.mark.usefixtures("_engine_left_out")
async def test_forms_travel_to_the_browser_and_back(
    hass: HomeAssistant, hass_client: ClientSessionGenerator
) -> None:
    hub = Hub(hass)
    hub.add("switch.collector", "Collector")
    hub.plug("Planer plug")
    hub.damper("Planer gate actuator")
    assert await async_setup_component(hass, "config", {})
    client = await hass_client()
    address = "/api/config/config_entries/flow"

    async def post(path: str, body: dict[str, Any]) -> dict[str, Any]:
        response = await client.post(path, data=json.dumps(body))
        assert response.status == 200, await response.text()
        answer: dict[str, Any] = await response.json()
        return answer

    shown = await post(address, {"handler": "gatewright"})
    by_name = {field["name"]: field for field in shown["data_schema"]}
    assert by_name["switch"]["selector"]["entity"]["include_entities"] == [
        "switch.collector",
        "switch.planer_plug",
    ]
    flow = f"{address}/{shown['flow_id']}"
    shown = await post(
        flow, {"name": "", "switch": "switch.collector"} | {"hide_wrapped": True}
    )
    assert shown["errors"] == {"name": "name_missing"}
    await post(
        flow, {"name": "Shop", "switch": "switch.collector"} | {"hide_wrapped": True}
    )
    await post(flow, {"machines": ["sensor.planer_plug_power"]})
    shown = await post(
        flow,
        {
            "gates": ["cover.planer_gate_actuator"],
            "ask_positions": False,
            "other_gates": {"open_inlets": ["Shop", "shop"]},
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
            "ask_positions": False,
            "other_gates": {},
        },
    )
    done = await post(flow, {"name": "Planer", "kind": "planer"} | {"gates": []})
    assert done["errors"] == {"gates": "machine_without_gates"}
    gates = next(field for field in done["data_schema"] if field["name"] == "gates")
    gate_id = gates["selector"]["select"]["options"][0]["value"]
    done = await post(flow, {"name": "Planer", "kind": "planer", "gates": [gate_id]})
    assert done["type"] == "create_entry"

    entry_id = done["result"]["entry_id"]
    hub.add("sensor.line", "Line pressure", "6", unit="bar")
    shown = await post(address, {"handler": "gatewright", "entry_id": entry_id})
    by_name = {field["name"]: field for field in shown["data_schema"]}
    watch = {field["name"]: field for field in by_name["watch"]["schema"]}
    assert watch["air_supply"]["selector"]["entity"]["include_entities"] == [
        "sensor.line"
    ]
    limit = watch["air_supply_low"]["selector"]["number"]
    assert (limit["min"], limit["unit_of_measurement"]) == (0.5, "bar")
    assert shown["description_placeholders"]["usual_air_supply_low"] == "4 bar"
    changed = {
        "name": "Shop",
        "switch": "switch.collector",
        "hide_wrapped": True,
        "timing": {"start_when": "gate_open", "spin_up": 4},
        "motor": {"motor_rating": 3, "motor_phases": "three", "motor_poles": "2"},
        "by_hand": {},
        "watch": {"bin_answer": "warn", "air_supply": "sensor.line"},
        "bin": {"bin_volume": 120},
        "filter": {},
        "filter_cleaning": {},
        "service": {"services": ["Belt 200 h"]},
        "room": {},
        "air": {"free_flow": 1700, "max_suction": 2500},
        "driving": {},
    }
    done = await post(f"{address}/{shown['flow_id']}", changed)
    assert done["reason"] == "reconfigure_successful"
    entry = hass.config_entries.async_get_entry(entry_id)
    assert entry
    assert entry.data["motor_rating"] == 3000.0
    assert entry.data["air_supply_low"] == 400_000.0

    address = "/api/config/config_entries/subentries/flow"
    shown = await post(address, {"handler": [entry_id, "machine"]})
    flow = f"{address}/{shown['flow_id']}"
    answer = {
        "name": "Bench",
        "gates": [gate_id],
        "detection": {"on_lost": "stopped", "start": -1, "grace": -1},
        "afterwards": {"needs_air": True, "hold": 5},
        "need": {},
        "ahead": {},
        "movable": {},
        "more": {"request_limit": 2},
    }
    shown = await post(flow, answer)
    assert shown["errors"] == {"detection": "levels_without_reading"}
    answer["detection"] = {"on_lost": "stopped"}
    done = await post(flow, answer)
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
