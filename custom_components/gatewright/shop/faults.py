"""What is wrong with a shop right now, read off its state."""

from collections.abc import Iterable, Iterator

from .alarms import AlarmKind, Condition
from .machines import MachineRun
from .plan import COLLECTOR
from .sequence import Sequence


def conditions(sequence: Sequence, now: float) -> Iterator[Condition]:
    """Yield every condition that needs a person and holds at `now`."""
    if sequence.emergency:
        yield Condition(AlarmKind.EMERGENCY, COLLECTOR)
    if sequence.bin.full:
        yield Condition(AlarmKind.BIN_FULL, COLLECTOR)
    if _all_away(sequence):
        # One word for a workshop whose power is off, not one for each plug in it.
        yield Condition(AlarmKind.SHOP_AWAY, COLLECTOR)
        return
    yield from _of_the_collector(sequence, now)
    yield from _of_the_gates(sequence, now)
    starved = sequence.starved(now)
    for machine_id in _suspects(sequence):
        run = sequence.machines[machine_id]
        for kind in _of_a_machine(sequence, run, now):
            yield Condition(kind, machine_id)
        if starved and run.wants_air:
            yield Condition(AlarmKind.NO_GATE_OPEN, machine_id)


def _suspects(sequence: Sequence) -> Iterable[str]:
    """Return the machines that may have something wrong with them, in order.

    Where nothing goes on at a machine only its companions may fail: they may do so
    after it has come to rest.
    """
    if sequence.companions.any_failed:
        return sequence.machines
    return sequence.roster.in_order()


def _all_away(sequence: Sequence) -> bool:
    if sequence.motor.actuator.reachable:
        return False
    sensors = [run.sensor for run in sequence.machines.values() if run.sensor]
    return bool(sensors) and all(sensor.lost for sensor in sensors)


def _of_the_collector(sequence: Sequence, now: float) -> Iterator[Condition]:
    motor = sequence.motor
    actuator = motor.actuator
    odds = motor.at_odds(now)
    told = actuator.failed or actuator.cut_off(now)
    # On by its switch and without power is a tripped breaker, off and with power a
    # contactor that has welded.
    if (told and actuator.want) or (odds and actuator.reported):
        yield Condition(AlarmKind.COLLECTOR_NOT_STARTING, COLLECTOR)
    lasts = actuator.failed or (actuator.cut_off(now) and actuator.reported is True)
    if (lasts and not actuator.want) or (odds and not actuator.reported):
        yield Condition(AlarmKind.COLLECTOR_NOT_STOPPING, COLLECTOR)
    elif sequence.by_itself:
        yield Condition(AlarmKind.COLLECTOR_BY_ITSELF, COLLECTOR)
    if sequence.held_off:
        yield Condition(AlarmKind.STOPPED_BY_HAND, COLLECTOR)


def _of_the_gates(sequence: Sequence, now: float) -> Iterator[Condition]:
    wanted = sequence.wanted_gates() if sequence.demand else frozenset()
    for gate_id in sequence.gates.noteworthy(wanted):
        actuator = sequence.gates.actuator(gate_id)
        if actuator is None:
            continue
        if gate_id == sequence.gates.checked:
            continue  # What it does is being found out.
        missed = gate_id in wanted and not sequence.gates.is_open(gate_id, now)
        if actuator.failed or actuator.cut_off(now):
            yield Condition(AlarmKind.GATE_NOT_MOVING, gate_id)
        elif missed and not sequence.gates.is_powered(gate_id):
            yield Condition(AlarmKind.HAND_GATE_SHUT, gate_id)
        elif missed and sequence.gates.is_held(gate_id):
            yield Condition(AlarmKind.GATE_MOVED, gate_id)


def _of_a_machine(
    sequence: Sequence, run: MachineRun, now: float
) -> Iterator[AlarmKind]:
    if run.sensor is not None and run.is_attached:
        if run.sensor.stuck:
            yield AlarmKind.READING_STUCK
        elif run.sensor.lost:
            yield AlarmKind.READING_LOST
    if run.left_on(now):
        yield AlarmKind.LEFT_ON
    if run.plan.movable and run.signal_lost:
        yield AlarmKind.ATTACHED_LOST
    for companion in run.plan.companions:
        actuator = sequence.companions.actuator(companion)
        if actuator is not None and actuator.failed:
            yield AlarmKind.COMPANION_NOT_SWITCHING
            break
