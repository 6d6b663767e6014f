"""What each event means to the sequence: one table from event to method."""

from typing import assert_never

from ..config import COLLECTOR
from ..inputs import (
    ActuatorExchanged,
    Asked,
    BinReported,
    BleedGatesChosen,
    CollectorPower,
    CollectorReported,
    CollectorTurned,
    CommandDispatched,
    CommandHeldUp,
    CommandRefused,
    ConditionReported,
    DetectorReported,
    EmptyingTimeFound,
    EntitiesDisabled,
    FireShutdownReset,
    GateMoved,
    GateReported,
    HandGatesChosen,
    HoseReported,
    Input,
    LinkedDeviceReported,
    MachineReading,
    Mode,
    ModeSet,
    Noted,
    PlanChanged,
    RelayReported,
    RequestMade,
    RequestWithdrawn,
    RetryAsked,
    TimePassed,
    WorkForetold,
)
from .sequence import Sequence


def take(sequence: Sequence, event: Input, now: float) -> bool:
    """Give an event to the sequence; return whether `advance` has to follow.

    Raises `RefusedError`, with nothing changed, for what isn't allowed.
    """
    match event:
        case MachineReading():
            return sequence.read(event.machine_id, event.value, now)
        case CollectorPower():
            return sequence.read_collector_power(event.watts, now)
        case RelayReported():
            return sequence.switch_relay(event.machine_id, event.on, now)
        case GateReported():
            sequence.report_gate(
                event.gate_id,
                event.value,
                now,
                reachable=event.reachable,
                own=event.own,
                no_feedback=event.no_feedback,
                position=event.position,
            )
        case CollectorReported():
            sequence.report_collector(
                event.value,
                now,
                reachable=event.reachable,
                own=event.own,
                no_feedback=event.no_feedback,
            )
        case LinkedDeviceReported():
            sequence.linked_devices.report(
                event.device_id,
                event.value,
                now,
                reachable=event.reachable,
                own=event.own,
            )
        case CommandDispatched():
            sequence.dispatched(event.part, now)
            return False
        case CommandHeldUp():
            sequence.hold_up(event.part)
            return False
        case CommandRefused():
            sequence.refused(event.part)
        case HoseReported():
            sequence.set_connected(event.machine_id, event.connected, now)
        case WorkForetold():
            sequence.report_early_signal(event.machine_id, event.present, now)
        case (
            RetryAsked()
            | RequestMade()
            | RequestWithdrawn()
            | CollectorTurned()
            | GateMoved()
            | HandGatesChosen()
            | ModeSet()
            | FireShutdownReset()
        ):
            _obey(sequence, event, now)
        case _:
            return _note(sequence, event, now)
    return True


def _obey(sequence: Sequence, event: Asked, now: float) -> None:
    """Do what a person asks for."""
    match event:
        case RequestMade():
            sequence.request(event.machine_id, now, event.limit)
        case RequestWithdrawn():
            sequence.withdraw(event.machine_id)
        case CollectorTurned():
            (sequence.start_by_hand if event.on else sequence.stop_by_hand)()
        case GateMoved():
            sequence.move_gate(event.gate_id, opened=event.opened, now=now)
        case ModeSet(mode=Mode.AUTOMATIC):
            sequence.set_automatic(event.on)
        case ModeSet():
            sequence.set_start_block(event.on)
        case HandGatesChosen():
            sequence.hand_gates = event.gates
        case RetryAsked():
            if (actuator := sequence.actuator(event.part)) is not None:
                actuator.retry(now)
        case FireShutdownReset():
            sequence.set_fire_shutdown(False)
        case _:
            assert_never(event)


def _note(sequence: Sequence, event: Noted, now: float) -> bool:
    """Take what else changed; return as `take` does."""
    match event:
        case DetectorReported():
            if event.alarm:
                sequence.set_fire_shutdown(True)
        case BinReported():
            sequence.set_bin_full(event.full)
        case BleedGatesChosen():
            sequence.bleed = event.gates
        case EmptyingTimeFound():
            sequence.least_shutoff_delay = event.seconds
            return False
        case PlanChanged():
            sequence.replan(event.system, now)
        case ActuatorExchanged(part=part) if part == COLLECTOR:
            sequence.renew_collector()
        case ActuatorExchanged():
            sequence.gates.renew(event.part)
        case EntitiesDisabled():
            sequence.disabled = event.parts
        case ConditionReported() | TimePassed():
            pass
        case _:
            assert_never(event)
    return True
