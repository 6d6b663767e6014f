"""The texts of an alarm: what is wrong, and what to do.

They are kept with the repair issues, since some alarms are shown there as well.
"""

from typing import NamedTuple

from homeassistant.core import HomeAssistant, callback

from .shop.alarms import AlarmKind
from .text.placeholders import fill
from .text.texts import cached_text


class AlarmText(NamedTuple):
    """A line that says what is wrong, and cause, answer and advice in Markdown."""

    title: str
    description: str


def translation_key(kind: AlarmKind) -> str:
    """Return the key of an alarm's texts among the issues."""
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
        # What Submit does closes the page of a repair; elsewhere there is no Submit.
        description, _, _ = text("fix_flow.step.confirm.description").rpartition("\n\n")
    return AlarmText(
        fill(text("title", kind.value), placeholders),
        fill(description, placeholders),
    )
