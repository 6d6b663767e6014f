"""Tells our own entities when the part they belong to has changed.

An entity asks the core for its state when it is told to; here is only kept what each
part looked like the last time, so that nothing is written that has not changed.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from homeassistant.core import CALLBACK_TYPE, callback

from .listeners import Listeners
from .shop.plan import COLLECTOR
from .shop.sequence import Sequence
from .shop.shop import Shop
from .sources import Slide

type Alarms = dict[str, tuple[str, ...]]
"""The kinds of the alarms that stand, by part."""


@dataclass(slots=True)
class Touched:
    """The machines and gates that may have changed by themselves."""

    machines: set[str] = field(default_factory=set)
    gates: set[str] = field(default_factory=set)

    def note(self, sequence: Sequence) -> None:
        """Add those at which something goes on now."""
        self.machines |= sequence.watched
        self.gates |= sequence.gates.astir


class Publisher:
    """Who follows which part of one system, and what they saw last."""

    def __init__(self, shop: Shop, slides: Mapping[str, Slide]) -> None:
        """Start without followers; `slides` are the positions that gates report."""
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
        """Call `listener` when the part changes; returns how to stop that."""
        if part not in self._listeners:
            self._listeners[part] = Listeners(f"{part} cannot be shown")
        return self._listeners[part].add(listener)

    @callback
    def tell(self, parts: Iterable[str]) -> None:
        """Have the entities of these parts look again, changed or not."""
        for part in parts:
            if (listeners := self._listeners.get(part)) is not None:
                listeners.call()

    @callback
    def forget(self) -> None:
        """Have `publish` tell every part the next time, as after a changed plan."""
        self._seen.clear()
        self._afresh = True

    @callback
    def publish(self, touched: Touched, now: float) -> bool:
        """Tell the parts that differ from last time; return whether any did.

        Only those are looked at that may differ: what was `touched`, what has or had
        an alarm, and the machines whose air depends on what has changed.
        """
        sequence = self._shop.sequence
        alarms = self._alarms()
        suspects = self._suspects(touched, alarms, now)
        changed = self._differs(COLLECTOR, self._collector(alarms, now))
        for gate in sequence.gates.in_order(suspects.gates):
            if self._differs(gate, self._gate(gate, alarms, now)):
                changed = True
                suspects.machines |= self._served.get(gate, frozenset())
        for machine_id in sequence.roster.in_order(suspects.machines):
            if self._differs(machine_id, self._machine(machine_id, alarms, now)):
                changed = True
        if self._afresh:
            # A machine that has no gate left is not in the plan, but has entities.
            self._afresh = False
            self.tell(self._listeners.keys() - self._seen.keys())
        return changed

    def _alarms(self) -> Alarms:
        alarms: dict[str, tuple[str, ...]] = {}
        for kind, part in self._shop.alarms.standing:
            alarms[part] = (*alarms.get(part, ()), kind)
        return alarms

    def _suspects(self, touched: Touched, alarms: Iterable[str], now: float) -> Touched:
        """Return what may look different from last time."""
        sequence = self._shop.sequence
        motor = sequence.motor
        alarmed, self._alarmed = self._alarmed, frozenset(alarms)
        pulled, self._pulls = self._pulls, motor.up_to_speed(now)
        reached, self._reached = self._reached, motor.actuator.reachable
        if self._afresh:
            self._served = _served(sequence)
            return Touched(set(sequence.machines), set(sequence.gates))
        alarmed |= self._alarmed
        found = Touched(touched.machines | alarmed, touched.gates | alarmed)
        if reached is not self._reached:
            found.machines.update(sequence.machines)
        elif pulled is not self._pulls:
            # Who has all gates open has one that is not at rest, or none that moves.
            for gate in (None, *sequence.gates.astir):
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
            motor.coast_ends,
            motor.actuator.reported,
            motor.actuator.reachable,
            motor.actuator.failed,
            sequence.automatic,
            sequence.lockout,
            sequence.emergency,
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
            actuator.stands(now),
            actuator.want,
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
            run.attached,
            run.requested,
            run.request_until,
            run.sensor is not None and (run.sensor.missing, run.sensor.lost),
            sequence.has_air(machine_id, now),
            sequence.knows_air(machine_id),
            alarms.get(machine_id),
        )


def _served(sequence: Sequence) -> dict[str | None, frozenset[str]]:
    """Return the machines at each gate; under None those at which no gate moves."""
    found: dict[str | None, set[str]] = {None: set()}
    for machine_id, run in sequence.machines.items():
        gates = {*run.plan.gates, *run.work_gates}
        for gate in gates:
            found.setdefault(gate, set()).add(machine_id)
        if all(sequence.gates.actuator(gate) is None for gate in gates):
            found[None].add(machine_id)
    return {gate: frozenset(machines) for gate, machines in found.items()}
