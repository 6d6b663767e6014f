"""What the shop would have done: recorded readings played through the core itself.

A rehearsal is a generator: it yields how far it has come, 0 to 1, and returns what
happened in it. Whoever runs it may report that, and may stop at any of these points.
"""

from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from enum import IntEnum
from operator import itemgetter

from ..alarms import AlarmChange
from ..learning.history import Interval, Reading, total
from ..plan import COLLECTOR, System
from ..spin_up import DEFAULT_SPIN_UP, UP_TO_SPEED
from ..words import Refused, Switching
from .replay import Actuators, Command, Replay

type Signal = tuple[float, bool | None]
"""An instant in s and what a signal said from then on; None is "not known"."""

_EVENTS_PER_LOOK = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """What was recorded of a shop from `begins` to `ends`, instants in s.

    `readings` are the changes of each machine's reading (1.0 or 0.0 for a signal), in
    their order; what held before `begins` may be among them. `attached` are the signals
    of movable machines, `hand_gates` the positions of gates that are moved by hand (True
    is open; taken to be open where nothing was recorded), `requests` when air was asked
    for by hand. `lockout`, `emergency` and `bin_full` are what held for the whole system;
    an emergency counts as reset once no detector gives the alarm any more.
    """

    begins: float
    ends: float
    readings: Mapping[str, Sequence[Reading]]
    attached: Mapping[str, Sequence[Signal]] = field(default_factory=dict)
    hand_gates: Mapping[str, Sequence[Signal]] = field(default_factory=dict)
    requests: Mapping[str, Sequence[Interval]] = field(default_factory=dict)
    lockout: Sequence[Signal] = ()
    emergency: Sequence[Signal] = ()
    bin_full: Sequence[Signal] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineFigures:
    """What one machine did: times in s, `air_time` the part of it with air.

    A run lasts from the first cut until the machine came to rest.
    """

    run_time: float
    air_time: float
    cuts: int
    runs: int = 0

    @property
    def coverage(self) -> float | None:
        """Share of the running time that had air, 0 to 1; None without any."""
        return min(1.0, self.air_time / self.run_time) if self.run_time > 0 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What a shop did: starts, `on_time` in s and `energy` in J of the collector.

    `energy` is None where the collector's power is not known. A machine's coverage is
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
    def coverage(self) -> float | None:
        """Share of the running time of all machines that had air; None without any."""
        run_time = self.run_time
        if run_time <= 0:
            return None
        air_time = sum(figures.air_time for figures in self.machines.values())
        return min(1.0, air_time / run_time)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsed:
    """What would have happened: the figures, and what ran when.

    `collector` is when the impeller would have been driven, `gates` when each stood
    open, `ran` and `aired` when each machine counted as running and had air.
    """

    figures: Figures
    collector: tuple[Interval, ...]
    gates: Mapping[str, tuple[Interval, ...]]
    ran: Mapping[str, tuple[Interval, ...]]
    aired: Mapping[str, tuple[Interval, ...]]
    alarms: tuple[AlarmChange, ...]
    switchings: tuple[Switching, ...]
    commands: tuple[Command, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Happened:
    """What really happened in the same time, as far as it was recorded.

    `collector` is when it was on, `gates` when each stood open, `energy` what the
    collector took in J where that was measured.
    """

    collector: Sequence[Interval]
    gates: Mapping[str, Sequence[Interval]] = field(default_factory=dict)
    energy: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """The second of two figures less the first; coverage in shares of 1."""

    starts: int
    on_time: float
    energy: float | None
    coverage: float | None


class _Kind(IntEnum):
    READING = 0
    ATTACHED = 1
    HAND_GATE = 2
    REQUEST = 3
    LOCKOUT = 4
    EMERGENCY = 5
    BIN_FULL = 6


type _Event = tuple[float, int, str, float | bool | None]
"""An instant, the value of a `_Kind`, a part and what was told.

Plain values are made and compared faster, and there are half a million of them.
"""

_READING = _Kind.READING.value


def rehearse(
    system: System,
    recording: Recording,
    actuators: Actuators | None = None,
    *,
    power: float | None = None,
) -> Generator[float, None, Rehearsed]:
    """Play a recording through a shop with this plan; yield progress from 0 to 1.

    Everything begins at rest. `power` is what the collector draws in W. Readings of
    machines that the plan does not have are passed over.
    """
    # By the time the recording begins, the coast of an unknown past has been served.
    replay = Replay(
        system,
        actuators or Actuators(),
        recording.begins - system.collector.coast - 1.0,
    )
    replay.run_before(recording.begins)
    events = _events(system, recording)
    sequence = replay.shop.sequence
    read = sequence.read
    due = replay.next
    changed = False
    now = recording.begins
    for number, (at, kind, part, value) in enumerate(events):
        if at > now:
            if changed:
                replay.settle(now)
                changed = False
                due = replay.next
            if due < at:
                replay.run_before(at)
                due = replay.next
            now = at
        if kind == _READING:
            changed |= read(part, value, at)
        else:
            _happen(replay, _Kind(kind), part, value, at)
            changed = True
        if not number % _EVENTS_PER_LOOK:
            yield number / len(events)
    if changed:
        replay.settle(now)
    replay.run_before(recording.ends)
    replay.settle(recording.ends)
    yield 1.0
    return _result(replay, recording, power)


def complete[R](
    rehearsal: Generator[float, None, R],
    progress: Callable[[float], object] | None = None,
) -> R:
    """Run a rehearsal to its end and return its result; tell `progress` on the way."""
    while True:
        try:
            share = next(rehearsal)
        except StopIteration as end:
            result: R = end.value
            return result
        if progress is not None:
            progress(share)


def figures_of(
    rehearsed: Rehearsed,
    happened: Happened,
    system: System,
    *,
    power: float | None = None,
) -> Figures:
    """Return what really happened, in the figures of a rehearsal.

    The machines' running times are those of the rehearsal, held against the air that
    there was: the collector up to speed and all the machine's gates open. A machine with
    a gate of which nothing was recorded is left out. `power` in W stands in for energy that was
    not measured.
    """
    collector = sorted(happened.collector)
    on_time = total(collector)
    spin_up = system.collector.spin_up
    until_speed = UP_TO_SPEED * (DEFAULT_SPIN_UP if spin_up is None else spin_up)
    pulling = [
        (begin + until_speed, end)
        for begin, end in collector
        if begin + until_speed < end
    ]
    machines = {}
    for machine in system.machines:
        if any(gate not in happened.gates for gate in machine.gates):
            continue
        ran = rehearsed.ran[machine.machine_id]
        aired = list(common(ran, pulling))
        for gate in machine.gates:
            aired = list(common(aired, sorted(happened.gates[gate])))
        machines[machine.machine_id] = MachineFigures(
            run_time=total(ran),
            air_time=total(aired),
            cuts=rehearsed.figures.machines[machine.machine_id].cuts,
            runs=rehearsed.figures.machines[machine.machine_id].runs,
        )
    energy = happened.energy
    if energy is None and power is not None:
        energy = power * on_time
    return Figures(
        starts=len(collector), on_time=on_time, energy=energy, machines=machines
    )


def difference(first: Figures, second: Figures) -> Difference:
    """Return how the second figures differ from the first.

    Coverage is compared over the machines that both can tell about.
    """
    energies = (first.energy, second.energy)
    both = first.machines.keys() & second.machines.keys()
    coverages = [
        Figures(
            starts=0,
            on_time=0.0,
            energy=None,
            machines={machine: figures.machines[machine] for machine in both},
        ).coverage
        for figures in (first, second)
    ]
    return Difference(
        starts=second.starts - first.starts,
        on_time=second.on_time - first.on_time,
        energy=_less(*energies),
        coverage=_less(*coverages),
    )


def common(first: Sequence[Interval], second: Sequence[Interval]) -> Iterator[Interval]:
    """Yield where two sequences of intervals overlap, both in the order of time."""
    one = other = 0
    while one < len(first) and other < len(second):
        begins = max(first[one][0], second[other][0])
        ends = min(first[one][1], second[other][1])
        if begins < ends:
            yield begins, ends
        if first[one][1] < second[other][1]:
            one += 1
        else:
            other += 1


def _less(first: float | None, second: float | None) -> float | None:
    return None if first is None or second is None else second - first


def _events(system: System, recording: Recording) -> list[_Event]:
    """Return all that happened, in its order; at one instant in the plan's order."""
    events: list[_Event] = []
    for of_all, changes in (
        (_Kind.LOCKOUT, recording.lockout),
        (_Kind.EMERGENCY, recording.emergency),
        (_Kind.BIN_FULL, recording.bin_full),
    ):
        events += _within(recording, of_all, COLLECTOR, {COLLECTOR: changes})
    for machine in system.machines:
        part = machine.machine_id
        events += _within(recording, _Kind.ATTACHED, part, recording.attached)
        if machine.levels is not None:
            events += _within(recording, _Kind.READING, part, recording.readings)
        for first, last in recording.requests.get(part, ()):
            if first < recording.ends and last > recording.begins:
                begins = max(first, recording.begins)
                events.append((begins, _Kind.REQUEST.value, part, True))
                if last < recording.ends:
                    events.append((last, _Kind.REQUEST.value, part, False))
    for gate in system.gates:
        events += _within(
            recording, _Kind.HAND_GATE, gate.gate_id, recording.hand_gates
        )
    # Each part's own order is kept, and such runs are what this sorts fastest.
    events.sort(key=itemgetter(0))
    return events


def _within(
    recording: Recording,
    kind: _Kind,
    part: str,
    told: Mapping[str, Sequence[Reading]] | Mapping[str, Sequence[Signal]],
) -> Iterator[_Event]:
    """Yield what a sensor told in the time of the recording, and what held before."""
    changes = told.get(part, ())
    first = 0
    while first < len(changes) and changes[first][0] <= recording.begins:
        first += 1
    if first:
        yield recording.begins, kind.value, part, changes[first - 1][1]
    number = kind.value
    for at, value in changes[first:]:
        if at >= recording.ends:
            break
        yield at, number, part, value


def _happen(
    replay: Replay, kind: _Kind, part: str, value: float | bool | None, at: float
) -> None:
    sequence = replay.shop.sequence
    known = None if value is None else bool(value)
    replay.now = at
    match kind:
        case _Kind.ATTACHED:
            sequence.attach(part, known, at)
        case _Kind.HAND_GATE:
            replay.set_gate(part, known)
        case _Kind.LOCKOUT:
            sequence.set_lockout(known is True)
        case _Kind.EMERGENCY:
            sequence.set_emergency(known is True)
        case _Kind.BIN_FULL:
            sequence.set_bin_full(known is True)
        case _ if known:
            # What is refused, say because nothing is attached, does not happen.
            with suppress(Refused):
                sequence.request(part, at)
        case _:
            sequence.withdraw(part)


def _result(replay: Replay, recording: Recording, power: float | None) -> Rehearsed:
    begins, ends = recording.begins, recording.ends
    shop = replay.shop
    collector = shop.ledger.collector
    ran = {part: track.until(ends) for part, track in replay.ran.items()}
    machines = {}
    for part in ran:
        totals = shop.ledger.of(part)
        machines[part] = MachineFigures(
            run_time=totals.run_time,
            air_time=totals.air_time,
            cuts=totals.cuts,
            runs=totals.runs,
        )
    # What was missed before the first reading was none of the recording's.
    before = {change.condition for change in replay.alarms if change.at < begins}
    alarms = []
    for change in replay.alarms:
        if change.condition in before and not change.raised:
            before.discard(change.condition)
        elif change.at >= begins:
            alarms.append(change)
    return Rehearsed(
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
        aired={part: track.until(ends) for part, track in replay.aired.items()},
        alarms=tuple(alarms),
        switchings=tuple(replay.switchings),
        commands=tuple(command for command in replay.commands if command.at >= begins),
    )
