"""Has the conversation agent of Home Assistant listen to sentences of ours."""

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
    """Call `handler` with what was said whenever it is one of the sentences.

    Returns how to stop that.

    To be called within a `Reliance`: raises what a changed agent makes it raise.
    """
    # Not before: a Home Assistant without voice does not have what it needs.
    from homeassistant.components.conversation.agent_manager import (  # noqa: PLC0415
        get_agent_manager,
    )

    return get_agent_manager(hass).register_trigger(sentences, handler)
