"""Has the hub listen to our own sentences, so that nobody has to copy them.

They are in `sentences/`, by language, in the form in which the hub reads its custom
sentences: who wants others puts a changed copy among those.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import intent
from homeassistant.setup import async_when_setup
from homeassistant.util.yaml import load_yaml_dict

from ..const import DOMAIN
from .words import words_in

if TYPE_CHECKING:
    from hassil.recognize import RecognizeResult
    from homeassistant.components.conversation import ConversationInput

SENTENCES = Path(__file__).parent.parent / "sentences"

_CONVERSATION = "conversation"


@callback
def async_setup_sentences(hass: HomeAssistant) -> None:
    """Listen as soon as the hub does."""
    async_when_setup(hass, _CONVERSATION, _listen)


def read_sentences() -> dict[str, list[str]]:
    """Return the sentences of every intent, in all languages there are."""
    found: dict[str, list[str]] = {}
    for path in sorted(SENTENCES.glob("*.yaml")):
        intents: dict[str, Any] = load_yaml_dict(path)["intents"]
        for intent_type, described in intents.items():
            for data in described["data"]:
                found.setdefault(intent_type, []).extend(data["sentences"])
    return found


async def _listen(hass: HomeAssistant, _component: str) -> None:
    # Not before: a hub without it does not have what it needs.
    from homeassistant.components.conversation.agent_manager import (  # noqa: PLC0415
        get_agent_manager,
    )

    manager = get_agent_manager(hass)
    sentences = await hass.async_add_executor_job(read_sentences)
    for intent_type, spoken in sentences.items():
        manager.register_trigger(spoken, _handler(hass, intent_type))


def _handler(hass: HomeAssistant, intent_type: str) -> Any:
    async def handle(said: ConversationInput, result: RecognizeResult) -> str | None:
        slots = {
            name: {"value": entity.value, "text": entity.text}
            for name, entity in result.entities.items()
        }
        try:
            response = await intent.async_handle(
                hass,
                DOMAIN,
                intent_type,
                slots,
                said.text,
                said.context,
                said.language,
                _CONVERSATION,
                said.device_id,
                said.satellite_id,
                said.agent_id,
            )
        except intent.IntentError:
            # Such as a number of minutes that is none.
            return (await words_in(hass, said.language))("not_understood")
        return str(response.speech["plain"]["speech"])

    return handle
