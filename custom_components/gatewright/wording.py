"""Words in the hub's language that belong to no form and no entity: days, figures, lists.

Every language says them in a way of its own, so each is a text with gaps: the order of
day and month, the sign of a percentage, what stands between two things in a row.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from functools import reduce
from typing import Self

from homeassistant.core import HomeAssistant, callback
from homeassistant.helpers.translation import (
    async_get_cached_translations,
    async_get_translations,
)

from .const import DOMAIN
from .filling import filled

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
def text_at_hand(
    hass: HomeAssistant,
    category: str,
    key: str,
    otherwise: str = "",
    *,
    language: str | None = None,
) -> str:
    """Return a text in the hub's language, or in another one that has been loaded.

    What is cached is only read, so that a thread may ask as well.
    """
    texts = async_get_cached_translations(
        hass, language or hass.config.language, category, DOMAIN
    )
    return texts.get(f"component.{DOMAIN}.{category}.{key}", otherwise)


class Wording:
    """The texts for choices in one language, by their list and their key."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        """Take the hub's texts for choices."""
        self._texts = texts

    @classmethod
    @callback
    def of_the_hub(cls, hass: HomeAssistant) -> Self:
        """Return the texts in the hub's language, English where there is none of ours."""
        language = hass.config.language
        return cls(async_get_cached_translations(hass, language, _CATEGORY, DOMAIN))

    @classmethod
    async def load(cls, hass: HomeAssistant) -> Self:
        """Return the same where they may not be at hand yet, as before the set-up."""
        language = hass.config.language
        return cls(await async_get_translations(hass, language, _CATEGORY, [DOMAIN]))

    def __call__(self, kind: str, key: str, **values: str) -> str:
        """Return a text with its gaps filled; its key where there is none."""
        path = f"component.{DOMAIN}.{_CATEGORY}.{kind}.options.{key}"
        return filled(self._texts.get(path, key), values)

    # Figures and lists --------------------------------------------------------------

    def percent(self, whole: int) -> str:
        """Return a percentage as it is written: 29%, 29 %."""
        return self(_WRITING, "percent", figure=str(whole))

    def decimal(self, figure: str) -> str:
        """Return a figure that was written with a point as the language writes it."""
        whole, _, part = figure.partition(".")
        return self(_WRITING, "decimal", whole=whole, part=part) if part else figure

    def in_a_row(self, told: Iterable[str], between: str = "comma") -> str:
        """Return things in a row, commas between them, or semicolons."""
        return reduce(
            lambda some, more: self(_WRITING, between, some=some, more=more), told
        )

    # Days -----------------------------------------------------------------------------

    def month(self, day: date) -> str:
        """Return the name of a day's month."""
        return self("month", MONTHS[day.month - 1])

    def day(self, day: date) -> str:
        """Return a day without its year: March 4, 4. März, 4 mars."""
        return self(_WRITING, "day", day=self._day_of_month(day), month=self.month(day))

    def short_day(self, day: date) -> str:
        """Return a day in a column: Wed 04 Mar."""
        return self(
            _WRITING,
            "day_short",
            weekday=self("weekday_short", WEEKDAYS[day.weekday()]),
            day=f"{day:%d}",
            month=self("month_short", MONTHS[day.month - 1]),
        )

    def days(self, first: date, last: date) -> str:
        """Return a day, or a first and a last one, as a person says it."""
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
        told = self.day if first.year == last.year else self._day_of_year
        return self(_WRITING, "days", first=told(first), last=told(last))

    def _day_of_month(self, day: date) -> str:
        key = "first_of_month" if day.day == 1 else "day_of_month"
        return self(_WRITING, key, day=str(day.day))

    def _day_of_year(self, day: date) -> str:
        return self(_WRITING, "day_of_year", day=self.day(day), year=str(day.year))
