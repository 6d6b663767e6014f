"""Notifies our entities when their part has changed.

An entity then reads its state from the core. This module only remembers each part's
last look, so that nothing unchanged is written.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from homeassistant.core import CALLBACK_TYPE, callback

from ..core.config import COLLECTOR
from ..core.control.sequence import Sequence
from ..core.control.shop import ShopControl
from .decoding import CoverPosition
from .listeners import Listeners

type Alarms = dict[str, tuple[str, ...]]
"""The kinds of active alarms, by part."""


@dataclass(slots=True)
class ChangedParts:
    """The machines and gates that may have changed on their own."""

    machines: set[str] = field(default_factory=set)
    gates: set[str] = field(default_factory=set)

    def note(self, sequence: Sequence) -> None:
        """Add those that are active now."""
        self.machines |= sequence.watched
        self.gates |= sequence.gates.active


class Updates:
    """The listeners of each part of one system, and what they saw last."""

    def __init__(self, shop: ShopControl, slides: Mapping[str, CoverPosition]) -> None:
        """Start without listeners; `slides` are the positions that gates report."""
        self.beside: Callable[[], object] = lambda: None
        """Returns what else is shown of the collector."""
        self._shop = shop
        self._slides = slides
        self._listeners: dict[str, Listeners[[]]] = {}
        self._seen: dict[str, object] = {}
        self._afresh = True
        self._served: dict[str | None, frozenset[str]] = {}
        self._alarmed: frozenset[str] = frozenset()
        self._pulls = self._reached = False

    @callback
    def listen(self, part: str, listener: Callable[[], None]) -> CALLBACK_TYPE:
        """Call `listener` when the part changes; return a function that removes it."""
        if part not in self._listeners:
            self._listeners[part] = Listeners(f"{part} cannot be shown")
        return self._listeners[part].add(listener)

    @callback
    def tell(self, parts: Iterable[str]) -> None:
        """Notify the entities of these parts, changed or not."""
        for part in parts:
            if (listeners := self._listeners.get(part)) is not None:
                listeners.call()

    @callback
    def forget(self) -> None:
        """Have `publish` notify every part the next time, as after a changed plan."""
        self._seen.clear()
        self._afresh = True

    @callback
    def publish(self, touched: ChangedParts, now: float) -> bool:
        """Notify the parts that changed since the last time; return whether any did.

        It checks only what may have changed: what was `touched`, what has or had an
        alarm, and the machines whose dust collection depends on a change.
        """
        sequence = self._shop.sequence
        alarms = self._alarms()
        suspects = self._suspects(touched, alarms, now)
        changed = self._differs(COLLECTOR, self._collector(alarms, now))
        for gate in sequence.gates.in_order(suspects.gates):
            if self._differs(gate, self._gate(gate, alarms, now)):
                changed = True
                suspects.machines |= self._served.get(gate, frozenset())
        for machine_id in sequence.machine_set.in_order(suspects.machines):
            if self._differs(machine_id, self._machine(machine_id, alarms, now)):
                changed = True
        if self._afresh:
            # A machine without gates isn't in the plan, but has entities.
            self._afresh = False
            self.tell(self._listeners.keys() - self._seen.keys())
        return changed

    def _alarms(self) -> Alarms:
        alarms: dict[str, tuple[str, ...]] = {}
        for kind, part in self._shop.alarms.standing:
            alarms[part] = (*alarms.get(part, ()), kind)
        return alarms

    def _suspects(
        self, touched: ChangedParts, alarms: Iterable[str], now: float
    ) -> ChangedParts:
        """Return the parts that may have changed since the last time."""
        sequence = self._shop.sequence
        motor = sequence.motor
        alarmed, self._alarmed = self._alarmed, frozenset(alarms)
        pulled, self._pulls = self._pulls, motor.up_to_speed(now)
        reached, self._reached = self._reached, motor.actuator.reachable
        if self._afresh:
            self._served = _served(sequence)
            return ChangedParts(set(sequence.machines), set(sequence.gates))
        alarmed |= self._alarmed
        found = ChangedParts(touched.machines | alarmed, touched.gates | alarmed)
        if reached is not self._reached:
            found.machines.update(sequence.machines)
        elif pulled is not self._pulls:
            # If all of a machine's gates are open, one is active, or none of them
            # moves.
            for gate in (None, *sequence.gates.active):
                found.machines |= self._served.get(gate, frozenset())
        found.machines &= sequence.machines.keys()
        found.gates.intersection_update(sequence.gates)
        return found

    def _differs(self, part: str, look: object) -> bool:
        if self._seen.get(part) == look:
            return False
        self._seen[part] = look
        self.tell((part,))
        return True

    def _collector(self, alarms: Alarms, now: float) -> object:
        sequence = self._shop.sequence
        motor = sequence.motor
        return (
            sequence.phase,
            sequence.phase_until,
            motor.turning,
            motor.up_to_speed(now),
            motor.spin_down_ends,
            motor.actuator.reported,
            motor.actuator.reachable,
            motor.actuator.failed,
            sequence.automatic,
            sequence.start_block,
            sequence.fire_shutdown,
            sequence.by_hand,
            sequence.hand_gates,
            sequence.demanding,
            tuple(alarms.items()),
            self.beside(),
        )

    def _gate(self, gate_id: str, alarms: Alarms, now: float) -> object:
        actuator = self._shop.sequence.gates.actuator(gate_id)
        if actuator is None:
            return alarms.get(gate_id)
        return (
            actuator.reported,
            actuator.state_at(now),
            actuator.target,
            actuator.reachable,
            actuator.failed,
            self._slides.get(gate_id),
            alarms.get(gate_id),
        )

    def _machine(self, machine_id: str, alarms: Alarms, now: float) -> object:
        sequence = self._shop.sequence
        run = sequence.machines[machine_id]
        return (
            run.phase,
            run.step,
            run.until,
            run.in_use,
            run.connected,
            run.requested,
            run.request_until,
            run.sensor is not None and (run.sensor.missing, run.sensor.lost),
            sequence.is_collecting(machine_id, now),
            sequence.has_feedback(machine_id),
            alarms.get(machine_id),
        )


def _served(sequence: Sequence) -> dict[str | None, frozenset[str]]:
    """Return the machines at each gate; under None those without a moving gate."""
    found: dict[str | None, set[str]] = {None: set()}
    for machine_id, run in sequence.machines.items():
        gates = {*run.plan.gates, *run.work_gates}
        for gate in gates:
            found.setdefault(gate, set()).add(machine_id)
        if all(sequence.gates.actuator(gate) is None for gate in gates):
            found[None].add(machine_id)
    return {gate: frozenset(machines) for gate, machines in found.items()}
