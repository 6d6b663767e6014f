"""What is wrong with a shop right now, read off its state."""

from collections.abc import Collection, Iterable, Iterator

from ..config import COLLECTOR
from ..times import earliest
from .alarms import AlarmKind, Condition
from .enums import Phase
from .machine import Machine
from .sequence import Sequence

_COMING_BACK = 60.0
"""Seconds in which the parts of a shop come back one by one with its power."""

_COMING_UP = 60.0
"""Seconds in which a new process hears of its entities for the first time."""


_SHOP_AWAY = Condition(AlarmKind.SHOP_AWAY, COLLECTOR)


class Faults:
    """What is wrong with a shop, where that depends on what was before.

    `due` is the next instant at which time alone changes what is wrong.
    """

    def __init__(self, now: float) -> None:
        """Begin at `now` with nothing heard of any part."""
        self.due: float | None = None
        self._began = now
        self._back_since: float | None = None
        self._stuck: dict[str, bool | None] = {}

    def look(
        self, sequence: Sequence, standing: Collection[Condition], now: float
    ) -> list[Condition]:
        """Return what needs a person at `now`, with the alarms `standing` till now."""
        sequence.coming_up = now < self._began + _COMING_UP
        sequence.coming_back = self._coming_back(sequence, standing, now)
        found = list(conditions(sequence, now))
        self.due = self._next_look(sequence)
        for kind, part in found:
            if kind is AlarmKind.GATE_NOT_MOVING:
                actuator = sequence.gates.actuator(part)
                self._stuck[part] = None if actuator is None else actuator.reported
        return found

    def lasting(
        self, sequence: Sequence, known: Iterable[Condition]
    ) -> list[Condition]:
        """Return those of the `known` conditions whose cause is there all the same.

        Nothing may complain of it at the moment, because nothing needs the part.
        """
        return [
            condition
            for condition in known
            if self._lasts(sequence, condition)
            and not _told_as_disabled(sequence, condition)
        ]

    def _lasts(self, sequence: Sequence, condition: Condition) -> bool:
        kind, part = condition
        run = sequence.machines.get(part)
        motor = sequence.motor
        match kind:
            case AlarmKind.GATE_OFFLINE:
                gate = sequence.gates.actuator(part)
                return gate is not None and not gate.reachable
            case AlarmKind.GATE_NOT_MOVING:
                return self._still_stuck(sequence, part)
            case AlarmKind.COLLECTOR_NOT_STARTING:
                return not motor.actuator.reachable
            case AlarmKind.COLLECTOR_NOT_STOPPING:
                # It may be wanted again: that it stops at all was not seen yet.
                return not motor.actuator.reachable or motor.may_be_on
            case AlarmKind.READING_LOST | AlarmKind.READING_STUCK:
                return (
                    run is not None
                    and run.sensor is not None
                    and run.is_connected
                    and run.sensor.missing
                    and run.sensor.stuck is (kind is AlarmKind.READING_STUCK)
                )
            case AlarmKind.CONNECTED_LOST:
                return run is not None and run.plan.movable and run.hose.missing
            case _:
                return False

    def _still_stuck(self, sequence: Sequence, gate_id: str) -> bool:
        """Whether a gate that failed has not moved, while the work goes on."""
        actuator = sequence.gates.actuator(gate_id)
        if actuator is None or sequence.phase is Phase.IDLE:
            self._stuck.pop(gate_id, None)
            return False
        if gate_id not in self._stuck:
            return False
        moved = actuator.reported not in (None, self._stuck[gate_id])
        if moved and actuator.target in (None, actuator.reported):
            del self._stuck[gate_id]
            return False
        return True

    def try_again(self, part: str) -> None:
        """Note that a person has a part tried again: what failed before is over."""
        self._stuck.pop(part, None)

    def _coming_back(
        self, sequence: Sequence, standing: Collection[Condition], now: float
    ) -> bool:
        """Whether a shop that was away comes back, and not all of it is back yet."""
        if _SHOP_AWAY not in standing or _all_away(sequence):
            self._back_since = None
            return False
        if self._back_since is None:
            self._back_since = now
        if _all_back(sequence) or now >= self._back_since + _COMING_BACK:
            self._back_since = None
            return False
        return True

    def _next_look(self, sequence: Sequence) -> float | None:
        back = None if self._back_since is None else self._back_since + _COMING_BACK
        if not sequence.coming_up:
            return back
        waits = any(
            gate and not gate.reachable
            for gate in map(sequence.gates.actuator, sequence.wanted_gates())
        )
        return earliest((back, self._began + _COMING_UP if waits else None))


_OF_ENTITIES = frozenset(
    {AlarmKind.GATE_OFFLINE, AlarmKind.READING_LOST, AlarmKind.READING_STUCK}
)
"""What is wrong with an entity rather than with the part it stands for."""


def told_after(sequence: Sequence, condition: Condition) -> float:
    """Return how long in s a cause lasts before it can be seen at all."""
    if condition.kind is AlarmKind.READING_STUCK:
        run = sequence.machines.get(condition.part)
        if run is not None and run.sensor is not None:
            return run.sensor.levels.stale_after or 0.0
    return 0.0


def conditions(sequence: Sequence, now: float) -> Iterator[Condition]:
    """Yield every condition that needs a person and holds at `now`."""
    for condition in _found(sequence, now):
        if not (sequence.disabled and _told_as_disabled(sequence, condition)):
            yield condition


def _found(sequence: Sequence, now: float) -> Iterator[Condition]:
    if sequence.fire_shutdown:
        yield Condition(AlarmKind.FIRE_SHUTDOWN, COLLECTOR)
    if sequence.bin.full:
        yield Condition(AlarmKind.BIN_FULL, COLLECTOR)
    away, back = _all_away(sequence), sequence.coming_back
    if away or back:
        # One word for a workshop whose power is off, not one for each plug in it.
        yield _SHOP_AWAY
    if away:
        return
    if not back or sequence.motor.actuator.reachable:
        yield from _of_the_collector(sequence, now)
    yield from _of_the_gates(sequence, now)
    no_gate_coming = sequence.no_gate_coming(now)
    for run in _suspects(sequence):
        machine_id = run.plan.machine_id
        for kind in _of_a_machine(sequence, run, now):
            if not (back and kind is AlarmKind.READING_LOST):
                yield Condition(kind, machine_id)
        if no_gate_coming and run.wants_collection:
            yield Condition(AlarmKind.NO_GATE_OPEN, machine_id)


def _told_as_disabled(sequence: Sequence, condition: Condition) -> bool:
    return condition.part in sequence.disabled and condition.kind in _OF_ENTITIES


def _suspects(sequence: Sequence) -> Iterable[Machine]:
    """Return the machines that may have something wrong with them, in order.

    Where nothing goes on at a machine only its linked devices may fail: they may do so
    after it has come to rest.
    """
    if sequence.linked_devices.any_failed:
        return sequence.machines.values()
    return map(sequence.machines.__getitem__, sequence.machine_set.in_order())


def _all_away(sequence: Sequence) -> bool:
    if sequence.motor.actuator.reachable:
        return False
    sensors = [run.sensor for run in sequence.machines.values() if run.sensor]
    return bool(sensors) and all(sensor.lost for sensor in sensors)


def _all_back(sequence: Sequence) -> bool:
    return sequence.motor.actuator.reachable and not any(
        run.sensor.lost for run in sequence.machines.values() if run.sensor
    )


def _of_the_collector(sequence: Sequence, now: float) -> Iterator[Condition]:
    motor = sequence.motor
    actuator = motor.actuator
    odds = motor.at_odds(now)
    told = actuator.failed or actuator.cut_off(now)
    # On by its switch and without power is a tripped breaker, off and with power a
    # contactor that has welded.
    if (told and actuator.target) or (odds and actuator.reported):
        yield Condition(AlarmKind.COLLECTOR_NOT_STARTING, COLLECTOR)
    lasts = actuator.failed or (actuator.cut_off(now) and actuator.reported is True)
    if (lasts and not actuator.target) or (odds and not actuator.reported):
        yield Condition(AlarmKind.COLLECTOR_NOT_STOPPING, COLLECTOR)
    elif sequence.origin.unprompted:
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
        if not actuator.reachable:
            # Where a machine runs it matters at once, else after a while; of one that
            # was never heard of since the start nothing is known yet.
            unheard = sequence.coming_up and actuator.expected(now)
            at_once = missed and not unheard and not sequence.coming_back
            if at_once or actuator.cut_off(now):
                yield Condition(AlarmKind.GATE_OFFLINE, gate_id)
        elif actuator.failed:
            yield Condition(AlarmKind.GATE_NOT_MOVING, gate_id)
        elif missed and not sequence.gates.is_powered(gate_id):
            yield Condition(AlarmKind.HAND_GATE_CLOSED, gate_id)
        elif missed and sequence.gates.is_held_by_hand(gate_id):
            yield Condition(AlarmKind.GATE_MOVED, gate_id)


def _of_a_machine(sequence: Sequence, run: Machine, now: float) -> Iterator[AlarmKind]:
    if run.sensor is not None and run.is_connected:
        if run.sensor.stuck:
            yield AlarmKind.READING_STUCK
        elif run.sensor.lost:
            yield AlarmKind.READING_LOST
    if run.relay.contradicted:
        yield AlarmKind.RELAY_NOT_CUTTING
    if run.left_on(now):
        yield AlarmKind.LEFT_ON
    if run.plan.movable and run.hose.lost:
        yield AlarmKind.CONNECTED_LOST
    for linked_device in run.plan.linked_devices:
        actuator = sequence.linked_devices.actuator(linked_device)
        if actuator is not None and actuator.failed:
            yield AlarmKind.LINKED_DEVICE_NOT_SWITCHING
            break
