"""The sentences themselves: complete in every language, without conflicts."""

from collections.abc import Iterator
import re
from typing import Any

from hassil.intents import Intents, TextSlotList
from hassil.parse_expression import parse_sentence
from hassil.recognize import recognize, recognize_all
from hassil.sample import sample_expression
from home_assistant_intents import get_intents
from homeassistant.components.conversation import ConversationInput
from homeassistant.components.conversation.agent_manager import get_agent_manager
from homeassistant.components.conversation.default_agent import DefaultAgent
from homeassistant.core import Context, HomeAssistant
from homeassistant.helpers import area_registry as ar, intent
import pytest

from custom_components.gatewright.features.voice.collection import (
    INTENT_TURN_OFF,
    INTENT_TURN_ON,
)
from custom_components.gatewright.features.voice.sentences import (
    read_sentences,
    templates,
)
from custom_components.gatewright.intent import INTENT_CLEAR_AIR
from custom_components.gatewright.runtime.old_names.table import INTENTS
from custom_components.gatewright.texts.spoken_texts import LANGUAGES

from .spoken import SAID
from .test_languages import FOLDER
from .workshop import (
    Workshop,
)

SPOKEN = read_sentences()


def slots(language: str, intent_type: str) -> set[str]:
    """Return the slots of an intent's sentences."""
    rules = SPOKEN[language].get("expansion_rules", {})

    def found(text: str) -> set[str]:
        return set(re.findall(r"\{(?:\w+:)?(\w+)\}", text)).union(
            *(found(rules[rule]) for rule in re.findall(r"<(\w+)>", text))
        )

    return set().union(
        *(
            found(sentence)
            for data in SPOKEN[language]["intents"][intent_type]["data"]
            for sentence in data["sentences"]
        )
    )


def samples(language: str, at_most: int) -> Iterator[tuple[str, str]]:
    """Return intents and possible sentences, evenly from each sentence's many forms."""
    times = {
        name: "20" if "range" in values else values["values"][1]["in"]
        for name, values in SPOKEN[language]["lists"].items()
    }
    for intent_type, template in templates(SPOKEN[language]):
        expression = parse_sentence(template).expression
        said = [*sample_expression(expression, expand_lists=False)]
        for text in said[:: max(1, len(said) // at_most)]:
            timed = text
            for name, time in times.items():
                timed = timed.replace(f"{{{name}}}", time)
            yield (
                intent_type,
                next(iter(sample_expression(parse_sentence(timed).expression))),
            )


def listening(hass: HomeAssistant) -> DefaultAgent:
    """Return Home Assistant's own assistant."""
    agent = get_agent_manager(hass).default_agent
    assert agent
    return agent


def as_said(text: str, language: str) -> ConversationInput:
    """Return a sentence as an assistant gets it."""
    return ConversationInput(
        text=text,
        context=Context(),
        conversation_id=None,
        device_id=None,
        satellite_id=None,
        language=language,
        agent_id="conversation.home_assistant",
    )


def test_we_understand_what_we_speak() -> None:
    assert set(LANGUAGES) == {path.stem for path in FOLDER.glob("*.json")}
    assert set(LANGUAGES) == SPOKEN.keys() == SAID.keys()
    for language, spoken in SPOKEN.items():
        assert spoken["language"] == language


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_has_every_intent_and_what_it_fills_in(language: str) -> None:
    english = SPOKEN["en"]["intents"]
    assert len(english) == 5
    assert SPOKEN[language]["intents"].keys() == english.keys() == SAID[language].keys()
    for intent_type in english:
        assert slots(language, intent_type) == slots("en", intent_type)
    assert slots(language, INTENT_CLEAR_AIR) == {"minutes"}

    def times(of: str) -> list[Any]:
        return [
            value.get("range") or [time["out"] for time in value["values"]]
            for value in SPOKEN[of]["lists"].values()
        ]

    assert times(language) == times("en")


@pytest.mark.parametrize("language", LANGUAGES)
async def test_every_sentence_is_understood(
    hass: HomeAssistant, spoken_shop: Workshop, language: str
) -> None:
    """As one intent, by no other language, and with its time."""
    assert SPOKEN[language]["intents"].keys() == {
        handler.intent_type
        for handler in intent.async_get(hass)
        if handler.intent_type.startswith("Gatewright")
        # Old names, and what is listened to by names: test_voice_collection.py.
        and handler.intent_type not in {*INTENTS, INTENT_TURN_ON, INTENT_TURN_OFF}
    }
    understood = {name: Intents.from_dict(spoken) for name, spoken in SPOKEN.items()}
    count = 0
    for intent_type, text in samples(language, 150):
        for name, intents in understood.items():
            means = {result.intent.name for result in recognize_all(text, intents)}
            assert means == ({intent_type} if name == language else set()), text
        result = recognize(text, understood[language])
        assert result
        timed = any(time in text for time in ("20", "half an hour", "halbe", "demi"))
        minutes = [entity.value for entity in result.entities.values()]
        assert (minutes in ([20], [30])) is timed, text
        caught = await listening(hass).async_recognize_sentence_trigger(
            as_said(text, language)
        )
        assert caught, text
        assert len(caught.matched_triggers) == 1, text
        count += 1
    assert count > 300


LEFT = {
    "en": [
        "clean the workshop",
        "is anything wrong",
        "how long is left on the timer",
        "turn on the floor sweep for ten minutes",
        "turn off the dust collector",
    ],
    "de": [
        "sauge die Werkstatt",
        "reinige die Küche für zehn Minuten",
        "ist alles in Ordnung",
        "ist das Fenster in der Werkstatt offen",
        "wer ist zu Hause",
        "wie lange läuft der Timer noch",
        "wie lange läuft der Absauger",
        "stelle einen Timer für zehn Minuten",
        "schalte den Absauger aus",
    ],
    "fr": [
        "nettoie l'atelier",
        "aspire le salon",
        "tout va bien",
        "est-ce que la fenêtre de l'atelier est ouverte",
        "est-ce que la poubelle est pleine",
        "combien de temps reste-t-il au minuteur",
        "arrête l'aspirateur",
    ],
}
WORKSHOPS = {"en": "Workshop", "de": "Werkstatt", "fr": "Atelier"}


@pytest.mark.parametrize("language", LANGUAGES)
async def test_no_sentence_is_taken_from_home_assistants_own(
    hass: HomeAssistant, spoken_shop: Workshop, language: str
) -> None:
    """Not even in a house with an area for the workshop."""
    ar.async_get(hass).async_create(WORKSHOPS[language])
    agent = listening(hass)
    for _, text in samples(language, 12):
        result = await agent.async_recognize_intent(
            as_said(text, language), strict_intents_only=True
        )
        # Where Home Assistant accepts any words for the name of a timer or a zone, it would take these
        # for one.
        names = [] if result is None else [*result.entities.values()]
        assert result is None or any(name.is_wildcard for name in names), text
    # It would have been found: Home Assistant knows its own.
    own = {"en": "turn on the Floor sweep", "de": "schalte die Bodenabsaugung ein"}
    text = own.get(language, "allume l'aspiration au sol")
    assert await agent.async_recognize_intent(
        as_said(text, language), strict_intents_only=True
    )


@pytest.mark.parametrize("language", LANGUAGES)
async def test_what_others_say_is_left_to_them(
    hass: HomeAssistant, spoken_shop: Workshop, language: str
) -> None:
    for text in LEFT[language]:
        said = as_said(text, language)
        assert not await listening(hass).async_recognize_sentence_trigger(said), text


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_sentences_can_be_copied_to_home_assistants_own(language: str) -> None:
    """They have the format of custom sentences, and conflict with nothing of Home Assistant's."""
    own = get_intents(language)
    assert own
    spoken = SPOKEN[language]
    for part in ("expansion_rules", "lists", "intents"):
        assert not own[part].keys() & spoken.get(part, {}).keys()
        own[part] |= spoken.get(part, {})
    (said, *_) = SAID[language][INTENT_CLEAR_AIR]
    none = TextSlotList.from_tuples([])
    result = recognize(
        said,
        Intents.from_dict(own),
        slot_lists={"name": none, "area": none, "floor": none},
    )
    assert result
    assert result.intent.name == INTENT_CLEAR_AIR
