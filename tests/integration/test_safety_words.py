"""A text that sends hands into a machine first says how to make that safe, in every language.

The texts are found by their advice, so a new one is checked without a list. Exceptions
are named with their reasons.
"""

from collections.abc import Iterator
import json
from pathlib import Path
import re
from typing import Any

import pytest

import custom_components.gatewright
from tests.manual import written_pages

COMPONENT = Path(custom_components.gatewright.__file__).parent
PROJECT = COMPONENT.parents[1]
LANGUAGES = ("en", "de", "fr")

type Texts = dict[str, str]


def flat(tree: dict[str, Any], path: str = "") -> Iterator[tuple[str, str]]:
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from flat(value, f"{path}{key}.")
        else:
            yield f"{path}{key}", value


def shown(language: str) -> Texts:
    """Return every text of the forms, repairs, alarms, answers and cards."""
    translations = COMPONENT / "translations" / f"{language}.json"
    return {
        re.sub("^config_panel", "card", path): text
        for path, text in flat(json.loads(translations.read_text(encoding="utf-8")))
    }


def other_texts() -> Texts:
    """Return the other English texts: the manual's paragraphs and the blueprints."""
    texts: Texts = {}
    for page, text in written_pages().items():
        by_hand = re.sub(r"<img [^>]*>", "", text)
        blocks = re.split(r"\n\n|\n(?=[-|#] )|\n(?=\| )", by_hand)
        texts |= {
            f"manual.{page}.{number}": block for number, block in enumerate(blocks)
        }
    for file in sorted((PROJECT / "blueprints").rglob("*.yaml")):
        for number, block in enumerate(re.split(r"\n\s*\n|: >-\n", file.read_text())):
            texts[f"{file.stem}.{number}"] = block
    return texts


ENGLISH = {**shown("en"), **other_texts()}

HANDS_AT_A_GATE = re.compile(
    r"\bchips? (?:in|from) the slide|\b(?:clean|touch|move) the slide\b|groove"
    r"|\b(?:open|close|shut|move) (?:it|(?:the|a) (?:gate|slide)|one of (?:its|their) gates"
    r"|its gate|that gate)(?: to that end)? by hand"
    r"|to be opened by hand\b|clear a chip|exchange its two hoses|loosen a hose"
    r"|the sensor and its (?:magnet|wire)|see that the sensor"
    r"|a contact of the same kind|wire of the actuator|actuator's supply",
    re.IGNORECASE,
)
HANDS_AT_BIN_OR_FILTER = re.compile(
    r"\bfor work on (?:bin|them)|\b(?:empty|open) (?:the|your|its) bin\b|\bthe bin,? the filter or the impeller"
    r"|\b(?:clean|replace|open|change) the filter\b|\bput in a new filter"
    r"|\bempty it first",
    re.IGNORECASE,
)
STOP_WITH_THE_PLUG = re.compile(
    r"(?:n't stop|not stop|still turns|turn it off at the device).*plug",
    re.IGNORECASE | re.DOTALL,
)

SAFE_GATE = {
    "en": r"power or (?:compressed )?air|bleed the line|hands out",
    "de": r"Strom oder (?:die |seine |dessen )?Druckluft|entlüfte|Leitung entlüften"
    r"|Hände (?:aus|weg)",
    "fr": r"courant ou (?:son |l')air comprimé|purgez la conduite|mains hors"
    r"|n'y touchez pas",
}
WHY = {"en": "without warning", "de": "ohne Vorwarnung", "fr": "sans prévenir"}
UNPLUGGED = {
    "en": r"unplug|(?:pull|pulled) (?:the|its) plug",
    "de": r"Netzstecker|Stecker",
    "fr": r"débranche",
}
MASK = {"en": "respirator", "de": "Atemschutz", "fr": "protection respiratoire"}
BREAKER = {"en": "breaker", "de": "Sicherung", "fr": "disjoncteur"}
PLUG = {"en": r"\bplug\b", "de": "Netzstecker", "fr": "débranche"}

NOT_ASKED = {
    "issues.alarm_hand_gate_closed": "a gate moved by hand has nothing to be turned off",
    "options.step.open_by_hand": "a gate moved by hand has nothing to be turned off",
    "options.step.shut_by_hand": "a gate moved by hand has nothing to be turned off",
    "selector.alarm_kind": "a name of an alarm, which says itself what to do",
    "selector.need": "a list of what is due; each alarm says how",
    "selector.report_change": "what a computation would bring, not what to do",
    "services.allow_starts": "what happens when all is done",
    "card.card.": "what a card is for",
    "card.gate.ask": "a question before a gate is moved from the card",
}


def excused(key: str) -> bool:
    return any(key.startswith(part) for part in NOT_ASKED)


def advice(text: str, language: str) -> str:
    """Return a text's advice, or all of it without a marked part."""
    mark = {"en": "What to do:", "de": "Was zu tun ist:", "fr": "Que faire\xa0:"}[
        language
    ]
    return text.partition(mark)[2] or text


def asking(what: re.Pattern[str]) -> list[str]:
    """Return the keys of the English texts with such advice."""
    return [
        key
        for key, text in ENGLISH.items()
        if not excused(key) and what.search(advice(text, "en"))
    ]


def languages_of(key: str) -> tuple[str, ...]:
    return LANGUAGES if key in shown("en") else ("en",)


def place(pattern: str, text: str) -> int:
    found = re.search(pattern, text, re.IGNORECASE)
    assert found is not None, f"{pattern!r} is not in {text!r}"
    return found.start()


GATE_TEXTS = asking(HANDS_AT_A_GATE)
DUST_TEXTS = asking(HANDS_AT_BIN_OR_FILTER)


def test_what_is_known_to_ask_is_found() -> None:
    """A pattern without matches would check nothing."""
    for kind in ("not_moving", "offline"):
        assert any(f"alarm_gate_{kind}" in key for key in GATE_TEXTS)
    for finding in (
        *("not_moving", "no_answer", "feedback_dead", "sensor_dead", "unsteady"),
        *("wrong_way", "travel_too_short", "sensor_contrary", "gate_away"),
    ):
        assert f"issues.walk_{finding}.description" in GATE_TEXTS, finding
    for kind in ("gate_not_moving", "no_gate_open", "gate_moved", "air_supply_low"):
        assert any(f"alarm_{kind}." in key for key in GATE_TEXTS), kind
    for kind in ("bin_full", "bin_nearly_full", "filter_clean_due"):
        assert any(f"alarm_{kind}" in key for key in DUST_TEXTS), kind
    assert "exceptions.refused_bin_full.message" in DUST_TEXTS
    for source in ("manual.README.md", "manual.docs/maintenance.md", "bin_alert"):
        assert any(key.startswith(source) for key in DUST_TEXTS), source
    assert any(key.startswith("manual.README.md") for key in GATE_TEXTS)
    stops = asking(STOP_WITH_THE_PLUG)
    for key in (
        "alarm_collector_not_stopping",
        "walk_power_stays",
        "walk_not_stopping",
    ):
        assert f"issues.{key}.description" in stops, key


@pytest.mark.parametrize("key", GATE_TEXTS)
def test_hands_at_a_gate_begin_with_its_supply(key: str) -> None:
    """It can move without warning: power or compressed air off comes before the hand."""
    for language in languages_of(key):
        text = ENGLISH[key] if language == "en" else shown(language)[key]
        said = advice(text, language)
        safe = place(SAFE_GATE[language], said)
        if language == "en":
            asked = HANDS_AT_A_GATE.search(said)
            assert asked is not None
            # In the manual, and where the gate was left on purpose, it's one sentence.
            begins = said.rfind(".", 0, asked.start()) + 1
            end = said.find(".", asked.end())
            assert safe < asked.start() or begins <= safe < end, said
        assert WHY[language] in said, said


@pytest.mark.parametrize("key", DUST_TEXTS)
def test_hands_at_bin_or_filter_begin_with_the_plug(key: str) -> None:
    for language in languages_of(key):
        text = ENGLISH[key] if language == "en" else shown(language)[key]
        said = advice(text, language)
        unplugged = place(UNPLUGGED[language], said)
        mask = place(MASK[language], said)
        if language == "en":
            asked = [found.start() for found in HANDS_AT_BIN_OR_FILTER.finditer(said)]
            before = re.search(r"\b(?:before you|for work on)\b", said, re.IGNORECASE)
            assert before or max(unplugged, mask) < asked[-1], said


@pytest.mark.parametrize("key", asking(STOP_WITH_THE_PLUG))
def test_a_collector_that_does_not_stop_is_cut_off_at_the_breaker_first(
    key: str,
) -> None:
    """A plug that is pulled under load draws an arc (common practice, no source)."""
    for language in languages_of(key):
        text = ENGLISH[key] if language == "en" else shown(language)[key]
        said = advice(text, language)
        assert place(BREAKER[language], said) < place(PLUG[language], said), said


@pytest.mark.parametrize("language", LANGUAGES)
def test_hoses_of_compressed_air_are_bled_first(language: str) -> None:
    """Close the valve, bleed the line, and only then loosen a hose."""
    order = {
        "en": ("close the (?:shut-off )?valve", "bleed the line"),
        "de": ("schließ(?:en)? das Absperrventil|Das Ventil schließen", "entlüfte"),
        "fr": ("fermez(?: la vanne d'arrêt|-la)", "purgez la conduite"),
    }[language]
    texts = shown(language)
    for key in (
        "issues.walk_wrong_way.description",
        "issues.alarm_air_supply_low.description",
    ):
        valve, bleed = (place(pattern, texts[key]) for pattern in order)
        assert valve < bleed, texts[key]


def test_nothing_is_excused_that_is_not_there() -> None:
    texts = shown("en")
    for part in NOT_ASKED:
        assert any(key.startswith(part) for key in texts), part
