"""Which gates should stand where: make before break, rest, and hands at the slide."""

from collections.abc import Collection, Iterable, Iterator

from .actuation import Actuator, Deviation, Order, Tries
from .plan import Gate, GateKind, Rest

_TWICE = Tries(count=2)


class GateBoard:
    """All gates of one system."""

    def __init__(self, confirm: float) -> None:
        """Start without gates; `confirm` is how long an actuator may take to report."""
        self._confirm = confirm
        self._plans: dict[str, Gate] = {}
        self._actuators: dict[str, Actuator] = {}
        self._wanted: frozenset[str] = frozenset()
        self._lingers: dict[str, float] = {}
        self._held: set[str] = set()

    def plan(self, gates: Iterable[Gate]) -> None:
        """Take up a changed set of gates; those that stay keep their state."""
        before = self._plans
        self._plans = {gate.gate_id: gate for gate in gates}
        kept = {
            gate_id: self._actuators[gate_id]
            for gate_id, gate in self._plans.items()
            if gate_id in self._actuators
            and before[gate_id].kind is gate.kind
            and before[gate_id].feedback is gate.feedback
        }
        self._actuators = {
            gate.gate_id: kept.get(gate.gate_id)
            or Actuator(window=0.0, on=_TWICE, off=_TWICE)
            for gate in self._plans.values()
            if gate.kind is not GateKind.FIXED
        }
        for gate_id, actuator in self._actuators.items():
            gate = self._plans[gate_id]
            actuator.window = gate.travel if gate.feedback else self._confirm
            actuator.lag = 0.0 if gate.feedback else gate.travel
        self._wanted &= self._plans.keys()
        self._held &= self._plans.keys()
        self._lingers = {k: v for k, v in self._lingers.items() if k in self._plans}

    def renew(self, gate_id: str) -> None:
        """Forget what is known of a gate whose actuator was exchanged for another."""
        gate = self._plans[gate_id]
        old = self._actuators[gate_id]
        self._actuators[gate_id] = Actuator(
            window=old.window, lag=old.lag, on=_TWICE, off=_TWICE
        )
        self._held.discard(gate.gate_id)

    def __contains__(self, gate_id: str) -> bool:
        """Whether there is such a gate."""
        return gate_id in self._plans

    def actuator(self, gate_id: str) -> Actuator | None:
        """Return what is known of a gate that moves; None for a fixed opening."""
        return self._actuators.get(gate_id)

    def powered(self) -> Iterator[str]:
        """Yield the gates that can be driven."""
        for gate_id, gate in self._plans.items():
            if gate.kind is GateKind.POWERED:
                yield gate_id

    def is_open(self, gate_id: str, now: float) -> bool:
        """Whether a gate is known to be open."""
        actuator = self._actuators.get(gate_id)
        if actuator is None:
            return gate_id in self._plans
        return actuator.stands(now) is True

    def any_open(self, now: float, *, but: str | None = None) -> bool:
        """Whether air has a way in; always so in a shop without gates."""
        if not self._plans:
            return True
        return any(self.is_open(gate, now) for gate in self._plans if gate != but)

    def has_way(self, now: float) -> bool:
        """Whether air has a way in, or will have within a gate's travel time."""
        return self.any_open(now) or any(
            actuator.arriving(now) for actuator in self._actuators.values()
        )

    def ready(self, wanted: Collection[str], now: float) -> bool:
        """Whether the collector may start for these gates: one of them is open."""
        if not wanted:
            return self.any_open(now)
        return any(self.is_open(gate, now) for gate in wanted)

    def report(
        self,
        gate_id: str,
        value: bool | None,
        now: float,
        *,
        reachable: bool,
        own: bool,
    ) -> Deviation | None:
        """Take a report from a gate; a gate moved by hand is left where it was put."""
        actuator = self._actuators.get(gate_id)
        if actuator is None:
            return None
        deviation = actuator.report(value, now, reachable=reachable, own=own)
        if deviation is Deviation.HAND and self._is_powered(gate_id):
            actuator.follow_hand(now)
            self._held.add(gate_id)
        return deviation

    def move(self, gate_id: str, *, opened: bool, now: float) -> None:
        """Move a gate on a person's word and leave it there until wanted otherwise."""
        self._actuators[gate_id].wish(opened, now)
        self._held.add(gate_id)

    def aim(self, wanted: frozenset[str], linger: float, now: float) -> None:
        """Open the wanted gates, then shut the others: make before break.

        A gate no longer wanted stays open for `linger` seconds, and in any case
        until every wanted one that can be driven is open.
        """
        for gate in wanted - self._wanted:
            self._held.discard(gate)
        for gate in self._wanted - wanted:
            self._lingers[gate] = now + linger
        self._wanted = wanted
        for gate in wanted:
            self._lingers.pop(gate, None)
            if gate not in self._held and self._is_powered(gate):
                self._actuators[gate].wish(True, now)
        if not self._made(now):
            return
        for gate in self.powered():
            if gate in wanted or gate in self._held:
                continue
            if now >= self._lingers.get(gate, now):
                self._lingers.pop(gate, None)
                self._actuators[gate].wish(False, now)

    def open_way(self, gates: Iterable[str], now: float) -> None:
        """Open gates at once so that a turning impeller can breathe."""
        for gate in gates:
            if self._is_powered(gate):
                self._held.discard(gate)
                self._actuators[gate].wish(True, now)

    def settle(self, now: float, *, shut_all: bool = False) -> None:
        """Put every gate where it sits when nothing is wanted."""
        self._wanted = frozenset()
        self._lingers.clear()
        for gate_id in self.powered():
            rest = Rest.SHUT if shut_all else self._plans[gate_id].rest
            if gate_id in self._held and not shut_all:
                continue
            want = None if rest is Rest.LEAVE else rest is Rest.OPEN
            self._actuators[gate_id].wish(want, now)

    def release(self) -> None:
        """Forget which gates were moved by hand: the shop's work sets them anew."""
        self._held.clear()

    def recall(self, gate_id: str, *, opened: bool | None, wanted: bool) -> None:
        """Take over how a gate stood before a restart.

        Only the wish to stand open is kept: a gate is not shut on the word of
        an earlier process while the impeller may be turning.
        """
        if (actuator := self._actuators.get(gate_id)) is None:
            return
        wanted = wanted and self._is_powered(gate_id)
        actuator.recall(want=True if wanted else None, reported=opened)
        if wanted:
            self._wanted |= {gate_id}

    def advance(self, now: float) -> bool:
        """Let time pass up to `now`; return whether that changed anything."""
        changed = False
        for actuator in self._actuators.values():
            changed |= actuator.advance(now)
        return changed

    def due_after(self, now: float) -> Iterator[float]:
        """Yield the instants after `now` at which time alone changes something."""
        for actuator in self._actuators.values():
            if (due := actuator.due_after(now)) is not None:
                yield due
        yield from (due for due in self._lingers.values() if due > now)

    def orders(self) -> Iterator[tuple[str, Order]]:
        """Yield the commands that are due."""
        for gate_id in self.powered():
            if order := self._actuators[gate_id].order:
                yield gate_id, order

    def dispatched(self, gate_id: str) -> None:
        """Note that a command for a gate is on its way."""
        if actuator := self._actuators.get(gate_id):
            actuator.dispatched()

    def _is_powered(self, gate_id: str) -> bool:
        gate = self._plans.get(gate_id)
        return gate is not None and gate.kind is GateKind.POWERED

    def _made(self, now: float) -> bool:
        """Whether every wanted gate that can be driven is open, and at least one is."""
        if not self._wanted:
            return self.any_open(now)
        waiting = any(
            self._is_powered(gate)
            and gate not in self._held
            and not self.is_open(gate, now)
            and not self._actuators[gate].failed
            for gate in self._wanted
        )
        return not waiting and self.ready(self._wanted, now)
