"""An action that belongs to one occurrence of an alarm, and acts once."""

from collections.abc import Iterable
from typing import Final

from homeassistant.core import ServiceCall, callback

from ..engine import Engine
from ..refusals import refusal
from ..shop.alarms import AlarmKind

CONF_OCCURRENCE: Final = "occurrence"


@callback
def check_occurrence(
    call: ServiceCall, engines: Iterable[Engine], *kinds: AlarmKind
) -> None:
    """Let an action through that names no occurrence, or one that still counts.

    Raises `ServiceValidationError` for one that is over,
    that somebody has acted on, or that is of none of these `kinds`.
    """
    if (named := call.data.get(CONF_OCCURRENCE)) is None:
        return
    for engine in engines:
        condition = engine.announcer.occurrences.condition(named)
        if condition is None or condition.kind not in kinds:
            raise refusal("occurrence_over", name=engine.entry.title)
