"""Texts with gaps, and what is put into them."""

from collections.abc import Mapping
import re

_GAP = re.compile(r"\{(\w+)\}")


def filled(text: str, values: Mapping[str, str]) -> str:
    """Return a text with its gaps filled; one without a value stays as it is.

    What is put in is taken as it is: a machine may be called "{name}".
    """
    return _GAP.sub(lambda gap: values.get(gap[1], gap[0]), text)


def duration(seconds: float) -> str:
    """Return a time in s as a person says it: 40 s, 12 min, 3 h 5 min."""
    if round(seconds) < 60:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"
