"""What must always hold, explored by driving a shop at random.

`CalmShop` is a shop in which everything works: readings, requests, settings and
time. There the claims are physical. `RoughShop` adds every fault, hand and restart;
what is claimed there is what the shop can know.
"""

from collections.abc import Callable
from functools import wraps
from random import Random
from typing import Any, override

from hypothesis import settings, strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    rule,
    run_state_machine_as_test,
)

from custom_components.gatewright.core.config import (
    COLLECTOR,
    ConfigError,
    GateKind,
    IdlePosition,
    StartWhen,
    SystemConfig,
    WhenBinFull,
)
from custom_components.gatewright.core.control.enums import Phase, RefusedError
from custom_components.gatewright.core.control.machine import MachinePhase

from .bench import Device
from .world import (
    IDLE,
    READINGS,
    RUNS,
    World,
    collectors,
    digest,
    gates,
    machines,
    pick,
    replay,
    systems,
    without_times,
)

ANY = st.integers(0, 11)
"""Which of several things: taken modulo their number."""

CLOCK_SHIFT = 2.0**20


# The invariants -----------------------------------------------------------------


def check_1_collector_has_a_way(world: World) -> None:
    """Want the collector on only with a gate open or opening within its time.

    Open is what was last reported open, for a gate that was not told to close since.
    Opening is one that was told to open, for at most one stroke after each of the two
    tries; one that somebody moves, or that was just added and never heard of, for one
    stroke. A third open is open enough.
    """
    plans = world.sequence.system.gates
    if world.sequence.collector_wanted and plans:
        assert any(world.known_open(gate) or world.opening(gate) for gate in plans)


def check_1_early_start(world: World) -> None:
    """Start while a gate moves only for one that counts, and not for long.

    Only where the owner chose that, never against a gate that failed before it has
    opened again, and until a gate is a third open only while one is in its time.
    """
    if not world.early:
        return
    sequence = world.sequence
    assert sequence.collector_wanted
    assert any(world.on_the_way(gate) for gate in sequence.system.gates)


def check_1_start(world: World) -> None:
    """Start the collector with a gate open, or on its way where that is chosen.

    That a gate was open before a restart is not enough.
    """
    sequence = world.sequence
    plans = {gate.gate_id: gate for gate in sequence.system.gates}
    if not world.started or not plans:
        return
    if any(
        world.known_open(plan)
        and (plan.kind is GateKind.FIXED or world.heard[plan.gate_id].ever)
        for plan in plans.values()
    ):
        return
    world.early = True
    assert sequence.system.collector.start_when is StartWhen.GATE_OPENING
    assert any(world.on_the_way(plans[gate]) for gate in sequence.wanted_gates())


def check_2_last_gate_stays(world: World, part: str, target: bool) -> None:
    """No gate is told to close while the impeller may turn if none would stay open.

    The impeller may turn unless the collector's switch was seen off, and its power not
    on, for the whole spin-down.
    """
    if part == COLLECTOR or target or part not in world.sequence.gates:
        return
    if world.may_turn():
        assert any(
            world.known_open(gate)
            for gate in world.sequence.system.gates
            if gate.gate_id != part
        )


def check_2_impeller_breathes(world: World) -> None:
    """While the impeller pulls a gate is open by a third, really.

    Pulls: has more than half of its speed, and so a quarter of its suction. Claimed where
    nothing is broken and nobody moves a gate at its slide.
    """
    if world.impeller_speed > 0.5 + 1e-9:
        assert world.really_passable()


def check_3_running_machines_are_served(world: World) -> None:
    """Serve every running connected machine: its gates and the collector are wanted.

    In automatic, without start block or fire shutdown, and unless a person switched the
    collector off during this demand. A gate that a person closed in the meantime is
    left. The collector waits only for a gate to be open, the start delay, the motor's
    rest and allowance, an emptied bin, or a reading: none starts it that is missing or
    says that the machine has stopped. A full bin may keep it off, as the owner chose.
    """
    sequence = world.sequence
    if not sequence.automatic or not sequence.allowed:
        return
    if sequence.held_off:
        assert world.person_stopped
        return
    if world.bin_full and sequence.system.collector.bin_answer is WhenBinFull.FINISH:
        return
    served = [
        run
        for run in sequence.machines.values()
        if run.senses_running and run.plan.collect_while_running
    ]
    if not served:
        return
    assert sequence.phase in (Phase.OPENING, Phase.COLLECTING)
    for run in served:
        assert run.phase is MachinePhase.RUNNING
        for gate_id in run.plan.gates:
            assert gate_id in sequence.wanted_gates()
            actuator = sequence.gates.actuator(gate_id)
            if actuator is not None and gate_id in sequence.gates.powered():
                assert actuator.target is True or sequence.gates.is_held_by_hand(
                    gate_id
                )
    if sequence.phase is not Phase.OPENING:
        return
    plans = {gate.gate_id: gate for gate in sequence.system.gates}
    wanted = [plans[gate_id] for gate_id in sequence.wanted_gates()]
    reasons = (
        bool(plans)
        and not any(
            world.known_open(gate, fully=True)
            and (gate.kind is GateKind.FIXED or world.heard[gate.gate_id].ever)
            for gate in wanted
        ),
        world.now < world.phase_since[1] + sequence.system.collector.start_delay,
        world.motor_must_wait(),
        world.bin_full and sequence.system.collector.bin_answer is not WhenBinFull.WARN,
        all(
            run.sensor is not None
            and (run.sensor.missing or run.sensor.stopping)
            and not run.requested
            for run in sequence.machines.values()
            if run.wants_collection
        ),
    )
    assert any(reasons)


def check_4_phases_end(world: World) -> None:
    """With no demand, everything is at rest within hold, purge, shut-off delay and spin-down.

    Each phase ends in its time: a hold and a shut-off delay may wait for a start that is being
    confirmed, a shut-off delay for the readings of a collector that came on by itself or that
    runs on from before a restart, and, by a bounded time, for a motor that would have
    no start left. Such readings are waited for no longer than their dropout time.
    """
    sequence, now = world.sequence, world.now
    if sequence.phase is Phase.SHUTTING_OFF and not (
        sequence.machine_set.needs.starting
        or sequence.origin.found_running
        or sequence.origin.resuming
    ):
        assert sequence.phase_until is not None
        longest = world.longest_shutoff_delay + world.longest_sparing
        assert now < sequence.phase_until <= world.phase_since[1] + longest
    if sequence.phase is Phase.SPINNING_DOWN:
        assert world.may_turn()
    for run in sequence.machines.values():
        if run.phase is MachinePhase.HOLDING and not run.starting:
            assert run.until is not None
            assert now < run.until
        if run.phase is MachinePhase.PURGING:
            until = run.until if run.until is not None else run.waits_until
            assert until is not None
            assert now < until


def check_5_locked_means_off(world: World) -> None:
    """Under start block or fire shutdown the collector is wanted off, whatever else happens."""
    sequence = world.sequence
    if sequence.allowed:
        return
    assert not sequence.collector_wanted
    assert sequence.motor.actuator.target is not True
    assert sequence.motor.actuator.order is None or (
        sequence.motor.actuator.order.target is False
    )


def check_6_alarms_come_and_go_once(world: World) -> None:
    """Alarms are raised once per occurrence, and cleared once when the cause is gone.

    However its cause flaps, an alarm is raised no more than a dozen times in ten
    minutes. A restart neither raises nor clears it again.
    """
    present = world.current()
    for change in world.alarms:
        if change.raised:
            assert change.condition not in world.standing
            assert change.condition in present
            world.standing.add(change.condition)
            raised = world.raised.setdefault(change.condition, [])
            raised[:] = [at for at in raised if world.now < at + 600.0]
            raised.append(world.now)
            assert len(raised) <= 13
        else:
            assert change.condition not in present
            world.standing.remove(change.condition)
    world.alarms.clear()
    assert world.standing == set(world.shop.alarms.standing)
    assert present <= world.standing


def check_8_memory_fits(world: World) -> None:
    """Write down at any instant what has to survive a restart."""
    if world.turns % 64 == 0:
        world.remember()


def check_9_hand_is_not_fought(world: World, part: str, target: bool) -> None:
    """Let a person's hand win: what was switched or moved at the device is left so.

    A collector switched on goes off again only on a person's word, under start block or
    fire shutdown, without an open gate, with a bin that fills where the owner chose that,
    or because a machine it was found on for stops;
    one switched off comes on again only for another demand or on a person's word. A
    gate is left until something wants it anew, the work is over, or a turning impeller
    needs it. `World.left` holds what a hand left and nothing has overruled since.

    A hand is told from a late or confused answer only outside the time that a command
    has to show, and while the device is in reach.
    """
    if part not in world.left or (target and needs_a_way(world, part)):
        return
    assert target is world.left[part]


def needs_a_way(world: World, part: str) -> bool:
    """Whether a gate has to open because the impeller may turn and none stays open.

    A gate that is on its way to close does not, though nobody wants that any more.
    """
    return part in world.sequence.gates and (
        world.may_turn()
        and not any(
            world.known_open(gate) and not world.shutting(gate)
            for gate in world.sequence.system.gates
        )
    )


def check_wake(world: World) -> None:
    """Look again in the future, if at all."""
    wake = world.shop.wake
    assert wake is None or wake > world.now


CHECKS: tuple[Callable[[World], None], ...] = (
    check_1_collector_has_a_way,
    check_1_start,
    check_1_early_start,
    check_3_running_machines_are_served,
    check_4_phases_end,
    check_5_locked_means_off,
    check_6_alarms_come_and_go_once,
    check_8_memory_fits,
    check_wake,
)
COMMAND_CHECKS = (check_2_last_gate_stays, check_9_hand_is_not_fought)


# The shop that is driven ----------------------------------------------------------


class Counted:
    """How many steps and looks were really taken."""

    steps = 0
    looks = 0


def step[**P](
    **draws: st.SearchStrategy[Any],
) -> Callable[[Callable[P, None]], Callable[P, None]]:
    """Make a rule of a method, and count how often it is followed."""

    def make(method: Callable[P, None]) -> Callable[P, None]:
        @wraps(method)
        def counted(*args: P.args, **kwargs: P.kwargs) -> None:
            Counted.steps += 1
            method(*args, **kwargs)

        follow: Any = rule
        made: Callable[P, None] = follow(**draws)(counted)
        return made

    return make


class CalmShop(RuleBasedStateMachine):
    """A shop in which everything works."""

    faults = False

    @initialize(data=st.data(), system=systems(), seed=st.integers(0, 2**16))
    def begin(self, data: st.DataObject, system: SystemConfig, seed: int) -> None:
        random = Random(seed)
        self.world = world = World(
            system,
            build_devices(system, random, faults=self.faults),
            metered=random.random() < 0.3,
            now=64.0,
            checks=CHECKS if self.faults else (*CHECKS, check_2_impeller_breathes),
            command_checks=COMMAND_CHECKS,
            log=[] if random.random() < 0.2 else None,
        )
        world.come_up(random, 0.0)
        world.power_up()

    def machine(self, which: int) -> str:
        ids = list(self.world.sequence.machines)
        return ids[which % len(ids)]

    def look(self, at_once: bool) -> None:
        """Have the shop look, or only once more has happened at the same instant."""
        if at_once:
            self.pass_time(0.0)

    def pass_time(self, seconds: float) -> None:
        self.world.run_to(self.world.now)
        self.world.run_to(self.world.now + seconds)

    @step(seconds=pick(0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 5.0, 15.0, 60.0, 500.0))
    def wait(self, seconds: float) -> None:
        self.pass_time(seconds)

    @step(part=pick(0.125, 0.5, 0.875, 1.0))
    def wait_for_the_next_look(self, part: float) -> None:
        """Nothing that time alone changes comes earlier than the next look."""
        world = self.world
        world.run_to(world.now)
        upcoming = [world.now + 1000.0]
        if world.shop.wake is not None:
            upcoming.append(world.shop.wake)
        upcoming.append(world.upcoming)
        gap = min(upcoming) - world.now
        before = without_times(digest(world.shop, world.now))
        if part < 1.0:
            world.now += int(gap * part * 64.0) / 64.0
            assert without_times(digest(world.shop, world.now)) == before
            world.act()
            assert without_times(digest(world.shop, world.now)) == before
        else:
            world.run_to(world.now + gap)

    @step(seconds=pick(1.0, 30.0, 2000.0))
    def sleep(self, seconds: float) -> None:
        """Time passes without anybody looking, as while a computer sleeps."""
        self.world.sleep(seconds)
        self.look(True)

    @step(which=ANY, value=pick(*READINGS), at_once=st.booleans())
    def read(self, which: int, value: float | None, at_once: bool) -> None:
        self.world.read_machine(self.machine(which), value)
        self.look(at_once)

    @step(which=ANY, seconds=pick(1.0, 5.0, 20.0))
    def cut(self, which: int, seconds: float) -> None:
        """Have a machine make a cut."""
        machine = self.machine(which)
        self.world.read_machine(machine, RUNS)
        self.pass_time(seconds)
        self.world.read_machine(machine, IDLE)
        self.look(True)

    @step(which=ANY, connected=pick(True, True, False, None), at_once=st.booleans())
    def set_connected(self, which: int, connected: bool | None, at_once: bool) -> None:
        machine = self.machine(which)
        self.world.connected[machine] = connected
        self.world.call("set_connected", machine, connected)
        self.look(at_once)

    @step(which=ANY, present=pick(True, True, False, None))
    def report_early_signal(self, which: int, present: bool | None) -> None:
        """Have a sensor say that somebody is about to work at a machine."""
        self.world.call("report_early_signal", self.machine(which), present)
        self.look(True)

    @step(which=ANY, limit=pick(None, 0.0, 5.0, 100.0))
    def request(self, which: int, limit: float | None) -> None:
        self.ask("request", self.machine(which), limit=limit)
        self.look(True)

    @step(which=ANY)
    def withdraw(self, which: int) -> None:
        self.world.call("withdraw", self.machine(which))
        self.look(True)

    @step()
    def start_by_hand(self) -> None:
        self.ask("start_by_hand")
        self.look(True)

    @step()
    def stop_by_hand(self) -> None:
        self.stop()
        self.look(True)

    @step(on=pick(True, True, False))
    def set_automatic(self, on: bool) -> None:
        self.world.call("set_automatic", on)
        self.look(True)

    @step(on=pick(True, False, False))
    def set_start_block(self, on: bool) -> None:
        self.world.call("set_start_block", on)
        self.world.person_stopped |= on
        self.look(True)

    @step(on=pick(True, False, False))
    def set_fire_shutdown(self, on: bool) -> None:
        self.world.call("set_fire_shutdown", on)
        if on:
            self.world.person_stopped = True
            self.world.left.clear()
        self.look(True)

    @step(full=pick(True, False, False))
    def fill_the_bin(self, full: bool) -> None:
        self.world.bin_full = full
        self.world.call("set_bin_full", full)
        self.look(True)

    @step(bleed=st.lists(ANY, max_size=2), seconds=pick(0.0, 8.0))
    def hear_from_the_ducts(self, bleed: list[int], seconds: float) -> None:
        """Take what the airflow asks for: gates to open besides, a longer shut-off delay."""
        gates = {gate for which in bleed if (gate := self.gate(which))}
        self.world.call("ask_of_ducts", frozenset(gates), seconds)
        self.look(True)

    @step(which=ANY, opened=st.booleans())
    def move_gate(self, which: int, opened: bool) -> None:
        """Move a gate through Home Assistant."""
        if gate := self.gate(which):
            try:
                self.world.call("move_gate", gate, opened=opened)
            except RefusedError:
                return
            self.world.left[gate] = opened
            self.look(True)

    @step(gently=st.booleans())
    def come_to_rest(self, gently: bool) -> None:
        """With no demand everything comes to rest, and stays there (invariant 4)."""
        world = self.world
        self.mend()
        for machine in world.sequence.machines:
            world.read_machine(machine, IDLE)
            world.call("report_early_signal", machine, False)
            if gently:
                world.call("withdraw", machine)
        if not gently or world.sequence.by_hand:
            self.stop()
        self.pass_time(self.time_to_rest())
        assert world.sequence.phase is Phase.IDLE
        assert world.devices[COLLECTOR].state is False
        for gate in world.sequence.system.gates:
            self.check_at_rest(gate.gate_id)
        commands = len(world.commands)
        world.run_to(world.now + 1000.0)
        assert len(world.commands) == commands

    def teardown(self) -> None:
        world = self.world
        Counted.looks += world.turns
        if world.log is not None:
            # Invariant 7: no clock but the one it is given, and that by differences.
            replay(world.log, world.system, 64.0, CLOCK_SHIFT)

    # How it is driven ---------------------------------------------------------------

    def gate(self, which: int) -> str | None:
        """Return one of the gates that move, if there is any."""
        ids = [g for g in self.world.system_gates() if g in self.world.devices]
        return ids[which % len(ids)] if ids else None

    def ask(self, name: str, *args: Any, **kwargs: Any) -> None:
        """Ask for dust collection, which may be refused; a collector left off may come on again."""
        try:
            self.world.call(name, *args, **kwargs)
        except RefusedError:
            return
        if self.world.left.get(COLLECTOR) is False:
            del self.world.left[COLLECTOR]

    def stop(self) -> None:
        self.world.call("stop_by_hand")
        self.world.person_stopped = True

    def mend(self) -> None:
        """Have everything work again."""

    def time_to_rest(self) -> float:
        """Return how long it may take until everything is at rest."""
        system = self.world.sequence.system
        collector = system.collector
        patience = 2 * 5.0 + collector.start_delay + collector.rest + collector.confirm
        longest = max(
            4.0
            + run.plan.hold
            + sum(step.duration + patience for step in run.plan.purge)
            for run in self.world.sequence.machines.values()
        )
        time = longest + collector.shutoff_delay + collector.spin_down + 4 * 10.0
        if collector.starts_per_hour:
            time += collector.longest_shutoff_delay
        if self.world.sequence.motor.actuator.failed:
            time += 300.0
        return time

    def check_at_rest(self, gate_id: str) -> None:
        """Check that a gate sits where it should when nothing is wanted."""
        world = self.world
        actuator = world.sequence.gates.actuator(gate_id)
        if (
            gate_id not in world.sequence.gates.powered()
            or actuator is None
            or actuator.failed
            or world.sequence.gates.is_held_by_hand(gate_id)
        ):
            return
        [plan] = [g for g in world.sequence.system.gates if g.gate_id == gate_id]
        rest = IdlePosition.CLOSED if world.sequence.fire_shutdown else plan.rest
        if rest is not IdlePosition.LEAVE:
            assert world.devices[gate_id].state_at(world.now) is (
                rest is IdlePosition.OPEN
            )


class RoughShop(CalmShop):
    """A shop in which everything breaks, and people do what they like."""

    faults = True

    @step(which=ANY, value=pick(True, True, False, None))
    def hand_on_a_gate(self, which: int, value: bool | None) -> None:
        """Move a gate at its slide."""
        if gate := self.gate(which):
            self.hand(gate, value)
            self.look(True)

    @step(value=st.booleans())
    def hand_on_the_collector(self, value: bool) -> None:
        self.hand(COLLECTOR, value)
        self.look(True)

    @step(which=pick("light", "cleaner"), value=st.booleans())
    def hand_on_a_linked_device(self, which: str, value: bool) -> None:
        self.hand(which, value)
        self.look(True)

    @step(which=ANY, at_once=st.booleans())
    def lose(self, which: int, at_once: bool) -> None:
        """Have a device go out of reach."""
        self.reach(self.device(which), reachable=False)
        self.look(at_once)

    @step(which=ANY, state=pick(True, False, None), at_once=st.booleans())
    def find(self, which: int, state: bool | None, at_once: bool) -> None:
        """Have a device come back, as it was or as it pleases."""
        device = self.device(which)
        if not device.reachable:
            device.state = state if device.travel else bool(state)
            self.reach(device, reachable=True)
            self.look(at_once)

    @step(
        which=ANY,
        fault=pick(
            "deaf",
            "bounces",
            "slow",
            "stuck",
            "jams",
            "hangs",
            "late",
            "no_feedback",
            "works",
        ),
    )
    def spoil(self, which: int, fault: str) -> None:
        """Have a device behave badly, or well again."""
        device = self.device(which)
        repair(device, self.world)
        if (
            fault in ("slow", "stuck", "jams")
            and device.part not in self.world.sequence.gates
        ):
            fault = "late"
        if fault == "no_feedback" and not self.world.sequence.gates.is_powered(
            device.part
        ):
            # A contact that gives no state is offline, which `lose` is for.
            fault = "late"
        match fault:
            case "slow":
                device.travel = device.travel * 2 + 1.0
            case "stuck":
                device.travel = 1e6
            case "jams":
                device.jams = 0.5
            case "hangs":
                device.hangs = 8.0
            case "late":
                device.delay = 12.0
            case "deaf" | "bounces":
                setattr(device, fault, True)
            case "no_feedback":
                device.no_feedback = True
                self.world.say(device)

    @step(fault=pick("tripped", "welded", "works"), on=st.booleans())
    def spoil_the_motor(self, fault: str, on: bool) -> None:
        """Trip the motor's breaker or weld its contactor, or mend that."""
        world = self.world
        world.motor.tripped = fault == "tripped"
        world.motor.welded = fault == "welded" and on
        world.feel_motor()
        self.look(True)

    @step(watts=pick(None, 0.0, 1500.0, -1500.0))
    def misread_power(self, watts: float | None) -> None:
        """Have the collector's power reading go away, return, or lie."""
        self.world.tell_power(watts)
        self.look(True)

    @step(data=st.data(), what=pick("gate", "machine", "collector"), which=ANY)
    def replan(self, data: st.DataObject, what: str, which: int) -> None:
        """Add, change or remove a part of the plan."""
        world = self.world
        system = world.sequence.system
        try:
            changed = data.draw(changes(system, what, which))
        except ConfigError:
            return
        world.change_plan(changed)
        self.look(True)

    @step(
        seed=st.integers(0, 2**16),
        how=pick("reload", "restart", "crash"),
        downtime=pick(0.5, 5.0, 100.0),
        gap=pick(0.0, 0.25, 4.0),
        meddle=st.booleans(),
    )
    def restart(
        self, seed: int, how: str, downtime: float, gap: float, meddle: bool
    ) -> None:
        """Begin anew with what was remembered, the entities appearing in any order."""
        world, random = self.world, Random(seed)
        world.run_to(world.now)
        memory = world.remember()
        if how == "crash" and self.kept is not None:
            written, older = self.kept
            if world.now < written + 30.0 and not world.replanned_since(written):
                memory = older
                world.left.clear()
        before = Before(world)
        world.begin_anew(
            memory, downtime=downtime, elapsed=downtime if how == "reload" else None
        )
        before.up_at = world.now
        if random.random() < 0.5:
            world.run_to(world.now)
        if meddle or how == "crash":
            world.left.clear()
            world.person_stopped = True
            for machine in world.sequence.machines:
                if random.random() < 0.3:
                    world.reading[machine] = random.choice(READINGS)
            for device in world.devices.values():
                if random.random() < 0.3:
                    device.state = random.random() < 0.5
                    world.feel_motor()
        world.come_up(random, gap)
        world.run_to(world.now)
        if not meddle and how != "crash":
            before.check(world)
        self.kept = None

    @step()
    def remember(self) -> None:
        """Write the memory to a file, for a crash to come."""
        self.kept = (self.world.now, self.world.remember())

    # How it is driven ---------------------------------------------------------------

    kept: tuple[float, Any] | None = None

    def device(self, which: int) -> Device:
        devices = list(self.world.devices.values())
        return devices[which % len(devices)]

    def hand(self, part: str, value: bool | None) -> None:
        """Switch or move a device by hand, and note if it has to be left so."""
        world = self.world
        device = world.devices[part]
        was, peaceful = device.state, world.at_peace(part)
        world.move_by_hand(part, value)
        world.feel_motor()
        if part == COLLECTOR and not value:
            # That ends the work for which gates were moved as well.
            world.person_stopped = True
            world.left.clear()
        if not peaceful or value is was or value is None or device.no_feedback:
            world.left.pop(part, None)
            return
        sequence = world.sequence
        if part == COLLECTOR and not sequence.allowed:
            # Under a start block or fire shutdown it is turned off again.
            world.left.pop(part, None)
            return
        if part == COLLECTOR and value:
            assert sequence.by_hand
        elif part == COLLECTOR and not sequence.held_off:
            assert not sequence.machine_set.needs.air
            world.left.pop(part, None)
            return
        if part in sequence.gates and part not in sequence.gates.powered():
            return
        world.left[part] = value

    def reach(self, device: Device, *, reachable: bool) -> None:
        device.reachable = reachable
        self.world.say(device)
        self.world.feel_motor()

    @override
    def mend(self) -> None:
        world = self.world
        world.run_to(world.now)
        world.motor.tripped = world.motor.welded = False
        for device in world.devices.values():
            repair(device, world)
            # What is on its way for longer than a command may take is a hand's doing.
            device.number += 1
            if device.state is None:
                device.state = False
            self.reach(device, reachable=True)
        world.read_power()


class Before:
    """How a shop stood before a restart, to be compared with how it stands after."""

    def __init__(self, world: World) -> None:
        sequence = world.sequence
        self.up_at = world.now
        self.phase = sequence.phase
        self.standing = set(world.shop.alarms.standing)
        self.idle = not list(sequence.orders())
        self.commands = len(world.commands)
        self.running = {
            machine_id
            for machine_id, run in sequence.machines.items()
            if run.senses_running and run.plan.collect_while_running
        }
        self.served = sequence.automatic and sequence.allowed and not sequence.held_off
        self.totals = {
            machine_id: (totals.runs, totals.cuts, totals.run_time)
            for machine_id, totals in world.shop.ledger.machines.items()
        }
        self.ready = {part for part in world.devices if world.at_peace(part)}

    def check(self, world: World) -> None:
        """Check what must hold after a restart during which nothing changed.

        Invariant 8: what ran goes on running, with the collector on all the while and
        nothing commanded that was not due before; no run is lost. Claimed for machines
        whose reading came back within its dropout time.
        """
        sequence = world.sequence
        on = {
            machine_id
            for machine_id in self.running
            if (run := sequence.machines[machine_id]).senses_running
            and run.plan.levels is not None
            and run.plan.levels.dropout > world.now - self.up_at
        }
        for machine_id, (runs, cuts, run_time) in self.totals.items():
            after = world.shop.ledger.of(machine_id)
            assert after.runs >= runs
            assert after.run_time >= run_time
            if machine_id in on:
                assert (after.runs, after.cuts) == (runs, cuts)
        if on and self.served and self.phase is Phase.COLLECTING:
            switched = {
                target
                for _, part, target in world.commands[self.commands :]
                if part == COLLECTOR
            }
            if COLLECTOR in self.ready:
                assert sequence.phase is Phase.COLLECTING
                assert not switched


def build_devices(
    system: SystemConfig, random: Random, *, faults: bool
) -> dict[str, Device]:
    """Return the devices of a system, at rest where everything works."""
    devices = {
        COLLECTOR: Device(
            COLLECTOR, delay=0.25, state=faults and random.random() < 0.2
        ),
        "light": Device("light", delay=0.25),
        "cleaner": Device("cleaner", delay=0.25),
    }
    for gate in system.gates:
        if gate.kind is not GateKind.FIXED:
            devices[gate.gate_id] = Device(
                gate.gate_id,
                delay=0.25,
                travel=gate.travel,
                blind=not gate.feedback,
                shows=(0.25, 0.5) if gate.feedback and random.random() < 0.3 else (),
                state=random.random() < 0.4,
            )
    for device in devices.values():
        device.signs = random.random() < 0.5
    return devices


def repair(device: Device, world: World) -> None:
    """Have a device do as it is told again, in its own time."""
    plans = {gate.gate_id: gate for gate in world.sequence.system.gates}
    plan = plans.get(device.part)
    device.travel = plan.travel if plan else 0.0
    device.delay = 0.25
    device.hangs = 0.0
    device.deaf = device.bounces = False
    device.jams = None
    if device.state_at(world.now) is not device.state is not None:
        # A slide that was stuck on its way goes on to where it was told.
        device.drive(world.now, float(device.state))
    if device.no_feedback:
        device.no_feedback = False
        world.say(device)


@st.composite
def changes(
    draw: st.DrawFn, system: SystemConfig, what: str, which: int
) -> SystemConfig:
    """Draw a plan that differs from another in one part; raises `ConfigError`."""
    gate_list, machine_list = list(system.gates), list(system.machines)
    gate_ids = tuple(gate.gate_id for gate in gate_list)
    remove = draw(st.booleans())
    collector = system.collector
    match what:
        case "collector":
            collector = draw(collectors(gate_ids))
        case "gate":
            number = which % 6
            gate_list = [g for g in gate_list if g.gate_id != f"gate{number}"]
            if not remove:
                gate_list.append(draw(gates(number)))
        case _:
            number = which % 6
            kept = [m for m in machine_list if m.machine_id != f"machine{number}"]
            if not remove or not kept:
                kept.append(draw(machines(number, gate_ids)))
            machine_list = kept
    return SystemConfig(
        collector=collector,
        gates=tuple(gate_list),
        machines=tuple(machine_list),
        linked_devices=system.linked_devices,
    )


def explore(machine: type[CalmShop], examples: int, steps: int) -> None:
    """Explore a shop, and see to it that as many steps were taken as promised."""
    Counted.steps = Counted.looks = 0
    run_state_machine_as_test(
        machine,
        settings=settings(max_examples=examples, stateful_step_count=steps),
    )
    print(  # noqa: T201 - how far it went is part of the result
        f"{machine.__name__}: {Counted.steps} steps, {Counted.looks} looks"
    )
    assert Counted.steps >= 0.75 * examples * steps


STEPS = 100


def examples() -> int:
    """Return how many shops of each sort are explored.

    Together the two sorts take more than 100,000 steps in the normal run, and more
    than a million in the long one.
    """
    profile = settings.default
    assert profile is not None
    return max(700, 4 * profile.max_examples)


def test_calm_shop() -> None:
    explore(CalmShop, examples(), STEPS)


def test_rough_shop() -> None:
    explore(RoughShop, examples(), STEPS)
