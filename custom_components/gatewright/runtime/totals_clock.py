"""When totals are written: just before the recorder looks back at five minutes.

The recorder makes its statistics of every five minutes by the clock from the last state
within them. A total that is written every half minute fills its table and adds nothing
to them; one that is written a while after their end would be booked on the next ones.
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
"""Early enough for a busy machine, late enough to leave little for the next five minutes."""


class TotalsClock:
    """Calls those who show totals of one system, with everything booked up to then."""

    def __init__(self, system: SystemContext) -> None:
        """Stand still until `start`."""
        self._system = system
        self._listeners = Listeners[[]]("A total cannot be shown")
        self.listen = self._listeners.add
        """Calls a listener every five minutes; returns how to stop that."""

    @callback
    def start(self) -> CALLBACK_TYPE:
        """Begin; returns how to stop."""
        return async_track_utc_time_change(
            self._system.hass, self._due, minute=list(MINUTES), second=SECOND
        )

    @callback
    def _due(self, _now: datetime) -> None:
        system = self._system
        system.shop.ledger.book(system.now())
        system.handle(TimePassed())
        self._listeners.call()
