"""Registers our sentences with Home Assistant, so that nobody has to copy them.

They are in `sentences/`, by language, in the format of custom sentences: to change
them, put an edited copy among those.
"""

from collections.abc import Iterator
from functools import cache
from pathlib import Path
import re
from typing import TYPE_CHECKING, Any

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import intent
from homeassistant.setup import async_when_setup
from homeassistant.util.language import matches
from homeassistant.util.yaml import load_yaml_dict

from ...const import DOMAIN
from ...runtime.internals.changed import Internal, Reliance
from ...runtime.internals.sentence_triggers import listen
from ...texts.spoken_texts import LANGUAGES, spoken_texts

if TYPE_CHECKING:
    from hassil.recognize import RecognizeResult
    from homeassistant.components.conversation import ConversationInput

SENTENCES = Path(__file__).parents[2] / "sentences"

_CONVERSATION = "conversation"
_RULE = re.compile(r"<(\w+)>")
_SLOT = re.compile(r"(?<=\w):\w+(?=\})")


@callback
def async_setup_sentences(hass: HomeAssistant) -> None:
    """Listen as soon as Home Assistant does."""
    async_when_setup(hass, _CONVERSATION, _listen)


@cache
def read_sentences() -> dict[str, dict[str, Any]]:
    """Return the sentences of every language, in the format of custom sentences."""
    return {
        path.stem: load_yaml_dict(path) for path in sorted(SENTENCES.glob("*.yaml"))
    }


def templates(spoken: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Return a language's intents and sentences, as triggers can match them.

    Triggers take sentences without rules, and with a list for each slot.
    """
    rules: dict[str, str] = spoken.get("expansion_rules", {})

    def written_out(text: str) -> str:
        return _RULE.sub(lambda rule: f"({written_out(rules[rule[1]])})", text)

    for intent_type, described in spoken["intents"].items():
        for data in described["data"]:
            for sentence in data["sentences"]:
                yield intent_type, _SLOT.sub("", written_out(sentence))


async def _listen(hass: HomeAssistant, _component: str) -> None:
    languages = await hass.async_add_executor_job(read_sentences)
    # Home Assistant may have an assistant in each language: it listens to all of them.
    with Reliance(hass, Internal.SENTENCES):
        for language, spoken in languages.items():
            sentences = [sentence for _, sentence in templates(spoken)]
            listen(hass, sentences, _handler(hass, language, spoken))


def _handler(hass: HomeAssistant, own: str, spoken: dict[str, Any]) -> Any:
    from hassil.intents import Intents  # noqa: PLC0415
    from hassil.recognize import recognize  # noqa: PLC0415

    understood = Intents.from_dict(spoken)

    async def handle(said: ConversationInput, _caught: RecognizeResult) -> str | None:
        # Like everything that the assistant says; if its language is none of ours, the
        # answer is in the sentence's language.
        language = said.language if matches(said.language, LANGUAGES) else own
        # A trigger accepts any words in the place of a time. The words for numbers are
        # read from a file, once.
        result = await hass.async_add_executor_job(recognize, said.text, understood)
        if result is None:
            return (await spoken_texts(hass, language))("not_understood")
        slots = {
            name: {"value": entity.value, "text": entity.text}
            for name, entity in result.entities.items()
        }
        response = await intent.async_handle(
            hass,
            DOMAIN,
            result.intent.name,
            slots,
            said.text,
            said.context,
            language,
            _CONVERSATION,
            said.device_id,
            said.satellite_id,
            said.agent_id,
        )
        return str(response.speech["plain"]["speech"])

    return handle
