"""Actuators that are given commands and report what they did, in their time.

They come with the faults that real ones have; without any they do as they are told.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
import heapq
from itertools import count
import math
from typing import NamedTuple

from ...control.actuator import Order
from ...times import in_ticks
from .slide import Slide


@dataclass(slots=True)
class SimulatedActuator(Slide):
    """An actuator as it is seen from outside: called, busy for a while, reporting later.

    `delay` is the time in s from a command to the first report, `travel` that until it
    has arrived (0 for a switch). Its faults: a `deaf` one swallows commands; a call to one
    that `hangs` is busy for so many s. A `blind` one reports at once what it was told, and
    still moves for `travel`. One that `bounces` reports the old state once more after the
    new one. One with `no_feedback` obeys and does not say how it stands. `signs` says that
    a report of ours carries the mark of our call, `shows` at which shares of its way it
    reports its `position`.
    """

    part: str
    state: bool | None = False
    """How it would say that it stands; None between the two."""
    delay: float = 0.3
    reachable: bool = True
    deaf: bool = False
    hangs: float = 0.0
    blind: bool = False
    signs: bool = False
    bounces: bool = False
    no_feedback: bool = False
    shows: tuple[float, ...] = ()
    position: float | None = None
    busy_until: float = -math.inf
    number: int = 0
    """Of the newest command, which makes all that were before it void."""

    def state_at(self, now: float) -> bool | None:
        """Return how the thing itself stands, whatever is reported."""
        return None if self.blind and self.moving(now) else self.state

    def opened(self, now: float) -> float:
        """Return how far the thing itself is open, 0 to 1."""
        state = self.state_at(now)
        return self.at(now) if state is None else float(state)

    def set_out(self, now: float, target: bool) -> None:
        """Begin to move, from an end or from wherever it is."""
        if (state := self.state_at(now)) is not None:
            self.place(now, float(state))
        self.drive(now, float(target))

    def marks(self) -> list[tuple[float, float]]:
        """Return the positions that it reports on its way, and after how many s each."""
        start, end = self.value, self.target
        opening = end > start
        shown = (share if opening else 1.0 - share for share in self.shows)
        ahead = [m for m in shown if min(start, end) <= m <= max(start, end)]
        # From an end all is exact; from between them it is made so.
        exact = start in (0.0, 1.0)
        after = ((mark, abs(mark - start) * self.travel) for mark in ahead)
        return [(mark, s if exact else in_ticks(s)) for mark, s in after]


class SimulatedPlant(ABC):
    """The actuators of a shop, on a clock that jumps from event to event.

    `now` is the instant up to which everything has happened.
    """

    now: float

    def __init__(self, devices: dict[str, SimulatedActuator], now: float) -> None:
        """Begin at `now` with nothing commanded."""
        self.devices = devices
        self.now = now
        self._queue: list[tuple[float, int, Callable[[], None]]] = []
        self._serial = count()
        self._sent: dict[str, int] = {}

    @abstractmethod
    def hear(self, device: SimulatedActuator, value: bool | None, *, own: bool) -> None:
        """Take what a device reports; `own` where it carries the mark of our call."""

    @abstractmethod
    def dispatched(self, part: str, target: bool) -> None:
        """Note that a command leaves."""

    @abstractmethod
    def held_up(self, part: str) -> None:
        """Note that a command waits for a call that has not returned."""

    # Time ------------------------------------------------------------------------

    @property
    def upcoming(self) -> float:
        """The instant at which something happens next here; infinite if nothing does."""
        return self._queue[0][0] if self._queue else math.inf

    def at(self, instant: float, action: Callable[[], None]) -> None:
        """Have something happen at an instant."""
        heapq.heappush(self._queue, (instant, next(self._serial), action))

    def happen(self, now: float) -> None:
        """Let everything happen that is due, and come up to `now`."""
        self.now = now
        while self._queue and self._queue[0][0] <= now:
            heapq.heappop(self._queue)[2]()

    # What is done to a device ------------------------------------------------------

    def drive(self, part: str, order: Order) -> None:
        """Carry an order out, once; it waits while an earlier call has not returned."""
        if self._sent.get(part) == order.number:
            return
        device = self.devices[part]
        if self.now < device.busy_until:
            self.held_up(part)
            return
        self._sent[part] = order.number
        self.dispatched(part, order.target)
        if device.hangs:
            device.busy_until = self.now + device.hangs
            self.at(device.busy_until, lambda: None)
        if device.deaf:
            return
        device.number += 1
        command = _Command(order.target, device.number, device.bounces)
        self.at(self.now + device.delay, partial(self._move, device, command))

    def forget_orders(self) -> None:
        """Take the next orders for new ones: a new shop numbers its orders anew."""
        self._sent.clear()

    def move_by_hand(self, part: str, value: bool | None) -> None:
        """Have somebody move a device."""
        device = self.devices[part]
        device.number += 1
        device.state = value
        self.say(device)

    def say(self, device: SimulatedActuator, *, own: bool = False) -> None:
        """Have a device report how it stands."""
        self.hear(device, device.state, own=own)

    # How a device moves ------------------------------------------------------------

    def _move(self, device: SimulatedActuator, command: _Command) -> None:
        target = command.target
        if command.number != device.number or device.deaf or device.state is target:
            return
        arrive = partial(self._arrive, device, command, device.state)
        device.set_out(self.now, target)
        if not device.travel or device.blind:
            arrive()
            return
        device.state = None
        if device.jams is None:
            self.at(self.now + device.travel - device.delay, arrive)
        for position, seconds in device.marks():
            passing = partial(self._pass, device, command, position)
            self.at(self.now + seconds, passing)
        self.say(device, own=device.signs)

    def _arrive(
        self, device: SimulatedActuator, command: _Command, before: bool | None
    ) -> None:
        if command.number != device.number or device.deaf:
            return
        device.state = command.target
        if device.shows:
            device.position = float(command.target)
        self.say(device, own=device.signs)
        if command.bounces:
            self.at(self.now + 0.25, lambda: self.hear(device, before, own=False))
            self.at(self.now + 0.75, lambda: self.say(device))

    def _pass(
        self, device: SimulatedActuator, command: _Command, position: float
    ) -> None:
        """Have a gate report how far it is on its way."""
        if command.number == device.number and device.state is None:
            device.position = position
            self.say(device, own=device.signs)


class _Command(NamedTuple):
    """A command on its way; whether its report `bounces` is settled when it leaves."""

    target: bool
    number: int
    bounces: bool
