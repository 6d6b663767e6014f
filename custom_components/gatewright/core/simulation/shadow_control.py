"""A shop that is only watched, beside the one that it would have been.

Everything is heard and nothing is asked for. What really happens goes into the ledger as
always; the same events go into a simulation that keeps step, with actuators that do as
they are told, and its ledger tells what the shop would have done.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import replace
import math
from typing import Any, override

from ..config import SystemConfig
from ..control.actuator import Order
from ..control.alarms import AlarmKind, AlarmSet, Condition, read_alarms, told_at_once
from ..control.enums import Phase, Refusal, RefusedError
from ..control.ledger import Ledger
from ..control.machine import Machine
from ..control.sequence import Sequence
from ..control.shop import ShopControl
from ..inputs import (
    CollectorReported,
    CollectorTurned,
    GateMoved,
    GateReported,
    Input,
    PlanChanged,
    RequestMade,
)
from ..times import earliest
from .simulator import Actuators, Simulator

OF_ACTUATORS = frozenset(
    {
        AlarmKind.COLLECTOR_BY_ITSELF,
        AlarmKind.COLLECTOR_NOT_STARTING,
        AlarmKind.COLLECTOR_NOT_STOPPING,
        AlarmKind.COMMAND_FAILED,
        AlarmKind.LINKED_DEVICE_NOT_SWITCHING,
        AlarmKind.GATE_MOVED,
        AlarmKind.GATE_NOT_MOVING,
        AlarmKind.GATE_OFFLINE,
        AlarmKind.HAND_GATE_CLOSED,
        AlarmKind.NO_GATE_OPEN,
        AlarmKind.STOPPED_BY_HAND,
        AlarmKind.MAINTENANCE_NOT_SWITCHING,
    }
)
"""What is no alarm while nothing is driven: somebody else runs the shop."""


class _Board(AlarmSet):
    """Alarms of everything but the actuators."""

    @override
    def update(
        self,
        conditions: Iterable[Condition],
        now: float,
        *,
        lasting: Collection[Condition] = (),
        told_after: Callable[[Condition], float] = told_at_once,
    ) -> None:
        super().update(
            (c for c in conditions if c.kind not in OF_ACTUATORS),
            now,
            lasting=lasting,
            told_after=told_after,
        )

    @override
    def recall(self, raised_at: Mapping[Condition, float]) -> None:
        super().recall(
            {c: at for c, at in raised_at.items() if c.kind not in OF_ACTUATORS}
        )


class ShadowControl(Sequence):
    """Follows what is really there, and has nothing driven."""

    @override
    def orders(self) -> Iterator[tuple[str, Order]]:
        """Yield nothing: no command is ever due."""
        return iter(())

    @override
    def advance(self, now: float) -> None:
        """Bring what is really there up to `now`."""
        self.pass_time(now, automatic=False, allowed=False)
        if self.motor.actuator.reported is True:
            self.phase = Phase.COLLECTING
        elif self.motor.may_turn(now):
            self.phase = Phase.SPINNING_DOWN
        else:
            self.phase = Phase.IDLE
        self.phase_until = None
        self.wake = min(
            (due for due in self.dues_after(now) if due > now), default=None
        )


class MonitoredShop(ShopControl):
    """A shop in which nothing is driven, beside the one that it `would` have been."""

    sequence: ShadowControl

    def __init__(self, system: SystemConfig, now: float) -> None:
        """Begin at `now`, with the shop that would be at rest."""
        super().__init__(system, now)
        self.sequence = ShadowControl(system, now)
        self.alarms = _Board()
        self._shadow = Simulator(system, Actuators(), now)

    @property
    def would(self) -> ShopControl:
        """The shop that it would have been."""
        return self._shadow.shop

    @override
    def handle(self, event: Input, now: float) -> bool:
        """Take what happened, for both shops; whatever would move something is refused.

        Whoever moved an actuator, it is no deviation from anything.
        """
        match event:
            case RequestMade() | CollectorTurned() | GateMoved():
                raise RefusedError(Refusal.MONITOR_ONLY)
            case PlanChanged():
                self._begin_anew(event.system, now)
                return super().handle(event, now)
            case GateReported():
                event = replace(event, own=True)
            case CollectorReported():
                # Nobody adopts it, and nobody follows a hand.
                there = event.reachable and event.value is not None
                self.sequence.motor.report(event.value, now, reachable=there, own=True)
                return True
        follows = super().handle(event, now)
        self._shadow.run_before(now)
        return self._shadow.handle(event, now) or follows

    @override
    def note(self, now: float) -> None:
        super().note(now)
        would = self._shadow
        would.run_before(now)
        would.settle(now)
        would.forget()
        self.wake = earliest(
            (self.wake, would.next if math.isfinite(would.next) else None)
        )

    def _begin_anew(self, system: SystemConfig, now: float) -> None:
        """Let the shop that would be begin at rest with another plan."""
        before = self.would
        self._shadow = Simulator(system, Actuators(), now)
        self.would.ledger.restore(before.ledger.save(now), now)
        was, sequence = before.sequence, self.would.sequence
        _set_modes(sequence, was.automatic, was.start_block, was.fire_shutdown)
        sequence.set_bin_full(was.bin.full)

    @override
    def _serves(self, run: Machine) -> bool:
        """Whoever runs the shop serves every machine, for all that is known."""
        return True


def carry_over(shop: ShopControl, data: Mapping[str, Any], now: float) -> None:
    """Take up what `memory.save` described where one of the two only watched.

    Totals, modes and alarms are kept. Everything else begins at rest and adopts what
    it finds: there was no target to compare it with.
    """
    sequence = shop.sequence
    both = (shop, shop.would) if isinstance(shop, MonitoredShop) else (shop,)
    for one in both:
        modes = (data["automatic"], data["start_block"], data["fire_shutdown"])
        _set_modes(one.sequence, *modes)
    sequence.hand_gates = tuple(g for g in data["hand_gates"] if g in sequence.gates)
    motor = data["motor"]
    sequence.motor.duty.restore(motor["starts"], motor["stopped"], now)
    shop.alarms.recall(read_alarms(data["alarms"], now))
    # What somebody else's control needed says nothing of ours, nor the other way round.
    shop.ledger.restore(data["ledger"] | {"times_to_air": {}}, now)


def _set_modes(
    sequence: Sequence, automatic: bool, start_block: bool, fire_shutdown: bool
) -> None:
    sequence.set_automatic(automatic)
    sequence.set_start_block(start_block)
    sequence.set_fire_shutdown(fire_shutdown)


def totals_of(ledger: Ledger) -> dict[str, float]:
    """Return what a ledger has added up over all machines; times in s."""
    return {
        "starts": ledger.collector.starts,
        "on_time": ledger.collector.on_time,
        "run_time": sum(of.run_time for of in ledger.machines.values()),
        "collecting_time": sum(of.collecting_time for of in ledger.machines.values()),
    }
