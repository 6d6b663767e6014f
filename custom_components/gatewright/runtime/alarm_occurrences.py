"""Identifies the occurrences of an alarm, for repairs, buttons and messages.

Each time an alarm is raised it gets a new id, which survives a restart. Whatever acts
on the alarm carries this id. It's valid until the alarm is over or somebody has acted
on it.
"""

from collections.abc import Iterable
from typing import Any

from homeassistant.util.ulid import ulid_now

from ..core.control.alarms import AlarmKind, Condition


class Occurrences:
    """The occurrences of one system's active alarms."""

    def __init__(self) -> None:
        self._names: dict[Condition, str] = {}

    def of(self, condition: Condition) -> str:
        """Return the id of an alarm's present occurrence."""
        return self._names.setdefault(condition, ulid_now())

    def begin(self, condition: Condition) -> None:
        """Begin a new occurrence: the alarm was raised, or somebody has acted on it."""
        self._names[condition] = ulid_now()

    def end(self, condition: Condition) -> None:
        """End the occurrence: the alarm is over."""
        self._names.pop(condition, None)

    def condition(self, name: str) -> Condition | None:
        """Return the alarm of an occurrence; None if it's no longer valid."""
        return next((c for c, known in self._names.items() if known == name), None)

    def save(self) -> list[list[str]]:
        """Return the occurrences as plain data."""
        return [[kind.value, part, name] for (kind, part), name in self._names.items()]

    def restore(self, kept: Any, standing: Iterable[Condition]) -> None:
        """Restore the occurrences of active alarms; unreadable ones are left out."""
        known = {}
        for row in kept if isinstance(kept, list) else ():
            match row:
                case [str(kind), str(part), str(name)] if kind in AlarmKind:
                    known[Condition(AlarmKind(kind), part)] = name
        self._names = {c: known[c] for c in standing if c in known}
