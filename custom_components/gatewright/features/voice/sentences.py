"""Has the hub listen to our own sentences, so that nobody has to copy them.

They are in `sentences/`, by language, in the form in which the hub reads its custom
sentences: who wants others puts a changed copy among those.
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
    """Listen as soon as the hub does."""
    async_when_setup(hass, _CONVERSATION, _listen)


@cache
def read_sentences() -> dict[str, dict[str, Any]]:
    """Return what there is in every language, in the form of custom sentences."""
    return {
        path.stem: load_yaml_dict(path) for path in sorted(SENTENCES.glob("*.yaml"))
    }


def templates(spoken: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Return the intents and sentences of a language, as the hub can catch them.

    Caught are sentences without rules, and with a list instead of the slot it fills.
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
    # A hub may have an assistant in each language: it listens to all of them.
    with Reliance(hass, Internal.SENTENCES):
        for language, spoken in languages.items():
            sentences = [sentence for _, sentence in templates(spoken)]
            listen(hass, sentences, _handler(hass, language, spoken))


def _handler(hass: HomeAssistant, own: str, spoken: dict[str, Any]) -> Any:
    from hassil.intents import Intents  # noqa: PLC0415
    from hassil.recognize import recognize  # noqa: PLC0415

    understood = Intents.from_dict(spoken)

    async def handle(said: ConversationInput, _caught: RecognizeResult) -> str | None:
        # As everything that the assistant says; one whose language is none of ours
        # answers in that of the sentence.
        language = said.language if matches(said.language, LANGUAGES) else own
        # What the hub has caught has any words where a time should be. The words for
        # numbers are read from a file, once.
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
