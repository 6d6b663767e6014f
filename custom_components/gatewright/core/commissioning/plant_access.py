"""All that a check may do with a shop, and how it sees it.

Gates are moved by the shop's gate controller and only while the collector rests; the
collector is started as if a person had turned it on, so that a gate opens first. What the shop
does for a machine, a request or a hand goes before the check.
"""

from collections.abc import Mapping
from enum import StrEnum

from ..config import GateKind, IdlePosition
from ..control.enums import Phase, RefusedError
from ..control.sequence import Sequence
from .findings import End
from .task import (
    CheckCommand,
    CollectorToCheck,
    GateToCheck,
    MachineToCheck,
    Sight,
    Signal,
    SignalRole,
    Task,
)


class NotNowError(StrEnum):
    """Why a check cannot begin."""

    START_BLOCK = "start_block"
    FIRE_SHUTDOWN = "fire_shutdown"
    AT_WORK = "at_work"


class PlantAccess:
    """What one system check may do."""

    def __init__(self, sequence: Sequence) -> None:
        self._sequence = sequence
        self._command: CheckCommand | None = None
        self._moving: str | None = None
        self._tried = False

    def refusal(self, now: float) -> NotNowError | None:
        """Return why a check cannot begin now."""
        sequence = self._sequence
        if sequence.fire_shutdown:
            return NotNowError.FIRE_SHUTDOWN
        if sequence.start_block:
            return NotNowError.START_BLOCK
        if not self._at_rest(now) or self._working() or sequence.demand:
            return NotNowError.AT_WORK
        return None

    def carry_out(self, task: Task | None, now: float) -> None:
        """Bring the sequence in line with a task; `advance` has to be called then."""
        sequence = self._sequence
        self._suspend(task is not None and task.suspended)
        command = None if task is None else task.command
        if command is None and self._moving is not None:
            # Between two gates, this one is left to the shop again.
            sequence.gates.end_check()
            self._moving = None
        if command is not None and command is not self._command:
            self._command = command
            self._moving = command.gate_id
            sequence.gates.check(command.gate_id, opened=command.opened, now=now)
        self._try_collector(task is not None and task.collector)

    def end(self, now: float) -> None:
        """Leave the shop to itself: gates go to rest, the collector stops in order."""
        self.carry_out(None, now)
        if self._sequence.phase is Phase.IDLE:
            # A sensor that answered for another gate looked like somebody's hand.
            self._sequence.gates.release()

    def see(
        self,
        signals: Mapping[Signal, bool | None],
        refused: frozenset[str],
        now: float,
    ) -> Sight:
        """Return what can be seen; `signals` and `refused` only the caller knows."""
        sequence = self._sequence
        motor = sequence.motor
        intrusion, machine = self._intrusion(now)
        return Sight(
            signals=signals,
            running={
                machine_id: None if run.sensor.missing else run.sensor.running
                for machine_id, run in sequence.machines.items()
                if run.sensor is not None
            },
            away=frozenset(
                gate
                for gate in sequence.gates.powered()
                if (actuator := sequence.gates.actuator(gate)) is None
                or not actuator.reachable
            ),
            refused=refused,
            switched=motor.actuator.reported,
            powered=motor.power_says_on,
            rest=self._at_rest(now),
            way=sequence.gates.ready(sequence.wanted_gates(), now),
            intrusion=intrusion,
            machine=machine,
        )

    def _at_rest(self, now: float) -> bool:
        sequence = self._sequence
        return sequence.phase is Phase.IDLE and not sequence.motor.may_turn(now)

    def _intrusion(self, now: float) -> tuple[End | None, str]:
        """Return what goes before the check, and the machine whose doing it is."""
        sequence = self._sequence
        if sequence.fire_shutdown:
            return End.FIRE_SHUTDOWN, ""
        if sequence.start_block:
            return End.START_BLOCK, ""
        wanting = sequence.machine_set.needs.wanting
        if wanting:
            run = sequence.machines[wanting[0]]
            return (End.REQUEST if run.requested else End.MACHINE), wanting[0]
        if self._tried:
            # Taken back by a person, and not for want of an open gate.
            stopped = sequence.trying and not sequence.by_hand
            by_hand = stopped and sequence.gates.has_open_path(now)
            return (End.COLLECTOR if by_hand else None), ""
        if not self._at_rest(now) or sequence.demand:
            return End.COLLECTOR, ""
        if self._moving is not None and sequence.gates.checked != self._moving:
            return End.GATE_MOVED, ""
        return None, ""

    def _working(self) -> bool:
        machines = self._sequence.machines.values()
        return any(run.sensor is not None and run.sensor.running for run in machines)

    def _suspend(self, suspended: bool) -> None:
        sequence = self._sequence
        if sequence.suspended is not suspended:
            sequence.suspended = suspended
            sequence.machine_set.watch_all()

    def _try_collector(self, wanted: bool) -> None:
        sequence = self._sequence
        if wanted and not self._tried:
            self._tried = True
            try:
                sequence.start_by_hand()
            except RefusedError:
                # A full bin: no start is found, and why is told by its alarm.
                return
            sequence.trying = True
        elif not wanted and sequence.trying:
            sequence.trying = sequence.by_hand = False


def gate_plans(
    sequence: Sequence,
    roles: Mapping[str, tuple[SignalRole, ...]],
    invertible: frozenset[str],
) -> tuple[GateToCheck, ...]:
    """Return the gates that can be checked: all but fixed openings."""
    return tuple(
        GateToCheck(
            gate_id=gate.gate_id,
            kind=gate.kind,
            travel=gate.travel,
            roles=roles.get(gate.gate_id, ()),
            home=None
            if gate.rest is IdlePosition.LEAVE
            else gate.rest is IdlePosition.OPEN,
            invertible=gate.gate_id in invertible,
        )
        for gate in sequence.system.gates
        if gate.kind is not GateKind.FIXED
    )


def machine_plans(sequence: Sequence) -> tuple[MachineToCheck, ...]:
    """Return the machines that can be checked: those with a reading."""
    return tuple(
        MachineToCheck(
            machine_id=machine_id, stop_confirm=run.sensor.levels.stop_confirm
        )
        for machine_id, run in sequence.machines.items()
        if run.sensor is not None
    )


def collector_plan(
    sequence: Sequence, now: float, *, measured: bool
) -> CollectorToCheck:
    """Return how the collector is checked."""
    collector = sequence.system.collector
    slowest = max((gate.travel for gate in sequence.system.gates), default=0.0)
    before = 2 * slowest + collector.start_delay
    before += max(collector.rest, sequence.motor.duty.may_start_at(now) - now)
    shutoff_delay = max(collector.shutoff_delay, sequence.least_shutoff_delay)
    return CollectorToCheck(
        confirm=collector.confirm,
        before=before,
        # A shut-off delay may be prolonged to spare the motor a start.
        after=shutoff_delay + collector.spin_down + collector.longest_shutoff_delay,
        measured=measured,
    )
