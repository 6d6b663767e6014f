"""Notes which calls of devices fail, and has the owner told when it's not just once."""

from collections import Counter
from collections.abc import Callable, Iterator

from .shop.actuation import Actuator
from .shop.alarms import AlarmKind, Condition
from .shop.inputs import ConditionReported

_TOLERATED = 1
"""Failures in a row that are taken for a passing disturbance."""


class CallLog:
    """The calls of one system's actuators that failed in a row."""

    def __init__(
        self, details: dict[str, str], actuator: Callable[[str], Actuator | None]
    ) -> None:
        """Keep what a device said in `details`."""
        self._details = details
        self._actuator = actuator
        self._failures: Counter[str] = Counter()

    def ended(self, part: str, error: str | None) -> Iterator[ConditionReported]:
        """Note how a call of a part ended, None is well; yield what that means."""
        if error is None:
            if part in self._failures:
                yield self._forget(part)
            return
        self._failures[part] += 1
        self._details[part] = error
        if self._failures[part] > _TOLERATED:
            yield _failing(part, present=True)

    def mended(self) -> list[ConditionReported]:
        """Forget the failures of what stands as it should all the same."""
        return [
            self._forget(part)
            for part in tuple(self._failures)
            if (actuator := self._actuator(part)) is None
            or actuator.want in (None, actuator.reported)
        ]

    def _forget(self, part: str) -> ConditionReported:
        del self._failures[part]
        self._details.pop(part, None)
        return _failing(part, present=False)


def _failing(part: str, *, present: bool) -> ConditionReported:
    return ConditionReported(Condition(AlarmKind.COMMAND_FAILED, part), present)
