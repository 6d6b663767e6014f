"""Sentences in every language are answered in it, and Home Assistant's own sentences work."""

import logging
import re
from typing import cast

from homeassistant.components.conversation import async_converse
from homeassistant.core import Context, HomeAssistant
from homeassistant.helpers import entity_registry as er, intent
import pytest
from pytest_homeassistant_custom_component.common import MockConfigEntry

from custom_components.gatewright.const import DOMAIN
from custom_components.gatewright.intent import INTENT_ANYTHING_WRONG, INTENT_CLEAR_AIR
from custom_components.gatewright.texts.spoken_texts import LANGUAGES

from .spoken import ANSWERS, SAID, open_shop, say
from .workshop import (
    COLLECTOR,
    LAMP,
    Workshop,
    change_system,
    gate,
    machine,
    system_entry,
)

# Our sentences, and the answers -------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
async def test_what_is_said_is_answered_in_its_language(
    hass: HomeAssistant, spoken_shop: Workshop, language: str
) -> None:
    for intent_type, said in SAID[language].items():
        assert len(said) >= 5
        if intent_type == INTENT_CLEAR_AIR:
            continue
        for text in said:
            answer = await say(hass, text, language)
            assert re.fullmatch(ANSWERS[language][intent_type], answer), (text, answer)
    # Last: from then on dust is collected somewhere.
    for text in SAID[language][INTENT_CLEAR_AIR]:
        answer = await say(hass, text, language)
        assert re.fullmatch(ANSWERS[language][INTENT_CLEAR_AIR], answer), (text, answer)


HINTS = {
    "en": {"turn on the table saw", "please switch on the table saw"},
    "de": {
        "schalte die Tischkreissäge ein",
        "mach bitte die Tischkreissäge an",
        "starte die Tischkreissäge",
        "wirf die Tischkreissäge an",
    },
    "fr": {"allume la scie circulaire", "mets la scie circulaire en marche"},
}


@pytest.mark.parametrize("language", LANGUAGES)
async def test_a_machine_that_is_to_be_turned_on_gets_a_hint_that_works(
    hass: HomeAssistant, spoken_shop: Workshop, language: str
) -> None:
    request = er.async_get(hass).async_get_entity_id("switch", DOMAIN, "saw_request")
    assert request is not None
    for said in HINTS[language]:
        answer = await say(hass, said, language)
        assert ":" in answer, answer
        assert spoken_shop.state(request) == "off"
    # The suggestion comes last, in French between its own marks.
    instead = answer.rpartition(": ")[2].strip("«» \N{NO-BREAK SPACE}.")
    await say(hass, instead, language)
    await spoken_shop.settle()
    assert spoken_shop.state(request) == "on"


TIMES = {
    "en": {
        "clear the air": "10 minutes",
        "clear the air for twenty-five minutes": "25 minutes",
        "clear the air for a quarter of an hour": "15 minutes",
        "clear the air for an hour": "1 hour",
        "clear the air for three quarters of an hour": "45 minutes",
        "clear the air for an hour and a half": "1 hour and 30 minutes",
    },
    "de": {
        "saug die Luft ab": "10 Minuten",
        "saug die Luft für elf Minuten ab": "11 Minuten",
        "saug die Luft in der Werkstatt 20 Minuten lang ab": "20 Minuten",
        "saug eine Minute lang die Luft ab": "1 Minute",
        "reinige die Luft für eine halbe Stunde": "30 Minuten",
        "Luft absaugen für zwei Stunden": "2 Stunden",
        "lass die Absaugung zehn Minuten laufen": "10 Minuten",
        "schalte den Absauger eine Dreiviertelstunde lang ein": "45 Minuten",
    },
    "fr": {
        "aspire l'air": "10 minutes",
        "aspire l'air pendant onze minutes": "11 minutes",
        "aspire l'air de l'atelier pendant 20 minutes": "20 minutes",
        "aspire l'air pendant une minute": "1 minute",
        "aspirez l'air pendant vingt et une minutes": "21 minutes",
        "purifie l'air pendant une demi-heure": "30 minutes",
        "aspire l'air pendant trois quarts d'heure": "45 minutes",
        "aspire l'air pendant une heure et demie": "1 heure et 30 minutes",
        "aspire l'air pendant deux heures": "2 heures",
    },
}


@pytest.mark.parametrize("language", LANGUAGES)
async def test_the_air_is_cleared_for_as_long_as_was_said(
    hass: HomeAssistant, spoken_shop: Workshop, language: str
) -> None:
    for text, time in TIMES[language].items():
        assert re.search(rf"\b{time}\b", await say(hass, text, language)), text
    await spoken_shop.pass_time(2)
    assert spoken_shop.state(COLLECTOR) == "on"


NO_TIMES = {
    "en": (
        "I didn't understand how long.",
        ["clear the air for 300 minutes", "clear the air for a few minutes"],
    ),
    "de": (
        "Ich habe nicht verstanden, wie lange.",
        ["saug die Luft für immer ab", "saug die Luft dreihundert Minuten lang ab"],
    ),
    "fr": (
        "Je n'ai pas compris pour combien de temps.",
        ["aspire l'air pendant toute la journée", "aspire l'air pour zéro minute"],
    ),
}


@pytest.mark.parametrize("language", LANGUAGES)
async def test_a_time_that_is_none_starts_nothing(
    hass: HomeAssistant, spoken_shop: Workshop, language: str
) -> None:
    answer, said = NO_TIMES[language]
    for text in said:
        assert await say(hass, text, language) == answer
    await spoken_shop.pass_time(2)
    assert spoken_shop.state(COLLECTOR) == "off"


GOES_ON = {
    "en": (
        ("who has air", "Dust collection is on at Table saw."),
        ("how long did the collector run today", "The collector ran for 1 hour today."),
        ("is the bin full", "Yes, the bin is full."),
        (
            "is anything wrong in the shop",
            "The bin of Dust collector is full. Starts of Dust collector are blocked.",
        ),
        ("clear the air", "Starts of Dust collector are blocked. "),
    ),
    "de": (
        ("wer hat Luft", "Abgesaugt wird an: Tischkreissäge."),
        ("wie lange lief der Absauger heute", "Der Absauger lief heute 1 Stunde."),
        ("ist der Behälter voll", "Ja, der Behälter ist voll."),
        (
            "ist alles in Ordnung in der Werkstatt",
            "Der Behälter von Absauger ist voll. Absauger: Starts sind gesperrt.",
        ),
        ("saug die Luft ab", "Starts von Absauger sind gesperrt. "),
    ),
    "fr": (
        ("qui a de l'air", "Aspiration active\xa0: Scie circulaire."),
        (
            "combien de temps l'aspirateur a-t-il tourné aujourd'hui",
            "Le dépoussiéreur a tourné 1 heure aujourd'hui.",
        ),
        ("est-ce que le bac est plein", "Oui, le bac est plein."),
        (
            "est-ce que tout va bien dans l'atelier",
            "Aspirateur\xa0: le bac est plein. Aspirateur\xa0: démarrages bloqués.",
        ),
        ("aspire l'air", "Aspirateur\xa0: démarrages bloqués. "),
    ),
}


@pytest.mark.parametrize("hub", LANGUAGES)
@pytest.mark.parametrize("spoken", GOES_ON)
async def test_what_goes_on_is_reported_in_the_language(
    hass: HomeAssistant, workshop: Workshop, spoken: str, hub: str
) -> None:
    """That of the assistant, whatever language Home Assistant has."""
    await open_shop(hass, workshop, hub, spoken)
    air, ran, full, wrong, refused = GOES_ON[spoken]
    await workshop.saw_runs()
    assert await say(hass, air[0], spoken) == air[1]
    await workshop.pass_time(3599, 300)
    assert await say(hass, ran[0], spoken) == ran[1]
    entry = hass.config_entries.async_get_known_entry("system")
    hass.states.async_set("binary_sensor.bin_level", "on")
    change_system(
        hass, cast("MockConfigEntry", entry), bin_full="binary_sensor.bin_level"
    )
    await hass.async_block_till_done()
    await workshop.pass_time(2)
    assert await say(hass, full[0], spoken) == full[1]
    registry = er.async_get(hass)
    start_block = registry.async_get_entity_id("switch", DOMAIN, "system_start_block")
    assert start_block
    await workshop.call("turn_on", start_block)
    assert await say(hass, wrong[0], spoken) == wrong[1]
    assert (await say(hass, refused[0], spoken)).startswith(refused[1])


VARIANTS = [
    ("de-CH", "wer hat Luft", "Gerade wird nirgends abgesaugt."),
    ("de-AT", "Wer hat Luft?", "Gerade wird nirgends abgesaugt."),
    ("fr-CA", "tout va bien dans l'atelier", "Tout va bien."),
    ("en-GB", "is anything wrong in the shop", "Everything is fine."),
    # An assistant answers in its own language, whatever the question's.
    ("fr", "is anything wrong in the shop", "Tout va bien."),
    ("en", "tout va bien dans l'atelier", "Everything is fine."),
    # Unless that is none of ours.
    ("fi", "is anything wrong in the shop", "Everything is fine."),
    ("fi", "tout va bien dans l'atelier", "Tout va bien."),
    ("xx", "läuft alles gut in der Werkstatt", "Alles in Ordnung."),
]


async def test_regions_and_languages_that_are_none_of_ours(
    hass: HomeAssistant, spoken_shop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.clear()
    for assistant, text, answer in VARIANTS:
        assert await say(hass, text, assistant) == answer, assistant
    assert [r for r in caplog.records if r.levelno >= logging.WARNING] == []


async def test_sentences_of_the_owners_are_answered_in_their_language(
    hass: HomeAssistant, spoken_shop: Workshop
) -> None:
    """They call the intents with the language of their assistant."""
    for assistant, answer in (
        ("de-CH", "Alles in Ordnung."),
        ("fr-BE", "Tout va bien."),
        ("fi", "Everything is fine."),
    ):
        response = await intent.async_handle(
            hass, DOMAIN, INTENT_ANYTHING_WRONG, {}, language=assistant
        )
        assert response.speech["plain"]["speech"] == answer


# Home Assistant's own sentences, with entities named in the language -------------------------


HOME_ASSISTANTS_OWN = {
    "de": [
        ("schalte die Bodenabsaugung ein", "switch.bodenabsaugung", "on"),
        ("schalte den Absauger aus", "switch.bodenabsaugung", "off"),
        ("mach bitte die Bodenabsaugung an", "switch.bodenabsaugung", "on"),
        ("Absauganlage ausschalten", "switch.absauger", "off"),
        ("schalte den Absauger ein", "switch.absauger", "on"),
        ("stoppe den Absauger", "switch.absauger", "off"),
        ("öffne den Hobelschieber", "cover.hobelschieber", "open"),
        ("schließe den Hobelschieber", "cover.hobelschieber", "closed"),
        ("mach den Hobelschieber auf", "cover.hobelschieber", "open"),
        (
            "schalte die Tischkreissäge Absaugung ein",
            "switch.tischkreissage_absaugung",
            "on",
        ),
    ],
    "fr": [
        ("allume l'aspiration au sol", "switch.aspiration_au_sol", "on"),
        ("éteins l'aspirateur", "switch.aspiration_au_sol", "off"),
        ("peux-tu démarrer l'aspiration au sol", "switch.aspiration_au_sol", "on"),
        ("arrête l'aspiration de l'atelier", "switch.aspirateur", "off"),
        ("allume l’aspirateur", "switch.aspirateur", "on"),
        ("coupe l'aspirateur s'il te plaît", "switch.aspirateur", "off"),
        ("ouvre la vanne de la raboteuse", "cover.vanne_de_la_raboteuse", "open"),
        ("ferme la vanne de la raboteuse", "cover.vanne_de_la_raboteuse", "closed"),
        ("ouvrir la vanne de la raboteuse", "cover.vanne_de_la_raboteuse", "open"),
        (
            "allume la scie circulaire aspiration",
            "switch.scie_circulaire_aspiration",
            "on",
        ),
    ],
}


@pytest.mark.parametrize("language", HOME_ASSISTANTS_OWN)
async def test_home_assistants_own_sentences_work(
    hass: HomeAssistant, spoken_shop: Workshop, language: str
) -> None:
    for text, entity, becomes in HOME_ASSISTANTS_OWN[language]:
        assert spoken_shop.state(entity) != becomes, text
        await say(hass, text, language)
        await spoken_shop.pass_time(8)
        assert spoken_shop.state(entity) == becomes, text
    assert spoken_shop.state(COLLECTOR) == "on"


@pytest.mark.parametrize(
    ("language", "start_block", "said"),
    [
        (
            "de",
            "switch.absauger_starts_sperren",
            [
                "schalte die Tischkreissäge ein",
                "schalte Starts sperren aus",
                "schalte Absauger Starts sperren aus",
            ],
        ),
        (
            "fr",
            "switch.aspirateur_bloquer_les_demarrages",
            [
                "allume la scie circulaire",
                "désactive bloquer les démarrages",
                "désactive l'aspirateur bloquer les démarrages",
            ],
        ),
    ],
)
async def test_no_language_starts_a_machine_or_allows_starts(
    hass: HomeAssistant,
    spoken_shop: Workshop,
    language: str,
    start_block: str,
    said: list[str],
) -> None:
    await spoken_shop.call("turn_on", start_block)
    for text in said:
        result = await async_converse(hass, text, None, Context(), language=language)
        kind = result.response.response_type
        # A request to turn on a machine gets a hint instead of an error.
        hint = text == said[0]
        assert (kind is intent.IntentResponseType.ERROR) is not hint
        await spoken_shop.pass_time(2)
        assert spoken_shop.state(start_block) == "on"
        assert spoken_shop.state(COLLECTOR) == "off"


CALLED = {
    "de": (
        [
            ("öffne den Schieber der Drechselbank", "cover.drechselbank"),
            ("mach den Schieber am Hobel auf", "cover.hobel"),
            ("schalte die Absaugung an der Bandsäge ein", "switch.bandsage_absaugung"),
            ("mach die Absaugung am Schleifer an", "switch.schleifer"),
        ],
        ["Drechselbank", "Hobel", "Bandsäge", "Schleifer"],
        ["Schieber Hobel", "Schieber der Hobel", "Schieber am Hobel"],
    ),
    "fr": (
        [
            ("ouvre la vanne de la dégauchisseuse", "cover.degauchisseuse"),
            ("ouvre la vanne du tour", "cover.tour"),
            ("allume l'aspiration de l'établi", "switch.etabli_aspiration"),
            ("démarre l'aspiration de la ponceuse", "switch.ponceuse"),
        ],
        ["Dégauchisseuse", "Tour", "Établi", "Ponceuse"],
        ["Vanne Tour", "Vanne de la Tour", "Vanne du Tour"],
    ),
}


@pytest.mark.parametrize("language", CALLED)
async def test_gates_and_air_are_called_by_the_machine_with_its_article(
    hass: HomeAssistant,
    spoken_shop: Workshop,
    language: str,
    entity_registry: er.EntityRegistry,
) -> None:
    said, (one, two, three, four), aliases = CALLED[language]
    for number in range(1, 5):
        hass.states.async_set(f"switch.gate_{number}", "off")
    spoken_shop.watts("sensor.power", 3)
    parts = [
        gate("one", one, actuator="switch.gate_1"),
        gate("two", two, actuator="switch.gate_2"),
        machine("three", three, gates=["one"], sensor="sensor.power"),
        machine("four", four, gates=["two"]),
    ]
    other = system_entry(parts, title="Annex", entry_id="other", switch=LAMP)
    await spoken_shop.load(other)
    for text, entity in said:
        assert spoken_shop.state(entity) in ("closed", "off"), text
        await say(hass, text, language)
        await spoken_shop.pass_time(1)
        assert spoken_shop.state(entity) in ("opening", "on"), text
    found = entity_registry.async_get(said[1][1])
    assert found
    assert list(found.aliases) == [er.COMPUTED_NAME, *aliases]
    # What a name already says isn't repeated.
    sweep = {"de": "switch.bodenabsaugung", "fr": "switch.aspiration_au_sol"}
    found = entity_registry.async_get(sweep[language])
    assert found
    assert list(found.aliases) == [er.COMPUTED_NAME]
