"""An action that belongs to one occurrence of an alarm, and acts once."""

from collections.abc import Iterable
from typing import Final

from homeassistant.core import ServiceCall, callback

from ..refusals import refusal
from ..shop.alarms import AlarmKind
from ..system_context import SystemContext

CONF_OCCURRENCE: Final = "occurrence"


@callback
def check_occurrence(
    call: ServiceCall, systems: Iterable[SystemContext], *kinds: AlarmKind
) -> None:
    """Let an action through that names no occurrence, or one that still counts.

    Raises `ServiceValidationError` for one that is over,
    that somebody has acted on, or that is of none of these `kinds`.
    """
    if (named := call.data.get(CONF_OCCURRENCE)) is None:
        return
    for system in systems:
        condition = system.announcer.occurrences.condition(named)
        if condition is None or condition.kind not in kinds:
            raise refusal("occurrence_over", name=system.entry.title)
