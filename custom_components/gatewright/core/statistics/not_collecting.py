"""Why a machine in use has no dust collection, read off the shop's state."""

from collections.abc import Mapping
from enum import StrEnum

from ..config import GateConfig, GateKind
from ..control.enums import Phase
from ..control.machine import Machine
from ..control.sequence import Sequence
from ..control.spin_up import UP_TO_SPEED


class NotCollectingReason(StrEnum):
    """Why a machine in use had no dust collection, or none that counts."""

    FIRE_SHUTDOWN = "fire_shutdown"
    START_BLOCK = "start_block"
    NOT_NEEDED = "not_needed"
    """It has its own extractor; not held against the collected share."""
    NOT_CONNECTED = "not_connected"
    AUTOMATIC_OFF = "automatic_off"
    OFF_BY_HAND = "off_by_hand"
    MOTOR_RESTING = "min_off_time"
    COLLECTOR_NOT_STARTING = "collector_not_starting"
    COLLECTOR_UNREACHABLE = "collector_offline"
    STARTING = "starting"
    """The collector is being started, is about to be, or is not up to speed yet."""
    NO_GATE_OPEN = "no_gate_open"
    GATE_STUCK = "gate_stuck"
    GATE_UNREACHABLE = "gate_offline"
    GATE_CLOSED_BY_HAND = "gate_closed_by_hand"
    GATE_MOVING = "gate_moving"
    TOO_LITTLE_AIR = "low_airflow"
    """Its flow is less than the machine needs. Shown beside the collected share, not held
    against it: it often rests on a computed flow and a rule of thumb."""
    UNKNOWN = "unknown"


def collected_share(
    run: float, air: float, without: Mapping[NotCollectingReason, float]
) -> float | None:
    """Return the collected share, 0 to 1, of the time that needed it; None without any."""
    needed = run - without.get(NotCollectingReason.NOT_NEEDED, 0.0)
    return min(1.0, air / needed) if needed > 0 else None


def load_without(data: Mapping[str, float]) -> dict[NotCollectingReason, float]:
    """Take over saved seconds by reason; a reason of a later version is unknown."""
    without: dict[NotCollectingReason, float] = {}
    for name, spent in data.items():
        reason = (
            NotCollectingReason(name)
            if name in NotCollectingReason
            else NotCollectingReason.UNKNOWN
        )
        without[reason] = without.get(reason, 0.0) + spent
    return without


def reason_without_air(
    sequence: Sequence, machine_id: str, now: float, *, too_little: bool = False
) -> NotCollectingReason | None:
    """Return why a machine in use has no dust collection at `now`; None where it has.

    `too_little` says that its flow, measured or computed, is less than it needs.
    Where several reasons hold, the one that a person would see to first is told.
    """
    run = sequence.machines[machine_id]
    if sequence.is_collecting(machine_id, now):
        return NotCollectingReason.TOO_LITTLE_AIR if too_little else None
    if not run.plan.collect_while_running and not run.requested:
        return NotCollectingReason.NOT_NEEDED
    if sequence.fire_shutdown:
        return NotCollectingReason.FIRE_SHUTDOWN
    if sequence.start_block:
        return NotCollectingReason.START_BLOCK
    if not run.is_connected:
        return NotCollectingReason.NOT_CONNECTED
    if not (sequence.automatic or run.requested):
        return NotCollectingReason.AUTOMATIC_OFF
    if sequence.held_off:
        return NotCollectingReason.OFF_BY_HAND
    if sequence.motor.up_to_speed(now):
        return _at_its_gates(sequence, run, now)
    if sequence.motor.turning:
        return _gates_or_speed(sequence, run, now)
    return _at_the_collector(sequence, run, now)


def _gates_or_speed(
    sequence: Sequence, run: Machine, now: float
) -> NotCollectingReason:
    """Return what comes last, gates or speed, of a collector that was told to start."""
    if _are_open(sequence, run, now):
        return NotCollectingReason.STARTING
    reason = _at_its_gates(sequence, run, now)
    if reason is not NotCollectingReason.GATE_MOVING:
        return reason
    motor = sequence.motor
    at_speed = motor.at_speed_from(UP_TO_SPEED)
    if at_speed is None:
        at_speed = now + UP_TO_SPEED * motor.spin_up
    wanted = run.wanted_gates or run.plan.gates
    opens = max(
        _opens_at(sequence, gate, now)
        for gate in sequence.system.gates
        if gate.gate_id in wanted and not sequence.gates.is_open(gate.gate_id, now)
    )
    return (
        NotCollectingReason.GATE_MOVING
        if opens >= at_speed
        else NotCollectingReason.STARTING
    )


def _opens_at(sequence: Sequence, gate: GateConfig, now: float) -> float:
    """Return when a gate on its way is due to be open."""
    if (travel := sequence.gates.travel(gate.gate_id)) is None:
        return now
    usual, told_at = travel.stroke(), travel.told_at
    takes = gate.travel if usual is None else usual
    return (now if told_at is None else told_at) + takes


def _at_the_collector(
    sequence: Sequence, run: Machine, now: float
) -> NotCollectingReason:
    motor = sequence.motor
    if not motor.actuator.reachable:
        return NotCollectingReason.COLLECTOR_UNREACHABLE
    if motor.actuator.target and motor.actuator.failed:
        return NotCollectingReason.COLLECTOR_NOT_STARTING
    if motor.actuator.reported is True and motor.at_odds(now):
        # Switched on, but nothing turns: a breaker, a tripped motor protection.
        return NotCollectingReason.COLLECTOR_NOT_STARTING
    if sequence.phase is Phase.OPENING:
        if not sequence.gates.ready(sequence.wanted_gates(), now):
            return _at_its_gates(sequence, run, now)
        if motor.duty.may_start_at(now) > now:
            return NotCollectingReason.MOTOR_RESTING
    if not sequence.demand:
        return NotCollectingReason.UNKNOWN
    if sequence.collector_wanted:
        return _gates_or_speed(sequence, run, now)
    return NotCollectingReason.STARTING


def _are_open(sequence: Sequence, run: Machine, now: float) -> bool:
    gates = run.wanted_gates or run.plan.gates
    return all(sequence.gates.is_open(gate_id, now) for gate_id in gates)


def _at_its_gates(sequence: Sequence, run: Machine, now: float) -> NotCollectingReason:
    found = {
        _at_gate(sequence, gate_id)
        for gate_id in run.wanted_gates or run.plan.gates
        if not sequence.gates.is_open(gate_id, now)
    }
    for reason in (
        NotCollectingReason.GATE_STUCK,
        NotCollectingReason.GATE_UNREACHABLE,
        NotCollectingReason.GATE_CLOSED_BY_HAND,
    ):
        if reason in found:
            return reason
    # With no gate of its own it waits for those of others.
    return (
        NotCollectingReason.GATE_MOVING if found else NotCollectingReason.NO_GATE_OPEN
    )


def _at_gate(sequence: Sequence, gate_id: str) -> NotCollectingReason:
    actuator = sequence.gates.actuator(gate_id)
    if actuator is None or actuator.failed:
        return NotCollectingReason.GATE_STUCK
    if not actuator.reachable:
        return NotCollectingReason.GATE_UNREACHABLE
    powered = any(
        gate.gate_id == gate_id and gate.kind is GateKind.POWERED
        for gate in sequence.system.gates
    )
    # What a person has closed is not opened again.
    if not powered or actuator.target is not True:
        return NotCollectingReason.GATE_CLOSED_BY_HAND
    return NotCollectingReason.GATE_MOVING
