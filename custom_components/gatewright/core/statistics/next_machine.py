"""Which machine is most often the next after the shop has rested, and what that is worth.

A gate that idles open at that machine saves its stroke, as far as the collector does not
take as long to get up to speed.
"""

from collections import Counter, deque
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from ..config import CollectorConfig, StartWhen
from ..control.sequence import HALF_SPEED
from ..control.spin_up import UP_TO_SPEED
from ..control.travel import LATENCY, PASSABLE
from .runs import KeptRun
from .time_to_air import RELAY

_LOOKED_AT = 100
"""So many of the last first runs say what is usual now."""

_LEAST_FIRST_RUNS = 20
_LEAST_SHARE = 0.5
LEAST_SAVED = 0.5
"""Seconds below which a gate is not worth leaving open. Like the evidence that is
asked for, common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextMachine:
    """The machine that was `times` of the last `first_runs` the first after a rest."""

    machine_id: str
    times: int
    first_runs: int


def most_often_next(
    runs: Iterable[KeptRun], rest: float, known: Collection[str]
) -> NextMachine | None:
    """Return which machine most often begins; None where the record does not say.

    The shop has rested when no machine has run for `rest` seconds. Only machines that
    are `known` count.
    """
    firsts: deque[str] = deque(maxlen=_LOOKED_AT)
    last_end: float | None = None
    for run in sorted(runs, key=lambda run: run.began):
        rested = last_end is None or run.began - last_end >= rest
        last_end = run.ended if last_end is None else max(last_end, run.ended)
        if rested and run.machine_id in known:
            firsts.append(run.machine_id)
    if len(firsts) < _LEAST_FIRST_RUNS:
        return None
    [(machine_id, times)] = Counter(firsts).most_common(1)
    if times < _LEAST_SHARE * len(firsts):
        return None
    return NextMachine(machine_id=machine_id, times=times, first_runs=len(firsts))


def saved_by_idling_open(
    collector: CollectorConfig, spin_up: float, stroke: float
) -> float:
    """Return by how many s the time to air is shorter with a gate that is open already.

    `spin_up` is the time in s to full speed, `stroke` that of the slowest gate.
    """
    pulls = RELAY + UP_TO_SPEED * spin_up
    with_open_gate = collector.start_delay + pulls
    if collector.start_when is StartWhen.GATE_OPEN:
        return max(stroke, collector.start_delay) + pulls - with_open_gate
    due = LATENCY + PASSABLE * stroke - HALF_SPEED * spin_up
    collects = max(due, collector.start_delay) + pulls
    return max(stroke, collects) - with_open_gate
