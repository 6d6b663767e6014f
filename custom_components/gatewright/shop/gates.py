"""Which gates should stand where: make before break, rest, and hands at the slide."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import asdict, replace
from functools import partial
from itertools import islice
import math
from typing import Any

from .actuation import LEAST_WINDOW, Actuator, ActuatorMemory, Deviation, Order, Tries
from .plan import Gate, GateKind, Rest

_TWICE = Tries(count=2)


class GateBoard:
    """All gates of one system.

    Most gates of a shop are shut most of the time: only those are looked at that are
    `astir`, which are not at rest, or that something happened to.
    """

    def __init__(self, confirm: float) -> None:
        """Start without gates; `confirm` is how long an actuator may take to report."""
        self._confirm = confirm
        self._plans: dict[str, Gate] = {}
        self._actuators: dict[str, Actuator] = {}
        self._place: dict[str, int] = {}
        self._powered: tuple[str, ...] = ()
        self._fixed: tuple[str, ...] = ()
        self._rest_unshut: tuple[str, ...] = ()
        self.astir: set[str] = set()
        self._stirring_in_order: list[tuple[str, Actuator]] | None = None
        self._wanted: frozenset[str] = frozenset()
        self._lingers: dict[str, float] = {}
        self._held: set[str] = set()
        self.checked: str | None = None
        self._planned_at = -math.inf

    def plan(self, gates: Iterable[Gate], confirm: float, now: float) -> None:
        """Take up a changed set of gates; those that stay keep their state."""
        before = self._plans
        self._confirm = confirm
        self._planned_at = now
        self._plans = {gate.gate_id: gate for gate in gates}
        self._place = {gate_id: place for place, gate_id in enumerate(self._plans)}
        self._powered = self._of_kind(GateKind.POWERED)
        self._fixed = self._of_kind(GateKind.FIXED)
        self._rest_unshut = tuple(
            gate for gate in self._powered if self._plans[gate].rest is not Rest.SHUT
        )
        kept = {
            gate_id: self._actuators[gate_id]
            for gate_id, gate in self._plans.items()
            if gate_id in self._actuators
            and before[gate_id].kind is gate.kind
            and before[gate_id].feedback is gate.feedback
        }
        self._held &= kept.keys()
        self._actuators = {
            gate_id: kept.get(gate_id) or self._unknown(gate)
            for gate_id, gate in self._plans.items()
            if gate.kind is not GateKind.FIXED
        }
        for gate_id, actuator in self._actuators.items():
            actuator.window, actuator.lag = self._times(self._plans[gate_id])
        self.astir = set(self._actuators)
        self._stirring_in_order = None
        self._wanted &= self._plans.keys()
        self._lingers = {k: v for k, v in self._lingers.items() if k in self._plans}

    def renew(self, gate_id: str) -> None:
        """Forget what is known of a gate whose actuator was exchanged for another."""
        self._actuators[gate_id] = self._unknown(self._plans[gate_id])
        self.astir.add(gate_id)
        self._stirring_in_order = None
        self._held.discard(gate_id)

    def __iter__(self) -> Iterator[str]:
        """Yield every gate in the plan's order."""
        return iter(self._plans)

    def __contains__(self, gate_id: str) -> bool:
        """Whether there is such a gate."""
        return gate_id in self._plans

    def actuator(self, gate_id: str) -> Actuator | None:
        """Return what is known of a gate that moves; None for a fixed opening."""
        return self._actuators.get(gate_id)

    def powered(self) -> Iterator[str]:
        """Yield the gates that can be driven."""
        yield from self._powered

    def is_open(self, gate_id: str, now: float) -> bool:
        """Whether a gate is known to be open."""
        actuator = self._actuators.get(gate_id)
        if actuator is None:
            return gate_id in self._plans
        return actuator.stands(now) is True

    def is_held(self, gate_id: str) -> bool:
        """Whether a gate was moved by a person and is left where it was put."""
        return gate_id in self._held

    def any_open(self, now: float, *, but: str | None = None) -> bool:
        """Whether air has a way in that stays; always so in a shop without gates.

        A gate that was told to close is no way in, though it may still stand open.
        """
        if not self._plans:
            return True
        return any(gate != but for gate in self._fixed) or any(
            gate != but and actuator.stays(now) for gate, actuator in self._stirring()
        )

    def has_way(self, now: float) -> bool:
        """Whether air has a way in, or will have within a gate's travel time."""
        return self.any_open(now) or any(
            actuator.arriving(now) for _, actuator in self._stirring()
        )

    def ready(self, wanted: Collection[str], now: float) -> bool:
        """Whether the collector may start for these gates: one of them is open.

        What an earlier process knew of a gate is not enough for that.
        """
        if not wanted:
            return self.any_open(now)
        return any(
            self._stays_open(gate, now)
            and ((known := self._actuators.get(gate)) is None or known.known(now))
            for gate in wanted
        )

    def coming(self, wanted: Collection[str], now: float) -> bool:
        """Whether one of these gates is on its way to open, or still to be heard of."""
        return any(
            (actuator := self._actuators.get(gate)) is not None
            and (actuator.arriving(now) or actuator.expected(now))
            for gate in wanted
        )

    def report(
        self,
        gate_id: str,
        value: bool | None,
        now: float,
        *,
        reachable: bool,
        own: bool,
        mute: bool = False,
    ) -> Deviation | None:
        """Take a report from a gate; a gate moved by hand is left where it was put."""
        actuator = self._actuators.get(gate_id)
        if actuator is None:
            return None
        deviation = actuator.report(value, now, reachable=reachable, own=own, mute=mute)
        if deviation is Deviation.HAND:
            self._leave(gate_id, now)
        return deviation

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
    ) -> None:
        """Open the wanted gates, then `shut` the others: make before break.

        A gate no longer wanted stays open for `linger` seconds, and in any case
        until every wanted one that can be driven is open.
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
            if gate in wanted or gate in self._held or not self.is_powered(gate):
                continue
            if now >= self._lingers.get(gate, now):
                self._lingers.pop(gate, None)
                actuator.wish(False, now)

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

    def settle(self, now: float, *, shut_all: bool = False) -> None:
        """Put every gate where it sits when nothing is wanted."""
        self.want_nothing()
        self._lingers.clear()
        for gate_id in {*self.astir, *self._rest_unshut}:
            if gate_id in self._held or gate_id == self.checked:
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

    def remember(self, now: float) -> dict[str, Any]:
        """Return what has to survive a restart, by gate."""
        return {
            gate_id: {
                "actuator": asdict(actuator.remember(now)),
                "wanted": gate_id in self._wanted,
                "held": gate_id in self._held,
            }
            for gate_id, actuator in self._actuators.items()
        }

    def recall(self, kept: Mapping[str, Any], now: float, *, passed: float) -> None:
        """Take up what `remember` described, `passed` seconds ago.

        Of what the shop wished only that gates stand open is kept: none is shut on
        the word of an earlier process while the impeller may be turning. What a
        person put somewhere stays there.
        """
        for gate_id, gate in kept.items():
            if (actuator := self._actuators.get(gate_id)) is None:
                continue
            memory = ActuatorMemory(**gate["actuator"])
            stays = memory.want is True or (
                gate["held"] and memory.want == memory.reported
            )
            if not stays or not self.is_powered(gate_id):
                memory = replace(memory, want=None)
            actuator.recall(memory, now, passed=passed)
            if gate["held"]:
                self._held.add(gate_id)
            if gate["wanted"]:
                self._wanted |= {gate_id}

    def advance(self, now: float) -> None:
        """Let time pass up to `now`."""
        for gate_id, actuator in self._stirring():
            actuator.advance(now)
            if actuator.left_between(now):
                self._leave(gate_id, now)
            wished = actuator.want is False or not self.is_powered(gate_id)
            if wished and actuator.rests_off(now):
                self.astir.discard(gate_id)
                self._stirring_in_order = None

    def due_after(self, now: float) -> Iterator[float]:
        """Yield the instants after `now` at which time alone changes something."""
        for _, actuator in self._stirring():
            if (due := actuator.due_after(now)) is not None:
                yield due
        yield from (due for due in self._lingers.values() if due > now)

    def orders(self) -> Iterator[tuple[str, Order]]:
        """Yield the commands that are due."""
        for gate_id, actuator in self._stirring():
            if self.is_powered(gate_id) and (order := actuator.order):
                yield gate_id, order

    def noteworthy(self, wanted: Collection[str]) -> list[str]:
        """Return the wanted gates and those not at rest, in the plan's order."""
        return self.in_order(self.astir.union(wanted))

    def in_order(self, gates: Iterable[str]) -> list[str]:
        """Return some gates in the plan's order."""
        return sorted(gates, key=self._place.__getitem__)

    def _stirring(self) -> list[tuple[str, Actuator]]:
        """Return the gates that are not at rest, in the plan's order."""
        if self._stirring_in_order is None:
            astir = self.in_order(self.astir)
            self._stirring_in_order = [(gate, self._actuators[gate]) for gate in astir]
        return self._stirring_in_order

    def _of_kind(self, kind: GateKind) -> tuple[str, ...]:
        return tuple(gate for gate, plan in self._plans.items() if plan.kind is kind)

    def _unknown(self, gate: Gate) -> Actuator:
        window, lag = self._times(gate)
        return Actuator(
            window=window,
            lag=lag,
            on=_TWICE,
            off=_TWICE,
            since=self._planned_at,
            stirred=partial(self._stir, gate.gate_id),
        )

    def _stir(self, gate_id: str) -> None:
        if gate_id in self._actuators and gate_id not in self.astir:
            self.astir.add(gate_id)
            self._stirring_in_order = None

    def _times(self, gate: Gate) -> tuple[float, float]:
        """Return how long a gate's actuator and then its slide may take."""
        if gate.feedback:
            return max(LEAST_WINDOW, gate.travel), 0.0
        return max(LEAST_WINDOW, self._confirm), gate.travel

    def _leave(self, gate_id: str, now: float) -> None:
        """Leave a gate where a person put it."""
        if self.is_powered(gate_id):
            self._actuators[gate_id].follow_hand(now)
            self._held.add(gate_id)

    def is_powered(self, gate_id: str) -> bool:
        """Whether a gate can be driven."""
        gate = self._plans.get(gate_id)
        return gate is not None and gate.kind is GateKind.POWERED

    def _can_be_moved(self, gate_id: str) -> bool:
        actuator = self._actuators.get(gate_id)
        return (
            actuator is not None
            and self.is_powered(gate_id)
            and actuator.reachable
            and not actuator.failed
        )

    def _stays_open(self, gate_id: str, now: float) -> bool:
        actuator = self._actuators.get(gate_id)
        if actuator is None:
            return gate_id in self._plans
        return actuator.stays(now)

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
