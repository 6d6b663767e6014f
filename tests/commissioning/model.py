"""A physical shop for the system check: its real parts, and their wiring.

Gates have a slide with a position, sensors at its ends, and wires that may lead to the
wrong place; machines are on outlets; the person looks at the slides and answers
truthfully. Everything goes through the shop's own sequence.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from custom_components.gatewright.core.commissioning.findings import CheckReport
from custom_components.gatewright.core.commissioning.plant_access import (
    PlantAccess,
    collector_plan,
    gate_plans,
    machine_plans,
)
from custom_components.gatewright.core.commissioning.system_check import (
    SystemCheck,
    SystemCheckConfig,
)
from custom_components.gatewright.core.commissioning.task import (
    Answer,
    Ask,
    Sight,
    Signal,
    SignalRole,
    Stage,
    Task,
)
from custom_components.gatewright.core.config import (
    COLLECTOR,
    IdlePosition,
    SystemConfig,
    Thresholds,
)
from custom_components.gatewright.core.control.enums import Phase
from custom_components.gatewright.core.control.sequence import Sequence
from custom_components.gatewright.core.simulation.plant.motor import SimulatedMotor
from custom_components.gatewright.core.simulation.plant.relay import Relay
from custom_components.gatewright.core.simulation.plant.slide import (
    Slide as SimulatedSlide,
)

STEP = 0.2
LEVELS = Thresholds(start=100.0, stop=50.0, start_confirm=0.5, stop_confirm=2.0)


@dataclass(slots=True, kw_only=True)
class Slide(SimulatedSlide):
    """The real slide; one that is `away` is offline."""

    travel: float = 2.0
    reversed: bool = False
    away: bool = False

    def says(self, role: SignalRole, now: float) -> bool | None:
        """Return what a good sensor reports."""
        position = self.at(now)
        opened, closed = position > 0.999, position < 0.001
        match role:
            case SignalRole.SLIDE:
                return True if opened else False if closed else None
            case SignalRole.OPEN_SENSOR:
                return opened
            case SignalRole.CLOSED_SENSOR:
                return closed


@dataclass
class Wire:
    """Where a signal comes from; `state_at` is one that never changes."""

    source: Signal
    inverted: bool = False
    state_at: bool = False
    silent: bool = False


@dataclass(slots=True, kw_only=True)
class Fan(SimulatedMotor):
    """The collector: its switch, its motor and its power reading.

    Its motor draws power `delay` s after the switch reports on; a contactor that
    `welds` doesn't open again.
    """

    deaf: bool = False
    welds: bool = False
    measured: bool = True
    delay: float = 0.5
    on: bool = False
    contactor: Relay = field(default_factory=Relay)

    def obey(self, on: bool, now: float) -> None:
        """Take a command."""
        if not self.deaf and on is not self.on:
            self.on = on
            self.contactor.command(now, on=on, latency=self.delay if on else 0.0)

    def turns(self, now: float) -> bool:
        """Whether the motor draws power."""
        self.contactor.settle(now)
        self.welded = self.welded or (self.welds and self.contactor.closed)
        self.switch(self.contactor.closed, now)
        return self.powered


@dataclass
class Model:
    """A shop, its wiring, and a system check."""

    system: SystemConfig
    roles: dict[str, tuple[SignalRole, ...]]
    invertible: frozenset[str] = frozenset()
    person: bool = True
    slides: dict[str, Slide] = field(default_factory=dict)
    wires: dict[Signal, Wire] = field(default_factory=dict)
    drives: dict[str, str] = field(default_factory=dict)
    meters: dict[str, set[str]] = field(default_factory=dict)
    lost: set[str] = field(default_factory=set)
    fan: Fan = field(default_factory=Fan)
    now: float = 0.0
    commands: list[tuple[str, bool]] = field(default_factory=list)
    asked: list[tuple[str, Ask]] = field(default_factory=list)
    checks: list[Callable[[Model], None]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Build everything as it should be, and let it come to rest."""
        for gate in self.system.gates:
            self.slides.setdefault(gate.gate_id, Slide())
            self.drives.setdefault(gate.gate_id, gate.gate_id)
        for gate in self.system.gates:
            slide = self.slides[self.drives[gate.gate_id]]
            opened = (gate.rest is IdlePosition.OPEN) is not slide.reversed
            slide.place(self.now, float(opened))
            for role in self.roles.get(gate.gate_id, ()):
                signal = (gate.gate_id, role)
                self.wires.setdefault(signal, Wire(signal))
        for machine in self.system.machines:
            self.meters.setdefault(machine.machine_id, {machine.machine_id})
        self.running: set[str] = set()
        self.told: dict[str, bool] = {}
        self.sent: dict[str, int] = {}
        self.said_at: float | None = None
        self.sequence = Sequence(self.system, self.now)
        self.walk: SystemCheck | None = None
        self.hands: PlantAccess | None = None

    @property
    def positions(self) -> dict[str, float]:
        """Where every slide really is."""
        return {gate: slide.at(self.now) for gate, slide in self.slides.items()}

    # The wires -------------------------------------------------------------------

    def signals(self) -> dict[Signal, bool | None]:
        """Return what every signal reports through its wire."""
        said: dict[Signal, bool | None] = {}
        for signal, wire in self.wires.items():
            value = self.slides[wire.source[0]].says(wire.source[1], self.now)
            if wire.state_at:
                value = signal[1] is SignalRole.CLOSED_SENSOR
            elif wire.inverted and value is not None:
                value = not value
            said[signal] = None if wire.silent else value
        return said

    def report(self) -> None:
        """Report every state to the sequence."""
        signals = self.signals()
        for gate in self.system.gates:
            gate_id = gate.gate_id
            roles = self.roles.get(gate_id, ())
            opened = signals.get((gate_id, SignalRole.OPEN_SENSOR))
            closed = signals.get((gate_id, SignalRole.CLOSED_SENSOR))
            value: bool | None = self.told.get(gate_id, False)
            if roles == (SignalRole.SLIDE,):
                value = signals[(gate_id, SignalRole.SLIDE)]
            elif opened is not None or closed is not None:
                value = opened if closed is None else not closed
                if opened is not None and closed is not None:
                    value = None if opened is closed else opened
            reachable = not self.slides[gate_id].away
            self.sequence.report_gate(
                gate_id, value, self.now, reachable=reachable, own=False
            )
        for machine, outlets in self.meters.items():
            watts = 500.0 if outlets & self._drawing() else 0.0
            reading = None if machine in self.lost else watts
            self.sequence.read(machine, reading, self.now)
        self.sequence.report_collector(self.fan.on, self.now, own=True)
        power = 900.0 if self.fan.turns(self.now) else 0.0
        if self.fan.measured:
            self.sequence.read_collector_power(power, self.now)

    def _drawing(self) -> set[str]:
        fan = {COLLECTOR} if self.fan.turns(self.now) else set()
        return self.running | fan

    def obey(self) -> None:
        """Carry out the commands that are due."""
        for part, order in list(self.sequence.orders()):
            if self.sent.get(part) == order.number:
                continue
            self.sent[part] = order.number
            self.sequence.dispatched(part, self.now)
            self.commands.append((part, order.target))
            if part == COLLECTOR:
                self.fan.obey(order.target, self.now)
                continue
            self.told[part] = order.target
            slide = self.slides[self.drives[part]]
            slide.drive(self.now, float(order.target is not slide.reversed))

    # The check --------------------------------------------------------------------

    def begin(self) -> SystemCheck:
        """Begin a check."""
        self.hands = PlantAccess(self.sequence)
        assert self.hands.refusal(self.now) is None
        plan = SystemCheckConfig(
            gates=gate_plans(self.sequence, self.roles, self.invertible),
            machines=machine_plans(self.sequence),
            collector=collector_plan(
                self.sequence, self.now, measured=self.fan.measured
            ),
            person=self.person,
        )
        self.walk = SystemCheck(plan, self.sight(), self.now)
        self.hands.carry_out(self.walk.task, self.now)
        return self.walk

    def sight(self) -> Sight:
        """Return what the check sees."""
        assert self.hands is not None
        return self.hands.see(self.signals(), frozenset(), self.now)

    def step(self) -> None:
        """Let a moment pass."""
        self.now = round(self.now + STEP, 6)
        self._live()
        if self.walk is not None and self.hands is not None:
            walk, over = self.walk, self.walk.ended is not None
            walk.observe(self.sight(), self.now)
            if walk.task is not None and walk.task.ask is not None:
                self._answer(walk, walk.task)
            if (task := walk.task) is not None and task.stage is Stage.FALLING:
                self.running.discard(task.part)
            if walk.ended is None:
                self.hands.carry_out(walk.task, self.now)
            elif not over:
                self.hands.end(self.now)
            self._live()
        for check in self.checks:
            check(self)

    def _live(self) -> None:
        self.report()
        self.sequence.advance(self.now)
        self.obey()

    def pass_time(self, seconds: float) -> None:
        """Let time pass."""
        until = self.now + seconds
        while self.now < until:
            self.step()

    def finish(self, most: float = 3000.0) -> CheckReport:
        """Run to the end; a shop is at rest soon after its check."""
        assert self.walk is not None
        until = self.now + most
        while self.walk.ended is None:
            assert self.now < until, self.walk.task
            self.step()
        return self.walk.report

    def at_rest(self) -> bool:
        """Whether the collector is at rest and every powered gate that can is at its idle position."""
        return (
            self.sequence.phase is Phase.IDLE
            and not self.fan.on
            and not self.sequence.suspended
            and not self.sequence.trying
            and self.sequence.gates.checked is None
        )

    # The person ------------------------------------------------------------------

    def _answer(self, walk: SystemCheck, task: Task) -> None:
        assert task.ask is not None
        if not self.asked or self.asked[-1] != (task.part, task.ask):
            self.asked.append((task.part, task.ask))
            self.said_at = None
            self._looked = self.positions
            self._prepare(task)
        waited = self.now - walk.asked_at
        answer = self._says(task, waited)
        if answer is not None:
            assert walk.answer(answer, self.sight(), self.now)
            self.asked.append(("", task.ask))

    def _prepare(self, task: Task) -> None:
        if task.ask is Ask.RUN_MACHINE:
            self.running.add(task.part)
        if task.ask in (Ask.OPEN_BY_HAND, Ask.CLOSED_BY_HAND):
            self.slides[task.part].drive(self.now, float(task.ask is Ask.OPEN_BY_HAND))

    def _says(self, task: Task, waited: float) -> Answer | None:
        assert self.walk is not None
        slide = self.slides.get(task.part, Slide())
        match task.ask:
            case Ask.SEE_OPEN | Ask.SEE_CLOSED:
                end = float(task.ask is Ask.SEE_OPEN)
                if slide.at(self.now) == end != self._looked[task.part]:
                    return Answer.ARRIVED
                return self._sees_wrong(task, waited)
            case Ask.HOW_STANDS if waited > 2 * slide.travel:
                return Answer.IS_OPEN if slide.at(self.now) > 0.9 else Answer.IS_CLOSED
            case Ask.OPEN_BY_HAND | Ask.CLOSED_BY_HAND if waited > slide.travel:
                return Answer.GO
            case Ask.RUN_MACHINE if waited > 2:
                return Answer.GO
            case Ask.WATCH_GATE | Ask.START_COLLECTOR:
                return Answer.GO
            case Ask.DOES_TURN:
                return Answer.YES if self.fan.turns(self.now) else Answer.NO
        return None

    def _sees_wrong(self, task: Task, waited: float) -> Answer | None:
        if waited < 2 * max(slide.travel for slide in self.slides.values()):
            return None
        moved = {
            gate
            for gate, position in self.positions.items()
            if position != self._looked[gate]
        }
        if task.part in moved:
            return Answer.WENT_WRONG_WAY
        return Answer.ANOTHER_MOVED if moved else Answer.STAYED
