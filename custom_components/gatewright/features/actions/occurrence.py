"""Lets an action on one occurrence of an alarm through only once."""

from collections.abc import Iterable
from typing import Final

from homeassistant.core import ServiceCall, callback

from ...core.control.alarms import AlarmKind
from ...runtime.errors import validation_error
from ...runtime.system_context import SystemContext

CONF_OCCURRENCE: Final = "occurrence"


@callback
def check_occurrence(
    call: ServiceCall, systems: Iterable[SystemContext], *kinds: AlarmKind
) -> None:
    """Accept an action that names no occurrence, or one that still counts.

    Raises `ServiceValidationError` for an occurrence that is over, already handled, or
    of none of these `kinds`.
    """
    if (named := call.data.get(CONF_OCCURRENCE)) is None:
        return
    for system in systems:
        condition = system.announcer.occurrences.condition(named)
        if condition is None or condition.kind not in kinds:
            raise validation_error("occurrence_over", name=system.entry.title)
