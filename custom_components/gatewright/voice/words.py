"""The texts that are spoken, in the language that was spoken to us."""

from collections.abc import Iterable
from dataclasses import dataclass

from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers.translation import async_get_translations
from homeassistant.util.language import matches

from ..const import DOMAIN
from ..filling import filled
from ..wording import text_at_hand

LANGUAGES = ("en", "de", "fr")
"""What we speak; the first where none of them was spoken."""

_MINUTE = 60


@dataclass(frozen=True, slots=True)
class Words:
    """Returns the text of a key in one language, filled in."""

    hass: HomeAssistant
    language: str

    def __call__(self, key: str, **placeholders: str) -> str:
        """Return the text, or nothing where there is none."""
        return filled(self._text("selector", f"spoken.options.{key}"), placeholders)

    def of_error(self, err: HomeAssistantError) -> str:
        """Return what an error says; by itself it says it in English only."""
        said = ""
        if err.translation_domain == DOMAIN:
            said = self._text("exceptions", f"{err.translation_key}.message")
        return filled(said, err.translation_placeholders or {}) or str(err)

    def _text(self, category: str, key: str) -> str:
        return text_at_hand(self.hass, category, key, language=self.language)


@callback
def words(hass: HomeAssistant, language: str) -> Words:
    """Return the texts in the hub's own language, which are at hand."""
    return Words(hass, language)


async def words_in(hass: HomeAssistant, language: str) -> Words:
    """Return the texts in any language or region, English where it is none of ours."""
    (ours, *_) = *matches(language, LANGUAGES), LANGUAGES[0]
    await async_get_translations(hass, ours, "selector", {DOMAIN})
    return Words(hass, ours)


def listed(texts: Words, names: Iterable[str]) -> str:
    """Return names as a person lists them."""
    *some, last = names
    if not some:
        return last
    return texts("list", some=", ".join(some), last=last)


def lasting(texts: Words, seconds: float) -> str:
    """Return a time as a person says it: hours and minutes, or some seconds."""
    if (short := max(1, round(seconds))) < _MINUTE:
        return texts("second" if short == 1 else "seconds", count=str(short))
    hours, minutes = divmod(round(seconds / _MINUTE), 60)
    said = []
    if hours:
        said.append(texts("hour" if hours == 1 else "hours", count=str(hours)))
    if minutes:
        said.append(texts("minute" if minutes == 1 else "minutes", count=str(minutes)))
    return listed(texts, said)
