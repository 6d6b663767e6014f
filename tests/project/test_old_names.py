"""The names that automations saw in version 0.1.0 occur nowhere any more."""

from collections.abc import Iterator
import json
from pathlib import Path
import re
from typing import Any

from homeassistant.util.yaml import load_yaml_dict
import pytest

from custom_components.gatewright.runtime.old_names import table

TABLES: dict[str, table.Renamed] = {
    name: renamed
    for name in (
        *("COLLECTOR_PHASES", "MACHINE_PHASES", "CAUSES", "ALARMS", "REASONS"),
        *(
            "ENDINGS",
            "GATE_SETS",
            "ANSWER_KEYS",
            "ACTIONS",
            "FIELDS",
            "TRIGGERS",
            "CONDITIONS",
        ),
        "INTENTS",
    )
    if (renamed := getattr(table, name))
}
PAIRS = {
    pair
    for renamed in (*TABLES.values(), *table.ENTITIES.values())
    for pair in renamed.items()
}

EXEMPT = (
    # They're defined here, and tested and listed here.
    "custom_components/gatewright/runtime/old_names/table.py",
    "tests/integration/test_old_names.py",
    "tests/project/test_old_names.py",
    "docs/old-names.md",
    # Written by 0.1.0, or as then.
    "tests/e2e/left_by_0_1_0.json",
    "tests/e2e/test_release.py",
    "tests/integration/kept_by_0_1_0.json",
    "tests/integration/left_by_0_1_0.json",
)

STILL = {
    # Keys of what is stored in config entries and files.
    *("air_time", "attached", "clearing", "coast", "emergency", "lockout", "run_on"),
    *("start_settle", "stop_settle", "without"),
    # Keys of what the cards are sent, of forms, of the virtual workshop and of tables.
    *("air", "coverage", "has_air", "rehearse", "walk", "watch_only", "without_air"),
    # Words that mean other things as well.
    *("assess", "last_walk", "summary", "too_little_air"),
    # Placeholders of texts about monitor only.
    *("would_coverage", "would_on_time", "would_starts"),
    # Names by which old states are shown as long as some are recorded.
    *("coasting", "resting"),
}
"""Names that mean something else in some places; automations see none of these."""


def texts(root: Path, files: tuple[Path, ...]) -> Iterator[tuple[str, str]]:
    """Yield every text file of the project that should have no old name."""
    for file in files:
        name = file.relative_to(root).as_posix()
        if name in EXEMPT:
            continue
        try:
            yield name, file.read_text("utf-8")
        except UnicodeDecodeError:
            continue


def test_nothing_is_called_by_an_old_name(root: Path, files: tuple[Path, ...]) -> None:
    """Actions, triggers, conditions and intents, in code, texts, blueprints and manual."""
    old = "|".join({**table.ACTIONS, **table.TRIGGERS, **table.CONDITIONS})
    left = re.compile(rf"\bgatewright\.(?:{old})\b|\b(?:{'|'.join(table.INTENTS)})\b")
    search = "custom_components/gatewright/runtime/old_names/search.py"
    found = {
        name: names
        for name, text in texts(root, files)
        if name != search and (names := left.findall(text))
    }
    assert not found


def test_no_old_name_is_left(root: Path, files: tuple[Path, ...]) -> None:
    old = {name for name, _ in PAIRS} - STILL
    assert len(old) > 35
    names = "|".join(sorted(old))
    left = re.compile(rf"""(["'`])(?:{names})\1|^\s*(?:{names}):""", re.MULTILINE)
    found = [
        (name, match[0])
        for name, text in texts(root, files)
        for match in left.finditer(text)
    ]
    assert not found


def keys(data: Any) -> Iterator[str]:
    """Yield every key of plain data, however deep."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield key
            yield from keys(value)


@pytest.mark.parametrize("language", ["en", "de", "fr"])
def test_texts_and_icons_go_by_new_names(root: Path, language: str) -> None:
    """Only the states of a phase have both names: both are in the history."""
    folder = root / "custom_components" / "gatewright"
    found = json.loads((folder / f"translations/{language}.json").read_text("utf-8"))
    icons = json.loads((folder / "icons.json").read_text("utf-8"))
    for domain, renamed in table.ENTITIES.items():
        assert not renamed.keys() & found["entity"][domain].keys()
        assert not renamed.keys() & icons["entity"][domain].keys()
    for kind, renamed in (
        ("services", table.ACTIONS),
        ("triggers", table.TRIGGERS),
        ("conditions", table.CONDITIONS),
    ):
        described = load_yaml_dict(folder / f"{kind}.yaml")
        for place in (found[kind], icons[kind], described):
            assert not renamed.keys() & place.keys()
            assert {*renamed.values()} <= place.keys()
        assert not table.FIELDS.keys() & {*keys(described)}
    for key, renamed in table.PHASES.items():
        states = found["entity"]["sensor"][key]["state"]
        assert {*renamed, *renamed.values()} <= states.keys()
        assert all(states[old] == states[new] for old, new in renamed.items())
        assert not renamed.keys() & found["selector"][key]["options"].keys()
    for choices, renamed in (
        ("alarm_kind", table.ALARMS),
        ("no_air", table.REASONS),
        ("logbook", table.CAUSES),
    ):
        options = found["selector"][choices]["options"].keys()
        assert not renamed.keys() & options
        assert {*renamed.values()} <= options


def test_blueprints_use_no_old_state(root: Path) -> None:
    blueprints = sorted((root / "blueprints").rglob("*.yaml"))
    assert blueprints
    shown = {**table.COLLECTOR_PHASES, **table.MACHINE_PHASES, **table.ALARMS}
    for file in blueprints:
        code = re.sub(r"(?ms)^  description: .*?^  \w", "", file.read_text("utf-8"))
        values = re.findall(
            r"(?:value|to|from|- ):? *'?(\w+)'?$|'(\w+)'", code, re.MULTILINE
        )
        used = {value for pair in values for value in pair}
        assert not used & shown.keys(), file.name


def test_the_manual_lists_every_pair(root: Path) -> None:
    """Everything that an owner has to change; unique ids are nobody's concern."""
    listed = (root / "docs/old-names.md").read_text("utf-8")
    pairs = {
        (old.removeprefix("gatewright."), new.removeprefix("gatewright."))
        for old, new in re.findall(r"`([\w.]+)`\s+→\s+`([\w.]+)`", listed)
    }
    assert pairs == {pair for renamed in TABLES.values() for pair in renamed.items()}
