"""What the shop should do next: demands, reports and time in, the desired state out.

The collector goes `resting -> opening -> collecting -> run_on -> coasting ->
resting`. Everything that happens is told by one of the methods, each with the
instant `now` on a clock that only goes forward; then `advance` brings the shop up
to that instant. `orders` lists the commands that are due, `wake` says when to look
again. Nothing here acts: the caller drives the actuators and reports back.
"""

from collections.abc import Iterator

from .actuation import Deviation, Order
from .companions import CompanionBoard
from .gates import GateBoard
from .machines import MachinePhase, MachineRun
from .motor import Motor
from .plan import COLLECTOR, System
from .words import HAND, Cause, Phase, Refusal, Refused, Switching


class Sequence:
    """The behavior of one system."""

    def __init__(self, system: System, now: float) -> None:
        """Begin at `now` with nothing known: the impeller may be turning."""
        self.motor = Motor(system.collector)
        self.gates = GateBoard(system.collector.confirm)
        self.companions = CompanionBoard()
        self.machines: dict[str, MachineRun] = {}
        self.phase = Phase.COASTING
        self.phase_until: float | None = None
        self.automatic = True
        self.lockout = False
        self.emergency = False
        self.by_hand = False
        self.held_off = False
        self.hand_gates: tuple[str, ...] = ()
        self.wake: float | None = now
        self.adopting = True
        self.watched: set[str] = set()
        self._opening_since = now
        self._switchings: list[Switching] = []
        self.replan(system, now)

    # What happens ---------------------------------------------------------------

    def replan(self, system: System, now: float) -> None:
        """Take up a changed plan without disturbing what goes on."""
        self.system = system
        self.motor.replan(system.collector)
        self.gates.plan(system.gates)
        self.companions.plan(system.companions)
        before = self.machines
        self.machines = {}
        for plan in system.machines:
            run = before.get(plan.machine_id)
            if run is None or (run.sensor is None) is not (plan.levels is None):
                run = MachineRun(plan, now)
            run.replan(plan)
            self.machines[plan.machine_id] = run
        self.hand_gates = tuple(gate for gate in self.hand_gates if gate in self.gates)
        self.watched = set(self.machines)

    def renew_collector(self) -> None:
        """Forget what is known of a collector whose switch was exchanged for another."""
        duty = self.motor.duty
        self.motor = Motor(self.system.collector)
        self.motor.duty = duty
        self.adopting = True

    def read(self, machine_id: str, value: float | None, now: float) -> bool:
        """Take a machine's reading; return whether `advance` has to be called.

        A signal reads 1.0 or 0.0; None is "no usable reading".
        """
        sensor = self.machines[machine_id].sensor
        if sensor is None or not sensor.read(value, now):
            return False
        self.watched.add(machine_id)
        return True

    def attach(self, machine_id: str, attached: bool | None) -> None:
        """Take the attached signal of a movable machine; None is "not known"."""
        run = self.machines[machine_id]
        if attached is None:
            return
        run.attached = attached
        if not run.is_attached:
            run.withdraw()
        self.watched.add(machine_id)

    def report_collector(
        self,
        value: bool | None,
        now: float,
        *,
        reachable: bool = True,
        own: bool = False,
    ) -> None:
        """Take a report from the collector's switch."""
        deviation = self.motor.report(value, now, reachable=reachable, own=own)
        if self.adopting and reachable and value is not None:
            self.adopting = False
            if value and not self.collector_wanted:
                self._adopt_running(now)
        elif deviation is Deviation.HAND:
            self._follow_hand(now)
        elif deviation is Deviation.BY_ITSELF and not value and self._lost_run():
            self._note(on=False, cause=Cause.WENT_OFF_BY_ITSELF, now=now)
            self._enter(Phase.COASTING, now)
        elif deviation is Deviation.BY_ITSELF and value:
            self._note(on=True, cause=Cause.CAME_ON_BY_ITSELF, now=now)

    def read_collector_power(self, watts: float | None, now: float) -> bool:
        """Take a reading of the collector's power in W; return as `read` does."""
        return self.motor.read_power(watts, now)

    def report_gate(
        self,
        gate_id: str,
        value: bool | None,
        now: float,
        *,
        reachable: bool = True,
        own: bool = False,
    ) -> None:
        """Take a report from a gate: True open, False shut, None between the two."""
        self.gates.report(gate_id, value, now, reachable=reachable, own=own)

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
        self.watched.add(machine_id)

    def withdraw(self, machine_id: str) -> None:
        """Take a request back."""
        self.machines[machine_id].withdraw()
        self.watched.add(machine_id)

    def start_by_hand(self) -> None:
        """Ask for air at the hand gates; raises `Refused` under lockout."""
        self._refuse_start()
        self.by_hand = True
        self.held_off = False

    def stop_by_hand(self) -> None:
        """Withdraw every request; a machine that still runs gets no air either."""
        self._forget_requests()
        self.held_off = any(
            run.wants_air and run.senses_running for run in self.machines.values()
        )

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
        self.watched = set(self.machines)

    def set_lockout(self, on: bool) -> None:
        """Forbid or allow starts; what was asked for before is forgotten."""
        self.lockout = on
        if on:
            self._forget_requests()

    def set_emergency(self, on: bool) -> None:
        """Stop everything until a person resets it."""
        self.emergency = on
        if on:
            self._forget_requests()

    def dispatched(self, part: str) -> None:
        """Note that a command is on its way."""
        if part == COLLECTOR:
            self.motor.actuator.dispatched()
        else:
            self.gates.dispatched(part)
            self.companions.dispatched(part)

    # What follows from it -------------------------------------------------------

    def advance(self, now: float) -> None:
        """Bring the shop up to `now`."""
        self.motor.actuator.advance(now)
        self.gates.advance(now)
        self.companions.advance(now)
        for machine_id in list(self.watched):
            self._advance_machine(machine_id, now)
        if self.held_off and not self._wanting():
            self.held_off = False
        while self._step(now):
            pass
        self._aim(now)
        self.wake = self._next_look(now)

    def orders(self) -> Iterator[tuple[str, Order]]:
        """Yield the commands that are due, by the id of what they concern."""
        if order := self.motor.actuator.order:
            yield COLLECTOR, order
        yield from self.gates.orders()
        yield from self.companions.orders()

    def drain_switchings(self) -> list[Switching]:
        """Return the starts and stops of the collector since the last call."""
        switchings, self._switchings = self._switchings, []
        return switchings

    @property
    def allowed(self) -> bool:
        """Whether the collector may run at all."""
        return not (self.lockout or self.emergency)

    @property
    def demand(self) -> bool:
        """Whether anything is to get air now."""
        if self.held_off or not self.allowed:
            return False
        return self.by_hand or self._wanting()

    @property
    def demanding(self) -> tuple[str, ...]:
        """The machines that want air, in the plan's order, and `HAND` for a person."""
        machines = (m for m, run in self.machines.items() if run.wants_air)
        return (*machines, *((HAND,) if self.by_hand else ()))

    @property
    def collector_wanted(self) -> bool:
        """Whether the collector should be on."""
        return self.phase in (Phase.COLLECTING, Phase.RUN_ON)

    def has_air(self, machine_id: str, now: float) -> bool:
        """Whether a machine really has air: collector turning, all its gates open."""
        return self.motor.turning and all(
            self.gates.is_open(gate, now)
            for gate in self.machines[machine_id].plan.gates
        )

    def impeller_may_turn(self, now: float) -> bool:
        """Whether shutting the last gate could still do harm."""
        return self.collector_wanted or self.motor.may_turn(now)

    def wanted_gates(self) -> frozenset[str]:
        """Return the gates that have to be open for what is wanted now."""
        wanted = {
            gate
            for machine_id in self.watched
            for gate in self.machines[machine_id].wanted_gates
        }
        if self.by_hand:
            wanted.update(self.work_gates())
        return frozenset(wanted)

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
                    return self._enter(Phase.RUN_ON, now)
            case Phase.RUN_ON:
                if cause := self._must_stop(now):
                    return self._stop(cause, now)
                if self.demand:
                    return self._enter(Phase.COLLECTING, now)
                if self._run_on_over(now):
                    return self._stop(Cause.RUN_ON_OVER, now)
            case Phase.COASTING:
                if self.demand:
                    return self._enter(Phase.OPENING, now)
                if not self.motor.may_turn(now):
                    self.gates.release()
                    return self._enter(Phase.RESTING, now)
        return False

    def _enter(self, phase: Phase, now: float) -> bool:
        self.phase = phase
        self.phase_until = None
        if phase is Phase.OPENING:
            self._opening_since = now
        elif phase is Phase.RUN_ON:
            self.phase_until = now + self.system.collector.run_on
        return True

    def _stop(self, cause: Cause, now: float) -> bool:
        self._note(on=False, cause=cause, now=now)
        if cause is Cause.NO_GATE_OPEN:
            # A collector started by hand is not started again on its own.
            self.by_hand = False
        return self._enter(Phase.COASTING, now)

    def _may_start(self, now: float) -> bool:
        return (
            self._proven()
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
        return (
            self.phase_until is not None
            and now >= self.phase_until
            and not any(self.machines[m].starting for m in self.watched)
        )

    def _aim(self, now: float) -> None:
        """Say how everything should stand in the present phase."""
        if self.phase in (Phase.OPENING, Phase.COLLECTING):
            self.gates.aim(self.wanted_gates(), self.system.collector.run_on, now)
        elif self.phase is Phase.RESTING:
            self.gates.settle(now, shut_all=self.emergency)
        powered = self.motor.actuator.reported is True or self.collector_wanted
        if powered and not self.gates.has_way(now):
            self.gates.open_way(self.work_gates(), now)
        if self.collector_wanted:
            self.motor.actuator.wish(True, now)
        elif not self.adopting:
            self.motor.actuator.wish(False, now)
        running = (self.machines[m] for m in self.watched if self.allowed)
        self.companions.aim(
            frozenset(
                companion
                for run in running
                if run.runs_companions
                for companion in run.plan.companions
            ),
            now,
        )

    def _advance_machine(self, machine_id: str, now: float) -> None:
        if (run := self.machines.get(machine_id)) is None:
            self.watched.discard(machine_id)
            return
        air = (
            run.phase is MachinePhase.CLEARING
            and self.motor.actuator.reported is True
            and all(self.gates.is_open(gate, now) for gate in run.wanted_gates)
        )
        served = self.automatic and self.allowed
        run.advance(now, served=served, air=air, patience=self._patience())
        if run.quiet:
            self.watched.discard(machine_id)

    def _patience(self) -> float:
        """How long a clearing step may wait for its air."""
        collector = self.system.collector
        slowest = max((gate.travel for gate in self.system.gates), default=0.0)
        return 2 * slowest + collector.start_delay + collector.rest + collector.confirm

    def _adopt_running(self, now: float) -> None:
        """Take over a collector that was found on when the system was first set up."""
        if not self.allowed:
            return
        if not self.demand:
            self.by_hand = True
            self.gates.open_way(self.work_gates(), now)
        self._note(on=True, cause=self._start_cause(), now=now)
        self._enter(Phase.COLLECTING, now)

    def _follow_hand(self, now: float) -> None:
        """Adapt to somebody who switched the collector at the device."""
        if not self.motor.actuator.reported:
            self.by_hand = False
            self.held_off = self._wanting()
            self._note(on=False, cause=Cause.STOPPED_BY_HAND, now=now)
            self._enter(Phase.COASTING, now)
        elif not self.allowed:
            self.motor.actuator.insist(now)
        else:
            self.by_hand = True
            self.held_off = False
            if not self.gates.has_way(now):
                self.gates.open_way(self.work_gates(), now)
            self._note(on=True, cause=Cause.HAND, now=now)
            self._enter(Phase.COLLECTING, now)

    def _lost_run(self) -> bool:
        """Whether a collector that went off by itself is not worth starting again."""
        return self.collector_wanted and not (self.demand and self._proven())

    def _proven(self) -> bool:
        """Whether the demand rests on more than readings that are missing."""
        return self.by_hand or any(
            run.wants_air
            and (run.requested or run.sensor is None or not run.sensor.missing)
            for run in (self.machines[m] for m in self.watched)
        )

    def _wanting(self) -> bool:
        return any(self.machines[m].wants_air for m in self.watched)

    def _refuse_start(self) -> None:
        if self.emergency:
            raise Refused(Refusal.EMERGENCY)
        if self.lockout:
            raise Refused(Refusal.LOCKOUT)

    def _forget_requests(self) -> None:
        self.by_hand = False
        for run in self.machines.values():
            run.withdraw()
        self.watched = set(self.machines)

    def _start_cause(self) -> Cause:
        wanting = [run for run in self.machines.values() if run.wants_air]
        if any(run.senses_running for run in wanting):
            return Cause.MACHINE
        if any(run.requested for run in wanting):
            return Cause.REQUEST
        return Cause.CLEARING if wanting else Cause.HAND

    def _note(self, *, on: bool, cause: Cause, now: float) -> None:
        self._switchings.append(
            Switching(on=on, cause=cause, machines=self.demanding, at=now)
        )

    def _next_look(self, now: float) -> float | None:
        looks = [
            due
            for machine_id in self.watched
            if (due := self.machines[machine_id].due_after(now)) is not None
        ]
        looks.extend(self.gates.due_after(now))
        looks.extend(self.companions.due_after(now))
        if (due := self.motor.actuator.due) is not None:
            looks.append(due)
        if self.phase is Phase.OPENING:
            looks.append(self._opening_since + self.system.collector.start_delay)
            looks.append(self.motor.duty.may_start_at(now))
        if self.phase_until is not None:
            looks.append(self.phase_until)
        if (ends := self.motor.coast_ends) is not None:
            looks.append(ends)
        return min((look for look in looks if look > now), default=None)
