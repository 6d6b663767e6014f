"""Validators for typed values: times, days, durations, numbers.

Times without a zone are local. Values out of range raise an error of the form or
action, never an arithmetic error.
"""

from collections.abc import Callable
from datetime import date, datetime, timedelta
import math
from typing import Any, Final

from homeassistant.helpers import config_validation as cv
from homeassistant.util import dt as dt_util
import voluptuous as vol

FIRST_YEAR: Final = 1970
LAST_YEAR: Final = 2999
"""Between these limits, adding days works in every time zone."""


def moment(value: Any) -> datetime:
    """Return a time in UTC; without a zone it's local."""
    at = cv.datetime(value)
    _within(at)
    return dt_util.as_utc(at)


def day(value: Any) -> date:
    """Return a day."""
    return _within(cv.date(value))


def duration(*, least: timedelta, most: timedelta) -> Callable[[Any], timedelta]:
    """Return a validator for durations in a range."""

    def judge(value: Any) -> timedelta:
        try:
            given: timedelta = cv.positive_time_period(value)
        except OverflowError as err:
            raise vol.Invalid(f"a duration must be at most {most}") from err
        if not least <= given <= most:
            raise vol.Invalid(f"a duration must be from {least} to {most}")
        return given

    return judge


def number(least: float, most: float) -> Callable[[Any], float]:
    """Return a validator for finite numbers in a range."""

    def judge(value: Any) -> float:
        try:
            given = float(value)
        except (TypeError, ValueError, OverflowError) as err:
            raise vol.Invalid("a number is needed") from err
        if not math.isfinite(given) or not least <= given <= most:
            raise vol.Invalid(f"the number must be from {least:g} to {most:g}")
        return given

    return judge


def whole(least: int, most: int) -> Callable[[Any], int]:
    """Return a validator for whole numbers in a range."""
    judge = number(least, most)
    return lambda value: int(judge(value))


def _within[T: date](given: T) -> T:
    if not FIRST_YEAR <= given.year <= LAST_YEAR:
        raise vol.Invalid(f"the year must be from {FIRST_YEAR} to {LAST_YEAR}")
    return given
