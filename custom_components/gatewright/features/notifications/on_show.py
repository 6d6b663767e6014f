"""What may be on show on phones, and of what they are to be reminded."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Self

from homeassistant.util import dt as dt_util

from ...core.control.alarms import AlarmKind, Condition


@dataclass(slots=True)
class OnShow:
    """The tags of messages that may be on show, and when to remind, by their alarms."""

    tags: dict[Condition, str] = field(default_factory=dict)
    reminders: dict[Condition, datetime] = field(default_factory=dict)

    def end(self, condition: Condition) -> str | None:
        """Forget an alarm; return the tag of what is on show of it."""
        self.reminders.pop(condition, None)
        return self.tags.pop(condition, None)

    def save(self) -> dict[str, Any]:
        """Return them as plain data."""
        return {
            "tags": [
                [kind.value, part, tag] for (kind, part), tag in self.tags.items()
            ],
            "reminders": [
                [kind.value, part, due.isoformat()]
                for (kind, part), due in self.reminders.items()
            ],
        }

    @classmethod
    def read(cls, kept: Any) -> Self:
        """Return what was saved; what can't be read of it is left out."""
        shown = cls()
        if not isinstance(kept, dict):
            return shown
        for condition, tag in _rows(kept.get("tags")):
            shown.tags[condition] = tag
        for condition, due in _rows(kept.get("reminders")):
            if (at := dt_util.parse_datetime(due)) is not None:
                shown.reminders[condition] = dt_util.as_utc(at)
        return shown


def _rows(kept: Any) -> list[tuple[Condition, str]]:
    rows = []
    for row in kept if isinstance(kept, list) else ():
        match row:
            case [str(kind), str(part), str(value)] if kind in AlarmKind:
                rows.append((Condition(AlarmKind(kind), part), value))
    return rows
