"""The buttons of messages: work was done, or remind me later.

No button moves anything: whoever holds the phone may not see the shop.
"""

from collections.abc import Mapping
from enum import StrEnum
from typing import Final, NamedTuple

from ...core.control.alarms import AlarmKind

EVENT_TAPPED: Final = "mobile_app_notification_action"
"""The event that the companion app fires."""

_PREFIX: Final = "GATEWRIGHT_PHONE"

DONE_BY: Final[Mapping[AlarmKind, str]] = {
    AlarmKind.BIN_FULL: "mark_bin_emptied",
    AlarmKind.BIN_NEARLY_FULL: "mark_bin_emptied",
    AlarmKind.FILTER_CLEAN_DUE: "mark_filter_cleaned",
    AlarmKind.FILTER_REPLACE_DUE: "mark_filter_replaced",
    AlarmKind.SERVICE_DUE: "mark_serviced",
}
"""The action that records the work behind an alarm as done."""


class Tap(StrEnum):
    """What a button means."""

    DONE = "done"
    LATER = "later"


class Tapped(NamedTuple):
    """A tapped button, and the occurrence of the alarm that it's about."""

    tap: Tap
    occurrence: str


def action_of(tap: Tap, entry_id: str, occurrence: str) -> str:
    """Return what the app reports when a button of a system's message is tapped."""
    return f"{_PREFIX}_{tap}_{entry_id}_{occurrence}"


def tapped(action: object, entry_id: str) -> Tapped | None:
    """Return which button of a system was tapped; None for a foreign one."""
    for tap in Tap:
        prefix = action_of(tap, entry_id, "")
        if isinstance(action, str) and action.startswith(prefix):
            return Tapped(tap, action.removeprefix(prefix))
    return None
