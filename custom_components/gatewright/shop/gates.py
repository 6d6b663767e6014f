"""Which gates should stand where: make before break, rest, and hands at the slide."""

from collections.abc import Collection, Iterable
from itertools import islice

from .gate_states import GateStates
from .plan import Rest


class GateBoard(GateStates):
    """All gates of one system, and how each should stand."""

    def move(self, gate_id: str, *, opened: bool, now: float) -> None:
        """Move a gate on a person's word and leave it there until wanted otherwise."""
        self._actuators[gate_id].wish(opened, now)
        self._held.add(gate_id)
        self.checked = None

    def check(self, gate_id: str, *, opened: bool, now: float) -> None:
        """Move a gate to see what answers, whatever it says: only while all rests.

        It is left alone until the check ends or the shop's work begins, but is not
        remembered: a restart puts it to rest.
        """
        self.checked = gate_id
        self._actuators[gate_id].command(opened, now)

    def end_check(self) -> None:
        """Leave the gate that was checked to the shop again."""
        self.checked = None

    def aim(
        self,
        wanted: frozenset[str],
        linger: float,
        now: float,
        *,
        shut: bool = True,
        but: frozenset[str] = frozenset(),
    ) -> None:
        """Open the wanted gates, then `shut` the others: make before break.

        A gate no longer wanted stays open for `linger` seconds, and in any case
        until every wanted one that can be driven is open; those in `but` are left.
        """
        anew = wanted - self._wanted
        self._held -= anew
        for gate in self._wanted - wanted:
            self._lingers[gate] = now + linger
        self._wanted = wanted
        for gate in wanted:
            self._lingers.pop(gate, None)
            if gate not in self._held and self.is_powered(gate):
                self._actuators[gate].wish(True, now)
                if gate in anew:
                    self._actuators[gate].try_anew(now)
        if not shut or not self._made(now):
            return
        for gate, actuator in self._stirring():
            if gate in wanted or gate in but or gate in self._held:
                continue
            if self.is_powered(gate) and now >= self._lingers.get(gate, now):
                self._lingers.pop(gate, None)
                actuator.wish(False, now)

    def prepare(self, foreseen: frozenset[str], now: float) -> None:
        """Open gates that may be wanted soon; one that a person moved is left."""
        for gate in foreseen:
            if self.is_powered(gate) and gate not in self._held:
                self._actuators[gate].wish(True, now)

    def open_another(self, preferred: Iterable[str], now: float) -> None:
        """Open one gate that can be counted on, for an impeller that has no other."""
        for gate in (*preferred, *self._powered):
            if self._can_be_moved(gate) and self._travels[gate].trusted:
                self._held.discard(gate)
                self._actuators[gate].wish(True, now)
                return

    def open_way(
        self, gates: Collection[str], now: float, *, or_any: bool = False
    ) -> None:
        """Open gates at once so that a turning impeller can breathe.

        With `or_any`, where none of them can be moved, all the others are opened.
        """
        if or_any and not any(self._can_be_moved(gate) for gate in gates):
            gates = self._powered
        for gate in gates:
            if self.is_powered(gate):
                self._held.discard(gate)
                self._actuators[gate].wish(True, now)

    def give_way(
        self, gates: Collection[str], now: float, *, anew: bool, or_any: bool
    ) -> None:
        """Open gates for an impeller that turns with none open, if it is so.

        For one that came on `anew`, or cannot be stopped (`or_any`), wherever a person
        put them. Else those that somebody put or cut off stay, and another one opens if
        it has to.
        """
        if self.has_way(now):
            return
        if anew or or_any:
            self.open_way(gates, now, or_any=or_any)
            return
        free = [gate for gate in self._powered if gate not in self._held]
        usable = [g for g in free if g in gates and self._actuators[g].reachable]
        others = (gate for gate in free if self._can_be_moved(gate))
        for gate in usable or islice(others, 1):
            self._actuators[gate].wish(True, now)

    def keep_open(self, now: float) -> None:
        """Call off every closing that has not come about, with nothing else open.

        Where none still stands open, those on their way to shut are opened again.
        """
        closing = [
            actuator
            for gate, actuator in self._stirring()
            if self.is_powered(gate)
            and actuator.want is False
            and (actuator.reported is not False or actuator.order is not None)
        ]
        for actuator in closing:
            if actuator.reported is not None:
                actuator.wish(None, now)
        if not self.any_open(now):
            for actuator in closing:
                if actuator.reported is None:
                    actuator.wish(True, now)

    def want_nothing(self) -> None:
        """Note that the work is over: what is wanted next is wanted anew."""
        self._wanted = frozenset()

    def settle(
        self,
        now: float,
        *,
        shut_all: bool = False,
        but: frozenset[str] = frozenset(),
    ) -> None:
        """Put every gate where it sits when nothing is wanted, but for some."""
        self.want_nothing()
        self._lingers.clear()
        for gate_id in {*self.astir, *self._rest_unshut}:
            if gate_id in self._held or gate_id in but or gate_id == self.checked:
                continue
            if not self.is_powered(gate_id):
                continue
            rest = Rest.SHUT if shut_all else self._plans[gate_id].rest
            want = None if rest is Rest.LEAVE else rest is Rest.OPEN
            self._actuators[gate_id].wish(want, now)

    def release(self) -> None:
        """Forget which gates were moved by hand: the shop's work sets them anew."""
        self._held.clear()
        self.checked = None

    def _made(self, now: float) -> bool:
        """Whether every wanted gate that can be driven is open, and at least one is."""
        waiting = any(
            self._can_be_moved(gate)
            and gate not in self._held
            and not self.is_open(gate, now)
            for gate in self._wanted
        )
        # A gate out of reach may no longer stand where it was last seen.
        return not waiting and any(
            self._stays_open(gate, now)
            and ((known := self._actuators.get(gate)) is None or known.reachable)
            for gate in self._wanted
        )
