"""How the gates of a system stand, move and answer, and what that allows."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace
from functools import partial
import math
from typing import Any

from ..config import GateConfig, GateKind, IdlePosition
from .actuator import Actuator, Order
from .actuator_states import Deviation
from .gate import ManagedGate
from .travel import Travel


class GateStates:
    """All gates of one system, as they are reported.

    Most gates of a shop are closed most of the time: only those are looked at that are
    `active`, which are not at rest, or that something happened to.
    """

    def __init__(self, confirm: float) -> None:
        """Start without gates; `confirm` is how long an actuator may take to report."""
        self._confirm = confirm
        self._plans: dict[str, GateConfig] = {}
        self._gates: dict[str, ManagedGate] = {}
        self._place: dict[str, int] = {}
        self._powered: tuple[str, ...] = ()
        self._fixed: tuple[str, ...] = ()
        self._idle_not_closed: tuple[str, ...] = ()
        self.active: set[str] = set()
        self._stirring_in_order: list[ManagedGate] | None = None
        self._wanted: frozenset[str] = frozenset()
        self._close_delays: dict[str, float] = {}
        self._held: set[str] = set()
        self.checked: str | None = None
        self._planned_at = -math.inf

    def plan(self, gates: Iterable[GateConfig], confirm: float, now: float) -> None:
        """Take up a changed set of gates; those that stay keep their state."""
        before, stood = self._plans, self._gates
        self._confirm = confirm
        self._planned_at = now
        self._plans = {
            gate.gate_id: _as_before(gate, before.get(gate.gate_id)) for gate in gates
        }
        self._place = {gate_id: place for place, gate_id in enumerate(self._plans)}
        self._powered = self._of_kind(GateKind.POWERED)
        self._fixed = self._of_kind(GateKind.FIXED)
        self._idle_not_closed = tuple(
            gate
            for gate in self._powered
            if self._plans[gate].rest is not IdlePosition.CLOSED
        )
        self._gates = {}
        for gate_id, plan in self._plans.items():
            if plan.kind is GateKind.FIXED:
                continue
            gate = stood.get(gate_id)
            if gate is not None and _alike(gate.plan, plan):
                gate.replan(plan, confirm)
                self._gates[gate_id] = gate
            else:
                self._held.discard(gate_id)
                self._gates[gate_id] = self._unknown(plan)
        self._held &= self._gates.keys()
        self.active = set(self._gates)
        self._stirring_in_order = None
        self._wanted &= self._plans.keys()
        self._close_delays = {
            k: v for k, v in self._close_delays.items() if k in self._plans
        }

    def renew(self, gate_id: str) -> None:
        """Forget what is known of a gate whose actuator was exchanged for another."""
        self._gates[gate_id] = self._unknown(self._plans[gate_id])
        self.active.add(gate_id)
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
        return None if (gate := self._gates.get(gate_id)) is None else gate.actuator

    def travel(self, gate_id: str) -> Travel | None:
        """Return how a gate that moves really does; None for a fixed opening."""
        return None if (gate := self._gates.get(gate_id)) is None else gate.travel

    def powered(self) -> Iterator[str]:
        """Yield the gates that can be driven."""
        yield from self._powered

    def is_powered(self, gate_id: str) -> bool:
        """Whether a gate can be driven."""
        return (gate := self._gates.get(gate_id)) is not None and gate.is_powered

    def is_open(self, gate_id: str, now: float) -> bool:
        """Whether a gate is known to be open."""
        if (gate := self._gates.get(gate_id)) is None:
            return gate_id in self._plans
        return gate.actuator.state_at(now) is True

    def all_open(self, gates: Iterable[str], now: float) -> bool:
        """Whether all of some gates are known to be open."""
        return all(self.is_open(gate, now) for gate in gates)

    def is_held_by_hand(self, gate_id: str) -> bool:
        """Whether a gate was moved by a person and is left where it was put."""
        return gate_id in self._held

    def any_open(
        self, now: float, *, but: str | None = None, heard: bool = False
    ) -> bool:
        """Whether a gate is open and stays so; always so in a shop without gates.

        A gate that was told to close does not count, though it may still be open. With
        `heard` only a gate's own word counts, not what an earlier process knew of it.
        """
        if not self._plans or (self._fixed and self._fixed != (but,)):
            return True
        for gate in self._stirring():
            if heard and not gate.actuator.heard:
                continue
            if gate.stays_passable(now) and gate.gate_id != but:
                return True
        return False

    def has_open_path(self, now: float) -> bool:
        """Whether a gate is open, or will be within its travel time."""
        return self.any_open(now) or any(
            gate.actuator.arriving(now) for gate in self._stirring()
        )

    def ready(self, wanted: Collection[str], now: float) -> bool:
        """Whether the collector may start for these gates: one of them is open.

        What an earlier process knew of a gate is not enough for that.
        """
        if not wanted:
            return self.any_open(now, heard=True)
        for gate_id in wanted:
            gate = self._gates.get(gate_id)
            if gate is None:
                if gate_id in self._plans:
                    return True
            elif gate.actuator.known(now):
                return True
        return False

    def passable(self, wanted: Collection[str], now: float) -> bool:
        """Whether one of these gates is open far enough for the air to pass.

        On its own word: where an earlier process saw it is not enough for a start.
        """
        for gate in self._of(wanted):
            known = gate.travel.passable and gate.actuator.heard
            if known and gate.stays_passable(now):
                return True
        return False

    def passable_at(self, wanted: Collection[str], now: float) -> float | None:
        """Return when the first of these gates is due to be a third open.

        None where none of them can be counted on. What is to be told it yet is told now.
        """
        return min(
            (
                gate.passable_at(now)
                for gate in self._of(wanted)
                if self._counts(gate, now)
            ),
            default=None,
        )

    def on_the_way(self, now: float, *, passable: bool = False) -> bool:
        """Whether a gate that can be counted on is on its way to open.

        Once it has to be `passable`, one whose position says otherwise is not.
        """
        return any(
            (self._counts(gate, now) or gate.has_time_left(now))
            and not (passable and gate.lags(now))
            for gate in self._stirring()
        )

    def coming(self, wanted: Collection[str], now: float) -> bool:
        """Whether one of these gates is on its way to open, or still to be heard of."""
        return any(
            gate.actuator.arriving(now) or gate.actuator.expected(now)
            for gate in self._of(wanted)
        )

    def report(
        self,
        gate_id: str,
        value: bool | None,
        now: float,
        *,
        reachable: bool,
        own: bool,
        no_feedback: bool = False,
        position: float | None = None,
    ) -> Deviation | None:
        """Take a report from a gate; a gate moved by hand is left where it was put.

        `position` is how far it is open, 0 to 1, where it says so.
        """
        if (gate := self._gates.get(gate_id)) is None:
            return None
        deviation = gate.report(
            value,
            now,
            reachable=reachable,
            own=own,
            no_feedback=no_feedback,
            position=position,
        )
        if deviation is Deviation.HAND:
            self._leave(gate, now)
        return deviation

    def dispatched(self, gate_id: str, now: float) -> None:
        """Note that a command to a gate is on its way."""
        if (gate := self._gates.get(gate_id)) is not None:
            gate.dispatched(now)

    def refused(self, gate_id: str) -> None:
        """Note that a gate did not take the command that left last."""
        if (gate := self._gates.get(gate_id)) is not None:
            gate.refused()

    def mark_unreliable(self, now: float) -> None:
        """Count on no gate that is on its way until it has opened."""
        for gate in self._stirring():
            gate.mark_unreliable(now)

    def remember(self, now: float) -> dict[str, Any]:
        """Return what has to survive a restart, by gate."""
        return {
            gate_id: gate.remember(now)
            | {"wanted": gate_id in self._wanted, "held": gate_id in self._held}
            for gate_id, gate in self._gates.items()
        }

    def recall(self, kept: Mapping[str, Any], now: float, *, passed: float) -> None:
        """Take up what `remember` described, `passed` seconds ago."""
        for gate_id, memory in kept.items():
            if (gate := self._gates.get(gate_id)) is None:
                continue
            gate.recall(memory, now, passed=passed)
            if memory["held"]:
                self._held.add(gate_id)
            if memory["wanted"]:
                self._wanted |= {gate_id}

    def resume(self, kept: Mapping[str, Any], now: float, *, passed: float) -> None:
        """Go on waiting for those that the collector was started for."""
        for gate_id, memory in kept.items():
            if (gate := self._gates.get(gate_id)) is not None:
                gate.resume(memory, now, passed=passed)

    def advance(self, now: float) -> None:
        """Let time pass up to `now`."""
        resting: list[str] = []
        for gate in self._stirring():
            gate.advance(now)
            if gate.actuator.left_between(now):
                self._leave(gate, now)
            if gate.rests(now):
                resting.append(gate.gate_id)
        if resting:
            # A new set: one that was large once stays long to walk through.
            self.active = self.active.difference(resting)
            self._stirring_in_order = None

    def due_after(self, now: float) -> Iterator[float]:
        """Yield the instants after `now` at which time alone changes something."""
        for gate in self._stirring():
            if (due := gate.due_after(now)) is not None:
                yield due
        yield from (due for due in self._close_delays.values() if due > now)

    def orders(self) -> Iterator[tuple[str, Order]]:
        """Yield the commands that are due."""
        for gate in self._stirring():
            if gate.is_powered and (order := gate.actuator.order):
                yield gate.gate_id, order

    def noteworthy(self, wanted: Collection[str]) -> list[str]:
        """Return the wanted gates and those not at rest, in the plan's order."""
        if self.active.issuperset(wanted):
            return [gate.gate_id for gate in self._stirring()]
        return self.in_order(self.active.union(wanted))

    def in_order(self, gates: Iterable[str]) -> list[str]:
        """Return some gates in the plan's order."""
        return sorted(gates, key=self._place.__getitem__)

    def _stirring(self) -> list[ManagedGate]:
        """Return the gates that are not at rest, in the plan's order."""
        if self._stirring_in_order is None:
            active = self.in_order(self.active)
            self._stirring_in_order = [self._gates[gate] for gate in active]
        return self._stirring_in_order

    def _of(self, gates: Iterable[str]) -> Iterator[ManagedGate]:
        """Yield those of some gates that move."""
        return (self._gates[gate] for gate in gates if gate in self._gates)

    def _of_kind(self, kind: GateKind) -> tuple[str, ...]:
        return tuple(gate for gate, plan in self._plans.items() if plan.kind is kind)

    def _unknown(self, plan: GateConfig) -> ManagedGate:
        stirred = partial(self._stir, plan.gate_id)
        return ManagedGate(plan, self._confirm, self._planned_at, stirred)

    def _stir(self, gate_id: str) -> None:
        if gate_id in self._gates and gate_id not in self.active:
            self.active.add(gate_id)
            self._stirring_in_order = None

    def _leave(self, gate: ManagedGate, now: float) -> None:
        """Leave a gate where a person put it."""
        if gate.is_powered:
            gate.actuator.follow_hand(now)
            self._held.add(gate.gate_id)

    def _counts(self, gate: ManagedGate, now: float) -> bool:
        """Whether a gate can be counted on to open: its own word, and nobody's hand.

        One that a person has opened through us is driven like any other.
        """
        driven = gate.gate_id not in self._held or gate.actuator.arriving(now)
        return driven and gate.counts(now)


def _as_before(gate: GateConfig, before: GateConfig | None) -> GateConfig:
    """Return a gate's plan; one whose entity was lost is what it was.

    So its last position holds until the work ends.
    """
    if not gate.lost or before is None or before.kind is not gate.kind:
        return gate
    return replace(gate, feedback=before.feedback)


def _alike(gate: GateConfig, before: GateConfig) -> bool:
    """Whether what is known of a gate still says something of it."""
    return gate.kind is before.kind and gate.feedback is before.feedback
