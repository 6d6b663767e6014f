"""The starts and stops of the collector that are to be told."""

from .words import Switching


class Switchings(list[Switching]):
    """Starts and stops in order; a start while the switch is missing is none yet.

    `start_due` says that one is to be told once the switch is there.
    """

    def __init__(self) -> None:
        """Begin with nothing to tell."""
        super().__init__()
        self.start_due = False

    def note(self, switching: Switching, *, there: bool) -> None:
        """Note a start or a stop; `there` says that the switch can be reached."""
        due = self.start_due
        self.start_due = switching.on and not there
        # What never started does not stop.
        if not self.start_due and (switching.on or not due):
            self.append(switching)

    def drain(self) -> list[Switching]:
        """Return what was noted since the last call."""
        told = list(self)
        self.clear()
        return told
