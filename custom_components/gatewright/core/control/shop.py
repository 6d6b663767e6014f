"""One shop: its sequence, its ledger and its alarms, kept in step."""

from functools import partial

from ..config import SystemConfig
from ..inputs import (
    ConditionReported,
    DetectorReported,
    FireShutdownReset,
    Input,
    MachineReading,
    RetryAsked,
)
from ..times import earliest
from .alarms import AlarmSet, Condition
from .dispatch import take
from .enums import Refusal, RefusedError
from .faults import Faults, told_after
from .ledger import Ledger, MachineUse
from .machine import Machine, MachinePhase
from .sequence import Sequence


class ShopControl:
    """What runs a shop once it is told what happens.

    Give what happened at an instant to `handle`; where it says so, call `advance` with
    the same instant, carry out `sequence.orders()` and look again at `wake`, or at the
    next event.
    """

    def __init__(self, system: SystemConfig, now: float) -> None:
        """Begin at `now`, an instant in s on a clock that only goes forward."""
        self.sequence = Sequence(system, now)
        self.ledger = Ledger()
        self.alarms = AlarmSet()
        self.faults = Faults(now)
        self._outside: set[Condition] = set()
        self._alarming: set[str] = set()
        self.wake: float | None = now

    def handle(self, event: Input, now: float) -> bool:
        """Take what happened at `now`; return whether `advance` has to follow.

        Raises `RefusedError`, with nothing changed, for what a person may not have done now.
        """
        match event:
            case MachineReading():
                # By far the most are these.
                return self.sequence.read(event.machine_id, event.value, now)
            case ConditionReported():
                self.note_outside(event.condition, present=event.present)
            case DetectorReported(alarm=True):
                self._alarming.add(event.detector)
            case DetectorReported(alarm=False):
                self._alarming.discard(event.detector)
            case FireShutdownReset() if self._alarming:
                raise RefusedError(Refusal.FIRE_SHUTDOWN)
            case RetryAsked():
                self.faults.try_again(event.part)
        return take(self.sequence, event, now)

    def note_outside(self, condition: Condition, *, present: bool) -> None:
        """Note a condition that the core cannot see for itself, or that it is over."""
        if present:
            self._outside.add(condition)
        else:
            self._outside.discard(condition)

    def advance(self, now: float) -> None:
        """Bring everything up to `now`."""
        self.decide(now)
        self.note(now)

    def decide(self, now: float) -> None:
        """Say what should be done next; `note` has to follow with the same instant.

        Apart from `note`, so that the commands can leave before anything else.
        """
        self.sequence.advance(now)

    def note(self, now: float) -> None:
        """Book what was done, raise and clear alarms, and say when to look again."""
        sequence = self.sequence
        collecting = sequence.motor.up_to_speed(now)
        uses = {
            run.plan.machine_id: MachineUse(
                in_use=run.in_use,
                is_collecting=collecting
                and sequence.gates.all_open(run.work_gates, now),
                at_rest=run.phase is MachinePhase.IDLE,
                first_sign=None if run.sensor is None else run.sensor.seen_to_start_at,
                served=self._serves(run),
            )
            for run in sequence.machine_set.active
        }
        self.ledger.observe(now, turning=sequence.motor.turning, uses=uses)
        self._raise_alarms(now)
        self.wake = earliest(
            (sequence.next_look(now), self.alarms.due, self.faults.due)
        )

    def _raise_alarms(self, now: float) -> None:
        sequence, alarms = self.sequence, self.alarms
        found = (*self.faults.look(sequence, alarms.standing, now), *self._outside)
        if alarms.quiet and not found:
            return
        alarms.update(
            found,
            now,
            lasting=self.faults.lasting(sequence, alarms.known),
            told_after=partial(told_after, sequence),
        )

    def _serves(self, run: Machine) -> bool:
        """Whether a machine's work is to get dust collection: it waits for parts only."""
        sequence = self.sequence
        return (
            run.wants_collection
            and run.phase is not MachinePhase.PURGING
            and not sequence.held_off
            and (sequence.collector_wanted or not sequence.bin_refuses_start)
        )
