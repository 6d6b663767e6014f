"""A message to a phone, and its data for the companion app."""

from dataclasses import dataclass
from typing import Any, Final

from ...core.control.alarms import AlarmKind

SERIOUS: Final = frozenset(
    {
        AlarmKind.FIRE_SHUTDOWN,
        AlarmKind.COLLECTOR_NOT_STOPPING,
        AlarmKind.COLLECTOR_BY_ITSELF,
        AlarmKind.NO_GATE_OPEN,
        AlarmKind.RELAY_NOT_CUTTING,
    }
)
"""The channel that may sound on a silent phone."""

_CRITICAL: Final[dict[str, Any]] = {
    # What each of the app's two platforms needs for that; each ignores the other's.
    "push": {"sound": {"name": "default", "critical": 1, "volume": 1.0}},
    "channel": "alarm_stream",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Button:
    """A button on a message: what the app reports when it's tapped, and its label."""

    action: str
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """A message; another one with the same `tag` replaces it.

    Without a `text` it only withdraws the earlier one.
    """

    tag: str
    title: str = ""
    text: str = ""
    buttons: tuple[Button, ...] = ()
    urgent: bool = False
    critical: bool = False

    def for_app(self, channel: str) -> dict[str, Any]:
        """Return the message for the notify action of a phone with the app."""
        if not self.text:
            return {"message": "clear_notification", "data": {"tag": self.tag}}
        data: dict[str, Any] = {"tag": self.tag, "group": self.tag, "channel": channel}
        if self.urgent or self.critical:
            data |= {"ttl": 0, "priority": "high", "importance": "high"}
        if self.critical:
            data |= _CRITICAL
        if self.buttons:
            data["actions"] = [
                {"action": button.action, "title": button.title}
                for button in self.buttons
            ]
        return {"title": self.title, "message": self.text, "data": data}
