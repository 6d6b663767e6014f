"""A shop with its simulated actuators, on a clock that jumps.

The core itself decides everything: it is given what happened, carries nothing out, and
is looked at again when it asks for it.
"""

import math
from typing import NamedTuple, override

from ..config import COLLECTOR, SystemConfig
from ..control.alarms import AlarmChange
from ..control.enums import Switching
from ..control.sequence import Sequence
from ..control.shop import ShopControl
from ..inputs import (
    CollectorReported,
    CommandDispatched,
    CommandHeldUp,
    GateReported,
    Input,
    LinkedDeviceReported,
)
from .plant.actuators import SimulatedActuator, SimulatedPlant


class SimulatedCommand(NamedTuple):
    """A command that the shop gave: when, to what, and how it should stand."""

    at: float
    part: str
    target: bool


class ControlledPlant(SimulatedPlant):
    """A shop and the actuators that it drives; what it did is written down."""

    def __init__(
        self, system: SystemConfig, devices: dict[str, SimulatedActuator], now: float
    ) -> None:
        """Begin at `now`, an instant in s, with nothing reported."""
        super().__init__(devices, now)
        self.shop = ShopControl(system, now)
        self.commands: list[SimulatedCommand] = []
        self.alarms: list[AlarmChange] = []
        self.switchings: list[Switching] = []

    @property
    def sequence(self) -> Sequence:
        """The behavior of the shop."""
        return self.shop.sequence

    @property
    def next(self) -> float:
        """The next instant at which time alone changes something."""
        wake = self.shop.wake
        return min(math.inf if wake is None else wake, self.upcoming)

    def run_before(self, instant: float) -> None:
        """Let everything happen that is due before an instant."""
        while (at := self.next) < instant:
            self.settle(max(at, self.now))

    def settle(self, now: float) -> None:
        """Let the actuators do what is due, bring the shop up to `now`, drive it."""
        self.happen(now)
        self.act()

    def act(self) -> None:
        """Bring the shop up to the present, and have done what it orders."""
        self.shop.advance(self.now)
        for part, order in list(self.sequence.orders()):
            self.drive(part, order)
        self.alarms += self.shop.alarms.drain()
        self.switchings += self.sequence.drain_switchings()

    @override
    def dispatched(self, part: str, target: bool) -> None:
        self.shop.handle(CommandDispatched(part), self.now)
        self.commands.append(SimulatedCommand(self.now, part, target))

    @override
    def held_up(self, part: str) -> None:
        self.shop.handle(CommandHeldUp(part), self.now)

    @override
    def hear(self, device: SimulatedActuator, value: bool | None, *, own: bool) -> None:
        self.shop.handle(self.event_of(device, value, own=own), self.now)

    def event_of(
        self, device: SimulatedActuator, value: bool | None, *, own: bool
    ) -> Input:
        """Return what a device's report is to the shop."""
        part, reachable = device.part, device.reachable
        if part == COLLECTOR:
            return CollectorReported(
                value, reachable=reachable, own=own, no_feedback=device.no_feedback
            )
        if part in self.sequence.gates:
            return GateReported(
                part,
                value,
                reachable=reachable,
                own=own,
                no_feedback=device.no_feedback,
                position=device.position,
            )
        return LinkedDeviceReported(part, value, reachable=reachable, own=own)
