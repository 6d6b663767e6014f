"""What the shop would have done: recorded readings played through the core itself.

A simulation is a generator: it yields how far it has come, 0 to 1, and returns what
happened in it. Whoever runs it may report that, and may stop at any of these points.
"""

from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from operator import itemgetter
from statistics import median

from ..calibration.history import Interval, Reading
from ..config import SystemConfig
from ..control.alarms import AlarmChange
from ..control.enums import Switching
from ..control.ledger import FinishedRun
from ..inputs import (
    BinReported,
    DetectorReported,
    FireShutdownReset,
    GateReported,
    HoseReported,
    Input,
    MachineReading,
    Mode,
    ModeSet,
    RequestMade,
    RequestWithdrawn,
)
from ..statistics.time_to_air import TimeToAir, time_to_air
from .controlled_plant import SimulatedCommand
from .simulator import Actuators, Simulator

type Signal = tuple[float, bool | None]
"""An instant in s and what a signal said from then on; None is "not known"."""

_EVENTS_PER_LOOK = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """What was recorded of a shop from `begins` to `ends`, instants in s.

    `readings` are the changes of each machine's reading (1.0 or 0.0 for a signal), in
    their order; what held before `begins` may be among them. `connected` are the signals
    of movable machines, `hand_gates` the positions of gates that are moved by hand (True
    is open; taken to be open where nothing was recorded), `requests` when dust
    collection was asked for by hand. `start_block`, `fire_shutdown` and `bin_full` are what held for the whole system;
    a fire shutdown counts as reset once no detector gives the alarm any more.
    """

    begins: float
    ends: float
    readings: Mapping[str, Sequence[Reading]]
    connected: Mapping[str, Sequence[Signal]] = field(default_factory=dict)
    hand_gates: Mapping[str, Sequence[Signal]] = field(default_factory=dict)
    requests: Mapping[str, Sequence[Interval]] = field(default_factory=dict)
    start_block: Sequence[Signal] = ()
    fire_shutdown: Sequence[Signal] = ()
    bin_full: Sequence[Signal] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineFigures:
    """What one machine did: times in s, `collecting_time` the part with dust collection.

    A run lasts from the first cut until the machine came to rest. `time_to_air` is the
    median of its runs; None where none had dust collection.
    """

    run_time: float
    collecting_time: float
    cuts: int
    runs: int = 0
    time_to_air: float | None = None

    @property
    def collected_share(self) -> float | None:
        """Share of the running time with dust collection, 0 to 1; None without any."""
        return (
            min(1.0, self.collecting_time / self.run_time)
            if self.run_time > 0
            else None
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What a shop did: starts, `on_time` in s and `energy` in J of the collector.

    `energy` is None where the collector's power is not known. A machine's collected share is
    left out (`machines` lacks it) where it cannot be told.
    """

    starts: int
    on_time: float
    energy: float | None
    machines: Mapping[str, MachineFigures]

    @property
    def run_time(self) -> float:
        """Seconds that all machines ran, added up."""
        return sum(figures.run_time for figures in self.machines.values())

    @property
    def collected_share(self) -> float | None:
        """Share of the running time of all machines with dust collection; None without any."""
        run_time = self.run_time
        if run_time <= 0:
            return None
        collecting_time = sum(
            figures.collecting_time for figures in self.machines.values()
        )
        return min(1.0, collecting_time / run_time)


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulationResult:
    """What would have happened: the figures, and what ran when.

    `collector` is when the impeller would have been driven, `gates` when each stood
    open, `ran` and `collected` when each machine counted as running and had dust collection, `runs` what
    ended in the time; `times_to_air` is what they depend on.
    """

    figures: Figures
    collector: tuple[Interval, ...]
    gates: Mapping[str, tuple[Interval, ...]]
    ran: Mapping[str, tuple[Interval, ...]]
    runs: tuple[FinishedRun, ...]
    times_to_air: Mapping[str, TimeToAir]
    collected: Mapping[str, tuple[Interval, ...]]
    alarms: tuple[AlarmChange, ...]
    switchings: tuple[Switching, ...]
    commands: tuple[SimulatedCommand, ...]


type _Event = tuple[float, Input]
"""An instant, and what happened then."""


def simulate(
    system: SystemConfig,
    recording: Recording,
    actuators: Actuators | None = None,
    *,
    power: float | None = None,
) -> Generator[float, None, SimulationResult]:
    """Play a recording through a shop with this plan; yield progress from 0 to 1.

    Everything begins at rest. `power` is what the collector draws in W. Readings of
    machines that the plan does not have are passed over.
    """
    # By the time the recording begins, the spin-down of an unknown past has been served.
    replay = Simulator(
        system,
        actuators or Actuators(),
        recording.begins - system.collector.spin_down - 1.0,
    )
    replay.run_before(recording.begins)
    events = _events(system, recording)
    due = replay.next
    changed = False
    now = recording.begins
    for number, (at, event) in enumerate(events):
        if at > now:
            if changed:
                replay.settle(now)
                changed = False
                due = replay.next
            if due < at:
                replay.run_before(at)
                due = replay.next
            now = at
        changed |= replay.handle(event, at)
        if not number % _EVENTS_PER_LOOK:
            yield number / len(events)
    if changed:
        replay.settle(now)
    replay.run_before(recording.ends)
    replay.settle(recording.ends)
    yield 1.0
    return _result(replay, recording, power)


def complete[R](
    simulation: Generator[float, None, R],
    progress: Callable[[float], object] | None = None,
) -> R:
    """Run a simulation to its end and return its result; tell `progress` on the way."""
    while True:
        try:
            share = next(simulation)
        except StopIteration as end:
            result: R = end.value
            return result
        if progress is not None:
            progress(share)


def usual(times: Iterable[float | None]) -> float | None:
    """Return the median of the times in s that are known; None without any."""
    known = [time for time in times if time is not None]
    return median(known) if known else None


def _events(system: SystemConfig, recording: Recording) -> list[_Event]:
    """Return all that happened, in its order; at one instant in the plan's order."""
    events: list[_Event] = []

    def add[T](told: Sequence[tuple[float, T]], made: Callable[[T], Input]) -> None:
        events.extend((at, made(value)) for at, value in _within(recording, told))

    add(recording.start_block, lambda on: ModeSet(Mode.START_BLOCK, on is True))
    add(recording.fire_shutdown, lambda on: DetectorReported("", on is True))
    over = [(at, on) for at, on in recording.fire_shutdown if on is not True]
    add(over, lambda _: FireShutdownReset())
    add(recording.bin_full, lambda full: BinReported(full is True))
    for machine in system.machines:
        part = machine.machine_id
        add(recording.connected.get(part, ()), partial(HoseReported, part))
        if machine.levels is not None:
            add(recording.readings.get(part, ()), partial(MachineReading, part))
        for first, last in recording.requests.get(part, ()):
            if first < recording.ends and last > recording.begins:
                events.append((max(first, recording.begins), RequestMade(part)))
                if last < recording.ends:
                    events.append((last, RequestWithdrawn(part)))
    for gate in system.gates:
        moved = recording.hand_gates.get(gate.gate_id, ())
        add(moved, partial(GateReported, gate.gate_id))
    # Each part's own order is kept, and such runs are what this sorts fastest.
    events.sort(key=itemgetter(0))
    return events


def _within[T](
    recording: Recording, changes: Sequence[tuple[float, T]]
) -> Iterator[tuple[float, T]]:
    """Yield what a sensor said in the time of the recording, and what held before."""
    first = 0
    while first < len(changes) and changes[first][0] <= recording.begins:
        first += 1
    if first:
        yield recording.begins, changes[first - 1][1]
    for at, value in changes[first:]:
        if at >= recording.ends:
            break
        yield at, value


def _result(
    replay: Simulator, recording: Recording, power: float | None
) -> SimulationResult:
    begins, ends = recording.begins, recording.ends
    shop = replay.shop
    collector = shop.ledger.collector
    ran = {part: track.until(ends) for part, track in replay.ran.items()}
    runs = tuple(shop.ledger.drain())
    machines = {}
    for part in ran:
        totals = shop.ledger.of(part)
        machines[part] = MachineFigures(
            run_time=totals.run_time,
            collecting_time=totals.collecting_time,
            cuts=totals.cuts,
            runs=totals.runs,
            time_to_air=usual(
                run.time_to_air for run in runs if run.machine_id == part
            ),
        )
    # What was missed before the first reading was none of the recording's.
    before = {change.condition for change in replay.alarms if change.at < begins}
    alarms = []
    for change in replay.alarms:
        if change.condition in before and not change.raised:
            before.discard(change.condition)
        elif change.at >= begins:
            alarms.append(change)
    return SimulationResult(
        figures=Figures(
            starts=collector.starts,
            on_time=collector.on_time,
            energy=None if power is None else power * collector.on_time,
            machines=machines,
        ),
        collector=replay.turning.until(ends),
        gates={
            gate: tuple((max(a, begins), b) for a, b in track.until(ends) if b > begins)
            for gate, track in replay.opened.items()
        },
        ran=ran,
        runs=runs,
        times_to_air={
            part: told for part in ran if (told := time_to_air(shop, part)) is not None
        },
        collected={part: track.until(ends) for part, track in replay.collected.items()},
        alarms=tuple(alarms),
        switchings=tuple(replay.switchings),
        commands=tuple(command for command in replay.commands if command.at >= begins),
    )
