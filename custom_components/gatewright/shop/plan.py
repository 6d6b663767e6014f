"""The frozen description of one system: collector, gates, machines, companions.

A plan is checked whole when it is made. What is wrong with it comes back as a
list of `Problem`, each naming the part and the field it belongs to, so that a
form can put the message where the value was typed.

All times are seconds, all readings are in the unit of the machine's `Levels`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from enum import StrEnum
import math

from .kinds import MachineKind


class GateKind(StrEnum):
    """How a blast gate is moved."""

    POWERED = "powered"
    HAND = "hand"
    FIXED = "fixed"


class Rest(StrEnum):
    """Where a powered gate sits when nothing is wanted."""

    SHUT = "shut"
    OPEN = "open"
    LEAVE = "leave"


class OnLost(StrEnum):
    """What a machine counts as once its reading has been gone for the grace time."""

    STOPPED = "stopped"
    RUNNING = "running"


class StartWhen(StrEnum):
    """When the collector may start: while its gate opens, or once that is open."""

    GATE_OPENING = "gate_opening"
    GATE_OPEN = "gate_open"


class BinAnswer(StrEnum):
    """What happens when the bin is full: only tell, start no more, or end after this."""

    WARN = "warn"
    REFUSE = "refuse"
    FINISH = "finish"


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """When a reading means that the machine runs.

    At or above `start` for `start_settle` seconds it counts as running, at or
    below `stop` for `stop_settle` seconds as stopped; between the two it keeps
    the state it has. A start does not wait longer than for the next reading that says
    so too. A reading at or above `certain` has never meant anything but that the machine
    runs: it counts at once, and a lower one lasts at least until the plug has had time to
    say it again. An on/off signal is a reading of 1 or 0 with `SIGNAL_LEVELS`.
    A reading that is not renewed for `silence` seconds while the machine runs counts
    as missing (None: it may stand still for as long as it likes).
    """

    start: float
    stop: float
    start_settle: float = 0.5
    stop_settle: float = 4.0
    grace: float = 60.0
    on_lost: OnLost = OnLost.STOPPED
    silence: float | None = None
    certain: float | None = None


HOSE_CONFIRM = 2.0
"""How long in s a hose's contact usually has to say the same before it counts."""

SIGNAL_LEVELS = Levels(start=1.0, stop=0.0, start_settle=0.0, stop_settle=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """A blast gate.

    `travel` is the longest time a full stroke takes. Without `feedback` the
    actuator only says what it was told, so the travel time is waited out. Of one whose
    entity is `lost` nobody knows any more whether it has feedback.
    """

    gate_id: str
    name: str
    kind: GateKind = GateKind.POWERED
    travel: float = 5.0
    feedback: bool = True
    rest: Rest = Rest.SHUT
    lost: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearingStep:
    """A set of gates held open for `duration` seconds after a machine's work."""

    gates: tuple[str, ...]
    duration: float = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Companion:
    """A switch that runs with a machine, `delay` s behind it and `run_on` s after it."""

    companion_id: str
    name: str
    delay: float = 0.0
    run_on: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """Whatever makes dust or takes it in.

    `levels` is None for a pickup that is only ever asked for by hand. `needs_air`
    is False for a machine with its own extractor: it only has its clearing steps
    afterwards. `request_limit` ends a request that nobody withdraws; `run_limit` is how
    long the machine may run before its owner is told. None is no limit. `foretold` says
    that a sensor tells when somebody is about to work there, `hose_confirm` how long a
    change of its hose's contact has to last: contacts bounce (common practice, no source).
    """

    machine_id: str
    name: str
    kind: MachineKind = MachineKind.OTHER
    gates: tuple[str, ...] = ()
    levels: Levels | None = None
    needs_air: bool = True
    hold: float = 0.0
    clearing: tuple[ClearingStep, ...] = ()
    movable: bool = False
    companions: tuple[str, ...] = ()
    request_limit: float | None = None
    run_limit: float | None = None
    foretold: bool = False
    hose_confirm: float = HOSE_CONFIRM


@dataclass(frozen=True, slots=True, kw_only=True)
class Collector:
    """Fan, separator, bin and filter, switched by one actuator.

    `hand_gates` are opened for a collector that somebody switches on at the
    device. `confirm` is how long the actuator may take to report a command done.
    `rest` is the least time between off and the next on, `starts_per_hour` the
    motor's allowance (None: no limit). `turning_power` is the power in W from which
    the motor counts as powered, where its power is measured. `longest_run_on` is how
    long a run-on may be prolonged when a stop would leave the motor no start; 0 is
    not at all. `bin_answer` is what happens when the bin is full. `spin_up` is the time
    from the reported on to full speed (None: what is measured, or usual); `start_when`
    says whether the collector waits for its gate.
    """

    name: str
    run_on: float = 3.0
    coast: float = 10.0
    start_delay: float = 0.0
    confirm: float = 10.0
    rest: float = 0.0
    starts_per_hour: float | None = None
    hand_gates: tuple[str, ...] = ()
    turning_power: float = 50.0
    longest_run_on: float = 300.0
    bin_answer: BinAnswer = BinAnswer.WARN
    spin_up: float | None = None
    start_when: StartWhen = StartWhen.GATE_OPENING


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong with a plan: which part, which field, what.

    `about` names the other part concerned, where there is one. A problem that is
    not `fatal` is a warning: the plan works, but hardly as meant.
    """

    part: str
    field: str
    code: str
    about: str = ""
    fatal: bool = True


class PlanError(ValueError):
    """Raised for a plan that cannot work; `problems` holds every reason."""

    def __init__(self, problems: list[Problem]) -> None:
        """Keep the fatal problems."""
        super().__init__(", ".join(f"{p.part}.{p.field}: {p.code}" for p in problems))
        self.problems = problems


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    """One collector with its gates, machines and companions.

    Raises `PlanError` when a part refers to one that does not exist, or a value
    cannot work. Warnings are left in `warnings`.
    """

    collector: Collector
    gates: tuple[Gate, ...] = ()
    machines: tuple[Machine, ...] = ()
    companions: tuple[Companion, ...] = ()
    warnings: tuple[Problem, ...] = field(init=False, default=())

    def __post_init__(self) -> None:
        """Check the plan whole."""
        problems = find_problems(
            self.collector, self.gates, self.machines, self.companions
        )
        fatal = [problem for problem in problems if problem.fatal]
        if fatal:
            raise PlanError(fatal)
        object.__setattr__(self, "warnings", tuple(problems))


COLLECTOR = "collector"
"""The name by which a `Problem` refers to the collector."""


def find_problems(
    collector: Collector,
    gates: tuple[Gate, ...],
    machines: tuple[Machine, ...],
    companions: tuple[Companion, ...] = (),
) -> list[Problem]:
    """Return everything that is wrong with the parts of a plan, in their order."""
    gate_ids = {gate.gate_id for gate in gates}
    companion_ids = {companion.companion_id for companion in companions}
    found = [
        *_bad_times(COLLECTOR, collector),
        *(
            Problem(part=COLLECTOR, field="hand_gates", code="unknown_gate", about=gate)
            for gate in collector.hand_gates
            if gate not in gate_ids
        ),
        *_duplicates(gates, machines, companions),
    ]
    starts = collector.starts_per_hour
    if starts is not None and not (math.isfinite(starts) and starts > 0):
        found.append(
            Problem(part=COLLECTOR, field="starts_per_hour", code="not_positive")
        )
    for gate in gates:
        found += _bad_times(gate.gate_id, gate)
    for companion in companions:
        found += _bad_times(companion.companion_id, companion)
    for machine in machines:
        found += _machine_problems(machine, gate_ids, companion_ids)
    used = {
        *collector.hand_gates,
        *(gate for machine in machines for gate in gates_of(machine)),
    }
    found += [
        Problem(
            part=gate.gate_id, field="gate_id", code="gate_without_machine", fatal=False
        )
        for gate in gates
        if gate.gate_id not in used and gate.kind is not GateKind.FIXED
    ]
    return found


def gates_of(machine: Machine) -> tuple[str, ...]:
    """Return every gate a machine ever uses: for its work and for its clearing."""
    return (*machine.gates, *(gate for step in machine.clearing for gate in step.gates))


def levels_problems(part: str, levels: Levels) -> list[Problem]:
    """Return what is wrong with a pair of levels and their times."""
    found = _bad_times(part, levels)
    if not math.isfinite(levels.start) or levels.start <= 0:
        found.append(Problem(part=part, field="start", code="not_positive"))
    if not levels.stop < levels.start:
        found.append(Problem(part=part, field="stop", code="stop_not_below_start"))
    if levels.stop < 0:
        found.append(Problem(part=part, field="stop", code="negative"))
    if levels.certain is not None and levels.certain < levels.start:
        found.append(Problem(part=part, field="certain", code="certain_below_start"))
    return found


def _machine_problems(
    machine: Machine, gate_ids: set[str], companion_ids: set[str]
) -> Iterator[Problem]:
    part = machine.machine_id
    yield from _bad_times(part, machine)
    if machine.levels is not None:
        yield from levels_problems(part, machine.levels)
    # Without any gate in the shop the collector simply runs with the machines.
    if machine.needs_air and not machine.gates and gate_ids:
        yield Problem(part=part, field="gates", code="machine_without_gates")
    if not machine.needs_air and not machine.clearing:
        yield Problem(part=part, field="needs_air", code="machine_never_gets_air")
    for gate in machine.gates:
        if gate not in gate_ids:
            yield Problem(part=part, field="gates", code="unknown_gate", about=gate)
    for step in machine.clearing:
        yield from _bad_times(part, step, "clearing")
        if not step.gates and gate_ids:
            yield Problem(part=part, field="clearing", code="clearing_without_gates")
        for gate in step.gates:
            if gate not in gate_ids:
                yield Problem(
                    part=part, field="clearing", code="unknown_gate", about=gate
                )
    for companion in machine.companions:
        if companion not in companion_ids:
            yield Problem(
                part=part,
                field="companions",
                code="unknown_companion",
                about=companion,
            )


def _duplicates(
    gates: tuple[Gate, ...],
    machines: tuple[Machine, ...],
    companions: tuple[Companion, ...],
) -> Iterator[Problem]:
    seen: set[str] = set()
    for part, name in (
        *((gate.gate_id, "gate_id") for gate in gates),
        *((machine.machine_id, "machine_id") for machine in machines),
        *((companion.companion_id, "companion_id") for companion in companions),
    ):
        if part in seen:
            yield Problem(part=part, field=name, code="used_twice")
        seen.add(part)


def _bad_times(
    part: str,
    owner: Collector | Gate | Machine | Levels | Companion | ClearingStep,
    name: str = "",
) -> list[Problem]:
    """Return the numbers of a part that are negative or not finite."""
    return [
        Problem(part=part, field=name or item.name, code="negative")
        for item in fields(owner)
        if item.name not in ("start", "stop", "starts_per_hour")
        and isinstance(value := getattr(owner, item.name), float | int)
        and not isinstance(value, bool)
        and not (math.isfinite(value) and value >= 0)
    ]
