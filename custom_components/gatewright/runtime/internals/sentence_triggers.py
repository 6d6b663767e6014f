"""Registers sentences with Home Assistant's conversation agent."""

from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING

from homeassistant.core import CALLBACK_TYPE, HomeAssistant, callback

if TYPE_CHECKING:
    from hassil.recognize import RecognizeResult
    from homeassistant.components.conversation import ConversationInput

    type Handler = Callable[[ConversationInput, RecognizeResult], Awaitable[str | None]]


@callback
def listen(
    hass: HomeAssistant, sentences: list[str], handler: Handler
) -> CALLBACK_TYPE:
    """Call `handler` with the spoken text when it matches a sentence.

    Returns a function that ends this.

    Call it within a `Reliance`: it raises whatever a changed agent causes.
    """
    # Imported late: Home Assistant without voice lacks its requirements.
    from homeassistant.components.conversation.agent_manager import (  # noqa: PLC0415
        get_agent_manager,
    )

    return get_agent_manager(hass).register_trigger(sentences, handler)
