"""When to write totals: just before the recorder's five-minute statistics.

The recorder computes statistics of every five minutes from the last state within them.
Writing a total every half minute would fill its table for nothing; writing it after
their end would count for the next five minutes.
"""

from datetime import datetime

from homeassistant.core import CALLBACK_TYPE, callback
from homeassistant.helpers.event import async_track_utc_time_change

from ..core.inputs import TimePassed
from .listeners import Listeners
from .system_context import SystemContext

MINUTES = range(4, 60, 5)
"""The last minute of each five."""
SECOND = 50
"""Early enough for a busy machine, late enough to leave little for the next five
minutes."""


class TotalsClock:
    """Calls a system's total sensors, with everything recorded up to then."""

    def __init__(self, system: SystemContext) -> None:
        self._system = system
        self._listeners = Listeners[[]]("A total cannot be shown")
        self.listen = self._listeners.add
        """Calls a listener every five minutes; returns how to remove it."""

    @callback
    def start(self) -> CALLBACK_TYPE:
        """Start the clock; return a function that stops it."""
        return async_track_utc_time_change(
            self._system.hass, self._due, minute=list(MINUTES), second=SECOND
        )

    @callback
    def _due(self, _now: datetime) -> None:
        system = self._system
        system.shop.ledger.book(system.now())
        system.handle(TimePassed())
        self._listeners.call()
