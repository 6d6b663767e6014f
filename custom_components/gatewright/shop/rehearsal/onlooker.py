"""A shop that is only watched, beside the one that it would have been.

Everything is heard and nothing is wished. What really happens goes into the ledger as
always; the same readings go into a rehearsal that keeps step, with actuators that do as
they are told, and its ledger tells what the shop would have done.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
import math
from typing import Any, override

from ..actuation import Order
from ..alarms import AlarmBoard, AlarmKind, Condition, read_alarms, told_at_once
from ..ledger import Ledger
from ..machines import MachineRun
from ..plan import GateKind, System
from ..sequence import Sequence
from ..shop import Shop
from ..times import earliest
from ..words import Phase, Refusal, Refused
from .replay import Actuators, Replay

OF_ACTUATORS = frozenset(
    {
        AlarmKind.COLLECTOR_BY_ITSELF,
        AlarmKind.COLLECTOR_NOT_STARTING,
        AlarmKind.COLLECTOR_NOT_STOPPING,
        AlarmKind.COMMAND_FAILED,
        AlarmKind.COMPANION_NOT_SWITCHING,
        AlarmKind.GATE_MOVED,
        AlarmKind.GATE_NOT_MOVING,
        AlarmKind.GATE_OFFLINE,
        AlarmKind.HAND_GATE_SHUT,
        AlarmKind.NO_GATE_OPEN,
        AlarmKind.STOPPED_BY_HAND,
        AlarmKind.UPKEEP_NOT_SWITCHING,
    }
)
"""What is no alarm while nothing is driven: somebody else runs the shop."""


class _Board(AlarmBoard):
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


class Onlooker(Sequence):
    """Hears everything, wishes nothing, and passes on what it hears to `would`."""

    def __init__(self, system: System, now: float) -> None:
        """Begin at `now`, with the shop that would be at rest."""
        self.would = Replay(system, Actuators(), now)
        super().__init__(system, now)

    @override
    def replan(self, system: System, now: float) -> None:
        """Take up a changed plan; the shop that would be begins at rest again."""
        super().replan(system, now)
        before = self.would.shop
        self.would = Replay(system, Actuators(), now)
        self.would.shop.ledger.restore(before.ledger.save(now), now)
        sequence = self.would.shop.sequence
        sequence.set_automatic(before.sequence.automatic)
        sequence.set_lockout(before.sequence.lockout)
        sequence.set_emergency(before.sequence.emergency)
        sequence.set_bin_full(before.sequence.bin.full)

    @override
    def read(self, machine_id: str, value: float | None, now: float) -> bool:
        self.would.run_before(now)
        would = self.would.shop.sequence.read(machine_id, value, now)
        return super().read(machine_id, value, now) or would

    @override
    def attach(self, machine_id: str, attached: bool | None, now: float) -> None:
        super().attach(machine_id, attached, now)
        self.would.run_before(now)
        self.would.shop.sequence.attach(machine_id, attached, now)

    @override
    def switch_relay(self, machine_id: str, on: bool | None, now: float) -> bool:
        self.would.run_before(now)
        would = self.would.shop.sequence.switch_relay(machine_id, on, now)
        return super().switch_relay(machine_id, on, now) or would

    @override
    def foretell(self, machine_id: str, present: bool | None, now: float) -> None:
        super().foretell(machine_id, present, now)
        self.would.run_before(now)
        self.would.shop.sequence.foretell(machine_id, present, now)

    @override
    def report_gate(
        self,
        gate_id: str,
        value: bool | None,
        now: float,
        *,
        reachable: bool = True,
        own: bool = False,
        mute: bool = False,
        position: float | None = None,
    ) -> None:
        """Take a report; whoever moved the gate, it is no deviation from anything."""
        super().report_gate(
            gate_id,
            value,
            now,
            reachable=reachable,
            own=True,
            mute=mute,
            position=position,
        )
        if any(
            gate.gate_id == gate_id and gate.kind is GateKind.HAND
            for gate in self.system.gates
        ):
            self.would.run_before(now)
            self.would.set_gate(gate_id, value if reachable else None)

    @override
    def report_collector(
        self,
        value: bool | None,
        now: float,
        *,
        reachable: bool = True,
        own: bool = False,
        mute: bool = False,
    ) -> None:
        """Take a report; whoever switched it, it is no deviation from anything."""
        reachable = reachable and value is not None
        self.motor.report(value, now, reachable=reachable, own=True)

    @override
    def set_automatic(self, on: bool) -> None:
        super().set_automatic(on)
        self.would.shop.sequence.set_automatic(on)

    @override
    def set_lockout(self, on: bool) -> None:
        super().set_lockout(on)
        self.would.shop.sequence.set_lockout(on)

    @override
    def set_emergency(self, on: bool) -> None:
        super().set_emergency(on)
        self.would.shop.sequence.set_emergency(on)

    @override
    def set_bin_full(self, full: bool) -> None:
        super().set_bin_full(full)
        self.would.shop.sequence.set_bin_full(full)

    @override
    def request(self, machine_id: str, now: float, limit: float | None = None) -> None:
        """Raise `Refused`: nothing moves."""
        raise Refused(Refusal.WATCH_ONLY)

    @override
    def start_by_hand(self) -> None:
        """Raise `Refused`: nothing moves."""
        raise Refused(Refusal.WATCH_ONLY)

    @override
    def stop_by_hand(self) -> None:
        """Raise `Refused`: nothing moves."""
        raise Refused(Refusal.WATCH_ONLY)

    @override
    def move_gate(self, gate_id: str, *, opened: bool, now: float) -> None:
        """Raise `Refused`: nothing moves."""
        raise Refused(Refusal.WATCH_ONLY)

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
            self.phase = Phase.COASTING
        else:
            self.phase = Phase.RESTING
        self.phase_until = None
        self.wake = min(
            (due for due in self.dues_after(now) if due > now), default=None
        )


class WatchedShop(Shop):
    """A shop in which nothing is driven."""

    sequence: Onlooker

    def __init__(self, system: System, now: float) -> None:
        """Begin at `now`."""
        super().__init__(system, now)
        self.sequence = Onlooker(system, now)
        self.alarms = _Board()

    @override
    def note(self, now: float) -> None:
        super().note(now)
        would = self.sequence.would
        would.run_before(now)
        would.settle(now)
        would.forget()
        self.wake = earliest(
            (self.wake, would.next if math.isfinite(would.next) else None)
        )

    @property
    def would(self) -> Shop:
        """The shop that it would have been."""
        return self.sequence.would.shop

    @override
    def _serves(self, run: MachineRun) -> bool:
        """Whoever runs the shop serves every machine, for all that is known."""
        return True


def carry_over(shop: Shop, data: Mapping[str, Any], now: float) -> None:
    """Take up what `memory.save` described where one of the two only watched.

    Totals, modes and alarms are kept. Everything else begins at rest and adopts what
    it finds: nobody knows any more what was wished, as nobody wished anything.
    """
    sequence = shop.sequence
    sequence.set_automatic(data["automatic"])
    sequence.set_lockout(data["lockout"])
    sequence.set_emergency(data["emergency"])
    sequence.hand_gates = tuple(g for g in data["hand_gates"] if g in sequence.gates)
    motor = data["motor"]
    sequence.motor.duty.restore(motor["starts"], motor["stopped"], now)
    shop.alarms.recall(read_alarms(data["alarms"], now))
    # What somebody else's control needed says nothing of ours, nor the other way round.
    shop.ledger.restore(data["ledger"] | {"times_to_air": {}}, now)


def totals_of(ledger: Ledger) -> dict[str, float]:
    """Return what a ledger has added up over all machines; times in s."""
    return {
        "starts": ledger.collector.starts,
        "on_time": ledger.collector.on_time,
        "run_time": sum(of.run_time for of in ledger.machines.values()),
        "air_time": sum(of.air_time for of in ledger.machines.values()),
    }
