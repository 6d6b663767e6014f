"""Connects the core with the clock: events with their instant in, orders out.

From a reading to a command, nothing flows back: the input listener turns a state into
an event; `ControlLoop.handle` reads the clock once and passes both to
`ShopControl.handle`, which knows the method for it. Most readings change nothing and
end there. Otherwise `ShopControl.decide` advances the sequence; its orders go to
`Outputs.give` and from there to one `ActuatorDriver.give` each, which makes the service
call. The drivers' answers (sent, delayed, refused) are events again, of the same
instant.
"""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import Protocol

from homeassistant.config_entries import ConfigEntry
from homeassistant.core import HomeAssistant, callback

from ..core.control.actuator import Order
from ..core.control.ledger import FinishedRun
from ..core.control.shop import ShopControl
from ..core.inputs import CommandRefused, Input, TimePassed
from ..core.times import earliest
from .actuator_driver import OwnContexts
from .call_failures import CallFailures
from .events import EventReporter
from .outputs import Outputs
from .timer import Timer
from .updates import ChangedParts, Updates


class Follower(Protocol):
    """Keeps in step with the shop, and drives actuators of its own."""

    def observe(self, now: float) -> None:
        """Catch up with the shop, which has just advanced to `now`."""

    def orders(self) -> Iterable[tuple[str, Order]]:
        """Return the commands that are due."""

    def finish(self, runs: Iterable[FinishedRun], now: float) -> None:
        """Take the finished runs."""

    @property
    def wake(self) -> float | None:
        """Return when time alone will change something."""


class ControlLoop:
    """Handles every event of one system, and everything that follows."""

    def __init__(
        self,
        hass: HomeAssistant,
        entry: ConfigEntry,
        shop: ShopControl,
        contexts: OwnContexts,
        announcer: EventReporter,
        updates: Updates,
        changed: Callable[[], None],
    ) -> None:
        """Wait for `start`; `changed` is called when something has to be saved."""
        self.outputs = Outputs(hass, entry, contexts, self.handle, self._call_ended)
        self._shop = shop
        self._announcer = announcer
        self._updates = updates
        self._changed = changed
        self._calls = CallFailures(announcer.details, shop.sequence.actuator)
        self._timer = Timer(hass, "gatewright wake", self._woken)
        self._timer_at: float | None = None
        self._now: float | None = None
        self._follower: Follower | None = None
        self._again = self._gathering = False

    @callback
    def start(self, follower: Follower) -> None:
        """Begin to act on events, with a `follower` kept in step."""
        self._follower = follower

    @callback
    def stop(self) -> None:
        """Stop acting; events are still noted."""
        self._follower = None
        self._timer.disarm()
        self.outputs.close()

    def now(self) -> float:
        """Return the instant of the event being handled, or else of this moment, in s.

        It's on the core's clock, which only runs forward.
        """
        return monotonic() if self._now is None else self._now

    @callback
    def handle(self, event: Input) -> None:
        """Handle an event and what follows; a `RefusedError` changes nothing.

        An actuator's report while it's driven has the same instant, and gets one more
        round.
        """
        now = monotonic() if self._now is None else self._now
        if self._shop.handle(event, now):
            self._again = True
            if self._now is None and not self._gathering:
                self._follow(now)

    @contextmanager
    def gather(self) -> Iterator[None]:
        """Handle several events first, then what follows from all of them."""
        outer, self._gathering = self._gathering, True
        try:
            yield
        finally:
            self._gathering = outer
        if self._again and self._now is None and not outer:
            self._follow(monotonic())

    def _follow(self, now: float) -> None:
        """Repeat rounds until nothing more follows."""
        if (follower := self._follower) is None:
            return
        self._now = now
        touched = ChangedParts()
        try:
            while self._again:
                self._again = False
                self._round(touched, now)
                if not self._again:
                    self._notify(touched, now, follower)
                    touched = ChangedParts()
        finally:
            self._now = None

    def _round(self, touched: ChangedParts, now: float) -> None:
        touched.note(self._shop.sequence)
        self._shop.decide(now)
        # The calls leave before anything else is computed: a machine waits for them.
        self.outputs.give(self._shop.sequence.orders())
        self._shop.note(now)
        for event in self._calls.mended():
            self.handle(event)
        touched.note(self._shop.sequence)

    def _notify(self, touched: ChangedParts, now: float, follower: Follower) -> None:
        follower.observe(now)
        self.outputs.give(follower.orders())
        self._arm(earliest((self._shop.wake, follower.wake)), now)
        self._show(touched, now)
        follower.finish(self._shop.ledger.drain(), now)
        self._announcer.tell()

    def _show(self, touched: ChangedParts, now: float) -> None:
        if self._updates.publish(touched, now):
            self._changed()

    def _call_ended(self, part: str, error: str | None) -> None:
        """Note how a call ended; the newest order may have waited for it."""
        now = self.now()
        for event in self._calls.ended(part, error):
            self._shop.handle(event, now)
        if error is not None:
            self.handle(CommandRefused(part))
        elif self._follower is not None:
            actuator = self._shop.sequence.actuator(part)
            if actuator is not None and (order := actuator.order) is not None:
                self.outputs.give([(part, order)])

    @callback
    def _woken(self) -> None:
        self.handle(TimePassed())

    def _arm(self, wake: float | None, now: float) -> None:
        """Schedule the moment when time alone will change something."""
        if wake == self._timer_at and self._timer.armed:
            return
        self._timer_at = wake
        if wake is None:
            self._timer.disarm()
        else:
            self._timer.arm(max(0.0, wake - now))
