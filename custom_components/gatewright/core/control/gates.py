"""Which gates should stand where: make before break, rest, and hands at the slide."""

from collections.abc import Collection, Iterable, Iterator
from itertools import islice

from ..config import IdlePosition
from .gate import ManagedGate
from .gate_states import GateStates


class GateController(GateStates):
    """All gates of one system, and how each should stand."""

    def move(self, gate_id: str, *, opened: bool, now: float) -> None:
        """Move a gate on a person's word and leave it there until wanted otherwise."""
        self._gates[gate_id].actuator.set_target(opened, now)
        self._held.add(gate_id)
        self.checked = None

    def check(self, gate_id: str, *, opened: bool, now: float) -> None:
        """Move a gate to see what answers, whatever it says: only while all rests.

        It is left alone until the check ends or the shop's work begins, but is not
        remembered: a restart moves it to its idle position.
        """
        self.checked = gate_id
        self._gates[gate_id].actuator.command(opened, now)

    def end_check(self) -> None:
        """Leave the gate that was checked to the shop again."""
        self.checked = None

    def apply_demand(
        self,
        wanted: frozenset[str],
        close_delay: float,
        now: float,
        *,
        closed: bool = True,
        but: frozenset[str] = frozenset(),
    ) -> None:
        """Open the wanted gates, then `closed` the others: make before break.

        A gate no longer wanted stays open for `close_delay` seconds, and in any case
        until every wanted one that can be driven is open; those in `but` are left.
        """
        anew = wanted - self._wanted
        if wanted != self._wanted:
            self._held -= anew
            for gate_id in self._wanted - wanted:
                self._close_delays[gate_id] = now + close_delay
            for gate_id in wanted:
                self._close_delays.pop(gate_id, None)
            self._wanted = wanted
        for gate in self._free(wanted):
            gate.actuator.set_target(True, now)
            if gate.gate_id in anew:
                gate.actuator.try_anew(now)
        if not closed or not self._made(now):
            return
        for gate in self._stirring():
            gate_id = gate.gate_id
            if gate_id in wanted or gate_id in but or gate_id in self._held:
                continue
            if gate.is_powered and now >= self._close_delays.get(gate_id, now):
                self._close_delays.pop(gate_id, None)
                gate.actuator.set_target(False, now)

    def prepare(self, foreseen: frozenset[str], now: float) -> None:
        """Open gates that may be wanted soon; one that a person moved is left."""
        for gate in self._free(foreseen):
            gate.actuator.set_target(True, now)

    def open_another(self, preferred: Iterable[str], now: float) -> None:
        """Open one gate that can be counted on, for an impeller that has no other."""
        for gate in self._of((*preferred, *self._powered)):
            if gate.can_be_moved and gate.travel.trusted:
                self._held.discard(gate.gate_id)
                gate.actuator.set_target(True, now)
                return

    def open_way(
        self, gates: Collection[str], now: float, *, or_any: bool = False
    ) -> None:
        """Open gates at once so that a turning impeller can breathe.

        With `or_any`, where none of them can be moved, all the others are opened.
        """
        if or_any and not any(gate.can_be_moved for gate in self._of(gates)):
            gates = self._powered
        for gate in self._of(gates):
            if gate.is_powered:
                self._held.discard(gate.gate_id)
                gate.actuator.set_target(True, now)

    def open_safety_gate(
        self, gates: Collection[str], now: float, *, anew: bool, or_any: bool
    ) -> None:
        """Open gates for an impeller that turns with none open, if it is so.

        For one that came on `anew`, or cannot be stopped (`or_any`), wherever a person
        put them. Else those that somebody put or cut off stay, and another one opens if
        it has to.
        """
        if self.has_open_path(now):
            return
        if anew or or_any:
            self.open_way(gates, now, or_any=or_any)
            return
        free = list(self._free(self._powered))
        usable = [g for g in free if g.gate_id in gates and g.actuator.reachable]
        others = (gate for gate in free if gate.can_be_moved)
        for gate in usable or islice(others, 1):
            gate.actuator.set_target(True, now)

    def keep_open(self, now: float) -> None:
        """Call off every closing that has not come about, with nothing else open.

        Where none still stands open, those on their way to close are opened again.
        """
        closing = [
            actuator
            for gate in self._stirring()
            if gate.is_powered
            and (actuator := gate.actuator).target is False
            and (actuator.reported is not False or actuator.order is not None)
        ]
        for actuator in closing:
            if actuator.reported is not None:
                actuator.set_target(None, now)
        if not self.any_open(now):
            for actuator in closing:
                if actuator.reported is None:
                    actuator.set_target(True, now)

    def clear_demand(self) -> None:
        """Note that the work is over: what is wanted next is wanted anew."""
        self._wanted = frozenset()

    def settle(
        self,
        now: float,
        *,
        close_all: bool = False,
        but: frozenset[str] = frozenset(),
    ) -> None:
        """Put every gate where it sits when nothing is wanted, but for some."""
        self.clear_demand()
        self._close_delays.clear()
        for gate in self._free({*self.active, *self._idle_not_closed}):
            if gate.gate_id in but or gate.gate_id == self.checked:
                continue
            rest = IdlePosition.CLOSED if close_all else gate.plan.rest
            gate.actuator.set_target(
                None if rest is IdlePosition.LEAVE else rest is IdlePosition.OPEN, now
            )

    def release(self) -> None:
        """Forget which gates were moved by hand: the shop's work sets them anew."""
        self._held.clear()
        self.checked = None

    def _free(self, gates: Iterable[str]) -> Iterator[ManagedGate]:
        """Yield those of some gates that can be driven and that no person has moved."""
        for gate_id in gates:
            gate = self._gates.get(gate_id)
            if gate is not None and gate.is_powered and gate_id not in self._held:
                yield gate

    def _made(self, now: float) -> bool:
        """Whether every wanted gate that can be driven is open, and at least one is."""
        made = False
        for gate_id in self._wanted:
            gate = self._gates.get(gate_id)
            if gate is None:
                made = made or gate_id in self._plans
                continue
            actuator = gate.actuator
            free = gate_id not in self._held and gate.can_be_moved
            if free and actuator.state_at(now) is not True:
                return False
            # A gate that is offline may no longer stand where it was last seen.
            made = made or (actuator.reachable and actuator.stays(now))
        return made
