"""docs/reference.md matches the code, and explains every entity."""

import json
from pathlib import Path
import re
from types import ModuleType

import pytest

from .scripts_as_modules import load_script


@pytest.fixture(scope="module")
def reference() -> ModuleType:
    """Return the script that writes the reference, as a module."""
    return load_script(Path(__file__).parents[2] / "scripts/reference")


def test_the_page_holds_what_is_generated(reference: ModuleType, root: Path) -> None:
    """If this fails, run `scripts/reference` with the project's Python."""
    is_now = (root / "docs/reference.md").read_text("utf-8")
    assert is_now == reference.put_in(is_now, reference.reference())


def test_every_entity_is_in_the_reference(reference: ModuleType, root: Path) -> None:
    texts = json.loads(
        (root / "custom_components/gatewright/translations/en.json").read_text("utf-8")
    )
    named = {
        (platform, key)
        for platform, entities in texts["entity"].items()
        for key in entities
    }
    assert {(row.platform, row.key) for row in reference.entities()} == named


def test_every_entity_has_its_sentence(reference: ModuleType) -> None:
    said = {
        (platform, key)
        for platform, sentences in reference.sentences().items()
        for key in sentences
    }
    used = set()
    for row in reference.entities():
        sentence = reference.sentence(row)
        assert sentence.endswith("."), row
        assert len(sentence.split()) >= 3, row
        own = (row.platform, f"machine_{row.key}")
        used.add(
            own if row.device != "system" and own in said else (row.platform, row.key)
        )
    assert said == used


def test_what_the_code_says_of_an_entity_is_shown(reference: ModuleType) -> None:
    rows = {(row.device, row.platform, row.key): row for row in reference.entities()}
    assert len(rows) == len(list(reference.entities()))
    assert rows["duct", "sensor", "velocity"].off
    assert not rows["system", "sensor", "collector_phase"].off
    assert rows["gate", "binary_sensor", "problem"].category == "diagnostic"
    assert rows["system", "binary_sensor", "problem"].category is None
    assert rows["system", "switch", "start_block"].category == "config"


@pytest.mark.parametrize("kind", ["services", "triggers", "conditions"])
def test_every_field_is_named_explained_and_needed_or_not(
    reference: ModuleType, kind: str
) -> None:
    texts = reference.english()
    shown = [
        line
        for key, described in reference._described(kind).items()
        for line in reference._fields(texts, kind, key, described)
    ]
    assert shown
    for line in shown:
        assert re.fullmatch(
            r" +- `\w+` \*\*[^*]+\*\* \(.*(needed|left out)\): .+\.", line
        ), line


def test_what_a_field_takes_is_shown(reference: ModuleType) -> None:
    given = reference._given
    number = {"number": {"min": 1, "max": 31, "unit_of_measurement": "d"}}
    choice = {"select": {"options": ["day", "week"]}}
    several = {"select": {"options": ["idle"], "multiple": True}}
    assert given({"selector": number}) == "1 to 31 d; may be left out"
    assert given({"selector": {"text": None}, "required": True}) == "needed"
    assert given({"selector": several}) == "any of `idle`; may be left out"
    assert (
        given({"selector": choice, "required": True, "default": "day"})
        == "`day`, `week`; `day` where left out"
    )
    assert (
        given({"selector": {"boolean": None}, "default": True})
        == "`true` where left out"
    )


def test_a_page_without_its_markers_is_not_touched(reference: ModuleType) -> None:
    with pytest.raises(ValueError, match="lacks"):
        reference.put_in("# Something else\n", "part")
