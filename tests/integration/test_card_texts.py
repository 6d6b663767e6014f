"""The texts of the cards: complete in every language, and for every state."""

from pathlib import Path
import re

import pytest

import custom_components.gatewright
from custom_components.gatewright.core.control.alarms import AlarmKind
from custom_components.gatewright.core.control.enums import Phase

from .test_languages import LANGUAGES as OTHERS, read

FRONTEND = Path(custom_components.gatewright.__file__).parent / "frontend"
LANGUAGES = ["en", *OTHERS]
PLURAL = re.compile("_(one|other)$")
"""The key endings of texts for counts."""
LONGEST_MODULE = 400


def texts(language: str) -> dict[str, str]:
    """Return the texts of the cards and of the plan's editor in a language, by their keys."""
    starts = {"config_panel.": "", "common.plan_": "plan."}
    return {
        group + path.removeprefix(start): text
        for path, text in read(language).items()
        for start, group in starts.items()
        if path.startswith(start)
    }


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_text_for_one_has_another_for_many(language: str) -> None:
    found = texts(language)
    assert found["language.code"] == language
    plural = {PLURAL.sub("", key) for key in found if PLURAL.search(key)}
    assert len(plural) > 5
    for key in plural:
        assert {f"{key}_one", f"{key}_other"} <= found.keys()
        # A text with that key would be used for any count.
        assert key not in found


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_two_cards_or_views_share_a_name(language: str) -> None:
    """Nobody could tell them apart in a picker."""
    for start, more in (("card.", "_description"), ("view.", "")):
        names = [
            text
            for key, text in texts(language).items()
            if key.startswith(start) and not (more and key.endswith(more))
        ]
        assert len(names) > 5
        assert len(set(names)) == len(names)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("kind", list(AlarmKind))
def test_every_alarm_says_what_is_wrong_and_what_to_do(
    kind: AlarmKind, language: str
) -> None:
    """In the repairs' words, of which the cards show the title and what is asked for in bold."""
    found = read(language)
    start = f"issues.alarm_{kind.value}"
    assert "{part}" in found[f"{start}.title"]
    (described,) = (
        found[key]
        for key in (
            f"{start}.description",
            f"{start}.fix_flow.step.confirm.description",
        )
        if key in found
    )
    paragraphs = described.split("\n\n")
    asked = [
        paragraph
        for paragraph in paragraphs
        if (bold := re.match(r"\*\*[^*]+\*\* (.+)$", paragraph)) and len(bold[1]) > 12
    ]
    assert len(asked) == 1
    # Not in bold besides, or a card would show the marks.
    assert described.count("**") == 2
    assert set(re.findall(r"\{(\w+)\}", asked[0])) <= {"part", "system"}
    assert set(re.findall(r"\{(\w+)\}", found[f"{start}.title"])) <= {"part", "system"}


def test_every_phase_has_words() -> None:
    english = texts("en")
    assert {f"collector.{phase.value}" for phase in Phase} <= english.keys()


def test_every_text_that_is_asked_for_is_there_and_used() -> None:
    english = {PLURAL.sub("", key) for key in texts("en")} - {"language.code"}
    source = "\n".join(file.read_text("utf-8") for file in FRONTEND.rglob("*.js"))
    asked = set(re.findall(r'"([a-z]+\.[a-z_.]+)"', source))
    kinds = {key.partition(".")[0] for key in english}
    missing = {
        key
        for key in asked
        if key.partition(".")[0] in kinds
        # A prefix of several is asked for as well.
        and not any(text.startswith(key) for text in english)
    }
    assert missing == set()
    # The others are put together from a kind and what it is about.
    built = set(re.findall(r"`([a-z]+)\.(?:[a-z_]+)?\$\{", source))
    unused = {
        key
        for key in english
        if key not in asked and key.partition(".")[0] not in built
    }
    assert unused == set()


def test_modules_are_of_readable_length() -> None:
    lengths = {
        file.name: len(file.read_text("utf-8").splitlines())
        for file in FRONTEND.rglob("*.js")
    }
    assert len(lengths) > 10
    assert {name: n for name, n in lengths.items() if n > LONGEST_MODULE} == {}


def test_nothing_is_loaded_from_elsewhere() -> None:
    for file in FRONTEND.rglob("*.js"):
        links = re.findall(r"(?:https?:)?//[\w.-]+\.\w+", file.read_text("utf-8"))
        strange = {
            link
            for link in links
            if link not in ("https://github.com", "http://www.w3.org")
        }
        assert strange == set(), file.name
