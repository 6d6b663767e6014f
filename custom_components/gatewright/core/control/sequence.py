"""What the shop should do next: demands, reports and time in, the desired state out.

The collector's phases, and what leads from one to another (`_step`):

    idle           opening         something needs dust collection
                   spinning_down   the impeller may turn, though nothing was wanted
    opening        collecting      a wanted gate is open, or due in time for the impeller;
                                   the start delay is over; motor and bin allow it
                   spinning_down   nothing needs dust collection any more
    collecting     shutting_off    nothing needs dust collection any more
                   spinning_down   it must stop: a person, start block, fire, no gate open
    shutting_off   collecting      something needs dust collection again
                   spinning_down   the delay is over, or it must stop
    spinning_down  opening         something needs dust collection
                   idle            the impeller has stopped

A hand at the switch (`_follow_hand`) and a collector that is found on (`_find_on`) lead
anywhere into collecting, shutting_off or spinning_down.

Each event arrives with the instant `now`, on a clock that only goes forward; `advance`
then brings the shop up to it, `orders` lists the commands that are due, `next_look` says
when to look again. Nothing here acts. Each part has its own module: `demand` (who asks,
what is forbidden), `machine` (hold, purge), `gates` (make before break), `motor` and
`motor_duty` (spin-down, minimum off time), `linked_devices`, `modes`.
"""

from typing import assert_never, override

from ..config import StartWhen, SystemConfig
from ..times import in_ticks, next_after
from .actuator_states import Deviation
from .demand import Demand
from .enums import Cause, Phase, Refusal, RefusedError, Switching
from .modes import RunEnd
from .switchings import Switchings

HALF_SPEED = 0.5
"""Share of the impeller's speed up to which no gate has to be a third open yet."""


class Sequence(Demand):
    """The behavior of one system.

    From outside come `bleed`, gates to open beside the wanted ones so that the main keeps
    its velocity, and `least_shutoff_delay`, the seconds that material needs to leave the
    ducts; nothing waits for a bleed gate.
    """

    def __init__(self, system: SystemConfig, now: float) -> None:
        """Begin at `now` with nothing known: the impeller may be turning."""
        self.phase = Phase.SPINNING_DOWN
        self.phase_until: float | None = None
        self.ending = RunEnd()
        self.bleed: frozenset[str] = frozenset()
        self.least_shutoff_delay = 0.0
        self._opening_since = now
        self._switchings = Switchings()
        super().__init__(system, now)

    # What happens ---------------------------------------------------------------

    def report_collector(
        self,
        value: bool | None,
        now: float,
        *,
        reachable: bool = True,
        own: bool = False,
        no_feedback: bool = False,
    ) -> None:
        """Take a report from the collector's switch; None is as good as no report.

        One with `no_feedback` is driven all the same, and goes by its commands' time.
        """
        if no_feedback and reachable:
            self.motor.report(None, now, reachable=True, own=own, no_feedback=True)
            return
        reachable = reachable and value is not None
        deviation = self.motor.report(value, now, reachable=reachable, own=own)
        if not reachable:
            return
        if self._switchings.start_due and self.collector_wanted:
            if value:
                self._note(on=True, cause=self._start_cause(), now=now)
            else:  # Whether it may start is decided by what is known now.
                self._enter(Phase.SPINNING_DOWN, now)
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
            self._enter(Phase.SPINNING_DOWN, now)

    def stop_by_hand(self) -> None:
        """Withdraw every request, wait for nothing; what still runs isn't served."""
        self.by_hand = self.origin.found_running = self.origin.resuming = False
        self.machine_set.forget_requests()
        self.machine_set.give_up_waiting()
        self.held_off = self.machine_set.needs.air
        self.ending.asked = True

    def move_gate(self, gate_id: str, *, opened: bool, now: float) -> None:
        """Move a gate on a person's word; raises `RefusedError` where that does harm."""
        if gate_id not in self.gates.powered():
            raise RefusedError(Refusal.NOT_POWERED)
        last = not opened and not self.gates.any_open(now, but=gate_id)
        if last and self.impeller_may_turn(now):
            raise RefusedError(Refusal.LAST_OPEN_GATE)
        self.gates.move(gate_id, opened=opened, now=now)

    # What follows from it -------------------------------------------------------

    def advance(self, now: float) -> None:
        """Bring the shop up to `now`."""
        self.pass_time(now, automatic=self.modes.automatic, allowed=self.allowed)
        cutting = filter(self.machine_set.is_in_use, self.watched)
        if self.bin.follow(self.system.collector.bin_answer, cutting):
            self.by_hand = False
        self._explain()
        self._apply_to_gates(now)
        while self._step(now):
            self._apply_to_gates(now)
        self._apply_to_switches(now)

    def next_look(self, now: float) -> float | None:
        """Return the next instant after `now` at which time alone changes something."""
        looks: list[float | None] = [self.phase_until, *self.dues_after(now)]
        if self.phase is Phase.OPENING:
            duty = self.motor.duty
            looks += (
                self._opening_since + self.system.collector.start_delay,
                duty.may_start_at(now),
                duty.start_free_at(now),
                self._early_start_at(now),
            )
        if self.origin.early:
            looks.append(self.motor.at_speed_from(HALF_SPEED))
        return next_after(now, looks)

    def drain_switchings(self) -> list[Switching]:
        """Return the starts and stops of the collector since the last call."""
        return self._switchings.drain()

    @property
    @override
    def collector_wanted(self) -> bool:
        """Whether the collector should be on."""
        return self.phase in (Phase.COLLECTING, Phase.SHUTTING_OFF)

    def impeller_may_turn(self, now: float) -> bool:
        """Whether closing the last gate could still do harm."""
        return self.collector_wanted or self.motor.may_turn(now)

    def no_gate_coming(self, now: float) -> bool:
        """Whether the collector waits for a gate and none is on its way to open."""
        if self.phase is not Phase.OPENING:
            return False
        wanted = self.wanted_gates()
        return not (self.gates.ready(wanted, now) or self.gates.coming(wanted, now))

    # How it follows -------------------------------------------------------------

    def _step(self, now: float) -> bool:
        """Take one step of the collector's sequence; return whether there was one."""
        match self.phase:
            case Phase.IDLE:
                if self.demand:
                    self.gates.release()
                    return self._enter(Phase.OPENING, now)
                if self.motor.may_turn(now):
                    return self._enter(Phase.SPINNING_DOWN, now)
            case Phase.OPENING:
                if not self.demand:
                    return self._enter(Phase.SPINNING_DOWN, now)
                if self._may_start(now):
                    self.origin.early = not self.gates.ready(self.wanted_gates(), now)
                    self._note(on=True, cause=self._start_cause(), now=now)
                    return self._enter(Phase.COLLECTING, now)
            case Phase.COLLECTING:
                if cause := self._must_stop(now):
                    return self._stop(cause, now)
                if not self.demand:
                    self.gates.release()
                    return self._enter(Phase.SHUTTING_OFF, now)
            case Phase.SHUTTING_OFF:
                if cause := self._must_stop(now):
                    return self._stop(cause, now)
                if self.demand:
                    return self._enter(Phase.COLLECTING, now)
                if self._shutoff_delay_over(now) and not self._save_a_start(now):
                    return self._stop(Cause.SHUTOFF_DELAY_OVER, now)
            case Phase.SPINNING_DOWN:
                if self.demand:
                    return self._enter(Phase.OPENING, now)
                if not self.motor.may_turn(now):
                    return self._enter(Phase.IDLE, now)
            case _:
                assert_never(self.phase)
        return False

    def _enter(self, phase: Phase, now: float) -> bool:
        self.phase, self.phase_until = phase, None
        self.ending.saving_start = False
        if phase is Phase.OPENING:
            self._opening_since = now
        elif phase is Phase.SHUTTING_OFF:
            self.origin.resuming = False
            delay = self.system.collector.shutoff_delay
            self.phase_until = now + max(delay, self.least_shutoff_delay)
        if phase in (Phase.OPENING, Phase.COLLECTING):
            self.origin.unprompted = self.ending.asked = False
        self.origin.early = self.origin.early and self.collector_wanted
        return True

    def _stop(self, cause: Cause, now: float) -> bool:
        self._note(on=False, cause=cause, now=now)
        if self.origin.early and cause is Cause.NO_GATE_OPEN:
            # Nothing is asked of these again until they have opened once; a slide that
            # only came late leaves the person's request as it is.
            self.gates.mark_unreliable(now)
            self.gates.open_another(self.work_gates(), now)
        elif cause is Cause.NO_GATE_OPEN:
            # A collector started by hand is not started again on its own.
            self.by_hand = False
        elif self.phase is Phase.COLLECTING:
            self.gates.release()
        return self._enter(Phase.SPINNING_DOWN, now)

    def _may_start(self, now: float) -> bool:
        return (
            (self.by_hand or self.machine_set.needs.surely)
            and not self.bin_refuses_start
            and self._gates_allow(now)
            and now >= self._opening_since + self.system.collector.start_delay
            and now >= self.motor.duty.may_start_at(now)
        )

    def _must_stop(self, now: float) -> Cause | None:
        if self.modes.fire_shutdown:
            return Cause.FIRE_SHUTDOWN
        if self.modes.start_block:
            return Cause.START_BLOCK
        if self.held_off:
            return Cause.STOPPED_BY_HAND
        origin = self.origin
        origin.early = origin.early and not self.gates.any_open(now)
        if self._gate_comes(now) if origin.early else self.gates.has_open_path(now):
            return None
        return Cause.NO_GATE_OPEN

    def _gates_allow(self, now: float) -> bool:
        """Whether the collector may start: a wanted gate is open, or due in time."""
        if self.gates.ready(self.wanted_gates(), now):
            return True
        early = self._early_start_at(now)
        return early is not None and early <= now

    def _early_start_at(self, now: float) -> float | None:
        """Return when the collector may start while a gate moves; None where it may not.

        A wanted gate has to be due to be a third open before the impeller passes half of
        its speed: its suction, which grows with the square of the speed, is a quarter
        then. An impeller that may be turning still has to have another way meanwhile.
        """
        if self.system.collector.start_when is not StartWhen.GATE_OPENING:
            return None
        if self.motor.may_turn(now) and not self.gates.any_open(now):
            return None
        wanted = self.wanted_gates()
        if self.gates.passable(wanted, now):
            return now
        at = self.gates.passable_at(wanted, now)
        return None if at is None else at - in_ticks(self.motor.spin_up * HALF_SPEED)

    def _gate_comes(self, now: float) -> bool:
        """Whether a gate is on its way for a collector that was started early."""
        half = self.motor.at_speed_from(HALF_SPEED)
        return self.gates.on_the_way(now, passable=half is not None and now >= half)

    def _shutoff_delay_over(self, now: float) -> bool:
        # A start that is being confirmed holds the motor on: no blip at a hand-over.
        waits = self.machine_set.needs.starting or self.origin.found_running
        if self.phase_until is None or waits or self.origin.resuming:
            return False
        ending = self.ending
        return now >= self.phase_until or (ending.saving_start and ending.asked)

    def _save_a_start(self, now: float) -> bool:
        """Prolong the delay, once, where a stop would leave the motor no start."""
        free, ending = self.motor.duty.start_free_at(now), self.ending
        if free is None or self.phase_until is None:
            return False
        if ending.saving_start or ending.asked or self.origin.unprompted:
            return False
        longest = self.system.collector.longest_shutoff_delay
        if (until := min(free, self.phase_until + longest)) <= now:
            return False
        ending.saving_start, self.phase_until = True, until
        return True

    def _apply_to_gates(self, now: float) -> None:
        """Say how every gate should stand in the present phase."""
        foreseen = self.foreseen_gates(now)
        if foreseen:
            self.gates.prepare(foreseen, now)
        if self.phase in (Phase.OPENING, Phase.COLLECTING):
            wanted = self.wanted_gates()
            if wanted and self.bleed:
                wanted |= self.bleed.intersection(self.gates.powered())
            delay = self.system.collector.shutoff_delay
            closed = not self.origin.resuming
            self.gates.apply_demand(wanted, delay, now, closed=closed, but=foreseen)
        elif self.demand:
            pass  # The next step opens what is wanted.
        elif self.phase is Phase.IDLE and not self.motor.may_turn(now):
            self.gates.settle(now, close_all=self.modes.fire_shutdown, but=foreseen)
        else:
            self.gates.clear_demand()
        if self.impeller_may_turn(now) and not self.gates.any_open(now):
            self.gates.keep_open(now)
            if self.collector_wanted or self.motor.may_be_on:
                self._ensure_open_gate(now)

    def _apply_to_switches(self, now: float) -> None:
        """Say how the collector and the linked devices should stand."""
        if self.collector_wanted:
            self.motor.actuator.set_target(True, now)
            # One that never says how it stands is ours once it was started.
            self.adopting = self.adopting and not self.motor.actuator.no_feedback
        elif not self.adopting:
            self.motor.actuator.set_target(False, now)
        modes = self.modes
        wanted: frozenset[str] = frozenset()
        if self.system.linked_devices and not modes.fire_shutdown:
            wanted = self.machine_set.linked_devices(start_block=modes.start_block)
        self.linked_devices.apply_demand(
            wanted, now, start=self.allowed, at_once=modes.fire_shutdown
        )

    def _ensure_open_gate(self, now: float, *, anew: bool = False) -> None:
        """Have a gate opened for a collector that runs, or came on `anew`, with none."""
        stuck_on = not self.collector_wanted and self.motor.actuator.failed
        self.gates.open_safety_gate(self.work_gates(), now, anew=anew, or_any=stuck_on)

    def _explain(self) -> None:
        """See whether the origin of the run, a hand or an unexpected start, still counts."""
        needs, origin = self.machine_set.needs, self.origin
        self.held_off = self.held_off and needs.air
        origin.resuming = origin.resuming and needs.unclear
        if origin.found_running and (needs.air or not needs.unclear):
            # The machine that turns out to run is what the collector is on for.
            origin.found_running = False
            self.by_hand = self.by_hand and not needs.air
        origin.unprompted = origin.unprompted and self.motor.may_be_on

    def _find_on(self, now: float, *, adopt: bool) -> None:
        """Take over a collector that is on though the shop did not want it.

        One that was on when the system was first set up is its owner's, until a
        machine turns out to run; any other is stopped again in order.
        """
        if not self.allowed:
            return
        demand = self.demand
        self.by_hand = self.by_hand or (adopt and not demand)
        self.origin.found_running = not demand
        self._ensure_open_gate(now, anew=True)
        cause = self._start_cause() if adopt else Cause.CAME_ON_BY_ITSELF
        self._note(on=True, cause=cause, now=now)
        self._enter(Phase.COLLECTING if self.demand else Phase.SHUTTING_OFF, now)
        self.origin.unprompted = not self.demand

    def _follow_hand(self, now: float) -> None:
        """Adapt to somebody who turned the collector on or off at the device."""
        switched_on = self.motor.actuator.reported
        if switched_on and not self.allowed:
            self.motor.actuator.repeat(now)
            return
        self.motor.actuator.follow_hand(now)
        if not switched_on:
            self._note(on=False, cause=Cause.STOPPED_BY_HAND, now=now)
            self.stop_by_hand()
            self.gates.release()
            self._enter(Phase.SPINNING_DOWN, now)
        else:
            self.by_hand = True
            self.held_off = self.origin.found_running = False
            self._ensure_open_gate(now, anew=True)
            self._note(on=True, cause=Cause.HAND, now=now)
            self._enter(Phase.COLLECTING, now)

    def _note(self, *, on: bool, cause: Cause, now: float) -> None:
        switching = Switching(on=on, cause=cause, machines=self.demanding, at=now)
        self._switchings.note(switching, there=self.motor.actuator.reachable)
