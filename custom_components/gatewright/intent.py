"""Intents about the whole shop; Home Assistant's own cover single entities."""

from abc import abstractmethod
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, ClassVar, Final, override

from homeassistant.const import ATTR_ENTITY_ID, SERVICE_TURN_OFF, SERVICE_TURN_ON
from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError, Unauthorized
from homeassistant.helpers import entity_registry as er, intent
import voluptuous as vol

from .const import DOMAIN
from .features.actions.requests import request_air
from .features.actions.targets import TargetPart
from .features.voice import answers
from .features.voice.collection import INTENT_TURN_OFF, INTENT_TURN_ON
from .features.voice.exposed import ExposedShop, views
from .runtime.old_names.notice import note_call
from .runtime.old_names.table import INTENTS as OLD
from .runtime.parsing import whole
from .runtime.permissions import Permission, Requester, asker_of
from .texts.spoken_texts import SpokenTexts, spoken_texts

INTENT_CLEAR_AIR = "GatewrightClearAir"
INTENT_WHO_HAS_AIR = "GatewrightWhereCollecting"
INTENT_ANYTHING_WRONG = "GatewrightAnythingWrong"
INTENT_COLLECTOR_TIME = "GatewrightCollectorTime"
INTENT_BIN = "GatewrightBin"

_CLEAR_FOR = 10
"""Minutes for clearing the air; common practice, no source."""

_LONGEST = 240

_FAILED: Final = intent.IntentResponseErrorCode.FAILED_TO_HANDLE


async def async_setup_intents(hass: HomeAssistant) -> None:
    """Register the intents."""
    which = "Says at which machines dust is collected"
    for handler in (
        ClearAir(),
        TurnCollection(INTENT_TURN_ON, on=True),
        TurnCollection(INTENT_TURN_OFF, on=False),
        Asked(INTENT_WHO_HAS_AIR, which, answers.where_collecting),
        *(
            Asked(old, which, answers.where_collecting)
            for old, new in OLD.items()
            if new == INTENT_WHO_HAS_AIR
        ),
        Asked(
            INTENT_ANYTHING_WRONG,
            "Says what is wrong in the shop",
            answers.anything_wrong,
        ),
        Asked(
            INTENT_COLLECTOR_TIME,
            "Says how long the dust collector ran today",
            answers.collector_time,
        ),
        Asked(INTENT_BIN, "Says whether the dust bin is full", answers.bin_level),
    ):
        intent.async_register(hass, handler)


class ShopIntent(intent.IntentHandler):
    """An intent about everything that the speaker may see."""

    deed = Permission.READ

    @override
    async def async_handle(self, intent_obj: intent.Intent) -> intent.IntentResponse:
        """Answer in the spoken language."""
        texts = await spoken_texts(intent_obj.hass, intent_obj.language)
        if new := OLD.get(self.intent_type):
            note_call(intent_obj.hass, self.intent_type, new)
        response = intent_obj.create_response()
        asker = await asker_of(intent_obj.hass, intent_obj.context)
        seen = views(asker, intent_obj.assistant)
        if not seen:
            anything = views(Requester(asker.hass, None), intent_obj.assistant)
            response.async_set_error(
                intent.IntentResponseErrorCode.NO_VALID_TARGETS,
                texts("not_allowed" if anything else "no_shop"),
            )
            return response
        await self.answer(intent_obj, asker, response, texts, seen)
        return response

    @abstractmethod
    async def answer(
        self,
        intent_obj: intent.Intent,
        asker: Requester,
        response: intent.IntentResponse,
        texts: SpokenTexts,
        seen: list[ExposedShop],
    ) -> None:
        """Do what was asked, and confirm it."""


class Asked(ShopIntent):
    """A question."""

    def __init__(self, intent_type: str, description: str, say: Any) -> None:
        """Answer with what `say` returns."""
        self.intent_type = intent_type
        self.description = description
        self._say = say

    @override
    async def answer(
        self,
        intent_obj: intent.Intent,
        asker: Requester,
        response: intent.IntentResponse,
        texts: SpokenTexts,
        seen: list[ExposedShop],
    ) -> None:
        """Return the answer."""
        response.response_type = intent.IntentResponseType.QUERY_ANSWER
        response.async_set_speech(self._say(texts, seen))


class ClearAir(ShopIntent):
    """Request dust collection at a pickup for a while, to clear the shop's air."""

    intent_type = INTENT_CLEAR_AIR
    deed = Permission.MOVE
    description = "Clears the air in the workshop through a pickup for some minutes"
    slot_schema: ClassVar[dict[Any, Any]] = {
        vol.Optional("minutes"): whole(1, _LONGEST),
    }

    @override
    async def answer(
        self,
        intent_obj: intent.Intent,
        asker: Requester,
        response: intent.IntentResponse,
        texts: SpokenTexts,
        seen: list[ExposedShop],
    ) -> None:
        """Request dust collection, or say why not."""
        slots = self.async_validate_slots(intent_obj.slots)
        seconds = 60.0 * slots.get("minutes", {"value": _CLEAR_FOR})["value"]
        if (pickup := _pickup(seen)) is None:
            response.async_set_error(_FAILED, texts("no_pickup"))
            return
        with _failures_answered(response, texts):
            asker.require_control("switch", f"{pickup.part}_request")
            request_air(pickup, seconds, asker)
            response.async_set_speech(answers.purge(texts, pickup.name, seconds))


class TurnCollection(ShopIntent):
    """Turns the collector on or off where there is one, whatever it is called."""

    deed = Permission.MOVE

    def __init__(self, intent_type: str, *, on: bool) -> None:
        """Turn it `on`, or off."""
        self.intent_type = intent_type
        self.description = f"Turns dust collection {'on' if on else 'off'}"
        self._action = SERVICE_TURN_ON if on else SERVICE_TURN_OFF
        self._done = "collection_on" if on else "collection_off"

    @override
    async def answer(
        self,
        intent_obj: intent.Intent,
        asker: Requester,
        response: intent.IntentResponse,
        texts: SpokenTexts,
        seen: list[ExposedShop],
    ) -> None:
        """Turn it, or say why not."""
        if len(seen) > 1:
            names = texts.join([view.name for view in seen])
            response.async_set_error(_FAILED, texts("which_collector", names=names))
            return
        unique_id = f"{seen[0].system.entry.entry_id}_collector"
        registry = er.async_get(intent_obj.hass)
        with _failures_answered(response, texts):
            asker.require_control("switch", unique_id)
            await intent_obj.hass.services.async_call(
                "switch",
                self._action,
                {
                    ATTR_ENTITY_ID: registry.async_get_entity_id(
                        "switch", DOMAIN, unique_id
                    )
                },
                blocking=True,
                context=intent_obj.context,
            )
            response.async_set_speech(texts(self._done))


@contextmanager
def _failures_answered(
    response: intent.IntentResponse, texts: SpokenTexts
) -> Iterator[None]:
    """Answer with what goes wrong inside."""
    try:
        yield
    except Unauthorized:
        response.async_set_error(_FAILED, texts("not_allowed"))
    except HomeAssistantError as err:
        response.async_set_error(_FAILED, texts.of_error(err))


def _pickup(seen: list[ExposedShop]) -> TargetPart | None:
    """Return the pickup at the hand gate, or else the first one."""
    for view in seen:
        by_hand = set(view.system.sequence.work_gates())
        machines = view.system.sequence.machines
        at_hand = [p for p in view.pickups if by_hand & {*machines[p.part].plan.gates}]
        for pickup in (*at_hand, *view.pickups):
            return pickup
    return None
