"""Who asks for dust collection, and whether any of it may be given."""

from abc import ABC, abstractmethod
from itertools import islice
from typing import Final, override

from ..config import SystemConfig
from .bin_interlock import BinInterlock
from .enums import HAND, Cause, Refusal, RefusedError
from .modes import Modes, RunOrigin
from .plant import Plant

_NONE: Final[frozenset[str]] = frozenset()


class Demand(Plant, ABC):
    """The demand of one system: machines that run, requests, and what is forbidden.

    `by_hand` says that a person asked for dust collection at the hand gates, `held_off`
    that one switched the collector off while machines run: it stays off until they rest.
    """

    def __init__(self, system: SystemConfig, now: float) -> None:
        """Begin at `now` with nobody asking for anything."""
        self.modes = Modes()
        self.origin = RunOrigin()
        self.by_hand = self.held_off = False
        self.hand_gates: tuple[str, ...] = ()
        self.bin = BinInterlock()
        super().__init__(system, now)

    @property
    @abstractmethod
    def collector_wanted(self) -> bool:
        """Whether the collector should be on."""

    @override
    def replan(self, system: SystemConfig, now: float) -> None:
        """Take up a changed plan without disturbing what goes on."""
        super().replan(system, now)
        self.hand_gates = tuple(gate for gate in self.hand_gates if gate in self.gates)

    def request(self, machine_id: str, now: float, limit: float | None = None) -> None:
        """Ask for dust collection at a machine; raises `RefusedError` where that is not allowed.

        Without a `limit` in s the machine's own applies.
        """
        self._refuse_start()
        run = self.machines[machine_id]
        if not run.trust_hose():
            raise RefusedError(Refusal.NOT_CONNECTED)
        run.request(now, run.plan.request_limit if limit is None else limit)
        self.held_off = False
        self.machine_set.watch(machine_id)

    def withdraw(self, machine_id: str) -> None:
        """Take a request back."""
        self.machine_set.watch(machine_id).withdraw()

    def start_by_hand(self) -> None:
        """Turn the collector on by hand; raises `RefusedError` under start block."""
        self._refuse_start()
        self.by_hand = True
        self.held_off = self.origin.found_running = False

    def set_automatic(self, on: bool) -> None:
        """Serve running machines, or leave it to people to ask."""
        self.modes.automatic = on
        self.machine_set.watch_all()

    def set_start_block(self, on: bool) -> None:
        """Forbid or allow starts; what was asked for before is forgotten."""
        self.modes.start_block = on
        if on:
            self._forget_requests()

    def set_fire_shutdown(self, on: bool) -> None:
        """Stop everything until a person resets it, and then close every gate.

        A gate that a person opens afterwards stays open.
        """
        self.modes.fire_shutdown = on
        if on:
            self._forget_requests()
            self.gates.release()

    def set_bin_full(self, full: bool) -> None:
        """Take what the bin's sensor says."""
        self.bin.full = full

    @property
    def automatic(self) -> bool:
        """Whether running machines are served."""
        return self.modes.automatic

    @property
    def start_block(self) -> bool:
        """Whether starts are forbidden."""
        return self.modes.start_block

    @property
    def fire_shutdown(self) -> bool:
        """Whether everything is stopped until a person resets it."""
        return self.modes.fire_shutdown

    @property
    def allowed(self) -> bool:
        """Whether the collector may run at all."""
        return not (self.modes.start_block or self.modes.fire_shutdown)

    @property
    def bin_refuses_start(self) -> bool:
        """Whether the bin is full and nothing is to start before it is emptied."""
        return self.bin.refuses_start(self.system.collector.bin_answer)

    @property
    def demand(self) -> bool:
        """Whether dust collection is needed now, and allowed."""
        modes = self.modes
        if self.held_off or modes.start_block or modes.fire_shutdown:
            return False
        return self.by_hand or (self.machine_set.needs.air and not self.bin.barred)

    @property
    def demanding(self) -> tuple[str, ...]:
        """The machines that need dust collection, in plan order, and `HAND` for a person."""
        wanting = self.machine_set.needs.wanting
        return (*wanting, HAND) if self.by_hand else wanting

    def wanted_gates(self) -> frozenset[str]:
        """Return the gates that have to be open for what is wanted now."""
        wanted = self.machine_set.needs.gates
        return wanted.union(self.work_gates()) if self.by_hand else wanted

    def foreseen_gates(self, now: float) -> frozenset[str]:
        """Return the gates that stand open for what may be wanted next."""
        if not self.machine_set.foresees(now):
            return _NONE
        checking = self.gates.checked is not None or self.suspended or self.trying
        if not self.allowed or self.held_off or self.bin.barred or checking:
            return _NONE
        idle = self.automatic and not self.demand and not self.machine_set.in_use
        return self.machine_set.foreseen_gates(now, early_signal=idle)

    def work_gates(self) -> tuple[str, ...]:
        """Return the gates opened for a collector that a person switches on."""
        chosen = self.hand_gates or self.system.collector.hand_gates
        return chosen or tuple(islice(self.gates.powered(), 1))

    def _refuse_start(self) -> None:
        if self.fire_shutdown:
            raise RefusedError(Refusal.FIRE_SHUTDOWN)
        if self.start_block:
            raise RefusedError(Refusal.START_BLOCK)
        if self.bin_refuses_start and (self.bin.barred or not self.collector_wanted):
            raise RefusedError(Refusal.BIN_FULL)

    def _forget_requests(self) -> None:
        self.by_hand = self.origin.found_running = False
        self.machine_set.forget_requests()

    def _start_cause(self) -> Cause:
        cause = Cause.HAND
        for machine_id in self.machine_set.needs.wanting:
            run = self.machines[machine_id]
            if run.senses_running:
                return Cause.MACHINE
            if run.requested:
                cause = Cause.REQUEST
            elif cause is Cause.HAND:
                cause = Cause.PURGING
        return cause
