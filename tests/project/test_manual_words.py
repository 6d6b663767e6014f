"""The manual is easy to read, and what it names exists: labels, actions, files, figures."""

from collections.abc import Iterator
from functools import cache
import importlib.resources
import json
from pathlib import Path
import re
from statistics import median
from typing import Any

import pytest
import yaml

from custom_components.gatewright.core.config import (
    CollectorConfig,
    PurgeStep,
    Thresholds,
)
from custom_components.gatewright.core.kinds import (
    KIND_DEFAULTS,
    LEVEL_DEFAULTS,
    TRAVEL_DEFAULTS,
    ActuatorSort,
    MachineKind,
)
from custom_components.gatewright.runtime.old_names import table
from tests.manual import ROOT, blocks, sentences, written_pages

PAGES = written_pages()
COMPONENT = ROOT / "custom_components/gatewright"
BOLD = re.compile(r"\*\*([^*]+)\*\*")
CODE = re.compile(r"(?<!`)`([^`\n]+)`(?!`)")
MOST_WORDS = 30
MOST_LINES = 300
USUAL_WORDS = 20


def test_readme_is_short() -> None:
    assert len(PAGES["README.md"].splitlines()) <= MOST_LINES


@pytest.mark.parametrize("page", PAGES)
def test_no_sentence_is_long(page: str) -> None:
    long = [
        " ".join(words) for words in sentences(PAGES[page]) if len(words) > MOST_WORDS
    ]
    assert not long


@pytest.mark.parametrize("page", PAGES)
def test_the_median_sentence_is_short(page: str) -> None:
    """Cells and headings, which have no mark at their end, would lower it."""
    whole = [
        len(w) for w in sentences(PAGES[page]) if w[-1].rstrip('"”)*_')[-1] in ".!?"
    ]
    assert median(whole) <= USUAL_WORDS


def test_sentences_are_taken_apart() -> None:
    """A check that finds no long sentence would find no mistake."""
    page = "# A title\n\nOne two. Three **four five.** Six\nseven\n\n- item one\n- item [two](x)\n\n| a b | c |\n| --- | --- |\n"
    assert [" ".join(words) for words in sentences(page)] == [
        "A title",
        "One two.",
        "Three **four five.",
        "Six seven",
        "item one",
        "item two",
        "a b",
        "c",
    ]


def leaves(tree: Any) -> Iterator[str]:
    """Yield every text of nested tables."""
    if isinstance(tree, dict):
        for value in tree.values():
            yield from leaves(value)
    elif isinstance(tree, list):
        for value in tree:
            yield from leaves(value)
    elif isinstance(tree, str):
        yield tree


class _Blueprint(yaml.SafeLoader):
    """Reads a blueprint; what `!input` names is left as it is."""


def _name(_: yaml.SafeLoader, node: yaml.Node) -> Any:
    return node.value


_Blueprint.add_constructor("!input", _name)


@cache
def labels() -> frozenset[str]:
    """Return every text on a screen: ours, the blueprints', Home Assistant's."""
    ours = json.loads((COMPONENT / "translations/en.json").read_text("utf-8"))
    found = set(leaves(ours))
    for path in (ROOT / "blueprints").rglob("*.yaml"):
        blueprint = yaml.load(path.read_text("utf-8"), _Blueprint)  # noqa: S506
        found |= set(leaves(blueprint))
    folder = importlib.resources.files("hass_frontend") / "static/translations"
    for path in Path(str(folder)).rglob("en-[0-9a-f]*.json"):
        found |= set(leaves(json.loads(path.read_text("utf-8"))))
    # A menu marks what is set up.
    plain = (re.sub(r" \{\w+_mark\}$", "", text) for text in found)
    return frozenset(text.strip() for text in plain) | {"Gatewright"}


def named(page: str) -> Iterator[str]:
    """Yield the labels that a page names.

    They're bold; so are words that open a block or end with a mark, which aren't
    labels.
    """
    for block in blocks(PAGES[page]):
        text = re.sub(r"^(?:[-*>] |\d+\. )", "", block)
        for found in BOLD.finditer(text):
            if found.start() and found[1][-1] not in ".,:;!?":
                yield found[1]


@pytest.mark.parametrize("page", PAGES)
def test_labels_are_on_a_screen(page: str) -> None:
    assert [label for label in named(page) if label not in labels()] == []


def test_labels_are_found() -> None:
    assert {"Settings", "Devices & services", "Add integration"} <= set(
        named("README.md")
    )
    assert "Settings" in labels()
    assert "Turn off the sun" not in labels()


def codes(page: str) -> list[str]:
    """Return a page's code spans, without the examples."""
    text = re.sub(r"^```.*?^```", "", PAGES[page], flags=re.DOTALL | re.MULTILINE)
    return CODE.findall(text)


@pytest.mark.parametrize("page", PAGES)
def test_actions_and_events_exist(page: str) -> None:
    known: set[str] = set()
    for kind in ("services", "triggers", "conditions"):
        described = yaml.safe_load((COMPONENT / f"{kind}.yaml").read_text("utf-8"))
        known |= {f"gatewright.{key}" for key in described}
    if page == "docs/old-names.md":
        for renamed in (table.ACTIONS, table.TRIGGERS, table.CONDITIONS):
            known |= {f"gatewright.{old}" for old in renamed}
    source = "".join(path.read_text("utf-8") for path in COMPONENT.rglob("*.py"))
    for code in codes(page):
        if re.fullmatch(r"gatewright\.\w+", code):
            assert code in known
        elif re.fullmatch(r"gatewright_\w+", code):
            event = code.removeprefix("gatewright_")
            assert f'_{event}"' in source, code


@pytest.mark.parametrize("page", PAGES)
def test_files_exist(page: str) -> None:
    for code in codes(page):
        first = code.split()[0]
        if re.fullmatch(r"\w+\.yaml", first):
            assert list((ROOT / "blueprints").rglob(first)), code
        elif re.match(
            r"(?:custom_components|scripts|benchmarks|docs|demo|tests)/", first
        ):
            assert (ROOT / first).exists(), code


def figures(page: str, heading: str) -> dict[str, str]:
    """Return the first two columns of the table below a heading."""
    _, _, rest = PAGES[page].partition(f"\n## {heading}\n")
    rows = re.findall(
        r"^\| ([^|]+) \| ([^|]+) \|", rest.partition("\n## ")[0], re.MULTILINE
    )
    return {first.replace("*", "").strip(): second.strip() for first, second in rows}


def test_the_usual_times_are_those_of_the_code() -> None:
    reported = figures("docs/tuning.md", "The usual times")
    levels, collector = Thresholds(start=1.0, stop=0.0), CollectorConfig(name="")
    holds = {kind: usual.hold for kind, usual in KIND_DEFAULTS.items() if usual.hold}
    assert holds.pop(MachineKind.MITER_SAW) == 15.0
    assert set(holds.values()) == {5.0}
    assert len(holds) == 6, "the table names them"
    usual = {
        "start confirmation": levels.start_confirm,
        "stop confirmation": levels.stop_confirm,
        "wait between cuts, miter saw": 15.0,
        "wait between cuts, other stop-start machines": 5.0,
        "purge step": PurgeStep(gates=()).duration,
        "shut-off delay": collector.shutoff_delay,
        "spin-down": collector.spin_down,
        "dropout time": levels.dropout,
        "time to confirm": collector.confirm,
    }
    assert {name: reported[name] for name in usual} == {
        name: f"{seconds:g} s" for name, seconds in usual.items()
    }
    for unit, (start, stop) in LEVEL_DEFAULTS.items():
        assert f"{start:g} {unit}" in PAGES["docs/tuning.md"]
        assert f"{stop:g} {unit}" in PAGES["docs/tuning.md"]


def test_the_usual_strokes_are_those_of_the_code() -> None:
    reported = figures("docs/hardware.md", "Move a gate")
    rows = {
        ActuatorSort.COMPRESSED_AIR: "Air cylinder with a solenoid valve",
        ActuatorSort.SERVO: "Servo",
        ActuatorSort.MOTOR: "Linear actuator or gear motor",
        ActuatorSort.OTHER: "Other",
    }
    for sort, seconds in TRAVEL_DEFAULTS.items():
        assert reported[rows[sort]] == f"{seconds:g} s"


def test_readme_names_the_release_it_needs() -> None:
    needed = json.loads((ROOT / "hacs.json").read_text("utf-8"))["homeassistant"]
    assert f"Home Assistant {needed} or newer" in PAGES["README.md"]


def test_readme_sets_up_by_the_pages_as_they_come() -> None:
    """Whoever follows it sees the named titles in order."""
    _, _, rest = PAGES["README.md"].partition("\n## Ten minutes")
    steps = re.findall(
        r"^\d\. \*\*([^*]+)\.\*\*", rest.partition("\n## ")[0], re.MULTILINE
    )
    texts = json.loads((COMPONENT / "translations/en.json").read_text("utf-8"))
    titles = [
        re.sub(r"\{\w+\}", "1", step["title"])
        for step in texts["config"]["step"].values()
        if "title" in step
    ]
    places = [titles.index(step) for step in steps]
    assert len(places) >= 4
    assert places == sorted(places)
