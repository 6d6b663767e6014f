"""Texts for people use plain words and short sentences, and say things once."""

from collections.abc import Iterator
from functools import cache
import json
import re
from statistics import median
from typing import Any

import pytest
import yaml

from tests.manual import ROOT, sentences, written_pages

from .words_to_avoid import TO_AVOID, found

COMPONENT = ROOT / "custom_components/gatewright"
LANGUAGES = tuple(TO_AVOID)
PLACEHOLDER = re.compile(r"\{\w+\}")

MOST_WORDS = 30
USUAL_WORDS = 14
BUTTON_WORDS = 3
SCREEN_WORDS = 16_765
"""Words of all different English texts, as measured; the goal is 15,000."""

HEARD_NOT_SAID = {"fr.selector.spoken.options.called_collector_short"}
"""Words that people say, and that are understood."""

BUTTONS = (
    "entity.button.*.name",
    "*.menu_options.*",
    "config_panel.machine.ask",
    "config_panel.machine.withdraw",
    "config_panel.gate.do_*",
    "config_panel.gate.cancel",
    "config_panel.state.reload",
    "config_panel.day.would_ask",
    "config_panel.record.runs",
    "config_panel.record.days",
    "common.plan_tab_*",
    "common.plan_tool_*",
    "common.plan_zoom_*",
    *(
        f"common.plan_{key}"
        for key in (
            *("undo", "redo", "several", "more", "done", "split", "join", "copy"),
            *("remove", "add_corner", "draw_it", "as_in_shop", "run_none"),
            *("all_at_once", "size_it", "take", "take_all", "leave", "apply"),
            *("apply_do", "cancel", "back", "print", "export", "import", "discard"),
            *("discard_do", "clash_mine", "clash_theirs", "clash_export"),
        )
    ),
)
"""The keys of what is pressed."""


def leaves(tree: dict[str, Any], path: str = "") -> Iterator[tuple[str, str]]:
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from leaves(value, f"{path}{key}.")
        else:
            yield f"{path}{key}", value


@cache
def screens(language: str) -> dict[str, str]:
    """Return every text of a language by its key, without its placeholders."""
    path = COMPONENT / "translations" / f"{language}.json"
    return {
        key: PLACEHOLDER.sub("X", text)
        for key, text in leaves(json.loads(path.read_text("utf-8")))
    }


MANUAL_MAY = re.compile(
    r"emergency stop|(?:rules for|a) lockout|lock out (?:the|its) breaker|who has air"
    r"|```.*?```|`[^`]+`",
    re.DOTALL,
)
"""What the manual says of the trade's safety functions, of what people say, and of code."""

SHOWN_OF_A_BLUEPRINT = {"name", "description", "label", "default"}


class _Blueprint(yaml.SafeLoader):
    """Reads a blueprint; what `!input` names is left as it is."""


_Blueprint.add_constructor("!input", lambda _, node: node.value)


def shown(tree: Any, key: str = "") -> Iterator[str]:
    """Yield the visible parts of a blueprint's description."""
    if isinstance(tree, dict):
        for name, value in tree.items():
            yield from shown(value, name)
    elif isinstance(tree, list):
        for value in tree:
            yield from shown(value, key)
    elif isinstance(tree, str) and key in SHOWN_OF_A_BLUEPRINT:
        yield tree


@cache
def elsewhere() -> dict[str, str]:
    """Return the other English texts: the manual, the blueprints, the printed pages."""
    texts = {name: MANUAL_MAY.sub("", page) for name, page in written_pages().items()}
    for path in sorted((ROOT / "blueprints").rglob("*.yaml")):
        blueprint = yaml.load(path.read_text("utf-8"), _Blueprint)  # noqa: S506
        texts[path.name] = MANUAL_MAY.sub("", "\n".join(shown(blueprint["blueprint"])))
    for path in sorted((COMPONENT / "texts/templates").glob("*.jinja")):
        texts[path.name] = re.sub(
            r"\{[{%#].*?[}%#]\}", "", path.read_text("utf-8"), flags=re.DOTALL
        )
    return texts


def test_every_pattern_finds_its_example() -> None:
    for language, patterns in TO_AVOID.items():
        for pattern, example in patterns.items():
            assert re.search(pattern, example, re.IGNORECASE), (language, pattern)


@pytest.mark.parametrize("language", LANGUAGES)
def test_screens_have_no_word_to_avoid(language: str) -> None:
    left = [
        f"{key}: {word}"
        for key, text in screens(language).items()
        if f"{language}.{key}" not in HEARD_NOT_SAID
        for word in found(text, language)
    ]
    assert left == []


@pytest.mark.parametrize("name", elsewhere())
def test_manual_and_blueprints_have_no_word_to_avoid(name: str) -> None:
    assert found(elsewhere()[name], "en") == []


def on_screens() -> Iterator[tuple[str, list[str]]]:
    for key, text in screens("en").items():
        for words in sentences(text):
            yield key, words


def test_no_sentence_on_a_screen_is_long() -> None:
    assert [
        f"{key}: {' '.join(words)}"
        for key, words in on_screens()
        if len(words) > MOST_WORDS
    ] == []


def test_sentences_on_screens_are_short() -> None:
    """Labels and titles, which have no mark at their end, would lower it."""
    whole = [len(words) for _, words in on_screens() if words[-1][-1] in ".!?"]
    assert len(whole) > 500
    assert median(whole) <= USUAL_WORDS


def test_little_is_said_and_once() -> None:
    said = {text: len(text.split()) for text in screens("en").values()}
    assert sum(said.values()) <= SCREEN_WORDS


@pytest.mark.parametrize("language", LANGUAGES)
def test_buttons_are_short(language: str) -> None:
    patterns = [
        re.compile(re.escape(key).replace(r"\*", r".+") + "$") for key in BUTTONS
    ]
    pressed = {
        key: text
        for key, text in screens(language).items()
        if any(pattern.match(key) for pattern in patterns)
    }
    assert all(any(p.match(key) for key in pressed) for p in patterns)
    most = BUTTON_WORDS + (language != "en")
    # A page that is set up has a mark at its end.
    labels = [text.removesuffix(" X") for text in pressed.values()]
    long = [text for text in labels if len(text.split()) > most]
    assert long == []


def test_something_is_read() -> None:
    assert len(screens("en")) > 2_500
    assert len(list(shown({"name": "A", "input": {"x": {"label": "B"}}}))) == 2
    assert len(elsewhere()) > 20
