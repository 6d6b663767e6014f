"""Every blueprint is accepted by Home Assistant, explains itself, and warns of unattended starts."""

from collections.abc import Iterator
from typing import Any

from homeassistant.components.automation.config import AUTOMATION_BLUEPRINT_SCHEMA
from homeassistant.components.blueprint.importer import fetch_blueprint_from_url
from homeassistant.components.blueprint.models import Blueprint
from homeassistant.components.event import ButtonEventType
from homeassistant.core import HomeAssistant
from homeassistant.loader import async_get_integration
from homeassistant.util import yaml as yaml_util
import pytest
from pytest_homeassistant_custom_component.test_util.aiohttp import AiohttpClientMocker

from benchmarks.first_hour import oldest_release
from custom_components.gatewright.core.control.alarms import AlarmKind

from .helpers import FOLDER, NAMES

STARTS_SOMETHING = {"air_cleaner", "bin_alert", "wall_button"}
HOURS = {"collector", "hours"}


def load(name: str) -> dict[str, Any]:
    data = yaml_util.parse_yaml((FOLDER / f"{name}.yaml").read_text("utf-8"))
    assert isinstance(data, dict)
    return data


def inputs(data: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield every input with its description, those of sections included."""
    for key, value in data["blueprint"]["input"].items():
        if "input" in value:
            yield from value["input"].items()
        else:
            yield key, value


def test_there_are_blueprints_for_what_an_owner_wants() -> None:
    assert NAMES == [
        "air_cleaner",
        "alarm_alert",
        "announcement",
        "bin_alert",
        "day_summary",
        "opening_hours",
        "wall_button",
    ]


@pytest.mark.parametrize("name", NAMES)
def test_home_assistant_takes_it_and_takes_what_it_saved_of_it(name: str) -> None:
    data = load(name)
    # The same as in the store's file: scripts/test --oldest tries it.
    oldest = oldest_release()
    for _ in range(2):
        blueprint = Blueprint(
            data,
            expected_domain="automation",
            path=f"gatewright/{name}.yaml",
            schema=AUTOMATION_BLUEPRINT_SCHEMA,
        )
        assert blueprint.validate() is None
        assert blueprint.metadata["homeassistant"]["min_version"] == oldest
        # An import rewrites the blueprint with all its defaults.
        saved = yaml_util.parse_yaml(blueprint.yaml())
        assert isinstance(saved, dict)
        data = saved


@pytest.mark.parametrize("name", NAMES)
async def test_it_is_imported_by_its_address(
    hass: HomeAssistant, aioclient_mock: AiohttpClientMocker, name: str
) -> None:
    manifest = await async_get_integration(hass, "gatewright")
    assert manifest.documentation is not None
    home = manifest.documentation
    raw = home.replace("https://github.com", "https://raw.githubusercontent.com")
    path = f"blueprints/automation/gatewright/{name}.yaml"
    text = (FOLDER / f"{name}.yaml").read_text("utf-8")
    aioclient_mock.get(f"{raw}/main/{path}", text=text)
    imported = await fetch_blueprint_from_url(hass, f"{home}/blob/main/{path}")
    assert imported.suggested_filename == f"gatewright/{name}"
    assert imported.raw_data == text
    assert imported.blueprint.metadata["source_url"] == f"{home}/blob/main/{path}"


@pytest.mark.parametrize("name", NAMES)
def test_it_explains_itself(name: str) -> None:
    data = load(name)
    assert len(data["blueprint"]["description"]) > 100
    for key, value in inputs(data):
        assert value["name"], key
        assert value["selector"], key
    # Only what must be picked has no default; everything else has a sensible one.
    must = {key for key, value in inputs(data) if "default" not in value}
    assert must <= {"system", "phone", "button", "air", "phase", "cleaner", *HOURS}


@pytest.mark.parametrize("name", sorted(STARTS_SOMETHING))
def test_it_warns_of_unattended_starts(name: str) -> None:
    assert "plug" in load(name)["blueprint"]["description"]


def test_opening_hours_say_that_they_keep_nobody_from_a_machine() -> None:
    description = load("opening_hours")["blueprint"]["description"]
    assert "Every machine still starts by its own switch" in description
    assert "padlock" in description


def test_the_choices_exist() -> None:
    alarms = load("alarm_alert")["blueprint"]["input"]["left_out"]["selector"]
    offered = {option["value"] for option in alarms["select"]["options"]}
    assert offered <= set(AlarmKind)
    for key in ("press", "hold"):
        field = load("wall_button")["blueprint"]["input"][key]
        offered = {option["value"] for option in field["selector"]["select"]["options"]}
        assert offered <= set(ButtonEventType)
        assert set(field["default"]) <= offered
