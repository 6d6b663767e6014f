"""Which alarms were raised on which day."""

from collections.abc import Mapping
from datetime import date
from typing import Any, NamedTuple

from .calendar import DAYS_KEPT

ALARMS_A_DAY = 100
"""Different alarms kept of one day; a shop has not that many parts."""


class Raised(NamedTuple):
    """How often an alarm was raised, and by which part, under the name it had."""

    alarm: str
    part: str
    times: int


class AlarmDays:
    """Counts the alarms of each day."""

    def __init__(self) -> None:
        self.days: dict[date, dict[tuple[str, str], int]] = {}

    def note(self, alarm: str, part: str, day: date) -> None:
        """Count an alarm of a part on the day on which it was raised."""
        counts = self.days.setdefault(day, {})
        if (alarm, part) in counts or len(counts) < ALARMS_A_DAY:
            counts[alarm, part] = counts.get((alarm, part), 0) + 1
        while len(self.days) > DAYS_KEPT:
            del self.days[min(self.days)]

    def between(self, first: date, last: date) -> list[Raised]:
        """Return what was raised from a first to a last day, the most frequent first."""
        counts: dict[tuple[str, str], int] = {}
        for day, raised in self.days.items():
            if first <= day <= last:
                for key, count in raised.items():
                    counts[key] = counts.get(key, 0) + count
        found = [Raised(*key, count) for key, count in counts.items()]
        return sorted(found, key=lambda raised: (-raised.times, raised))

    def save(self) -> dict[str, Any]:
        """Return everything as plain data."""
        return {
            day.isoformat(): [[*key, count] for key, count in counts.items()]
            for day, counts in self.days.items()
        }

    def restore(self, data: Mapping[str, Any]) -> None:
        """Take over what `save` returned."""
        self.days = {
            date.fromisoformat(day): {
                (alarm, part): count for alarm, part, count in counts
            }
            for day, counts in data.items()
        }
