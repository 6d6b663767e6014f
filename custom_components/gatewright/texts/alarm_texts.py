"""The texts of an alarm: what is wrong, and what to do.

They are under `issues`, since some alarms are shown there as well.
"""

from typing import NamedTuple

from homeassistant.core import HomeAssistant, callback

from ..core.control.alarms import AlarmKind
from .placeholders import fill
from .texts import cached_text


class AlarmText(NamedTuple):
    """A title that says what is wrong; cause, response and advice in Markdown."""

    title: str
    description: str


def translation_key(kind: AlarmKind) -> str:
    """Return the key of an alarm's texts under `issues`."""
    return f"alarm_{kind.value}"


@callback
def alarm_text(
    hass: HomeAssistant,
    kind: AlarmKind,
    placeholders: dict[str, str],
    language: str | None = None,
) -> AlarmText:
    """Return the texts of an alarm, in Home Assistant's language.

    Another `language` must have been loaded before.
    """

    def text(name: str, otherwise: str = "") -> str:
        key = f"{translation_key(kind)}.{name}"
        return cached_text(hass, "issues", key, otherwise, language=language)

    description = text("description")
    if not description:
        # The paragraph about Submit closes a repair's page; elsewhere there's no
        # Submit.
        description, _, _ = text("fix_flow.step.confirm.description").rpartition("\n\n")
    return AlarmText(
        fill(text("title", kind.value), placeholders),
        fill(description, placeholders),
    )
