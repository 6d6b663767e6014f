"""Texts to be spoken, in the language of the request."""

from collections.abc import Iterable
from dataclasses import dataclass

from homeassistant.core import HomeAssistant
from homeassistant.exceptions import HomeAssistantError
from homeassistant.helpers.translation import async_get_translations
from homeassistant.util.language import matches

from ..const import DOMAIN
from .placeholders import fill
from .texts import cached_text

LANGUAGES = ("en", "de", "fr")
"""The languages with spoken texts; the first one is the fallback."""

_MINUTE = 60


@dataclass(frozen=True, slots=True)
class SpokenTexts:
    """The texts in one loaded language, by their keys."""

    hass: HomeAssistant
    language: str

    def __call__(self, key: str, **placeholders: str) -> str:
        """Return a filled text, or nothing without one."""
        return fill(self._text("selector", f"spoken.options.{key}"), placeholders)

    def of_error(self, err: HomeAssistantError) -> str:
        """Return the message of an error; the error's own string is in English."""
        said = ""
        if err.translation_domain == DOMAIN:
            said = self._text("exceptions", f"{err.translation_key}.message")
        return fill(said, err.translation_placeholders or {}) or str(err)

    def join(self, names: Iterable[str]) -> str:
        """Return names as a spoken list: saw, planer and lathe."""
        *some, last = names
        if not some:
            return last
        return self("list", some=", ".join(some), last=last)

    def duration(self, seconds: float) -> str:
        """Return a time in s in words: hours and minutes, or seconds."""
        if (short := max(1, round(seconds))) < _MINUTE:
            return self._count("second", short)
        hours, minutes = divmod(round(seconds / _MINUTE), 60)
        counts = {"hour": hours, "minute": minutes}
        return self.join(self._count(unit, n) for unit, n in counts.items() if n)

    def _count(self, unit: str, count: int) -> str:
        return self(unit if count == 1 else f"{unit}s", count=str(count))

    def _text(self, category: str, key: str) -> str:
        return cached_text(self.hass, category, key, language=self.language)


async def spoken_texts(hass: HomeAssistant, language: str) -> SpokenTexts:
    """Return the texts in any language or region, English if it's none of ours."""
    (ours, *_) = *matches(language, LANGUAGES), LANGUAGES[0]
    await async_get_translations(hass, ours, "selector", {DOMAIN})
    return SpokenTexts(hass, ours)
