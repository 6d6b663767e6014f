"""The words of the cards: complete in every language, and for everything that can be."""

import json
from pathlib import Path
import re
from typing import Any

import pytest

import custom_components.gatewright
from custom_components.gatewright.shop.alarms import AlarmKind
from custom_components.gatewright.shop.words import Phase

FRONTEND = Path(custom_components.gatewright.__file__).parent / "frontend"
LANGUAGES = sorted(file.stem for file in (FRONTEND / "i18n").glob("*.js"))
LONGEST_MODULE = 400


def texts(language: str) -> dict[str, Any]:
    """Return the texts of a language; the modules hold plain JSON."""
    module = (FRONTEND / "i18n" / f"{language}.js").read_text("utf-8")
    found: dict[str, Any] = json.loads(
        module.removeprefix("export default ").rstrip().removesuffix(";")
    )
    return found


def gaps(text: str | dict[str, str]) -> set[str]:
    """Return the gaps of a text, those of all its plural forms."""
    forms = [text] if isinstance(text, str) else text.values()
    return {gap for form in forms for gap in re.findall(r"\{(\w+)\}", form)}


def test_there_are_languages_beside_english() -> None:
    assert {"en", "de", "fr"} <= set(LANGUAGES)
    loader = (FRONTEND / "i18n.js").read_text("utf-8")
    assert all(f"./i18n/{language}.js" in loader for language in LANGUAGES)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_is_complete(language: str) -> None:
    english, other = texts("en"), texts(language)
    assert other.keys() == english.keys()
    for key, text in other.items():
        assert gaps(text) == gaps(english[key]), key
        assert isinstance(text, str) or text.keys() >= {"one", "other"}, key


@pytest.mark.parametrize("kind", list(AlarmKind))
def test_every_alarm_says_what_is_wrong_and_what_to_do(kind: AlarmKind) -> None:
    english = texts("en")
    assert "{name}" in english[f"alarm.{kind.value}"]
    assert len(english[f"alarm.{kind.value}.do"]) > 15


def test_every_phase_has_words() -> None:
    english = texts("en")
    assert {f"collector.{phase.value}" for phase in Phase} <= english.keys()


def test_every_text_that_is_asked_for_is_there_and_used() -> None:
    english = texts("en")
    source = "\n".join(file.read_text("utf-8") for file in FRONTEND.glob("*.js"))
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
        for file in FRONTEND.glob("*.js")
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
