"""A shop run against simulated actuators that do as they are told."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import override

from ..calibration.history import Interval
from ..config import COLLECTOR, GateConfig, GateKind, IdlePosition, SystemConfig
from ..control.enums import RefusedError
from ..inputs import (
    BinReported,
    DetectorReported,
    FireShutdownReset,
    GateReported,
    HoseReported,
    Input,
    MachineReading,
    ModeSet,
    RelayReported,
    RequestMade,
    RequestWithdrawn,
    WorkForetold,
)
from .controlled_plant import ControlledPlant
from .plant.actuators import SimulatedActuator


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


class Track:
    """When something was so: intervals that grow as it turns on and off."""

    __slots__ = ("_since", "intervals")

    def __init__(self) -> None:
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


class Simulator(ControlledPlant):
    """One shop whose actuators take their time and do as they are told.

    `turning`, `opened`, `ran` and `collected` are the tracks of the impeller, the gates,
    the machines and their dust collection.
    """

    def __init__(self, system: SystemConfig, actuators: Actuators, now: float) -> None:
        """Begin at `now`, an instant in s, with everything reported at rest."""
        devices = {device.part: device for device in _devices(system, actuators)}
        super().__init__(system, devices, now)
        self.turning = Track()
        self.opened = {gate.gate_id: Track() for gate in system.gates}
        self.ran = {machine.machine_id: Track() for machine in system.machines}
        self.collected = {machine.machine_id: Track() for machine in system.machines}
        self._using: set[str] = set()
        self._by_hand = {g.gate_id for g in system.gates if g.kind is GateKind.HAND}
        for device in self.devices.values():
            self.say(device)
        for gate in system.gates:
            if gate.kind is GateKind.FIXED:
                self.opened[gate.gate_id].note(True, now)
        self.settle(now)

    @override
    def act(self) -> None:
        super().act()
        self.turning.note(self.sequence.motor.turning, self.now)
        self._note_machines(self.now)

    @override
    def hear(self, device: SimulatedActuator, value: bool | None, *, own: bool) -> None:
        if (track := self.opened.get(device.part)) is not None:
            track.note(value is True, self.now)
        super().hear(device, value, own=own)

    def handle(self, event: Input, now: float) -> bool:
        """Take what happened in a real shop; return whether `settle` has to follow.

        All that is due before `now` has happened. What real actuators did is passed
        over: the simulated ones do as they are told. Only gates moved by hand count. What is
        refused, say because no hose is connected, does not happen.
        """
        self.now = now
        match event:
            case GateReported(gate_id=gate_id) if gate_id in self._by_hand:
                self.move_by_hand(gate_id, event.value if event.reachable else None)
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


def _devices(system: SystemConfig, actuators: Actuators) -> Iterator[SimulatedActuator]:
    delay = actuators.delay
    yield SimulatedActuator(COLLECTOR, delay=delay)
    for gate in system.gates:
        # A hand-moved gate of which nobody recorded anything is taken to be open.
        stands_open = gate.kind is GateKind.HAND or gate.rest is IdlePosition.OPEN
        if gate.kind is not GateKind.FIXED:
            stroke = actuators.stroke(gate)
            travel = stroke if stroke > delay else 0.0
            yield SimulatedActuator(
                gate.gate_id, state=stands_open, delay=delay, travel=travel
            )
    for linked_device in system.linked_devices:
        yield SimulatedActuator(linked_device.linked_device_id, delay=delay)
