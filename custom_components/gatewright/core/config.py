"""The frozen description of one system: collector, gates, machines, linked devices.

A plan is checked whole when it is made. What is wrong with it comes back as a
list of `ConfigProblem`, each naming the part and the field it belongs to, so that a
form can put the message where the value was typed.

All times are seconds, all readings are in the unit of the machine's `Thresholds`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from enum import StrEnum
import math
from typing import Final

from .kinds import MachineKind


class GateKind(StrEnum):
    """How a blast gate is moved."""

    POWERED = "powered"
    HAND = "hand"
    FIXED = "fixed"


class IdlePosition(StrEnum):
    """Where a powered gate sits when nothing is wanted."""

    CLOSED = "shut"
    OPEN = "open"
    LEAVE = "leave"


class WhenSensorLost(StrEnum):
    """What a machine counts as once its reading has been gone for the dropout time."""

    STOPPED = "stopped"
    RUNNING = "running"


class StartWhen(StrEnum):
    """When the collector may start: while its gate opens, or once that is open."""

    GATE_OPENING = "gate_opening"
    GATE_OPEN = "gate_open"


class WhenBinFull(StrEnum):
    """What happens when the bin is full: only tell, start no more, or end after this."""

    WARN = "warn"
    REFUSE = "refuse"
    FINISH = "finish"


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """When a reading means that the machine runs.

    At or above `start` for `start_confirm` seconds it counts as running, at or
    below `stop` for `stop_confirm` seconds as stopped; between the two it keeps
    the state it has. A start does not wait longer than for the next reading that says
    so too. A reading at or above `certain` has never meant anything but that the machine
    runs: it counts at once, and a lower one lasts at least until the plug has had time to
    say it again. An on/off signal is a reading of 1 or 0 with `SIGNAL_LEVELS`.
    A reading that is not renewed for `stale_after` seconds while the machine runs counts
    as missing (None: it may stand still for as long as it likes).
    """

    start: float
    stop: float
    start_confirm: float = 0.5
    stop_confirm: float = 4.0
    dropout: float = 60.0
    on_lost: WhenSensorLost = WhenSensorLost.STOPPED
    stale_after: float | None = None
    certain: float | None = None


HOSE_CONFIRM = 2.0
"""How long in s a hose's contact usually has to say the same before it counts."""

SIGNAL_LEVELS = Thresholds(start=1.0, stop=0.0, start_confirm=0.0, stop_confirm=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class GateConfig:
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
    rest: IdlePosition = IdlePosition.CLOSED
    lost: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PurgeStep:
    """A set of gates held open for `duration` seconds after a machine's work."""

    gates: tuple[str, ...]
    duration: float = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkedDeviceConfig:
    """A switch that runs with a machine, `delay` s behind it and `shutoff_delay` s after it."""

    linked_device_id: str
    name: str
    delay: float = 0.0
    shutoff_delay: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineConfig:
    """Whatever makes dust or takes it in.

    `levels` is None for a pickup that is only ever asked for by hand. `collect_while_running`
    is False for a machine with its own extractor: it only has its purge steps
    afterwards. `request_limit` ends a request that nobody withdraws; `run_limit` is how
    long the machine may run before its owner is told. None is no limit. `early_signal` says
    that a sensor tells when somebody is about to work there, `hose_confirm` how long a
    change of its hose's contact has to last: contacts bounce (common practice, no source).
    """

    machine_id: str
    name: str
    kind: MachineKind = MachineKind.OTHER
    gates: tuple[str, ...] = ()
    levels: Thresholds | None = None
    collect_while_running: bool = True
    hold: float = 0.0
    purge: tuple[PurgeStep, ...] = ()
    movable: bool = False
    linked_devices: tuple[str, ...] = ()
    request_limit: float | None = None
    run_limit: float | None = None
    early_signal: bool = False
    hose_confirm: float = HOSE_CONFIRM


@dataclass(frozen=True, slots=True, kw_only=True)
class CollectorConfig:
    """Fan, separator, bin and filter, switched by one actuator.

    `hand_gates` are opened for a collector that somebody switches on at the
    device. `confirm` is how long the actuator may take to report a command done.
    `rest` is the least time between off and the next on, `starts_per_hour` the
    motor's allowance (None: no limit). `turning_power` is the power in W from which
    the motor counts as powered, where its power is measured. `longest_shutoff_delay` is how
    long a shut-off delay may be prolonged when a stop would leave the motor no start; 0 is
    not at all. `bin_answer` is what happens when the bin is full. `spin_up` is the time
    from the reported on to full speed (None: what is measured, or usual); `start_when`
    says whether the collector waits for its gate.
    """

    name: str
    shutoff_delay: float = 3.0
    spin_down: float = 10.0
    start_delay: float = 0.0
    confirm: float = 10.0
    rest: float = 0.0
    starts_per_hour: float | None = None
    hand_gates: tuple[str, ...] = ()
    turning_power: float = 50.0
    longest_shutoff_delay: float = 300.0
    bin_answer: WhenBinFull = WhenBinFull.WARN
    spin_up: float | None = None
    start_when: StartWhen = StartWhen.GATE_OPENING


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfigProblem:
    """One thing that is wrong with a plan: which part, which field, what.

    `about` names the other part concerned, where there is one. A problem that is
    not `fatal` is a warning: the plan works, but hardly as meant.
    """

    part: str
    field: str
    code: str
    about: str = ""
    fatal: bool = True


class ConfigError(ValueError):
    """Raised for a plan that cannot work; `problems` holds every reason."""

    def __init__(self, problems: list[ConfigProblem]) -> None:
        super().__init__(", ".join(f"{p.part}.{p.field}: {p.code}" for p in problems))
        self.problems = problems


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemConfig:
    """One collector with its gates, machines and linked devices.

    Raises `ConfigError` when a part refers to one that does not exist, or a value
    cannot work. Warnings are left in `warnings`.
    """

    collector: CollectorConfig
    gates: tuple[GateConfig, ...] = ()
    machines: tuple[MachineConfig, ...] = ()
    linked_devices: tuple[LinkedDeviceConfig, ...] = ()
    warnings: tuple[ConfigProblem, ...] = field(init=False, default=())

    def __post_init__(self) -> None:
        """Check the plan whole."""
        problems = find_problems(
            self.collector, self.gates, self.machines, self.linked_devices
        )
        fatal = [problem for problem in problems if problem.fatal]
        if fatal:
            raise ConfigError(fatal)
        object.__setattr__(self, "warnings", tuple(problems))


COLLECTOR = "collector"
"""The name by which a `ConfigProblem` refers to the collector."""


def find_problems(
    collector: CollectorConfig,
    gates: tuple[GateConfig, ...],
    machines: tuple[MachineConfig, ...],
    linked_devices: tuple[LinkedDeviceConfig, ...] = (),
) -> list[ConfigProblem]:
    """Return everything that is wrong with the parts of a plan, in their order."""
    gate_ids = {gate.gate_id for gate in gates}
    linked_device_ids = {
        linked_device.linked_device_id for linked_device in linked_devices
    }
    found = [
        *_bad_times(COLLECTOR, collector),
        *(
            ConfigProblem(
                part=COLLECTOR, field="hand_gates", code="unknown_gate", about=gate
            )
            for gate in collector.hand_gates
            if gate not in gate_ids
        ),
        *_duplicates(gates, machines, linked_devices),
    ]
    starts = collector.starts_per_hour
    if starts is not None and not (math.isfinite(starts) and starts > 0):
        found.append(
            ConfigProblem(part=COLLECTOR, field="starts_per_hour", code="not_positive")
        )
    for gate in gates:
        found += _bad_times(gate.gate_id, gate)
    for linked_device in linked_devices:
        found += _bad_times(linked_device.linked_device_id, linked_device)
    for machine in machines:
        found += _machine_problems(machine, gate_ids, linked_device_ids)
    used = {
        *collector.hand_gates,
        *(gate for machine in machines for gate in gates_of(machine)),
    }
    found += [
        ConfigProblem(
            part=gate.gate_id, field="gate_id", code="gate_without_machine", fatal=False
        )
        for gate in gates
        if gate.gate_id not in used and gate.kind is not GateKind.FIXED
    ]
    return found


def gates_of(machine: MachineConfig) -> tuple[str, ...]:
    """Return every gate a machine ever uses: for its work and for its purge."""
    return (*machine.gates, *(gate for step in machine.purge for gate in step.gates))


def threshold_problems(part: str, levels: Thresholds) -> list[ConfigProblem]:
    """Return what is wrong with a pair of levels and their times."""
    found = _bad_times(part, levels)
    if not math.isfinite(levels.start) or levels.start <= 0:
        found.append(ConfigProblem(part=part, field="start", code="not_positive"))
    if not levels.stop < levels.start:
        found.append(
            ConfigProblem(part=part, field="stop", code="stop_not_below_start")
        )
    if levels.stop < 0:
        found.append(ConfigProblem(part=part, field="stop", code="negative"))
    if levels.certain is not None and levels.certain < levels.start:
        found.append(
            ConfigProblem(part=part, field="certain", code="certain_below_start")
        )
    return found


def _machine_problems(
    machine: MachineConfig, gate_ids: set[str], linked_device_ids: set[str]
) -> Iterator[ConfigProblem]:
    part = machine.machine_id
    yield from _bad_times(part, machine)
    if machine.levels is not None:
        yield from threshold_problems(part, machine.levels)
    # Without any gate in the shop the collector simply runs with the machines.
    if machine.collect_while_running and not machine.gates and gate_ids:
        yield ConfigProblem(part=part, field="gates", code="machine_without_gates")
    if not machine.collect_while_running and not machine.purge:
        yield ConfigProblem(
            part=part, field="collect_while_running", code="machine_never_gets_air"
        )
    for gate in machine.gates:
        if gate not in gate_ids:
            yield ConfigProblem(
                part=part, field="gates", code="unknown_gate", about=gate
            )
    for step in machine.purge:
        yield from _bad_times(part, step, "purge")
        if not step.gates and gate_ids:
            yield ConfigProblem(part=part, field="purge", code="clearing_without_gates")
        for gate in step.gates:
            if gate not in gate_ids:
                yield ConfigProblem(
                    part=part, field="purge", code="unknown_gate", about=gate
                )
    for linked_device in machine.linked_devices:
        if linked_device not in linked_device_ids:
            yield ConfigProblem(
                part=part,
                field="linked_devices",
                code="unknown_companion",
                about=linked_device,
            )


def _duplicates(
    gates: tuple[GateConfig, ...],
    machines: tuple[MachineConfig, ...],
    linked_devices: tuple[LinkedDeviceConfig, ...],
) -> Iterator[ConfigProblem]:
    seen: set[str] = set()
    for part, name in (
        *((gate.gate_id, "gate_id") for gate in gates),
        *((machine.machine_id, "machine_id") for machine in machines),
        *(
            (linked_device.linked_device_id, "linked_device_id")
            for linked_device in linked_devices
        ),
    ):
        if part in seen:
            yield ConfigProblem(part=part, field=name, code="used_twice")
        seen.add(part)


def _bad_times(
    part: str,
    owner: CollectorConfig
    | GateConfig
    | MachineConfig
    | Thresholds
    | LinkedDeviceConfig
    | PurgeStep,
    name: str = "",
) -> list[ConfigProblem]:
    """Return the numbers of a part that are negative or not finite."""
    return [
        ConfigProblem(part=part, field=name or each, code="negative")
        for each in _NUMBERS[type(owner)]
        if isinstance(value := getattr(owner, each), float | int)
        and not isinstance(value, bool)
        and not (math.isfinite(value) and value >= 0)
    ]


_NUMBERS: Final[Mapping[type, tuple[str, ...]]] = {
    kind: tuple(
        item.name
        for item in fields(kind)
        if item.name not in ("start", "stop", "starts_per_hour")
    )
    for kind in (
        CollectorConfig,
        GateConfig,
        MachineConfig,
        Thresholds,
        LinkedDeviceConfig,
        PurgeStep,
    )
}
"""The fields of each kind of part that may not be negative, if they are numbers."""
