"""The cards and the rest of Gatewright use the same word for the same thing, in every language."""

from collections import defaultdict
import re

import pytest

from custom_components.gatewright.core.control.enums import Phase

from .test_card_texts import LANGUAGES, texts
from .test_languages import read

OTHERS = [language for language in LANGUAGES if language != "en"]

NAMES = re.compile(r"\{(?:name|part|system)\}")
LEFT = re.compile(r",? ?\{left\}$")

OTHER_SENSE = {
    # A button's verb, where the translations name a state.
    "gate.do_open",
    "gate.do_shut",
    # A gate that opens, where the translations name the opening of a hood.
    "gate.opening",
    # Short below the collector on the map, long as a heading.
    "label.bin",
}
"""Card texts whose English has another meaning as well."""

STATES = {
    **{
        f"collector.{phase.value}": f"entity.sensor.collector_phase.state.{phase.value}"
        for phase in Phase
    },
    "machine.idle": "entity.sensor.machine_phase.state.idle",
    "machine.run_own": "entity.sensor.machine_phase.state.running",
    "machine.clear": "entity.sensor.machine_phase.state.clearing",
    "gate.open": "selector.walk_line.options.open",
    "gate.shut": "selector.walk_line.options.shut",
}
"""Card states, and the key of the same state elsewhere."""

REASONS = {
    "why.not_connected": "machine.loose",
    "why.start_block": "mode.lockout",
    "why.fire_shutdown": "mode.emergency",
}
"""Reasons for missing dust collection, and the state that is the reason."""

TERMS = {
    "collector": {"de": "absauger", "fr": "dépoussiéreur"},
    "dust collection": {"de": "absaugung", "fr": "aspiration"},
    "linked device": {"de": "zusatzgerät", "fr": "appareil associé"},
    "collected share": {"de": "absauganteil", "fr": "part aspirée"},
    "gate": {"de": "schieber", "fr": "vanne"},
    "bin": {"de": "behälter", "fr": "bac"},
    "filter": {"de": "filter", "fr": "filtre"},
    "respirator": {"de": "atemschutzmaske", "fr": "protection respiratoire"},
    "offline": {"de": "offline", "fr": "injoignable"},
}
"""English words, and what every translation of them must contain."""


def with_alarms(language: str) -> dict[str, str]:
    """Return what the cards say, the alarms in the words of the repairs."""
    alarms = {
        path: text
        for path, text in read(language).items()
        if path.startswith("issues.alarm_")
    }
    return {**texts(language), **alarms}


def plain(text: str) -> str:
    """Return a text without what depends on its place: names, seconds, the first letter."""
    return LEFT.sub("", NAMES.sub("{x}", text)).strip(" .:").casefold()


def differences(
    cards: dict[str, dict[str, str]],
    translations: dict[str, dict[str, str]],
    language: str,
) -> list[str]:
    """Return the card texts that equal another text in English, but not in a language."""
    said = defaultdict(set)
    for path, text in translations["en"].items():
        if path.startswith("config_panel."):
            continue
        said[plain(text)].add(plain(translations[language][path]))
    return [
        f"{key}: {text}, elsewhere {' or '.join(sorted(known))}"
        for key, text in cards[language].items()
        if key not in OTHER_SENSE
        and (known := said.get(plain(cards["en"][key])))
        and plain(text) not in known
    ]


@pytest.mark.parametrize("language", OTHERS)
def test_what_is_one_word_in_english_is_one_word(language: str) -> None:
    cards = {each: texts(each) for each in ("en", language)}
    translations = {each: read(each) for each in ("en", language)}
    assert differences(cards, translations, language) == []


def test_a_word_of_its_own_would_be_found() -> None:
    """Of two texts with one meaning, and of one that occurs nowhere else."""
    cards = {
        "en": {"machine.clear": "Clearing, {left}", "alarm.x": "{name} stops"},
        "fr": {"machine.clear": "Vidange, {left}", "alarm.x": "{name} cesse"},
    }
    translations = {"en": {"phase": "Clearing"}, "fr": {"phase": "Purge"}}
    found = differences(cards, translations, "fr")
    assert found == ["machine.clear: Vidange, {left}, elsewhere purge"]


@pytest.mark.parametrize("language", LANGUAGES)
def test_states_are_named_as_the_entities_name_them(language: str) -> None:
    cards, entities = texts(language), read(language)
    for key, path in STATES.items():
        assert plain(cards[key]) == plain(entities[path]), key


@pytest.mark.parametrize("language", LANGUAGES)
def test_reasons_are_named_as_the_cards_name_the_state(language: str) -> None:
    cards = texts(language)
    for reason, state in REASONS.items():
        assert plain(cards[reason]) == plain(cards[state]), reason


@pytest.mark.parametrize("language", OTHERS)
def test_terms_are_translated_by_one_word(language: str) -> None:
    english, other = with_alarms("en"), with_alarms(language)
    for term, words in TERMS.items():
        word = re.compile(rf"\b{term}s?\b")
        asked = [key for key, text in english.items() if word.search(plain(text))]
        assert asked, term
        without = [key for key in asked if words[language] not in plain(other[key])]
        assert without == [], term


QUOTED = re.compile(r"[“„«]\s?([^“”„»]+?)\s?[”“»]")


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_button_that_is_named_is_there(language: str) -> None:
    """Whoever reads "press ..." or "set ..." finds that name."""
    known = re.compile(
        r"entity\.button\.|services\.\w+\.name|common\.plan_(undo|tool_duct)"
        r"|config_subentries\..*\.data\."
    )
    there = {text for path, text in read(language).items() if known.match(path)}
    # Of an alarm, the cards show the advice.
    said = [
        text.partition("**")[2].partition("\n")[0] or text
        for text in with_alarms(language).values()
    ]
    named = [name for text in said for name in QUOTED.findall(text)]
    assert named
    assert set(named) <= there
