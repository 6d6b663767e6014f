"""The starts and stops of the collector that are to be told."""

from collections.abc import Iterator

from .enums import Switching


class Switchings:
    """Starts and stops in order; a start while the switch is missing is none yet.

    `start_due` says that one is to be told once the switch is there.
    """

    def __init__(self) -> None:
        self.start_due = False
        self._told: list[Switching] = []

    def note(self, switching: Switching, *, there: bool) -> None:
        """Note a start or a stop; `there` says that the switch can be reached."""
        due = self.start_due
        self.start_due = switching.on and not there
        # What never started does not stop.
        if not self.start_due and (switching.on or not due):
            self._told.append(switching)

    def __iter__(self) -> Iterator[Switching]:
        """Yield what was noted since the last call of `drain`."""
        return iter(self._told)

    def drain(self) -> list[Switching]:
        """Return what was noted since the last call."""
        told, self._told = self._told, []
        return told
