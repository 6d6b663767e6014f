"""Which occurrence of an alarm something belongs to: a repair, a button, a message.

Each time that an alarm is raised it gets a name of its own, which outlasts a restart.
Whatever acts on the alarm carries that name and acts only while it counts; it counts no
more once the alarm is over, or somebody has acted on it.
"""

from collections.abc import Iterable
from typing import Any

from homeassistant.util.ulid import ulid_now

from ..core.control.alarms import AlarmKind, Condition


class Occurrences:
    """The occurrences of one system's standing alarms."""

    def __init__(self) -> None:
        self._names: dict[Condition, str] = {}

    def of(self, condition: Condition) -> str:
        """Return the name of the occurrence that stands."""
        return self._names.setdefault(condition, ulid_now())

    def begin(self, condition: Condition) -> None:
        """Begin a new one: the alarm was raised, or somebody has acted on it."""
        self._names[condition] = ulid_now()

    def end(self, condition: Condition) -> None:
        """End it: the alarm is over."""
        self._names.pop(condition, None)

    def condition(self, name: str) -> Condition | None:
        """Return the alarm that an occurrence is of; None where it counts no more."""
        return next((c for c, known in self._names.items() if known == name), None)

    def save(self) -> list[list[str]]:
        """Return them as plain data."""
        return [[kind.value, part, name] for (kind, part), name in self._names.items()]

    def restore(self, kept: Any, standing: Iterable[Condition]) -> None:
        """Take up those of alarms that still stand; what cannot be read is left out."""
        known = {}
        for row in kept if isinstance(kept, list) else ():
            match row:
                case [str(kind), str(part), str(name)] if kind in AlarmKind:
                    known[Condition(AlarmKind(kind), part)] = name
        self._names = {c: known[c] for c in standing if c in known}
