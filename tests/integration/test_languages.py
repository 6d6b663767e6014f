"""Every language has the same texts as English: none missing, left over or untranslated."""

from collections import Counter
from collections.abc import Iterator
import json
from pathlib import Path
import re
from typing import Any

from homeassistant.core import HomeAssistant
from homeassistant.helpers.translation import async_get_translations
import pytest

import custom_components.gatewright
from custom_components.gatewright.const import DOMAIN

FOLDER = Path(custom_components.gatewright.__path__[0]) / "translations"
LANGUAGES = sorted(path.stem for path in FOLDER.glob("*.json") if path.stem != "en")

PLACEHOLDER = re.compile(r"\{(\w+)\}")
WORD = re.compile(r"[^\W\d_]+")
REFERENCE = re.compile(r"\[%key:[^\]]+%\]")
SHORT = 3
"""Up to this many words a text may be the same in both languages: Name, Alarm, Filter."""


def texts(tree: dict[str, Any], path: str = "") -> Iterator[tuple[str, str]]:
    """Return every text of a language, with the path of its key."""
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from texts(value, f"{path}{key}.")
        else:
            yield f"{path}{key}", value


def read(language: str) -> dict[str, str]:
    """Return the texts of a language by their paths.

    A duplicate key is an error: Home Assistant would silently use the last one.
    """

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        twice = [
            key for key, count in Counter(k for k, _ in pairs).items() if count > 1
        ]
        assert not twice, f"{language}: given twice: {twice}"
        return dict(pairs)

    content = (FOLDER / f"{language}.json").read_text(encoding="utf-8")
    return dict(texts(json.loads(content, object_pairs_hook=once)))


def words(text: str) -> list[str]:
    """Return the words to translate: no placeholder, no code, no reference."""
    return WORD.findall(PLACEHOLDER.sub(" ", REFERENCE.sub(" ", text)))


def marks(text: str) -> dict[str, int]:
    """Count the markup of a text."""
    lines = text.split("\n")
    return {
        "bold": text.count("**"),
        "code": text.count("`"),
        "line": len(lines),
        "table": text.count("|"),
        "list": sum(line.startswith("- ") for line in lines),
        "heading": sum(line.startswith("#") for line in lines),
    }


def problems(english: dict[str, str], other: dict[str, str]) -> list[str]:
    """Return the errors of a translation, one line each."""
    found = [f"missing: {path}" for path in english if path not in other]
    found += [f"left over: {path}" for path in other if path not in english]
    for path, text in other.items():
        if (source := english.get(path)) is None:
            continue
        if not text.strip():
            found.append(f"empty: {path}")
        if set(PLACEHOLDER.findall(text)) != set(PLACEHOLDER.findall(source)):
            found.append(f"placeholders: {path}")
        if REFERENCE.findall(text) != REFERENCE.findall(source):
            found.append(f"reference: {path}")
        if marks(text) != marks(source):
            found.append(f"marks: {path}")
        if text == source and len(words(source)) > SHORT:
            found.append(f"English: {path}")
    return found


def test_there_are_other_languages() -> None:
    """Without this, a moved folder would leave nothing to check."""
    assert LANGUAGES
    assert len(read("en")) > 1000


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_says_all_that_english_says(language: str) -> None:
    assert problems(read("en"), read(language)) == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_keys_stand_in_the_same_order(language: str) -> None:
    """So that two languages can be compared side by side."""
    assert list(read(language)) == list(read("en"))


@pytest.mark.parametrize("language", LANGUAGES)
async def test_home_assistant_takes_every_text_of_a_language(
    hass: HomeAssistant, language: str
) -> None:
    """It drops a text whose placeholders it can't read, and then shows English."""
    for category in json.loads((FOLDER / "en.json").read_text(encoding="utf-8")):
        start = f"component.{DOMAIN}."
        shown = await async_get_translations(hass, language, category, [DOMAIN])
        assert shown == {
            f"{start}{path}": text
            for path, text in read(language).items()
            if path.startswith(f"{category}.")
        }


@pytest.mark.parametrize(
    ("other", "problem"),
    [
        ({}, "missing: a.b"),
        ({"a.b": "Noch {left} bis zum Halt", "a.c": "x"}, "left over: a.c"),
        ({"a.b": " "}, "empty: a.b"),
        ({"a.b": "Noch {rest} bis zum Halt"}, "placeholders: a.b"),
        ({"a.b": "Noch **{left}** bis zum Halt"}, "marks: a.b"),
        ({"a.b": "[%key:a%] noch {left}"}, "reference: a.b"),
        ({"a.b": "Still {left} until it stops"}, "English: a.b"),
    ],
)
def test_each_mistake_would_be_found(other: dict[str, str], problem: str) -> None:
    english = {"a.b": "Still {left} until it stops"}
    assert problem in problems(english, other)
    assert problems(english, {"a.b": "Noch {left} bis zum Halt"}) == []
