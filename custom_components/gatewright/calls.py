"""Notes which calls of devices fail, and tells the owner when it is not just once."""

from collections import Counter
from collections.abc import Callable

from .shop.actuation import Actuator
from .shop.alarms import AlarmKind, Condition
from .shop.shop import Shop

_TOLERATED = 1
"""Failures in a row that are taken for a passing disturbance."""


class CallLog:
    """The calls of one system's actuators that failed in a row."""

    def __init__(
        self,
        shop: Shop,
        details: dict[str, str],
        actuator: Callable[[str], Actuator | None],
    ) -> None:
        """Tell `shop` of failures, and keep what the device said in `details`."""
        self._shop = shop
        self._details = details
        self._actuator = actuator
        self._failures: Counter[str] = Counter()

    def ended(self, part: str, error: str | None) -> None:
        """Note how a call of a part ended; None is well."""
        if error is None:
            self._forget(part)
            return
        self._failures[part] += 1
        self._details[part] = error
        if self._failures[part] > _TOLERATED:
            self._shop.note_outside(_condition(part), present=True)

    def look(self) -> bool:
        """Forget the failures of what stands as it should all the same.

        Return whether there were any.
        """
        mended = [
            part
            for part in self._failures
            if (actuator := self._actuator(part)) is None
            or actuator.want in (None, actuator.reported)
        ]
        for part in mended:
            self._forget(part)
        return bool(mended)

    def _forget(self, part: str) -> None:
        del self._failures[part]
        self._details.pop(part, None)
        self._shop.note_outside(_condition(part), present=False)


def _condition(part: str) -> Condition:
    return Condition(AlarmKind.COMMAND_FAILED, part)
