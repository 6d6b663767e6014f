"""Turns dust collection on and off when a sentence names neither machine nor collector.

"Absaugung an" means the collector if there is one. The words for dust collection are
listened to while nothing else has them as a name.
"""

from collections.abc import Iterable, Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, Final, override

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers import intent
from homeassistant.setup import async_when_setup
from homeassistant.util.language import matches

from ...const import DOMAIN
from ...runtime.names_in_use import NamesInUse
from ...texts.spoken_texts import LANGUAGES
from .names_heard import CONVERSATION, NamesHeard

if TYPE_CHECKING:
    from hassil.recognize import RecognizeResult
    from homeassistant.components.conversation import ConversationInput

    from ...runtime.internals.sentence_triggers import Handler

INTENT_TURN_ON: Final = "GatewrightTurnOnCollection"
INTENT_TURN_OFF: Final = "GatewrightTurnOffCollection"

_SLOT: Final = "{gatewright_collection}"
_SAID: Final = {"turn_on": INTENT_TURN_ON, "turn_off": INTENT_TURN_OFF}


@callback
def async_setup_collection(hass: HomeAssistant) -> None:
    """Listen as soon as Home Assistant does."""

    async def start(_hass: HomeAssistant, _component: str) -> None:
        await CollectionWords(hass).start()

    async_when_setup(hass, CONVERSATION, start)


class CollectionWords(NamesHeard):
    """Listens to "turn on the dust collection", and nothing more."""

    use = "collection"

    @override
    def names(self) -> Iterator[tuple[str, str]]:
        """Yield the free words for dust collection, each after its language."""
        taken = NamesInUse(self._hass)
        for language, spoken in self._spoken.items():
            for name in spoken["collection"]["names"]:
                if name not in taken:
                    yield language, name

    @override
    def sentences(
        self, language: str, spoken: Mapping[str, Any], key: str, name: str
    ) -> Iterable[tuple[list[str], Handler]]:
        if key != language:
            return
        for said, intent_type in _SAID.items():
            listened = [
                sentence.replace(_SLOT, name) for sentence in spoken["collection"][said]
            ]
            yield listened, partial(self._turn, intent_type, language)

    async def _turn(
        self,
        intent_type: str,
        own: str,
        said: ConversationInput,
        _caught: RecognizeResult,
    ) -> str | None:
        language = said.language if matches(said.language, LANGUAGES) else own
        response = await intent.async_handle(
            self._hass,
            DOMAIN,
            intent_type,
            {},
            said.text,
            said.context,
            language,
            CONVERSATION,
            said.device_id,
            said.satellite_id,
            said.agent_id,
        )
        return str(response.speech["plain"]["speech"])
