"""The texts that are spoken, in the language that was spoken to us."""

from collections.abc import Iterable
from typing import Protocol

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.translation import (
    async_get_cached_translations,
    async_get_translations,
)

from ..const import DOMAIN
from ..filling import filled

_CATEGORY = "selector"
_MINUTE = 60
_KEY = f"component.{DOMAIN}.{_CATEGORY}.spoken.options"


class Words(Protocol):
    """Returns the text of a key, filled in."""

    def __call__(self, key: str, **placeholders: str) -> str:
        """Return the text, or nothing where there is none."""


@callback
def words(hass: HomeAssistant, language: str) -> Words:
    """Return the texts in the hub's own language, which are at hand."""
    return _filler(async_get_cached_translations(hass, language, _CATEGORY, DOMAIN))


async def words_in(hass: HomeAssistant, language: str) -> Words:
    """Return the texts in any language, English where there is none of ours."""
    return _filler(await async_get_translations(hass, language, _CATEGORY, {DOMAIN}))


def _filler(texts: dict[str, str]) -> Words:
    def text(key: str, **placeholders: str) -> str:
        return filled(texts.get(f"{_KEY}.{key}", ""), placeholders)

    return text


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
