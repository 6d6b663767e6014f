"""How the gates of a system stand, move and answer, and what that allows."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import asdict, replace
from functools import partial
import math
from typing import Any

from .actuation import LEAST_WINDOW, Actuator, Order
from .actuator_memory import ActuatorMemory
from .actuator_states import Deviation
from .attempts import Tries
from .plan import Gate, GateKind, Rest
from .travel import Travel

_TWICE = Tries(count=2)


class GateStates:
    """All gates of one system, as they are reported.

    Most gates of a shop are shut most of the time: only those are looked at that are
    `astir`, which are not at rest, or that something happened to.
    """

    def __init__(self, confirm: float) -> None:
        """Start without gates; `confirm` is how long an actuator may take to report."""
        self._confirm = confirm
        self._plans: dict[str, Gate] = {}
        self._actuators: dict[str, Actuator] = {}
        self._travels: dict[str, Travel] = {}
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
        self._plans = {
            gate.gate_id: _as_before(gate, before.get(gate.gate_id)) for gate in gates
        }
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
        self._travels = {
            gate_id: self._travels[gate_id]
            if gate_id in kept and gate_id in self._travels
            else Travel()
            for gate_id in self._actuators
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
        self._travels[gate_id] = Travel()
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

    def travel(self, gate_id: str) -> Travel | None:
        """Return how a gate that moves really does; None for a fixed opening."""
        return self._travels.get(gate_id)

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
            gate != but and self._stays_passable(gate, actuator, now)
            for gate, actuator in self._stirring()
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

    def passable(self, wanted: Collection[str], now: float) -> bool:
        """Whether one of these gates is open far enough for the air to pass."""
        return any(
            (actuator := self._actuators.get(gate)) is not None
            and self._travels[gate].passable
            and self._stays_passable(gate, actuator, now)
            for gate in wanted
        )

    def passable_at(self, wanted: Collection[str], now: float) -> float | None:
        """Return when the first of these gates is due to be a third open.

        None where none of them can be counted on. What is to be told it yet is told now.
        """
        return min(
            (
                self._travels[gate].passable_at(
                    self._plans[gate].travel,
                    now,
                    feedback=self._plans[gate].feedback,
                )
                for gate in wanted
                if gate in self._actuators and self._counts(gate, now)
            ),
            default=None,
        )

    def on_the_way(self, now: float, *, passable: bool = False) -> bool:
        """Whether a gate that can be counted on is on its way to open.

        Once it has to be `passable`, one whose position says otherwise is not.
        """
        return any(
            self._counts(gate, now) and not (passable and self._lags(gate, now))
            for gate, _ in self._stirring()
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
        position: float | None = None,
    ) -> Deviation | None:
        """Take a report from a gate; a gate moved by hand is left where it was put.

        `position` is how far it is open, 0 to 1, where it says so.
        """
        actuator = self._actuators.get(gate_id)
        if actuator is None:
            return None
        travel = self._travels[gate_id]
        deviation = actuator.report(value, now, reachable=reachable, own=own, mute=mute)
        if reachable:
            travel.moved(position, now)
            self._note_arrival(gate_id, actuator, now)
        elif actuator.want is True and actuator.reported is not True:
            # What cannot be reached while it is needed is not counted on next time.
            travel.trusted = False
        if deviation is Deviation.HAND:
            travel.interrupted()
            self._leave(gate_id, now)
        return deviation

    def dispatched(self, gate_id: str, now: float) -> None:
        """Note that a command to a gate is on its way."""
        if (actuator := self._actuators.get(gate_id)) is None:
            return
        actuator.dispatched(now)
        if actuator.want is not None:
            travel = self._travels[gate_id]
            travel.told(actuator.want, now, stood=actuator.reported)

    def refused(self, gate_id: str) -> None:
        """Note that a gate did not take the command that left last."""
        if (actuator := self._actuators.get(gate_id)) is not None:
            actuator.refused()
            if actuator.want is True:
                self._travels[gate_id].trusted = False

    def distrust(self, now: float) -> None:
        """Count on no gate that is on its way until it has opened."""
        for gate, actuator in self._stirring():
            if actuator.want is True and actuator.stands(now) is not True:
                self._travels[gate].trusted = False

    def remember(self, now: float) -> dict[str, Any]:
        """Return what has to survive a restart, by gate."""
        return {
            gate_id: {
                "actuator": asdict(actuator.remember(now)),
                "wanted": gate_id in self._wanted,
                "held": gate_id in self._held,
                "travel": self._travels[gate_id].remember(),
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
            if "travel" in gate:
                self._travels[gate_id].recall(gate["travel"])
            if gate["held"]:
                self._held.add(gate_id)
            if gate["wanted"]:
                self._wanted |= {gate_id}

    def advance(self, now: float) -> None:
        """Let time pass up to `now`."""
        for gate_id, actuator in self._stirring():
            actuator.advance(now)
            self._note_arrival(gate_id, actuator, now)
            if (overdue := self._overdue_at(gate_id, actuator)) and now >= overdue:
                self._travels[gate_id].trusted = False
            if actuator.left_between(now):
                self._leave(gate_id, now)
            wished = actuator.want is False or not self.is_powered(gate_id)
            if wished and actuator.rests_off(now):
                self.astir.discard(gate_id)
                self._stirring_in_order = None

    def due_after(self, now: float) -> Iterator[float]:
        """Yield the instants after `now` at which time alone changes something."""
        for gate_id, actuator in self._stirring():
            if (due := actuator.due_after(now)) is not None:
                yield due
            for at in (
                self._overdue_at(gate_id, actuator),
                self._travels[gate_id].lags_from,
            ):
                if at is not None and at > now:
                    yield at
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

    def _counts(self, gate_id: str, now: float) -> bool:
        """Whether a gate can be counted on to open in its time.

        Not one that failed before, that was never seen to move though it would say so,
        or that still may carry out something else.
        """
        actuator, travel = self._actuators[gate_id], self._travels[gate_id]
        if not travel.trusted or not self._can_be_moved(gate_id) or actuator.mute:
            return False
        if self._plans[gate_id].feedback and not travel.seen:
            return False
        if gate_id in self._held or actuator.want is not True or actuator.busy:
            return False
        overdue = travel.overdue_at(self._plans[gate_id].travel)
        return overdue is None or now < overdue

    def _lags(self, gate_id: str, now: float) -> bool:
        """Whether a gate's position has stayed small for too long."""
        since = self._travels[gate_id].lags_from
        return since is not None and now >= since

    def _overdue_at(self, gate_id: str, actuator: Actuator) -> float | None:
        """Return when a gate that was told to open counts as failed."""
        travel = self._travels[gate_id]
        if not travel.trusted or actuator.want is not True or actuator.mute:
            return None
        return travel.overdue_at(self._plans[gate_id].travel)

    def _note_arrival(self, gate_id: str, actuator: Actuator, now: float) -> None:
        travel = self._travels[gate_id]
        if not travel.waits or not actuator.reachable or actuator.mute:
            return
        if (stands := actuator.stands(now)) is not None:
            travel.arrived(stands, actuator.stood_since(now))

    def _stays_passable(self, gate_id: str, actuator: Actuator, now: float) -> bool:
        """Whether a gate is a way in for the air, and nothing closes it."""
        if actuator.stays(now):
            return True
        if not self._travels[gate_id].passable or actuator.reported is False:
            return False
        return actuator.want is not False or actuator.failed

    def _stays_open(self, gate_id: str, now: float) -> bool:
        actuator = self._actuators.get(gate_id)
        if actuator is None:
            return gate_id in self._plans
        return actuator.stays(now)


def _as_before(gate: Gate, before: Gate | None) -> Gate:
    """Return a gate's plan; one whose entity was lost is what it was.

    So its last position holds until the work ends.
    """
    if not gate.lost or before is None or before.kind is not gate.kind:
        return gate
    return replace(gate, feedback=before.feedback)
