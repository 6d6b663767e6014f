"""What really happened in a recorded time, in the figures of a simulation."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from ..calibration.history import Interval, total
from ..config import SystemConfig
from ..control.ledger import FinishedRun
from ..control.spin_up import DEFAULT_SPIN_UP, UP_TO_SPEED
from .simulation import Figures, MachineFigures, SimulationResult, usual


@dataclass(frozen=True, slots=True, kw_only=True)
class ActualFigures:
    """What really happened in the same time, as far as it was recorded.

    `collector` is when it was on, `gates` when each stood open, `energy` what the
    collector took in J where that was measured.
    """

    collector: Sequence[Interval]
    gates: Mapping[str, Sequence[Interval]] = field(default_factory=dict)
    energy: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """The second of two figures less the first; collected share of 1."""

    starts: int
    on_time: float
    energy: float | None
    collected_share: float | None


def figures_of(
    simulated: SimulationResult,
    happened: ActualFigures,
    system: SystemConfig,
    *,
    power: float | None = None,
) -> Figures:
    """Return what really happened, in the figures of a simulation.

    The machines' running times are those of the simulation, held against what really
    was: the collector up to speed and all the machine's gates open. A machine with
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
        ran = simulated.ran[machine.machine_id]
        collecting: list[Interval] = pulling
        for gate in machine.gates:
            collecting = list(common(collecting, sorted(happened.gates[gate])))
        machines[machine.machine_id] = MachineFigures(
            run_time=total(ran),
            collecting_time=total(common(ran, collecting)),
            cuts=simulated.figures.machines[machine.machine_id].cuts,
            runs=simulated.figures.machines[machine.machine_id].runs,
            time_to_air=usual(
                _time_to_air(run, collecting)
                for run in simulated.runs
                if run.machine_id == machine.machine_id
            ),
        )
    energy = happened.energy
    if energy is None and power is not None:
        energy = power * on_time
    return Figures(
        starts=len(collector), on_time=on_time, energy=energy, machines=machines
    )


def _time_to_air(run: FinishedRun, collecting: Sequence[Interval]) -> float | None:
    """Return the time to air of a run in s; None if dust was never collected."""
    if (sign := run.first_sign) is None:
        return None
    for begin, end in collecting:
        if end > sign:
            return max(0.0, begin - sign) if begin < run.ended else None
    return None


def difference(first: Figures, second: Figures) -> Difference:
    """Return how the second figures differ from the first.

    The collected share is compared over the machines that both can tell about.
    """
    energies = (first.energy, second.energy)
    both = first.machines.keys() & second.machines.keys()
    collected_shares = [
        Figures(
            starts=0,
            on_time=0.0,
            energy=None,
            machines={machine: figures.machines[machine] for machine in both},
        ).collected_share
        for figures in (first, second)
    ]
    return Difference(
        starts=second.starts - first.starts,
        on_time=second.on_time - first.on_time,
        energy=_less(*energies),
        collected_share=_less(*collected_shares),
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
