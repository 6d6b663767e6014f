"""A shop to be driven at random: plans, devices with faults, machines, an impeller.

`World` is the bench with a physical side, and with a memory of what it told the
shop: the checks of the invariants judge by that memory, not by the core's own.
"""

from collections.abc import Callable
from dataclasses import dataclass
import json
import math
from random import Random
from typing import Any, override

from hypothesis import strategies as st
import pytest

from custom_components.gatewright.core.config import (
    COLLECTOR,
    CollectorConfig,
    GateConfig,
    GateKind,
    IdlePosition,
    LinkedDeviceConfig,
    MachineConfig,
    PurgeStep,
    StartWhen,
    SystemConfig,
    Thresholds,
    WhenBinFull,
    WhenSensorLost,
)
from custom_components.gatewright.core.control.actuator import LEAST_WINDOW, Actuator
from custom_components.gatewright.core.control.alarms import Condition
from custom_components.gatewright.core.control.enums import Cause, Phase, RefusedError
from custom_components.gatewright.core.control.faults import conditions
from custom_components.gatewright.core.control.persistence import restore, save
from custom_components.gatewright.core.control.shop import ShopControl
from custom_components.gatewright.core.simulation.plant.motion import rate_of
from custom_components.gatewright.core.simulation.plant.motor import SimulatedMotor
from custom_components.gatewright.core.units import HOUR

from .bench import Bench, Device

# Times are multiples of an eighth of a second: sums of such numbers are exact, so
# that the same events at another reading of the clock give exactly the same.

RUNS = 1000.0
IDLE = 5.0
BETWEEN = 100.0
READINGS = (RUNS, RUNS, IDLE, IDLE, BETWEEN, -RUNS, None, math.nan, math.inf)


def pick[T](*values: T) -> st.SearchStrategy[T]:
    """Return a strategy that draws one of a few values."""
    return st.sampled_from(values)


@st.composite
def gates(draw: st.DrawFn, number: int) -> GateConfig:
    """Draw a gate."""
    kind = draw(
        pick(
            GateKind.POWERED,
            GateKind.POWERED,
            GateKind.POWERED,
            GateKind.HAND,
            GateKind.FIXED,
        )
    )
    return GateConfig(
        gate_id=f"gate{number}",
        name=f"Gate {number}",
        kind=kind,
        travel=draw(pick(0.0, 1.0, 3.0, 5.0)),
        feedback=kind is not GateKind.POWERED or draw(st.booleans()),
        rest=draw(
            pick(
                IdlePosition.CLOSED,
                IdlePosition.CLOSED,
                IdlePosition.OPEN,
                IdlePosition.LEAVE,
            )
        ),
    )


@st.composite
def machines(draw: st.DrawFn, number: int, gate_ids: tuple[str, ...]) -> MachineConfig:
    """Draw a machine; in a shop without gates it has none."""
    some: st.SearchStrategy[tuple[str, ...]] = st.just(())
    if gate_ids:
        some = st.lists(
            st.sampled_from(gate_ids), min_size=1, max_size=3, unique=True
        ).map(tuple)
    purge = tuple(
        PurgeStep(gates=draw(some), duration=draw(pick(0.0, 5.0)))
        for _ in range(draw(pick(0, 0, 1, 2)))
    )
    collect_while_running = not purge or draw(pick(True, True, False))
    sensed = draw(pick(True, True, True, False))
    return MachineConfig(
        machine_id=f"machine{number}",
        name=f"Machine {number}",
        gates=draw(some) if collect_while_running or draw(st.booleans()) else (),
        levels=Thresholds(
            start=150.0,
            stop=60.0,
            start_confirm=draw(pick(0.0, 1.0)),
            stop_confirm=draw(pick(0.0, 4.0)),
            dropout=draw(pick(0.0, 10.0, 60.0)),
            on_lost=draw(
                pick(
                    WhenSensorLost.STOPPED,
                    WhenSensorLost.STOPPED,
                    WhenSensorLost.RUNNING,
                )
            ),
            stale_after=draw(pick(None, None, 30.0)),
            certain=draw(pick(None, None, 800.0)),
        )
        if sensed
        else None,
        collect_while_running=collect_while_running,
        hold=draw(pick(0.0, 0.0, 15.0)),
        purge=purge,
        movable=draw(pick(False, False, True)),
        linked_devices=draw(pick((), (), ("light",), ("light", "cleaner"))),
        request_limit=draw(pick(None, 20.0)),
        run_limit=draw(pick(None, 40.0)),
        early_signal=True,
    )


@st.composite
def collectors(draw: st.DrawFn, gate_ids: tuple[str, ...]) -> CollectorConfig:
    """Draw a collector."""
    return CollectorConfig(
        name="Collector",
        shutoff_delay=draw(pick(0.0, 3.0, 15.0)),
        spin_down=draw(pick(0.0, 10.0)),
        start_delay=draw(pick(0.0, 0.0, 2.0)),
        confirm=draw(pick(0.0, 2.0, 10.0)),
        rest=draw(pick(0.0, 30.0)),
        starts_per_hour=draw(pick(None, None, 0.5, 2.5, 6.0)),
        hand_gates=draw(pick((), gate_ids[:1], gate_ids[-1:])),
        longest_shutoff_delay=draw(pick(0.0, 60.0, 300.0)),
        bin_answer=draw(pick(*WhenBinFull)),
        spin_up=draw(pick(None, 1.0, 4.0)),
        start_when=draw(pick(*StartWhen)),
    )


@st.composite
def systems(draw: st.DrawFn) -> SystemConfig:
    """Draw a shop of up to five gates and five machines."""
    shop_gates = tuple(draw(gates(n)) for n in range(draw(pick(0, 1, 2, 3, 4, 5))))
    gate_ids = tuple(gate.gate_id for gate in shop_gates)
    return SystemConfig(
        collector=draw(collectors(gate_ids)),
        gates=shop_gates,
        machines=tuple(
            draw(machines(n, gate_ids)) for n in range(draw(pick(1, 2, 3, 5)))
        ),
        linked_devices=(
            LinkedDeviceConfig(
                linked_device_id="light",
                name="Light",
                shutoff_delay=draw(pick(0.0, 10.0)),
            ),
            LinkedDeviceConfig(
                linked_device_id="cleaner", name="Cleaner", delay=draw(pick(0.0, 5.0))
            ),
        ),
    )


@dataclass
class Heard:
    """What the world last told the shop of a part."""

    value: bool | None = None
    since: float = -math.inf
    moves_until: float = -math.inf
    ever: bool = False
    reachable: bool = False
    position: float | None = None


class World(Bench):
    """A bench that knows what is physically so, and what the shop was told."""

    def __init__(
        self,
        system: SystemConfig,
        devices: dict[str, Device],
        now: float = 0.0,
        *,
        metered: bool = False,
        checks: tuple[Callable[[World], None], ...] = (),
        command_checks: tuple[Callable[[World, str, bool], None], ...] = (),
        log: list[tuple[Any, ...]] | None = None,
    ) -> None:
        super().__init__(system, devices, now)
        self.metered = metered
        self.log = log
        self.motor = SimulatedMotor()
        self.asleep = False
        self.unheard: dict[str, None] = {}
        self.reading: dict[str, float | None] = {}
        self.connected: dict[str, bool | None] = {}
        self.heard: dict[str, Heard] = {}
        self.checks, self.command_checks = checks, command_checks
        self.watts: float | None = None
        self.bin_full = False
        self.after_step = lambda _: self.look_around()
        self.on_command = self.note_command
        self.impeller_off_at = -math.inf
        self.off_since: float | None = None
        self.powered: bool | None = None
        self.starts: list[float] = []
        self.stopped_at: float | None = None
        self.numbers: dict[str, tuple[int, float]] = {}
        self.phase_since = (self.sequence.phase, self.now)
        self.switched = 0
        self.planned_at = dict.fromkeys(self.system_gates(), self.now)
        self.commanded_at: dict[str, float] = {}
        self.commanded: dict[str, bool] = {}
        self.told_open: dict[str, float] = {}
        self.failed: set[str] = set()
        self.early = self.started = False
        self.left: dict[str, bool] = {}
        self.person_stopped = False
        self.wanted_before: frozenset[str] = frozenset()
        self.stage_before = stage(self.sequence.phase)
        self.work_before: dict[str, bool] = {}
        self.longest_shutoff_delay = self.longest_sparing = 0.0
        self.replanned_at = -math.inf
        self.note_plan()
        self.standing: set[Condition] = set()
        self.raised: dict[Condition, list[float]] = {}
        self.turns = 0

    # What the shop is told, and what is remembered of it -------------------------

    def system_gates(self) -> list[str]:
        return [gate.gate_id for gate in self.sequence.system.gates]

    def call(self, name: str, *args: Any, **kwargs: Any) -> Any:
        """Call a method of the shop's sequence, and log that for a replay."""
        try:
            answer = perform(self.shop, name, self.now, args, kwargs)
        except RefusedError as refused:
            self._log("refusal", refused.why, name, args, kwargs)
            raise
        self._log("call", name, args, kwargs)
        return answer

    def _log(self, kind: str, *entry: Any) -> None:
        if self.log is not None:
            self.log.append((kind, self.now, *entry))

    @override
    def hear(self, device: Device, value: bool | None, *, own: bool) -> None:
        part = device.part
        if self.devices.get(part) is not device:
            # A device that was exchanged for another has no more to say.
            return
        if self.asleep:
            self.unheard[part] = None
            return
        heard = self.heard.setdefault(part, Heard())
        heard.reachable = device.reachable
        if device.no_feedback and device.reachable:
            value = heard.value
        elif device.reachable:
            if value is not heard.value:
                heard.since = self.now if heard.ever else -math.inf
                heard.moves_until = heard.since + self.lag(part)
            heard.value, heard.ever = value, True
            heard.position = device.position
        flags: dict[str, Any] = {"reachable": device.reachable, "own": own}
        if part == COLLECTOR:
            self.call("report_collector", value, **flags)
            self.note_motor()
        elif part in self.sequence.gates:
            self.call(
                "report_gate",
                part,
                value,
                no_feedback=device.no_feedback,
                position=device.position,
                **flags,
            )
        else:
            self.call("linked_devices.report", part, value, **flags)

    def read_machine(self, machine_id: str, value: float | None) -> None:
        """Have a machine's reading change."""
        self.reading[machine_id] = value
        self.call("read", machine_id, value)

    def read_power(self) -> None:
        """Tell the collector's power, if it is measured."""
        watts = (1500.0 if self.motor_runs else 2.0) if self.metered else None
        self.tell_power(watts)

    def tell_power(self, watts: float | None) -> None:
        """Tell a reading of the collector's power, true or not."""
        self.watts = None if watts is None else abs(watts)
        self.call("read_collector_power", watts)
        self.note_motor()

    def note_motor(self) -> None:
        """Remember what can be concluded on the motor from what was told."""
        heard = self.heard.get(COLLECTOR, Heard())
        by_power = None if self.watts is None else self.watts >= 50.0
        powered = heard.value if by_power is None else by_power
        off = heard.value is False and by_power is not True
        if off and self.off_since is None:
            self.off_since = self.now
            if self.powered is True:
                self.stopped_at = self.now
        if not off:
            self.off_since = None
        if powered is True and self.powered is False:
            self.starts.append(self.now)
        self.powered = powered

    # What is physically so --------------------------------------------------------

    @property
    def motor_runs(self) -> bool:
        """Whether the motor really runs."""
        on = self.devices[COLLECTOR].state is True
        return (on and not self.motor.tripped) or self.motor.welded

    @property
    def impeller_turns(self) -> bool:
        """Whether the impeller really turns."""
        spin_down = self.sequence.system.collector.spin_down
        return self.motor_runs or self.now < self.impeller_off_at + spin_down

    @property
    def impeller_speed(self) -> float:
        """The impeller's share of its full speed, which it gains and loses evenly."""
        self._rate_motor()
        return self.motor.speed(self.now)

    def _rate_motor(self) -> None:
        """Have the impeller take the times that the shop goes by, from its start on."""
        motor = self.motor
        motor.spin_up = self.sequence.motor.spin_up
        motor.spin_down = self.sequence.system.collector.spin_down
        motor.impeller.rate = rate_of(
            motor.spin_up if motor.powered else motor.spin_down
        )

    def feel_motor(self) -> None:
        """Notice that the motor started or stopped."""
        self._rate_motor()
        if self.motor.switch(self.devices[COLLECTOR].state is True, self.now):
            if not self.motor.powered:
                self.impeller_off_at = self.now
            if self.metered:
                self.at(self.now + 0.5, self.read_power)

    def really_passable(self) -> bool:
        """Whether a gate is really open by a third; always so in a shop without gates."""
        plans = self.sequence.system.gates
        return not plans or any(
            plan.kind is GateKind.FIXED
            or self.devices[plan.gate_id].opened(self.now) >= 1 / 3 - 1e-9
            for plan in plans
        )

    # What the world concludes from what it told the shop ---------------------------

    def actuator(self, gate_id: str) -> Actuator:
        actuator = self.sequence.gates.actuator(gate_id)
        assert actuator is not None
        return actuator

    def window(self, plan: GateConfig) -> float:
        """How long one try to move a gate may take until it is known to have worked."""
        if plan.feedback:
            return max(LEAST_WINDOW, plan.travel)
        return max(LEAST_WINDOW, self.sequence.system.collector.confirm) + plan.travel

    def lag(self, gate_id: str) -> float:
        """How long a gate moves that only reports what it was told."""
        for plan in self.sequence.system.gates:
            if plan.gate_id == gate_id and not plan.feedback:
                return plan.travel
        return 0.0

    def known_open(self, plan: GateConfig, *, fully: bool = False) -> bool:
        """Whether the shop was told that a gate is open, and did not tell it to close.

        Unless it has to be so `fully`, a third open by its position is open.
        """
        if plan.kind is GateKind.FIXED:
            return True
        heard = self.heard.get(plan.gate_id, Heard())
        part_open = (
            not fully
            and heard.value is None
            and heard.position is not None
            and heard.position >= 1 / 3
        )
        if not part_open and (heard.value is not True or self.now < heard.moves_until):
            return False
        actuator = self.actuator(plan.gate_id)
        return actuator.target is not False or actuator.failed

    def opening(self, plan: GateConfig) -> bool:
        """Whether a gate is on its way to open and within its time."""
        if plan.kind is GateKind.FIXED:
            return False
        heard = self.heard.get(plan.gate_id, Heard())
        actuator = self.actuator(plan.gate_id)
        window = self.window(plan)
        if heard.value is True and actuator.target is not False:
            return self.now < heard.moves_until
        # A command that took long to take effect has the gate moving late.
        late = heard.ever and heard.value is None and self.now < heard.since + window
        if actuator.target is True and heard.reachable:
            # A command that was held up has its time from when it left.
            given = max(
                self.numbers[plan.gate_id][1],
                self.commanded_at.get(plan.gate_id, -math.inf),
            )
            return late or self.now < given + window
        if actuator.target is False or heard.value is not None:
            return False
        since = heard.since if heard.ever else self.planned_at[plan.gate_id]
        return self.now < since + window

    def on_the_way(self, plan: GateConfig) -> bool:
        """Whether a gate that has not failed before is told to open and in its time."""
        if plan.kind is not GateKind.POWERED or plan.gate_id in self.failed:
            return False
        travel = self.sequence.gates.travel(plan.gate_id)
        assert travel is not None
        longest = travel.longest
        if plan.feedback and longest is None:
            return False
        due = plan.travel if longest is None else longest
        margin = max(2.0 if longest is None else 1.0, 0.3 * due) + 0.001
        told = self.told_open.get(plan.gate_id, self.now)
        return (
            self.actuator(plan.gate_id).target is True
            and self.now < told + due + margin
        )

    def has_opened(self, part: str, heard: Heard) -> bool:
        """Whether a gate was open, if only until it was told to close just then.

        Not one that was told to close while it still opened.
        """
        if heard.value is not True or self.now < heard.moves_until:
            return False
        closes = self.commanded.get(part) is False
        return not closes or self.commanded_at[part] >= heard.moves_until

    def note_early_start(self) -> None:
        """Remember whether the collector was started while its gate still moved.

        A gate that it was started against for nothing has failed until it opens. One that
        was still in its time when the work was over, or the shop began anew, has not.
        """
        plans = self.sequence.system.gates
        for plan in plans:
            heard = self.heard.get(plan.gate_id)
            if heard and self.has_opened(plan.gate_id, heard):
                self.failed.discard(plan.gate_id)
                self.told_open.pop(plan.gate_id, None)
        if not self.sequence.collector_wanted:
            if self.early and self.breathless():
                self.failed |= {
                    plan.gate_id
                    for plan in plans
                    if plan.kind is GateKind.POWERED
                    and self.actuator(plan.gate_id).target is True
                    and not self.known_open(plan, fully=True)
                    # What is opened in its place has failed nobody yet.
                    and self.commanded_at.get(plan.gate_id) != self.now
                }
            self.early = False
        elif not plans or any(self.known_open(plan) for plan in plans):
            self.early = False

    def shutting(self, plan: GateConfig) -> bool:
        """Whether a gate carries out that it was told to close, and did not report yet."""
        told = self.commanded_at.get(plan.gate_id, -math.inf)
        if self.commanded.get(plan.gate_id) is not False:
            return False
        heard = self.heard.get(plan.gate_id, Heard())
        return heard.since <= told and self.now < told + self.window(plan)

    def may_turn(self) -> bool:
        """Whether the impeller may turn, for all the shop was told."""
        spin_down = self.sequence.system.collector.spin_down
        return (
            self.sequence.collector_wanted
            or self.off_since is None
            or self.now < self.off_since + spin_down
        )

    def motor_must_wait(self) -> bool:
        """Whether the motor's rest or its allowance of starts forbids a start."""
        collector = self.sequence.system.collector
        if self.stopped_at is not None and self.now < self.stopped_at + collector.rest:
            return True
        allowed = collector.starts_per_hour
        if allowed is None:
            return False
        span = HOUR if allowed >= 1 else HOUR / allowed
        recent = [start for start in self.starts if self.now < start + span]
        return len(recent) >= max(1, int(allowed))

    # What a hand left -----------------------------------------------------------------

    def at_peace(self, part: str) -> bool:
        """Whether a device stands as it should, and no command may still show."""
        actuator = self.any_actuator(part)
        heard = self.heard.get(part, Heard())
        since = max(
            self.numbers.get(part, (0, -math.inf))[1],
            self.commanded_at.get(part, -math.inf),
        )
        return (
            self.devices[part].reachable
            and heard.ever
            and heard.value is not None
            and actuator.target in (None, heard.value)
            and actuator.order is None
            and self.now >= since + actuator.window
        )

    def overrule(self) -> None:
        """Forget what a hand left wherever something has overruled it since."""
        sequence = self.sequence
        wanted = sequence.wanted_gates() if sequence.demand else frozenset[str]()
        if wanted:
            wanted |= sequence.bleed
        before, after = self.stage_before, stage(sequence.phase)
        over = (before, after) in {
            ("work", "after"),
            ("work", "rest"),
            ("rest", "work"),
        }
        for part in list(self.left):
            if part == COLLECTOR:
                if self.left[part]:
                    gone = not sequence.by_hand
                    # A bin that fills may end it too, as the owner chose.
                    answer = sequence.system.collector.bin_answer
                    finished = self.bin_full and answer is WhenBinFull.FINISH
                    stopped = self.person_stopped or finished
                    assert not gone or stopped or self.breathless()
                else:
                    gone = not sequence.machine_set.needs.air
            elif part in sequence.gates:
                gone = (
                    over
                    or part in wanted - self.wanted_before
                    or self.needs_way(part)
                    or sequence.fire_shutdown
                )
            else:
                gone = self.work(part) is not self.work_before.get(part)
            if gone or not self.devices[part].reachable:
                del self.left[part]
        if not sequence.held_off and not sequence.by_hand:
            self.person_stopped = self.person_stopped and not self.left
        self.wanted_before, self.stage_before = wanted, after
        for part in LINKED_DEVICES:
            self.work_before[part] = self.work(part)

    def breathless(self) -> bool:
        """Whether the collector was stopped because no gate was open."""
        last = [*self.switchings, *self.sequence._switchings][-1]
        return last.cause is Cause.NO_GATE_OPEN

    def needs_way(self, part: str) -> bool:
        """Whether a gate has to be opened because the impeller has no other way."""
        actuator = self.any_actuator(part)
        return actuator.target is True and not any(
            self.known_open(gate)
            for gate in self.sequence.system.gates
            if gate.gate_id != part
        )

    def work(self, linked_device_id: str) -> bool:
        return self.sequence.linked_devices._switches[linked_device_id].with_work

    def any_actuator(self, part: str) -> Actuator:
        sequence = self.sequence
        if part == COLLECTOR:
            return sequence.motor.actuator
        actuator = sequence.gates.actuator(part) or sequence.linked_devices.actuator(
            part
        )
        assert actuator is not None
        return actuator

    def note_numbers(self) -> None:
        """Remember since when each actuator has its present command."""
        for part in self.devices:
            number = self.any_actuator(part)._attempt.number
            if self.numbers.get(part, (None,))[0] != number:
                self.numbers[part] = (number, self.now)

    def note_stale_after(self) -> None:
        """Remember what the shop takes for done at gates that do not say.

        That is its last command there, once the time for it is over.
        """
        for part, device in self.devices.items():
            heard = self.heard.get(part)
            if not device.no_feedback or heard is None or not heard.reachable:
                continue
            actuator = self.actuator(part)
            if actuator.reported is heard.value:
                continue
            assert actuator.reported is self.commanded[part]
            assert self.now >= self.commanded_at[part] + actuator.window
            heard.value, heard.ever = actuator.reported, True
            heard.since = self.now
            heard.moves_until = self.now + self.lag(part)

    def note_plan(self) -> None:
        """Remember the longest shut-off delay of all the plans there were."""
        collector = self.sequence.system.collector
        longer = collector.longest_shutoff_delay if collector.starts_per_hour else 0.0
        self.longest_shutoff_delay = max(
            self.longest_shutoff_delay, collector.shutoff_delay, 8.0
        )
        self.longest_sparing = max(self.longest_sparing, longer)

    # After every look ----------------------------------------------------------------

    def look_around(self) -> None:
        """Check everything that must hold, after every look of the shop."""
        self.turns += 1
        self.feel_motor()
        self.note_numbers()
        self.note_stale_after()
        told = [*self.switchings, *self.sequence._switchings]
        switched = len(told)
        self.started = self.sequence.collector_wanted and (
            any(switching.on for switching in told[self.switched :])
            and self.sequence.motor.actuator.reported is not True
        )
        if self.sequence.phase is not self.phase_since[0] or switched != self.switched:
            # Between two looks a phase may have been left and entered again.
            self.phase_since = (self.sequence.phase, self.now)
            self.switched = switched
        if self.log is not None:
            self._log("look", digest(self.shop, self.now))
        self.overrule()
        self.note_early_start()
        for check in self.checks:
            check(self)

    def sleep(self, seconds: float) -> None:
        """Have the computer sleep: devices do what they were told, nobody hears of it.

        When it wakes, all that have moved say how they stand.
        """
        self.asleep = True
        end = self.now + seconds
        while self.upcoming <= end:
            self.happen(self.upcoming)
        self.now = end
        self.asleep = False
        for part in self.unheard:
            device = self.devices[part]
            self.say(device, own=device.signs)
        self.unheard.clear()

    @override
    def act(self) -> None:
        self._log("advance")
        super().act()

    @override
    def held_up(self, part: str) -> None:
        self.call("hold_up", part)

    def note_command(self, part: str, target: bool) -> None:
        self._log("call", "dispatched", (part,), {})
        self.note_stale_after()
        self.overrule()
        for check in self.command_checks:
            check(self, part, target)
        self.commanded_at[part] = self.now
        self.commanded[part] = target
        if target and part != COLLECTOR:
            self.told_open.setdefault(part, self.now)
        else:
            self.told_open.pop(part, None)

    # Changes of the plan -----------------------------------------------------------------

    def change_plan(self, system: SystemConfig) -> None:
        """Take up a changed plan, as Home Assistant does: and hear everything anew."""
        before = {gate.gate_id: gate for gate in self.sequence.system.gates}
        lags = {gate_id: self.lag(gate_id) for gate_id in before}
        self.call("replan", system)
        # What is entered as the travel time counts from then on, for a stroke that is
        # under way as well.
        for gate_id, lag in lags.items():
            if gate_id in self.heard:
                self.heard[gate_id].moves_until += self.lag(gate_id) - lag
        self.replanned_at = self.now
        self.note_plan()
        plans = {gate.gate_id: gate for gate in system.gates}
        for gate_id in before.keys() | plans.keys():
            old, new = before.get(gate_id), plans.get(gate_id)
            if (
                old is not None
                and new is not None
                and (old.kind, old.feedback) == (new.kind, new.feedback)
            ):
                continue
            self.devices.pop(gate_id, None)
            for kept in (
                self.heard,
                self.numbers,
                self.commanded,
                self.commanded_at,
                self.told_open,
                self.left,
            ):
                kept.pop(gate_id, None)
            self.failed.discard(gate_id)
            self._sent.pop(gate_id, None)
            if new is not None and new.kind is not GateKind.FIXED:
                self.planned_at[gate_id] = self.now
                self.devices[gate_id] = Device(
                    gate_id,
                    delay=0.25,
                    travel=new.travel,
                    blind=not new.feedback,
                    state=False,
                )
        for machine_id in [*self.reading, *self.connected]:
            if machine_id not in self.sequence.machines:
                self.reading.pop(machine_id, None)
                self.connected.pop(machine_id, None)
        for device in self.devices.values():
            self.say(device, own=True)
        for machine_id in self.sequence.machines:
            self._appear(machine_id)

    def replanned_since(self, instant: float) -> bool:
        """Whether the plan was changed at an instant or later."""
        return self.replanned_at >= instant

    # Restarts --------------------------------------------------------------------------

    def remember(self) -> Any:
        """Return the shop's memory as it comes back from a file."""
        return json.loads(json.dumps(save(self.shop, self.now)))

    def begin_anew(
        self, memory: Any, *, downtime: float, elapsed: float | None
    ) -> None:
        """Have another process take up the memory after some time."""
        system = self.sequence.system
        self.now += downtime
        self.shop = ShopControl(system, self.now)
        self.forget_orders()
        restore(self.shop, memory, self.now, elapsed=elapsed)
        self._log("restart", system, memory, elapsed)
        self.call("set_bin_full", self.bin_full)
        passed = elapsed or 0.0
        motor = memory["motor"]
        self.starts = [self.now - passed - age for age in motor["starts"]]
        self.stopped_at = (
            None if motor["stopped"] is None else self.now - passed - motor["stopped"]
        )
        self.off_since = None
        if elapsed is not None and motor["off_age"] is not None:
            self.off_since = self.now - passed - motor["off_age"]
        self.watts = None
        self.heard = {
            gate_id: self._remembered(kept["actuator"], passed)
            for gate_id, kept in memory["gates"].items()
        }
        # A gate that is not heard of yet stands where it stood: between its ends as well.
        for gate_id, kept in memory["gates"].items():
            self.heard[gate_id].position = kept["travel"]["position"]
        self.heard[COLLECTOR] = self._remembered(motor["actuator"], passed)
        self.powered = self.heard[COLLECTOR].value
        for device in self.devices.values():
            self.heard.setdefault(device.part, Heard()).ever = False
        # When an earlier process told a gate to open is not kept, and its answer may have
        # waited for this one: it has its time anew.
        self.told_open = dict.fromkeys(self.told_open, self.now)
        self.numbers.clear()
        self.planned_at = dict.fromkeys(self.system_gates(), self.now)
        self.standing = set(self.shop.alarms.standing)
        self.raised.clear()
        self.phase_since = (self.sequence.phase, self.now)

    def _remembered(self, kept: Any, passed: float) -> Heard:
        """Return what another process had heard of a part."""
        moves = kept["moves"] - passed
        return Heard(
            value=kept["reported"],
            moves_until=self.now + moves if moves > 0 else -math.inf,
        )

    def come_up(self, random: Random, gap: float) -> None:
        """Have every entity appear, in any order, and the readings with them."""
        appear: list[Callable[[], None]] = [
            *(
                lambda device=device: self.say(device)
                for device in self.devices.values()
            ),
            *(lambda m=m: self._appear(m) for m in self.sequence.machines),
            self.read_power,
        ]
        random.shuffle(appear)
        for action in appear:
            action()
            if gap:
                self.run_to(self.now)
                self.run_to(self.now + gap)

    def _appear(self, machine_id: str) -> None:
        self.call("set_connected", machine_id, self.connected.get(machine_id))
        self.call("read", machine_id, self.reading.get(machine_id))

    def current(self) -> set[Condition]:
        """Return what is wrong at the moment."""
        return set(conditions(self.sequence, self.now))


LINKED_DEVICES = ("light", "cleaner")


def stage(phase: Phase) -> str:
    """Return whether the shop works, comes to rest or rests."""
    if phase in (Phase.OPENING, Phase.COLLECTING):
        return "work"
    return "rest" if phase is Phase.IDLE else "after"


TAKES_NO_INSTANT = {
    "withdraw",
    "start_by_hand",
    "stop_by_hand",
    "set_automatic",
    "set_start_block",
    "set_fire_shutdown",
    "set_bin_full",
    "hold_up",
}


def perform(
    shop: ShopControl,
    name: str,
    now: float,
    args: tuple[Any, ...],
    kwargs: dict[str, Any],
) -> Any:
    """Call a method of a shop's sequence by its name, at an instant."""
    if name == "ask_of_ducts":
        shop.sequence.bleed, shop.sequence.least_shutoff_delay = args
        return None
    target: Any = shop.sequence
    *path, method = name.split(".")
    for step in path:
        target = getattr(target, step)
    if name not in TAKES_NO_INSTANT:
        kwargs = {**kwargs, "now": now}
    return getattr(target, method)(*args, **kwargs)


def digest(shop: ShopControl, now: float) -> tuple[Any, ...]:
    """Return everything that shows outside, with instants as the time left."""
    sequence = shop.sequence
    return (
        sequence.phase,
        None if sequence.phase_until is None else sequence.phase_until - now,
        sequence.collector_wanted,
        tuple(sequence.orders()),
        tuple(
            (run.phase, run.step, run.in_use, run.requested, run.hose.lost)
            for run in sequence.machines.values()
        ),
        tuple(sequence.is_collecting(m, now) for m in sequence.machines),
        tuple(
            (
                sequence.gates.is_open(gate.gate_id, now),
                sequence.gates.is_held_by_hand(gate.gate_id),
            )
            for gate in sequence.system.gates
        ),
        sequence.gates.has_open_path(now),
        sequence.impeller_may_turn(now),
        sequence.no_gate_coming(now),
        sequence.held_off,
        sequence.by_hand,
        frozenset(shop.alarms.standing),
        frozenset(conditions(sequence, now)),
    )


def without_times(shown: tuple[Any, ...]) -> tuple[Any, ...]:
    """Return a digest that can be compared with one of another instant."""
    return (shown[0], *shown[2:])


def replay(
    log: list[tuple[Any, ...]], system: SystemConfig, start: float, by: float
) -> None:
    """Do everything that was logged once more, with another reading of the clock."""
    shop = ShopControl(system, start + by)
    for kind, now, *rest in log:
        if kind == "call":
            name, args, kwargs = rest
            perform(shop, name, now + by, args, kwargs)
        elif kind == "refusal":
            why, name, args, kwargs = rest
            with pytest.raises(RefusedError, match=why.value):
                perform(shop, name, now + by, args, kwargs)
        elif kind == "restart":
            system, memory, elapsed = rest
            shop = ShopControl(system, now + by)
            restore(shop, memory, now + by, elapsed=elapsed)
        elif kind == "advance":
            shop.advance(now + by)
            shop.sequence.drain_switchings()
            shop.alarms.drain()
        else:
            assert digest(shop, now + by) == rest[0]
