"""Texts in Home Assistant's language outside of forms and entities.

Days, percentages and lists differ between languages, so each is a text with
placeholders.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from functools import reduce
from math import floor
from typing import Self

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.translation import (
    async_get_cached_translations,
    async_get_translations,
)

from ..const import DOMAIN
from ..core.units import percent
from .figures import NOT_KNOWN
from .placeholders import fill

MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
WEEKDAYS = (
    *("monday", "tuesday", "wednesday", "thursday", "friday"),
    *("saturday", "sunday"),
)

_CATEGORY = "selector"
_WRITING = "writing"


@callback
def cached_text(
    hass: HomeAssistant,
    category: str,
    key: str,
    otherwise: str = "",
    *,
    language: str | None = None,
) -> str:
    """Return a text in Home Assistant's language, or in another loaded `language`.

    It only reads the cache, so a thread may call it as well.
    """
    texts = async_get_cached_translations(
        hass, language or hass.config.language, category, DOMAIN
    )
    return texts.get(f"component.{DOMAIN}.{category}.{key}", otherwise)


class Texts:
    """The `selector` texts in one language, by list and key."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self._texts = texts

    @classmethod
    @callback
    def cached(cls, hass: HomeAssistant) -> Self:
        """Return the texts in Home Assistant's language, or else in English."""
        language = hass.config.language
        return cls(async_get_cached_translations(hass, language, _CATEGORY, DOMAIN))

    @classmethod
    async def load(cls, hass: HomeAssistant) -> Self:
        """Return the same texts, loaded first if needed, such as before the set-up."""
        language = hass.config.language
        return cls(await async_get_translations(hass, language, _CATEGORY, [DOMAIN]))

    def __call__(self, kind: str, key: str, **values: str) -> str:
        """Return a filled text, or its key without one."""
        path = f"component.{DOMAIN}.{_CATEGORY}.{kind}.options.{key}"
        return fill(self._texts.get(path, key), values)

    # Figures and lists --------------------------------------------------------------

    @property
    def language(self) -> str:
        """Return the language of the texts."""
        return self(_WRITING, "language")

    def percent(self, whole: str) -> str:
        """Return a percentage: 29%, 29 %."""
        return self(_WRITING, "percent", figure=whole)

    def share(self, share: float) -> str:
        """Return a share, 0 to 1, in whole percent, rounded down."""
        return self.percent(f"{floor(percent(share))}")

    def nearest_share(self, share: float, sign: str = "") -> str:
        """Return a share in the nearest percent; the sign "+" marks gains."""
        return self.percent(f"{100 * share:{sign}.0f}")

    def decimal(self, figure: str) -> str:
        """Return a number with the language's decimal mark."""
        whole, _, part = figure.partition(".")
        return self(_WRITING, "decimal", whole=whole, part=part) if part else figure

    def seconds(self, time: float | None) -> str:
        """Return a time in s to a tenth, or a dash without one."""
        return NOT_KNOWN if time is None else f"{self.decimal(f'{time:.1f}')} s"

    def join(self, items: Iterable[str], between: str = "comma") -> str:
        """Join items in one line, with commas or semicolons between them."""
        return reduce(
            lambda some, more: self(_WRITING, between, some=some, more=more), items
        )

    # Days -----------------------------------------------------------------------------

    def month(self, day: date) -> str:
        """Return the name of a day's month."""
        return self("month", MONTHS[day.month - 1])

    def day(self, day: date) -> str:
        """Return a day without its year: March 4, 4. März, 4 mars."""
        return self(_WRITING, "day", day=self._day_of_month(day), month=self.month(day))

    def short_day(self, day: date) -> str:
        """Return a day of fixed width: Wed 04 Mar."""
        return self(
            _WRITING,
            "day_short",
            weekday=self("weekday_short", WEEKDAYS[day.weekday()]),
            day=f"{day:%d}",
            month=self("month_short", MONTHS[day.month - 1]),
        )

    def days(self, first: date, last: date) -> str:
        """Return a day with its weekday, or a range of days."""
        if first == last:
            weekday = self("weekday", WEEKDAYS[first.weekday()])
            return self(_WRITING, "day_of_week", weekday=weekday, day=self.day(first))
        if (first.year, first.month) == (last.year, last.month):
            return self(
                _WRITING,
                "days_of_month",
                first=self._day_of_month(first),
                last=self._day_of_month(last),
                month=self.month(first),
            )
        write = self.day if first.year == last.year else self._day_of_year
        return self(_WRITING, "days", first=write(first), last=write(last))

    def _day_of_month(self, day: date) -> str:
        key = "first_of_month" if day.day == 1 else "day_of_month"
        return self(_WRITING, key, day=str(day.day))

    def _day_of_year(self, day: date) -> str:
        return self(_WRITING, "day_of_year", day=self.day(day), year=str(day.year))
