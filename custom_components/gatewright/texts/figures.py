"""Figures and times that look the same in every language."""

from datetime import datetime

from homeassistant.util import dt as dt_util

from ..const import UNIT_WATT
from ..core.units import DAY, HOUR, percent
from .placeholders import fill

NOT_KNOWN = "–"


def duration(seconds: float) -> str:
    """Return a time in s to the minute: 40 s, 12 min, 3 h 5 min."""
    if round(seconds) < 60:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"


def rough_duration(seconds: float, days: str = "{count} d") -> str:
    """Return a time in s in its largest unit; `days` is the text for days."""
    if seconds < 120:
        return f"{seconds:.0f} s" if seconds >= 20 else f"{seconds:.3g} s"
    if seconds < 2 * HOUR:
        return f"{seconds / 60:.0f} min"
    if seconds < 2 * DAY:
        return f"{seconds / HOUR:.0f} h"
    return fill(days, {"count": f"{seconds / DAY:.0f}"})


def date_and_time(at: datetime) -> str:
    """Return an instant on the local clock: 2026-11-24 09:00."""
    return f"{dt_util.as_local(at):%Y-%m-%d %H:%M}"


def share_text(share: float | None) -> str:
    """Return a share, 0 to 1, in whole percent, rounded down."""
    value = percent(share)
    return NOT_KNOWN if value is None else f"{int(value)} %"


def quantity(value: float, unit: str) -> str:
    """Return a power in W or a current in A with three digits at most."""
    if unit == UNIT_WATT:
        return f"{value:.0f} W" if value >= 10 else f"{value:.1f} W"
    return f"{value:.1f} A" if value >= 10 else f"{value:.2f} A"
