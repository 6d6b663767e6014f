"""Every action, trigger and condition is described, named and has an icon."""

from collections.abc import Iterator
import json
from pathlib import Path
import re
from typing import Any

from homeassistant.components.automation.config import async_validate_config_item
from homeassistant.core import HomeAssistant
from homeassistant.helpers import (
    condition,
    config_validation as cv,
    selector,
    service,
    trigger,
)
from homeassistant.setup import async_setup_component
from homeassistant.util.yaml import load_yaml_dict, parse_yaml
import pytest

import custom_components.gatewright
from custom_components.gatewright.condition import CONDITIONS
from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.core.control.alarms import AlarmKind
from custom_components.gatewright.core.control.enums import Phase
from custom_components.gatewright.core.control.machine import MachinePhase
from custom_components.gatewright.runtime.old_names.table import ACTIONS
from custom_components.gatewright.trigger import TRIGGERS
from tests.manual import pages

from .workshop import Workshop, system_entry

ROOT = Path(custom_components.gatewright.__path__[0])
TEXTS: dict[str, Any] = json.loads((ROOT / "translations/en.json").read_text("utf-8"))
ICONS: dict[str, Any] = json.loads((ROOT / "icons.json").read_text("utf-8"))
KINDS = {"services": "service", "triggers": "trigger", "conditions": "condition"}
BY_NAME_ALONE = {"behavior", "for"}
"""Home Assistant's own fields, which it names without describing them."""


def described(kind: str) -> dict[str, dict[str, Any]]:
    """Return the descriptions of a kind, without YAML anchors."""
    found = load_yaml_dict(ROOT / f"{kind}.yaml")
    return {key: value or {} for key, value in found.items() if key[0] != "."}


def fields(kind: str) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Return every field, with what it is a field of."""
    for key, value in described(kind).items():
        for name, field in value.get("fields", {}).items():
            yield key, name, field


@pytest.mark.parametrize("kind", KINDS)
def test_each_has_a_name_a_description_and_an_icon(kind: str) -> None:
    """And nothing is named that doesn't exist."""
    keys = described(kind).keys()
    assert keys == TEXTS[kind].keys()
    assert keys == ICONS[kind].keys()
    for key in keys:
        texts = TEXTS[kind][key]
        assert texts["name"].strip(), key
        assert texts["description"].endswith("."), key
        assert ICONS[kind][key][KINDS[kind]].startswith("mdi:"), key


@pytest.mark.parametrize("kind", KINDS)
def test_each_field_is_named_and_can_be_chosen(kind: str) -> None:
    named = {
        (key, name)
        for key, texts in TEXTS[kind].items()
        for name in texts.get("fields", {})
    }
    assert named == {(key, name) for key, name, _ in fields(kind)}
    for key, name, field in fields(kind):
        texts = TEXTS[kind][key]["fields"][name]
        assert texts["name"].strip(), (key, name)
        if name not in BY_NAME_ALONE:
            assert texts["description"].endswith("."), (key, name)
        assert selector.validate_selector(field["selector"])


@pytest.mark.parametrize("kind", KINDS)
def test_each_target_can_be_picked(kind: str) -> None:
    targets = {
        key: value["target"]
        for key, value in described(kind).items()
        if "target" in value
    }
    for key, target in targets.items():
        assert selector.TargetSelector.CONFIG_SCHEMA(target), key
        entities = cv.ensure_list(target["entity"])
        assert all(entity["integration"] == DOMAIN for entity in entities), key
    if kind != "services":
        assert targets.keys() == described(kind).keys()


@pytest.mark.parametrize("kind", KINDS)
def test_each_choice_has_a_text(kind: str) -> None:
    for key, name, field in fields(kind):
        chosen = field["selector"].get("select") or {}
        if options := chosen.get("options"):
            texts = TEXTS["selector"][chosen["translation_key"]]["options"]
            assert set(options) <= texts.keys(), (key, name)


def test_a_choice_leaves_nothing_out() -> None:
    """A new kind of alarm goes into triggers.yaml and the selector's texts."""
    found = {
        (key, name): field["selector"]["select"]["options"]
        for key, name, field in fields("triggers")
        if "select" in field["selector"]
    }
    assert found["alarm_raised", "alarm"] == list(AlarmKind)
    assert found["alarm_cleared", "alarm"] == list(AlarmKind)
    assert found["collector_phase_changed", "phase"] == list(Phase)
    assert found["machine_phase_changed", "phase"] == list(MachinePhase)


@pytest.mark.parametrize("kind", KINDS)
def test_home_assistant_reads_the_files_without_a_warning(
    kind: str, caplog: pytest.LogCaptureFixture
) -> None:
    load_yaml_dict(ROOT / f"{kind}.yaml")
    assert caplog.messages == []


async def test_home_assistant_knows_them_all(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    for component in ("automation", "homeassistant"):
        assert await async_setup_component(hass, component, {})
    await workshop.start(system_entry())
    for kind, ours, found in (
        ("triggers", TRIGGERS, await trigger.async_get_all_descriptions(hass)),
        ("conditions", CONDITIONS, await condition.async_get_all_descriptions(hass)),
    ):
        assert ours.keys() == described(kind).keys()
        for key in ours:
            description = found[f"{DOMAIN}.{key}"]
            assert description
            assert description["target"]
    actions = hass.services.async_services_for_domain(DOMAIN)
    assert actions.keys() == described("services").keys() | ACTIONS.keys()
    found_actions = (await service.async_get_all_descriptions(hass))[DOMAIN]
    for key in described("services"):
        assert found_actions[key]["fields"].keys() >= {
            name for of, name, _ in fields("services") if of == key
        }


async def test_every_example_in_the_manual_works(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    for component in ("automation", "homeassistant"):
        assert await async_setup_component(hass, component, {})
    await workshop.start(system_entry())
    examples = [
        example
        for page in pages().values()
        for text in re.findall(r"^```yaml\n(.+?)^```", page, re.DOTALL | re.MULTILINE)
        if isinstance(example := parse_yaml(text), dict)
    ]
    whole = [example for example in examples if "triggers" in example]
    assert len(whole) >= 2
    for example in whole:
        assert await async_validate_config_item(hass, "example", example)
    of_ours = [
        example
        for example in examples
        if any(str(value).startswith(f"{DOMAIN}.") for value in example.values())
    ]
    checked = set()
    for example in of_ours:
        checked |= {"action", "trigger", "condition"} & example.keys()
        if "trigger" in example:
            await trigger.async_validate_trigger_config(
                hass, cv.TRIGGER_SCHEMA([example])
            )
        elif "condition" in example:
            await condition.async_validate_condition_config(
                hass, cv.CONDITION_SCHEMA(example)
            )
        else:
            assert cv.SERVICE_SCHEMA(example)
            name = example["action"].removeprefix(f"{DOMAIN}.")
            assert (example.get("data") or {}).keys() <= {
                field for of, field, _ in fields("services") if of == name
            }
            assert hass.services.has_service(DOMAIN, name)
    assert checked == {"action", "trigger", "condition"}
