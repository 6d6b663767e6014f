"""What the shop should do next: demands, reports and time in, the desired state out.

The collector goes `resting -> opening -> collecting -> run_on -> coasting ->
resting`. Everything that happens is told by one of the methods, each with the
instant `now` on a clock that only goes forward; then `advance` brings the shop up
to that instant. `orders` lists the commands that are due, `next_look` says when to look
again. Nothing here acts: the caller drives the actuators and reports back.

What each part does for itself is in its own module: `machines` (hold, clearing),
`gates` (make before break), `motor` and `duty` (coast, rest), `companions`.
"""

from typing import assert_never, override

from .actuation import Deviation
from .bin_guard import BinGuard
from .floor import Floor
from .plan import System
from .switchings import Switchings
from .words import HAND, Cause, Phase, Refusal, Refused, Switching


class Sequence(Floor):
    """The behavior of one system.

    `by_hand` says that a person asked for air at the hand gates, `held_off` that one
    switched the collector off while machines run: it stays off until they rest.
    `found_on` says that the collector was found on and that it is not known yet
    whether a machine runs; `by_itself` that nobody had switched it on. `resuming`
    says that work of an earlier process goes on and that not every machine has been
    heard of yet: one that it did not write down may run, so that neither the motor is
    stopped nor a gate shut. `sparing` is a run-on that goes on because the motor has
    no start left for now.

    From outside come `relief`, gates to be opened beside the wanted ones so that the
    main keeps its velocity, and `least_run_on`, the seconds that the ducts need to
    empty; nothing waits for a relief gate.
    """

    def __init__(self, system: System, now: float) -> None:
        """Begin at `now` with nothing known: the impeller may be turning."""
        self.phase = Phase.COASTING
        self.phase_until: float | None = None
        self.automatic = True
        self.lockout = False
        self.emergency = False
        self.by_hand = False
        self.held_off = False
        self.found_on = False
        self.by_itself = False
        self.resuming = False
        self.sparing = False
        self.hand_gates: tuple[str, ...] = ()
        self.relief: frozenset[str] = frozenset()
        self.least_run_on = 0.0
        self.bin = BinGuard()
        self._opening_since = now
        self._told_to_stop = False
        self._switchings = Switchings()
        super().__init__(system, now)

    # What happens ---------------------------------------------------------------

    @override
    def replan(self, system: System, now: float) -> None:
        """Take up a changed plan without disturbing what goes on."""
        super().replan(system, now)
        self.hand_gates = tuple(gate for gate in self.hand_gates if gate in self.gates)

    def report_collector(
        self,
        value: bool | None,
        now: float,
        *,
        reachable: bool = True,
        own: bool = False,
    ) -> None:
        """Take a report from the collector's switch; None is as good as no report."""
        reachable = reachable and value is not None
        deviation = self.motor.report(value, now, reachable=reachable, own=own)
        if not reachable:
            return
        if self._switchings.start_due and self.collector_wanted:
            self._note(on=True, cause=self._start_cause(), now=now)
        if self.adopting:
            self.adopting = False
            if value and not self.collector_wanted:
                self._find_on(now, adopt=True)
        elif deviation is Deviation.HAND:
            self._follow_hand(now)
        elif deviation is Deviation.BY_ITSELF and value:
            self._find_on(now, adopt=False)
        elif deviation is not None and not value and self.collector_wanted:
            # It is started anew, rest and gates permitting, if it is still wanted.
            self._note(on=False, cause=Cause.WENT_OFF_BY_ITSELF, now=now)
            self._enter(Phase.COASTING, now)

    def request(self, machine_id: str, now: float, limit: float | None = None) -> None:
        """Ask for air at a machine; raises `Refused` where that is not allowed.

        Without a `limit` in s the machine's own applies.
        """
        self._refuse_start()
        run = self.machines[machine_id]
        if not run.is_attached:
            raise Refused(Refusal.NOT_ATTACHED)
        run.request(now, run.plan.request_limit if limit is None else limit)
        self.held_off = False
        self.roster.watch(machine_id)

    def withdraw(self, machine_id: str) -> None:
        """Take a request back."""
        self.roster.watch(machine_id).withdraw()

    def start_by_hand(self) -> None:
        """Ask for air at the hand gates; raises `Refused` under lockout."""
        self._refuse_start()
        self.by_hand = True
        self.held_off = self.found_on = False

    def stop_by_hand(self) -> None:
        """Withdraw every request, wait for nothing; what still runs gets no air."""
        self.by_hand = self.found_on = self.resuming = False
        self.roster.forget_requests()
        self.roster.give_up_waiting()
        self.held_off = self.roster.wants_air
        self._told_to_stop = True

    def move_gate(self, gate_id: str, *, opened: bool, now: float) -> None:
        """Move a gate on a person's word; raises `Refused` where that does harm."""
        if gate_id not in self.gates.powered():
            raise Refused(Refusal.NOT_POWERED)
        if (
            not opened
            and self.impeller_may_turn(now)
            and not self.gates.any_open(now, but=gate_id)
        ):
            raise Refused(Refusal.LAST_OPEN_GATE)
        self.gates.move(gate_id, opened=opened, now=now)

    def set_automatic(self, on: bool) -> None:
        """Serve running machines, or leave it to people to ask for air."""
        self.automatic = on
        self.roster.watch_all()

    def set_lockout(self, on: bool) -> None:
        """Forbid or allow starts; what was asked for before is forgotten."""
        self.lockout = on
        if on:
            self._forget_requests()

    def set_emergency(self, on: bool) -> None:
        """Stop everything until a person resets it, and then shut every gate.

        A gate that a person opens afterwards stays open.
        """
        self.emergency = on
        if on:
            self._forget_requests()
            self.gates.release()

    def set_bin_full(self, full: bool) -> None:
        """Take what the bin's sensor says."""
        self.bin.full = full

    # What follows from it -------------------------------------------------------

    def advance(self, now: float) -> None:
        """Bring the shop up to `now`."""
        self.pass_time(now, automatic=self.automatic, allowed=self.allowed)
        if self.bin.follow(self.system.collector.bin_answer, self.roster.in_use):
            self.by_hand = False
        self._explain()
        self._aim_gates(now)
        while self._step(now):
            self._aim_gates(now)
        self._aim_switches(now)

    def next_look(self, now: float) -> float | None:
        """Return the next instant after `now` at which time alone changes something."""
        looks = list(self.dues_after(now))
        if self.phase is Phase.OPENING:
            looks.append(self._opening_since + self.system.collector.start_delay)
            looks.append(self.motor.duty.may_start_at(now))
            looks.append(self.motor.duty.start_free_at(now) or now)
        if self.phase_until is not None:
            looks.append(self.phase_until)
        return min((look for look in looks if look > now), default=None)

    def drain_switchings(self) -> list[Switching]:
        """Return the starts and stops of the collector since the last call."""
        return self._switchings.drain()

    @property
    def allowed(self) -> bool:
        """Whether the collector may run at all."""
        return not (self.lockout or self.emergency)

    @property
    def demand(self) -> bool:
        """Whether anything is to get air now."""
        if self.held_off or not self.allowed:
            return False
        return self.by_hand or (self.roster.wants_air and not self.bin.barred)

    @property
    def demanding(self) -> tuple[str, ...]:
        """The machines that want air, in the plan's order, and `HAND` for a person."""
        return (*self.roster.wanting, *((HAND,) if self.by_hand else ()))

    @property
    def collector_wanted(self) -> bool:
        """Whether the collector should be on."""
        return self.phase in (Phase.COLLECTING, Phase.RUN_ON)

    def impeller_may_turn(self, now: float) -> bool:
        """Whether shutting the last gate could still do harm."""
        return self.collector_wanted or self.motor.may_turn(now)

    def starved(self, now: float) -> bool:
        """Whether the collector waits for a gate and none is on its way to open."""
        wanted = self.wanted_gates()
        return self.phase is Phase.OPENING and not (
            self.gates.ready(wanted, now) or self.gates.coming(wanted, now)
        )

    def wanted_gates(self) -> frozenset[str]:
        """Return the gates that have to be open for what is wanted now."""
        wanted = self.roster.wanted_gates
        return wanted.union(self.work_gates()) if self.by_hand else wanted

    def work_gates(self) -> tuple[str, ...]:
        """Return the gates opened for a collector that a person switches on."""
        chosen = self.hand_gates or self.system.collector.hand_gates
        return chosen or tuple(self.gates.powered())[:1]

    # How it follows -------------------------------------------------------------

    def _step(self, now: float) -> bool:
        """Take one step of the collector's sequence; return whether there was one."""
        match self.phase:
            case Phase.RESTING:
                if self.demand:
                    self.gates.release()
                    return self._enter(Phase.OPENING, now)
                if self.motor.may_turn(now):
                    return self._enter(Phase.COASTING, now)
            case Phase.OPENING:
                if not self.demand:
                    return self._enter(Phase.COASTING, now)
                if self._may_start(now):
                    self._note(on=True, cause=self._start_cause(), now=now)
                    return self._enter(Phase.COLLECTING, now)
            case Phase.COLLECTING:
                if cause := self._must_stop(now):
                    return self._stop(cause, now)
                if not self.demand:
                    self.gates.release()
                    return self._enter(Phase.RUN_ON, now)
            case Phase.RUN_ON:
                if cause := self._must_stop(now):
                    return self._stop(cause, now)
                if self.demand:
                    return self._enter(Phase.COLLECTING, now)
                if self._run_on_over(now) and not self._spare_a_start(now):
                    return self._stop(Cause.RUN_ON_OVER, now)
            case Phase.COASTING:
                if self.demand:
                    return self._enter(Phase.OPENING, now)
                if not self.motor.may_turn(now):
                    return self._enter(Phase.RESTING, now)
            case _:
                assert_never(self.phase)
        return False

    def _enter(self, phase: Phase, now: float) -> bool:
        self.phase = phase
        self.phase_until = None
        self.sparing = False
        if phase is Phase.OPENING:
            self._opening_since = now
        elif phase is Phase.RUN_ON:
            self.resuming = False
            self.phase_until = now + max(
                self.system.collector.run_on, self.least_run_on
            )
        if phase in (Phase.OPENING, Phase.COLLECTING):
            self.by_itself = self._told_to_stop = False
        return True

    def _stop(self, cause: Cause, now: float) -> bool:
        self._note(on=False, cause=cause, now=now)
        if cause is Cause.NO_GATE_OPEN:
            # A collector started by hand is not started again on its own.
            self.by_hand = False
        elif self.phase is Phase.COLLECTING:
            self.gates.release()
        return self._enter(Phase.COASTING, now)

    def _may_start(self, now: float) -> bool:
        return (
            (self.by_hand or self.roster.wants_air_surely)
            and not self.bin.refuses_start(self.system.collector.bin_answer)
            and self.gates.ready(self.wanted_gates(), now)
            and now >= self._opening_since + self.system.collector.start_delay
            and now >= self.motor.duty.may_start_at(now)
        )

    def _must_stop(self, now: float) -> Cause | None:
        if self.emergency:
            return Cause.EMERGENCY
        if self.lockout:
            return Cause.LOCKOUT
        if self.held_off:
            return Cause.STOPPED_BY_HAND
        return None if self.gates.has_way(now) else Cause.NO_GATE_OPEN

    def _run_on_over(self, now: float) -> bool:
        # A start that is being confirmed holds the motor on: no blip at a hand-over.
        if self.phase_until is None or self.roster.starting:
            return False
        if self.found_on or self.resuming:
            return False
        return now >= self.phase_until or (self.sparing and self._told_to_stop)

    def _spare_a_start(self, now: float) -> bool:
        """Prolong the run-on, once, where a stop would leave the motor no start."""
        if self.sparing or self._told_to_stop or self.by_itself:
            return False
        free = self.motor.duty.start_free_at(now)
        if free is None or self.phase_until is None:
            return False
        until = min(free, self.phase_until + self.system.collector.longest_run_on)
        if until <= now:
            return False
        self.sparing, self.phase_until = True, until
        return True

    def _aim_gates(self, now: float) -> None:
        """Say how every gate should stand in the present phase."""
        if self.phase in (Phase.OPENING, Phase.COLLECTING):
            wanted = self.wanted_gates()
            if wanted and self.relief:
                wanted |= self.relief.intersection(self.gates.powered())
            linger = self.system.collector.run_on
            self.gates.aim(wanted, linger, now, shut=not self.resuming)
        elif self.phase is Phase.RESTING and not self.motor.may_turn(now):
            self.gates.settle(now, shut_all=self.emergency)
        elif not self.demand:
            self.gates.want_nothing()
        if self.impeller_may_turn(now) and not self.gates.any_open(now):
            self.gates.keep_open(now)
        if self.collector_wanted or self.motor.may_be_on:
            self._give_a_way(now)

    def _aim_switches(self, now: float) -> None:
        """Say how the collector and the companions should stand."""
        if self.collector_wanted:
            self.motor.actuator.wish(True, now)
        elif not self.adopting:
            self.motor.actuator.wish(False, now)
        wanted: frozenset[str] = frozenset()
        if not self.emergency:
            wanted = self.roster.companions(lockout=self.lockout)
        self.companions.aim(wanted, now, start=self.allowed, at_once=self.emergency)

    def _give_a_way(self, now: float, *, anew: bool = False) -> None:
        """Have a gate opened for a collector that runs, or came on `anew`, with none."""
        stuck_on = not self.collector_wanted and self.motor.actuator.failed
        self.gates.give_way(self.work_gates(), now, anew=anew, or_any=stuck_on)

    def _explain(self) -> None:
        """See whether what a person switched, or what came by itself, still holds."""
        wants_air = self.roster.wants_air
        if not wants_air:
            self.held_off = False
        self.resuming = self.resuming and self.roster.unclear
        if self.found_on and (wants_air or not self.roster.unclear):
            # The machine that turns out to run is what the collector is on for.
            self.found_on = False
            self.by_hand = self.by_hand and not wants_air
        if not self.motor.may_be_on:
            self.by_itself = False

    def _find_on(self, now: float, *, adopt: bool) -> None:
        """Take over a collector that is on though the shop did not want it.

        One that was on when the system was first set up is its owner's, until a
        machine turns out to run; any other is stopped again in order.
        """
        if not self.allowed:
            return
        demand = self.demand
        self.by_hand = self.by_hand or (adopt and not demand)
        self.found_on = not demand
        self._give_a_way(now, anew=True)
        cause = self._start_cause() if adopt else Cause.CAME_ON_BY_ITSELF
        self._note(on=True, cause=cause, now=now)
        self._enter(Phase.COLLECTING if self.demand else Phase.RUN_ON, now)
        self.by_itself = not self.demand

    def _follow_hand(self, now: float) -> None:
        """Adapt to somebody who switched the collector at the device."""
        switched_on = self.motor.actuator.reported
        if switched_on and not self.allowed:
            self.motor.actuator.insist(now)
            return
        self.motor.actuator.follow_hand(now)
        if not switched_on:
            self._note(on=False, cause=Cause.STOPPED_BY_HAND, now=now)
            self.stop_by_hand()
            self.gates.release()
            self._enter(Phase.COASTING, now)
        else:
            self.by_hand = True
            self.held_off = self.found_on = False
            self._give_a_way(now, anew=True)
            self._note(on=True, cause=Cause.HAND, now=now)
            self._enter(Phase.COLLECTING, now)

    def _refuse_start(self) -> None:
        if self.emergency:
            raise Refused(Refusal.EMERGENCY)
        if self.lockout:
            raise Refused(Refusal.LOCKOUT)
        full = self.bin.refuses_start(self.system.collector.bin_answer)
        if full and (self.bin.barred or not self.collector_wanted):
            raise Refused(Refusal.BIN_FULL)

    def _forget_requests(self) -> None:
        self.by_hand = self.found_on = False
        self.roster.forget_requests()

    def _start_cause(self) -> Cause:
        wanting = [self.machines[machine_id] for machine_id in self.roster.wanting]
        if any(run.senses_running for run in wanting):
            return Cause.MACHINE
        if any(run.requested for run in wanting):
            return Cause.REQUEST
        return Cause.CLEARING if wanting else Cause.HAND

    def _note(self, *, on: bool, cause: Cause, now: float) -> None:
        switching = Switching(on=on, cause=cause, machines=self.demanding, at=now)
        self._switchings.note(switching, there=self.motor.actuator.reachable)
