"""A shop run against simulated actuators, on a clock that jumps.

The core itself decides everything: it is given what happened, carries nothing out, and
is looked at again when it asks for it. What moves here are a switch and gates that take
their time and do as they are told.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
import heapq
from itertools import count
import math
from typing import NamedTuple

from ..calibration.history import Interval
from ..config import COLLECTOR, GateConfig, GateKind, IdlePosition, SystemConfig
from ..control.actuator import Order
from ..control.alarms import AlarmChange
from ..control.enums import RefusedError, Switching
from ..control.shop import ShopControl
from ..inputs import (
    BinReported,
    CollectorReported,
    CommandDispatched,
    DetectorReported,
    FireShutdownReset,
    GateReported,
    HoseReported,
    Input,
    LinkedDeviceReported,
    MachineReading,
    ModeSet,
    RelayReported,
    RequestMade,
    RequestWithdrawn,
    WorkForetold,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Actuators:
    """How fast the simulated switch and gates are.

    `delay` is the time in s from a command to the first report. A gate's full stroke
    takes its own time in `travel`, or else this `share` of the plan's travel time, which
    is the longest that it may take.
    """

    delay: float = 0.3
    share: float = 0.8
    travel: Mapping[str, float] = field(default_factory=dict)

    def stroke(self, gate: GateConfig) -> float:
        """Return the seconds from a command to a gate until it has arrived.

        A gate without feedback reports what it was told and is waited for anyway.
        """
        if not gate.feedback:
            return 0.0
        return self.travel.get(gate.gate_id, self.share * gate.travel)


IDEAL = Actuators(delay=0.0, share=0.0)
"""Everything moves at once."""


class SimulatedCommand(NamedTuple):
    """A command that the shop gave: when, to what, and how it should stand."""

    at: float
    part: str
    target: bool


class Track:
    """When something was so: intervals that grow as it turns on and off."""

    __slots__ = ("_since", "intervals")

    def __init__(self) -> None:
        """Begin with off."""
        self.intervals: list[Interval] = []
        self._since: float | None = None

    def note(self, on: bool, now: float) -> None:
        """Take how it is from `now` on."""
        if on and self._since is None:
            self._since = now
        elif not on and self._since is not None:
            if now > self._since:
                self.intervals.append((self._since, now))
            self._since = None

    def until(self, end: float) -> tuple[Interval, ...]:
        """Return all intervals, an open one as far as `end`."""
        self.note(False, end)
        return tuple(self.intervals)


@dataclass(slots=True)
class _Device:
    state: bool | None
    delay: float
    travel: float = 0.0
    number: int = 0


class Simulator:
    """One shop with its simulated devices.

    `now` is the instant up to which everything has happened; `turning`, `opened`,
    `ran` and `collected` are the tracks of the impeller, the gates, the machines and the
    air they had.
    """

    def __init__(self, system: SystemConfig, actuators: Actuators, now: float) -> None:
        """Begin at `now`, an instant in s, with everything reported at rest."""
        self.now = now
        self.shop = ShopControl(system, now)
        self.commands: list[SimulatedCommand] = []
        self.alarms: list[AlarmChange] = []
        self.switchings: list[Switching] = []
        self.turning = Track()
        self.opened = {gate.gate_id: Track() for gate in system.gates}
        self.ran = {machine.machine_id: Track() for machine in system.machines}
        self.collected = {machine.machine_id: Track() for machine in system.machines}
        self._using: set[str] = set()
        self._queue: list[tuple[float, int, Callable[[], None]]] = []
        self._serial = count()
        self._sent: dict[str, int] = {}
        self._devices = dict(_devices(system, actuators))
        self._by_hand = {g.gate_id for g in system.gates if g.kind is GateKind.HAND}
        for part in self._devices:
            self._tell(part)
        for gate in system.gates:
            if gate.kind is GateKind.FIXED:
                self.opened[gate.gate_id].note(True, now)
        self.settle(now)

    @property
    def next(self) -> float:
        """The next instant at which something happens by itself."""
        wake = self.shop.wake
        at = math.inf if wake is None else wake
        return min(at, self._queue[0][0]) if self._queue else at

    def run_before(self, instant: float) -> None:
        """Let everything happen that is due before an instant."""
        while (at := self.next) < instant:
            self.settle(max(at, self.now))

    def settle(self, now: float) -> None:
        """Let the devices do what is due, bring the shop up to `now`, drive it."""
        self.now = now
        while self._queue and self._queue[0][0] <= now:
            heapq.heappop(self._queue)[2]()
        self.shop.advance(now)
        sequence = self.shop.sequence
        for part, order in list(sequence.orders()):
            self._drive(part, order)
        self.alarms += self.shop.alarms.drain()
        self.switchings += sequence.drain_switchings()
        self.turning.note(sequence.motor.turning, now)
        self._note_machines(now)

    def handle(self, event: Input, now: float) -> bool:
        """Take what happened in a real shop; return whether `settle` has to follow.

        All that is due before `now` has happened. What real actuators did is passed
        over: the simulated ones do as they are told. Only gates moved by hand count. What is
        refused, say because no hose is connected, does not happen.
        """
        self.now = now
        match event:
            case GateReported(gate_id=gate_id) if gate_id in self._by_hand:
                self._devices[gate_id].state = event.value if event.reachable else None
                self._tell(gate_id)
                return True
            case (
                MachineReading()
                | RelayReported()
                | HoseReported()
                | WorkForetold()
                | RequestMade()
                | RequestWithdrawn()
                | ModeSet()
                | DetectorReported()
                | FireShutdownReset()
                | BinReported()
            ):
                try:
                    return self.shop.handle(event, now)
                except RefusedError:
                    return False
        return False

    def forget(self) -> None:
        """Forget what happened so far, which a long life would not hold."""
        for told in (self.commands, self.alarms, self.switchings):
            told.clear()
        for tracks in (self.opened, self.ran, self.collected):
            for track in tracks.values():
                track.intervals.clear()
        self.turning.intervals.clear()
        self.shop.ledger.drain()

    def _note_machines(self, now: float) -> None:
        sequence = self.shop.sequence
        machines = sequence.machines
        collecting = sequence.motor.up_to_speed(now)
        for machine_id in self._using | sequence.watched:
            run = machines[machine_id]
            in_use = run.in_use
            if in_use:
                self._using.add(machine_id)
            else:
                self._using.discard(machine_id)
            self.ran[machine_id].note(in_use, now)
            air = in_use and collecting
            air = air and sequence.gates.all_open(run.work_gates, now)
            self.collected[machine_id].note(air, now)

    def _drive(self, part: str, order: Order) -> None:
        if self._sent.get(part) == order.number:
            return
        self._sent[part] = order.number
        self.shop.handle(CommandDispatched(part), self.now)
        self.commands.append(SimulatedCommand(self.now, part, order.target))
        device = self._devices[part]
        device.number += 1
        number = device.number
        self._later(device.delay, lambda: self._move(part, order.target, number))

    def _move(self, part: str, target: bool, number: int) -> None:
        device = self._devices[part]
        if number != device.number or device.state is target:
            return
        if device.travel > device.delay:
            device.state = None
            self._later(
                device.travel - device.delay, lambda: self._arrive(part, target, number)
            )
        else:
            device.state = target
        self._tell(part)

    def _arrive(self, part: str, target: bool, number: int) -> None:
        device = self._devices[part]
        if number == device.number:
            device.state = target
            self._tell(part)

    def _later(self, seconds: float, action: Callable[[], None]) -> None:
        heapq.heappush(self._queue, (self.now + seconds, next(self._serial), action))

    def _tell(self, part: str) -> None:
        state = self._devices[part].state
        event: Input
        if part == COLLECTOR:
            event = CollectorReported(state)
        elif part in self.opened:
            event = GateReported(part, state)
            self.opened[part].note(state is True, self.now)
        else:
            event = LinkedDeviceReported(part, state)
        self.shop.handle(event, self.now)


def _devices(
    system: SystemConfig, actuators: Actuators
) -> Iterator[tuple[str, _Device]]:
    yield COLLECTOR, _Device(False, actuators.delay)
    for gate in system.gates:
        # A hand-moved gate of which nobody recorded anything is taken to be open.
        stands_open = gate.kind is GateKind.HAND or gate.rest is IdlePosition.OPEN
        if gate.kind is not GateKind.FIXED:
            stroke = actuators.stroke(gate)
            yield gate.gate_id, _Device(stands_open, actuators.delay, stroke)
    for linked_device in system.linked_devices:
        yield linked_device.linked_device_id, _Device(False, actuators.delay)
