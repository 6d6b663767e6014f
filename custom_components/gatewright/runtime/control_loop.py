"""Where the core meets the clock: an event in, its instant with it, orders out.

From a reading to a command nothing goes back: the input listener makes an event of a
state; `ControlLoop.handle` reads the clock once and gives both to `Shop.handle`, which
knows the method for it. Most readings change nothing and end there.
Else `Shop.decide` lets the sequence step on; the orders that it has computed go to
`Outputs.give` and from there to one `Driver.give` each, which makes the service call of
it. What the drivers then say (left, held up, refused) are events again, of the same
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
    """What is kept in step with the shop, and drives actuators of its own."""

    def observe(self, now: float) -> None:
        """Catch up with the shop, which has just advanced to `now`."""

    def orders(self) -> Iterable[tuple[str, Order]]:
        """Return the commands that are due."""

    def finish(self, runs: Iterable[FinishedRun], now: float) -> None:
        """Take the runs that have come to their end."""

    @property
    def wake(self) -> float | None:
        """When time alone will change something."""


class ControlLoop:
    """Takes everything that happens in one system, and acts on what follows."""

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
        """Stand still until `start`; `changed` is called when anything is to be kept."""
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
        """Begin to act on what happens, with a `follower` kept in step."""
        self._follower = follower

    @callback
    def stop(self) -> None:
        """Act on nothing any more; what happens is still noted."""
        self._follower = None
        self._timer.disarm()
        self.outputs.close()

    def now(self) -> float:
        """Return the instant of what is being handled, or else of this moment, in s.

        It is on the core's clock, which only goes forward.
        """
        return monotonic() if self._now is None else self._now

    @callback
    def handle(self, event: Input) -> None:
        """Take what happened, and do what follows; raises `RefusedError` with nothing changed.

        What an actuator reports while it is driven is of the same instant, and followed
        in one more round.
        """
        now = monotonic() if self._now is None else self._now
        if self._shop.handle(event, now):
            self._again = True
            if self._now is None and not self._gathering:
                self._follow(now)

    @contextmanager
    def gather(self) -> Iterator[None]:
        """Do what follows of several events once they all have been taken."""
        outer, self._gathering = self._gathering, True
        try:
            yield
        finally:
            self._gathering = outer
        if self._again and self._now is None and not outer:
            self._follow(monotonic())

    def _follow(self, now: float) -> None:
        """Go round until nothing more follows."""
        if (follower := self._follower) is None:
            return
        self._now = now
        touched = ChangedParts()
        try:
            while self._again:
                self._again = False
                self._round(touched, now)
                if not self._again:
                    self._tell(touched, now, follower)
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

    def _tell(self, touched: ChangedParts, now: float, follower: Follower) -> None:
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
        """Note how a call ended; the newest order may have waited for that."""
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
        """Have ourselves woken when time alone will change something."""
        if wake == self._timer_at and self._timer.armed:
            return
        self._timer_at = wake
        if wake is None:
            self._timer.disarm()
        else:
            self._timer.arm(max(0.0, wake - now))
