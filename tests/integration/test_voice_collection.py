"""Dust collection turned on and off by voice, without the name of anything."""

from hassil.parse_expression import parse_sentence
from hassil.sample import sample_expression
from homeassistant.components.homeassistant.exposed_entities import async_expose_entity
from homeassistant.core import Context, HomeAssistant
from homeassistant.helpers import entity_registry as er
import pytest
from pytest_homeassistant_custom_component.common import MockUser

from custom_components.gatewright.features.voice.sentences import read_sentences
from custom_components.gatewright.texts.spoken_texts import LANGUAGES

from .spoken import open_shop, say
from .workshop import COLLECTOR, LAMP, Workshop, system_entry

SAID = {
    "en": (
        ("dust collection on", "turn the suction on", "please start the extraction"),
        ("dust collection off", "switch off the suction", "stop the extraction"),
        ("Dust collection is on.", "Dust collection is off."),
    ),
    "de": (
        ("Absaugung an", "Absaugung ein", "mach bitte mal die Absaugung an"),
        ("Absaugung aus", "stoppe die Späneabsaugung", "Absaugung ausschalten"),
        ("Die Absaugung ist eingeschaltet.", "Die Absaugung ist ausgeschaltet."),
    ),
    "fr": (
        ("aspiration en marche", "allume l'aspiration", "Lancez l'aspiration !"),
        ("arrête l'aspiration", "aspiration à l'arrêt", "éteignez l'aspiration"),
        ("L'aspiration est en marche.", "L'aspiration est arrêtée."),
    ),
}


@pytest.mark.parametrize("language", LANGUAGES)
async def test_it_is_turned_on_and_off_without_a_name(
    hass: HomeAssistant, spoken_shop: Workshop, language: str
) -> None:
    on, off, (is_on, is_off) = SAID[language]
    for turn_on, turn_off in zip(on, off, strict=True):
        assert await say(hass, turn_on, language) == is_on, turn_on
        await spoken_shop.pass_time(3)
        assert spoken_shop.state(COLLECTOR) == "on"
        assert await say(hass, turn_off, language) == is_off, turn_off
        await spoken_shop.pass_time(30)
        assert spoken_shop.state(COLLECTOR) == "off"


@pytest.mark.parametrize("language", LANGUAGES)
async def test_every_sentence_of_it_is_understood(
    hass: HomeAssistant, spoken_shop: Workshop, language: str
) -> None:
    words = read_sentences()[language]["collection"]
    assert words.keys() == {"names", "turn_on", "turn_off"}
    _, _, answers = SAID[language]
    for key, answer in zip(("turn_on", "turn_off"), answers, strict=True):
        for sentence in words[key]:
            for name in words["names"]:
                filled = sentence.replace("{gatewright_collection}", name)
                forms = [*sample_expression(parse_sentence(filled).expression)]
                for text in {forms[0], forms[len(forms) // 2], forms[-1]}:
                    assert await say(hass, text, language) == answer, text


async def test_of_several_collectors_one_has_to_be_named(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await open_shop(hass, workshop, "en", "en")
    other = system_entry([], title="Garage cyclone", entry_id="other", switch=LAMP)
    await workshop.load(other)
    answer = await say(hass, "dust collection on", "en")
    assert answer == "Say which one: Dust collector and Garage cyclone."
    await workshop.pass_time(3)
    assert workshop.state(COLLECTOR) == "off"
    # Of those that are exposed to the assistant.
    async_expose_entity(hass, "conversation", "switch.garage_cyclone", False)
    assert await say(hass, "dust collection on", "en") == "Dust collection is on."


async def test_what_is_called_so_itself_is_left_alone(
    hass: HomeAssistant, workshop: Workshop
) -> None:
    await open_shop(hass, workshop, "de", "de")
    registry = er.async_get(hass)
    registry.async_update_entity(LAMP, aliases=[er.COMPUTED_NAME, "Absaugung"])
    async_expose_entity(hass, "conversation", LAMP, True)
    await workshop.pass_time(6, 1)
    await say(hass, "Absaugung an", "de")
    assert workshop.state(LAMP) == "on"
    assert workshop.state(COLLECTOR) == "off"
    registry.async_update_entity(LAMP, aliases=[er.COMPUTED_NAME])
    await workshop.pass_time(6, 1)
    await say(hass, "Absaugung an", "de")
    await workshop.pass_time(3)
    assert workshop.state(COLLECTOR) == "on"


async def test_a_refusal_is_said(hass: HomeAssistant, workshop: Workshop) -> None:
    await open_shop(hass, workshop, "en", "en")
    await workshop.call("turn_on", "switch.dust_collector_block_starts")
    answer = await say(hass, "turn on the dust collection", "en")
    assert answer.startswith("Starts of Dust collector are blocked.")
    await workshop.pass_time(3)
    assert workshop.state(COLLECTOR) == "off"


async def test_who_may_not_does_not(hass: HomeAssistant, workshop: Workshop) -> None:
    await open_shop(hass, workshop, "en", "en")
    user = MockUser(name="Guest").add_to_hass(hass)
    seen = {"read": True}
    user.mock_policy({"entities": {"entity_ids": {"switch.dust_collector": seen}}})
    answer = await say(hass, "dust collection on", "en", Context(user_id=user.id))
    assert answer == "You're not allowed to do that."
    await workshop.pass_time(3)
    assert workshop.state(COLLECTOR) == "off"
