"""The switch that cleans the filter: when it should be on, and when to look again."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from .config import FilterCleaningConfig


class CleaningPhase(StrEnum):
    """Where the cleaning is."""

    IDLE = "idle"
    WAITING = "waiting"
    """Due, until the impeller has stopped for long enough."""
    ON = "on"
    PAUSING = "pausing"


class Cleaning:
    """Cleans after the collector has stopped, in strokes.

    `wanted` is how the switch should stand. A collector that starts ends the
    cleaning at once, unless it may run then; what is left of it is done at the next
    stop. So is a stroke whose switch did not come on.
    """

    def __init__(self, plan: FilterCleaningConfig) -> None:
        self.plan = plan
        self.phase = CleaningPhase.IDLE
        self.since = 0.0
        self.due = False
        self.until: float | None = None
        self.strokes = 0
        self.failed = False
        """Whether its switch did not come on for the last stroke."""
        self._stopped_at: float | None = None
        self._gave_up = False

    @property
    def wanted(self) -> bool:
        """How the switch should stand."""
        return self.phase is CleaningPhase.ON

    def run(self, seconds: float) -> None:
        """Note that the collector ran for some seconds."""
        self.since += seconds
        if self.since > 0 and self.since >= self.plan.every:
            self.due = True

    def read(self, level: float | None) -> None:
        """Take the filter's loss in Pa."""
        above = self.plan.above
        if level is not None and above is not None and level >= above:
            self.due = True

    def ask(self) -> None:
        """Clean at the next opportunity, whether or not it is due."""
        self.due = True
        self._gave_up = False

    def advance(
        self, now: float, *, at_rest: bool, allowed: bool = True, works: bool = True
    ) -> bool:
        """Let time pass; return whether a cleaning has just been completed.

        `at_rest` says that the impeller has certainly stopped; `allowed` is False
        under start block and fire shutdown, when nothing may move; `works` is False while the
        switch does not come on.
        """
        if not at_rest:
            self._stopped_at = None
            self._gave_up = False
        elif self._stopped_at is None:
            self._stopped_at = now
        if not allowed or not (at_rest or self.plan.while_running):
            self._stand_by()
            return False
        completed = False
        while (begins := self._next(now)) is not None and now >= begins:
            match self.phase:
                case CleaningPhase.ON if not works:
                    self._gave_up = self.failed = True
                    self._stand_by()
                case CleaningPhase.ON:
                    self.failed = False
                    self.strokes += 1
                    self.phase = CleaningPhase.PAUSING
                    self.until = begins + self.plan.pause
                    if self.strokes >= self.plan.times:
                        self._finish()
                        completed = True
                case _:
                    self.phase = CleaningPhase.ON
                    # Whoever looks late still gives the stroke its whole time.
                    self.until = now + self.plan.duration
        return completed

    def due_after(self, now: float) -> float | None:
        """Return when the switch has to be looked at again."""
        return self.until if self.until is not None and self.until > now else None

    def save(self) -> dict[str, Any]:
        """Return what has to survive a restart; a stroke under way begins anew."""
        return {"since": self.since, "due": self.due, "strokes": self.strokes}

    def restore(self, data: Mapping[str, Any]) -> None:
        """Take over what `save` returned."""
        self.since = data.get("since", 0.0)
        self.due = data.get("due", False)
        self.strokes = data.get("strokes", 0)

    def _next(self, now: float) -> float | None:
        """Return when the present phase ends; None where only an event ends it."""
        if self._gave_up:
            return None
        if self.phase is CleaningPhase.IDLE:
            if not self.due:
                return None
            self.phase = CleaningPhase.WAITING
        if self.phase is CleaningPhase.WAITING and self.until is None:
            stopped = self._stopped_at
            # Beside a running collector there is nothing to wait for.
            self.until = now if stopped is None else stopped + self.plan.wait
        return self.until

    def _stand_by(self) -> None:
        self.phase = CleaningPhase.WAITING if self.due else CleaningPhase.IDLE
        self.until = None

    def _finish(self) -> None:
        self.phase = CleaningPhase.IDLE
        self.until = None
        self.due = False
        self.since = 0.0
        self.strokes = 0
