"""Texts, icons, descriptions and the manifest have the shapes that the platform expects.

`test_platform_rules.py` has the rules that aren't about shape.
"""

import ast
from collections.abc import Callable, Iterator
from copy import deepcopy
from importlib.resources import files as files_of
import json
from pathlib import Path
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.loader import async_get_integrations
from homeassistant.util.yaml import load_yaml_dict
import pytest

from . import shapes

COMPONENT = Path(__file__).parents[2] / "custom_components/gatewright"
LANGUAGES = sorted(path.name for path in (COMPONENT / "translations").glob("*.json"))


def read(name: str) -> Any:
    """Return a file's content, without YAML anchors."""
    if name.endswith(".json"):
        return json.loads((COMPONENT / name).read_text("utf-8"))
    found = load_yaml_dict(str(COMPONENT / name))
    return {key: value for key, value in found.items() if not key.startswith(".")}


SHAPES: dict[str, shapes.Shape] = {
    "icons.json": shapes.ICONS,
    "manifest.json": shapes.MANIFEST,
    "services.yaml": shapes.ACTIONS,
    "triggers.yaml": shapes.EVENTS,
    "conditions.yaml": shapes.EVENTS,
    **{f"translations/{name}": shapes.TEXTS for name in LANGUAGES},
}


@pytest.mark.parametrize("name", SHAPES)
def test_the_file_has_its_shape(name: str) -> None:
    assert list(SHAPES[name](read(name), name)) == []


def test_every_json_file_can_be_read() -> None:
    found = list(COMPONENT.rglob("*.json"))
    assert found
    for path in found:
        json.loads(path.read_text("utf-8"))


def test_every_icon_is_one_that_the_frontend_has() -> None:
    listed = files_of("hass_frontend").joinpath("static/mdi/iconList.json")
    known = {f"mdi:{icon['name']}" for icon in json.loads(listed.read_text("utf-8"))}
    assert known
    used = set(leaves(read("icons.json")))
    assert used <= known, used - known


def leaves(value: Any) -> Iterator[Any]:
    """Yield the leaves of a tree."""
    if isinstance(value, dict):
        for inner in value.values():
            yield from leaves(inner)
    else:
        yield value


async def test_what_the_manifest_names_exists(hass: HomeAssistant) -> None:
    manifest = read("manifest.json")
    first = manifest.get("dependencies", [])
    later = manifest["after_dependencies"]
    assert not set(first) & set(later)
    assert len(first + later) == len(set(first + later))
    found = await async_get_integrations(hass, first + later)
    assert not [name for name, what in found.items() if isinstance(what, Exception)]


# What the shapes would find ---------------------------------------------------------------


def put(*path: str, value: Any) -> Callable[[Any], None]:
    """Return a function that sets a value at a path."""

    def change(data: Any) -> None:
        for key in path[:-1]:
            data = data[key]
        data[path[-1]] = value

    return change


def said(text: str) -> tuple[str, Callable[[Any], None]]:
    """Return a mistake: a text that a page of the system check might end with."""
    return "translations/en.json", put("options", "abort", "x", value=text)


def take(*path: str) -> Callable[[Any], None]:
    """Return a function that removes a path."""

    def change(data: Any) -> None:
        for key in path[:-1]:
            data = data[key]
        del data[path[-1]]

    return change


MISTAKES: dict[str, tuple[str, Callable[[Any], None]]] = {
    "an unknown part": ("translations/en.json", put("state", value={})),
    "a step without its table": ("translations/en.json", take("options", "step")),
    "a description of no field": (
        "translations/en.json",
        put(
            *("config_subentries", "gate", "step", "user", "data_description", "ghost"),
            value="Nothing.",
        ),
    ),
    "a subentry without a name": (
        "translations/en.json",
        take("config_subentries", "gate", "entry_type"),
    ),
    "a subentry that cannot be begun": (
        "translations/en.json",
        take("config_subentries", "gate", "initiate_flow", "user"),
    ),
    "markup": said("<b>No</b>"),
    "a space at the end": said("No "),
    "nothing": said(""),
    "an address": said("See https://example.com"),
    "a placeholder in quotes": said("No '{part}'"),
    "a placeholder with no name": said("No {the part}"),
    "a brace too many": said("No {"),
    "a reference": said("[%key:common::no%]"),
    "a key that is no slug": (
        "translations/en.json",
        put("exceptions", "Not found", value={"message": "Not found."}),
    ),
    "a placeholder in a state": (
        "translations/en.json",
        put("entity", "sensor", "phase", value={"state": {"idle": "Idle {x}"}}),
    ),
    "an issue told and mended": (
        "translations/en.json",
        put(
            *("issues", "x"),
            value={"title": "T", "description": "D", "fix_flow": {"step": {}}},
        ),
    ),
    "an issue neither told nor mended": (
        "translations/en.json",
        put("issues", "x", value={"title": "T"}),
    ),
    "a field without its name": (
        "translations/en.json",
        take("services", "turn_on_collection", "fields", "duration", "name"),
    ),
    "a trigger without a description": (
        "translations/en.json",
        take("triggers", "bin_due", "description"),
    ),
    "no icon": ("icons.json", put("triggers", "bin_due", "trigger", value="trash")),
    "a state like the others": (
        "icons.json",
        put(
            *("entity", "sensor", "x"),
            value={"default": "mdi:saw-blade", "state": {"a": "mdi:saw-blade"}},
        ),
    ),
    "a range in no order": (
        "icons.json",
        put("entity", "sensor", "x", value={"range": {"9": "mdi:a", "1": "mdi:b"}}),
    ),
    "a range of words": (
        "icons.json",
        put("entity", "sensor", "x", value={"range": {"low": "mdi:a"}}),
    ),
    "an action of devices": (
        "services.yaml",
        put("block_starts", "target", value={"device": {"integration": "gatewright"}}),
    ),
    "a field without a selector": (
        "services.yaml",
        put("block_starts", "fields", value={"x": {"required": True}}),
    ),
    "a selector that is not there": (
        "services.yaml",
        put("block_starts", "fields", value={"x": {"selector": {"moon": None}}}),
    ),
    "a field with more than there is": (
        "services.yaml",
        put(
            "block_starts",
            "fields",
            value={"x": {"selector": {"text": None}, "min": 1}},
        ),
    ),
    "an empty example": (
        "services.yaml",
        put(
            "block_starts",
            "fields",
            value={"x": {"selector": {"text": None}, "example": None}},
        ),
    ),
    "a trigger without a target": ("triggers.yaml", take("bin_due", "target")),
    "a condition about nothing known": (
        "conditions.yaml",
        put("is_running", "target", value={"moon": "full"}),
    ),
    "an unknown word": ("manifest.json", put("homeassistant", value="2026.10")),
    "no address": ("manifest.json", put("documentation", value="README.md")),
    "an unsafe address": (
        "manifest.json",
        put("documentation", value="http://example.com"),
    ),
    "somebody else's documentation": (
        "manifest.json",
        put("documentation", value="https://www.home-assistant.io/integrations/x"),
    ),
    "no version": ("manifest.json", take("version")),
    "a kind of its own": ("manifest.json", put("iot_class", value="by_hand")),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_found(mistake: str) -> None:
    name, change = MISTAKES[mistake]
    wrong = deepcopy(read(name))
    change(wrong)
    assert list(SHAPES[name](wrong, name))


# The quality scale, as far as it can be read off the code ---------------------------------

ENTRY_FUNCTIONS = {
    "async_get_config_entry_diagnostics",
    "async_get_device_diagnostics",
    "async_get_options_flow",
    "async_migrate_entry",
    "async_remove_config_entry_device",
    "async_remove_entry",
    "async_setup_entry",
    "async_unload_entry",
}


def functions() -> Iterator[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef]]:
    """Yield the functions that the platform calls with one of our entries, and their location."""
    for path in sorted(COMPONENT.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if (
                isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
                and node.name in ENTRY_FUNCTIONS
            ):
                yield f"{path.name}: {node.name}", node


def test_the_type_of_our_entries_is_named() -> None:
    found = dict(functions())
    assert len(found) >= 10
    for where, function in found.items():
        kinds = [
            argument.annotation.id
            for argument in function.args.args
            if isinstance(argument.annotation, ast.Name)
        ]
        assert "GatewrightConfigEntry" in kinds, where


def test_actions_are_registered_for_all_entries_at_once() -> None:
    for where, function in functions():
        if function.name == "async_setup_entry":
            calls = {
                node.func.attr
                for node in ast.walk(function)
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
            }
            assert not calls & {"async_register", "async_register_entity_service"}, (
                where
            )
