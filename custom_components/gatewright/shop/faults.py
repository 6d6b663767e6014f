"""What is wrong with a shop right now, read off its state."""

from collections.abc import Iterator

from .alarms import AlarmKind, Condition
from .machines import MachineRun
from .plan import COLLECTOR, GateKind
from .sequence import Sequence
from .words import Phase


def conditions(sequence: Sequence, now: float) -> Iterator[Condition]:
    """Yield every condition that needs a person and holds at `now`."""
    motor = sequence.motor.actuator
    if motor.failed:
        yield Condition(
            AlarmKind.COLLECTOR_NOT_STARTING
            if motor.want
            else AlarmKind.COLLECTOR_NOT_STOPPING,
            COLLECTOR,
        )
    if sequence.held_off:
        yield Condition(AlarmKind.STOPPED_BY_HAND, COLLECTOR)
    for gate in sequence.system.gates:
        actuator = sequence.gates.actuator(gate.gate_id)
        if actuator is not None and actuator.failed:
            yield Condition(AlarmKind.GATE_NOT_MOVING, gate.gate_id)
    for gate_id in _hand_gates_shut(sequence, now):
        yield Condition(AlarmKind.HAND_GATE_SHUT, gate_id)
    starved = sequence.phase is Phase.OPENING and not sequence.gates.has_way(now)
    for machine_id, run in sequence.machines.items():
        if _reading_lost(run):
            yield Condition(AlarmKind.READING_LOST, machine_id)
        if starved and run.wants_air:
            yield Condition(AlarmKind.NO_GATE_OPEN, machine_id)


def _reading_lost(run: MachineRun) -> bool:
    return run.sensor is not None and run.sensor.lost and run.is_attached


def _hand_gates_shut(sequence: Sequence, now: float) -> Iterator[str]:
    """Yield the gates that somebody has to open by hand for what runs now."""
    wanted = sequence.wanted_gates() if sequence.demand else frozenset()
    for gate in sequence.system.gates:
        if (
            gate.kind is GateKind.HAND
            and gate.gate_id in wanted
            and not sequence.gates.is_open(gate.gate_id, now)
        ):
            yield gate.gate_id
