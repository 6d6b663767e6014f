"""Counts failing device calls, and notifies the owner of repeated ones."""

from collections import Counter
from collections.abc import Callable, Iterator

from ..core.control.actuator import Actuator
from ..core.control.alarms import AlarmKind, Condition
from ..core.inputs import ConditionReported

_TOLERATED = 1
"""Failures in a row that count as a passing disturbance."""


class CallFailures:
    """The failures in a row of one system's actuators."""

    def __init__(
        self, details: dict[str, str], actuator: Callable[[str], Actuator | None]
    ) -> None:
        """Put a device's error messages into `details`."""
        self._details = details
        self._actuator = actuator
        self._failures: Counter[str] = Counter()

    def ended(self, part: str, error: str | None) -> Iterator[ConditionReported]:
        """Note how a call of a part ended, None without an error; yield the events."""
        if error is None:
            if part in self._failures:
                yield self._forget(part)
            return
        self._failures[part] += 1
        self._details[part] = error
        if self._failures[part] > _TOLERATED:
            yield _failing(part, present=True)

    def mended(self) -> list[ConditionReported]:
        """Clear the failures of actuators that reached their target anyway."""
        return [
            self._forget(part)
            for part in tuple(self._failures)
            if (actuator := self._actuator(part)) is None
            or actuator.target in (None, actuator.reported)
        ]

    def _forget(self, part: str) -> ConditionReported:
        del self._failures[part]
        self._details.pop(part, None)
        return _failing(part, present=False)


def _failing(part: str, *, present: bool) -> ConditionReported:
    return ConditionReported(Condition(AlarmKind.COMMAND_FAILED, part), present)
