"""What a machine's time to air is made of, what limits it, and what would help most.

The machine's reading, its gate and the impeller take their time side by side. So a part
limits only where nothing else would take as long without it: each is held against what
a better one of its kind would need, and the one that would save most is named.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from statistics import median

from ..config import GateKind, StartWhen
from ..control.machine import Machine
from ..control.run_detection import LEAST_CONFIRM, RunDetector
from ..control.sequence import HALF_SPEED, Sequence
from ..control.shop import ShopControl
from ..control.spin_up import UP_TO_SPEED
from ..control.travel import LATENCY, PASSABLE

RELAY = 0.3
"""How long in s it takes until the collector's switch reports on: from memory, usual for
relays on a home's radio."""

PROMPT_REPORT = 1.0
"""The reporting interval in s of a plug that is as good as any: common practice, no source."""

FAST_STROKE = 1.0
"""The stroke in s of a fast gate, moved by compressed air: common practice, no source."""

WORTH_IT = 0.5
"""From how many s on something is worth changing."""


class TimeToAirLimit(StrEnum):
    """What a machine's time to air depends on most."""

    GATE_OPEN = "gate_open"
    """The collector starts once the gate is open."""
    START_DELAY = "start_delay"
    MIN_OFF_TIME = "min_off_time"
    ENTERED_STROKE = "entered_stroke"
    """The gate does not say how it stands: it counts as moving for the time entered."""
    REPORTING = "reporting"
    CONFIRMATION = "confirmation"
    STROKE = "stroke"
    SPIN_UP = "spin_up"
    NOTHING = "nothing"
    """Gate and impeller take about as long as each other, and nothing else does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """What lies between the switch of a machine and its dust collection, times in s.

    `reporting` is the time between two reports of its plug (None: not known, or a signal
    that comes at once), `confirmation` how long a start usually has to last, `stroke`
    that of its slowest gate `gate_id` (0, None: no gate of it moves) and `reported`
    whether that gate says how it stands. `spin_up` is the time to full speed, `off_time`
    what a start usually waits for the motor's rest.
    """

    reporting: float | None = None
    confirmation: float = 0.0
    stroke: float = 0.0
    gate_id: str | None = None
    reported: bool = True
    spin_up: float
    start_delay: float = 0.0
    off_time: float = 0.0
    start_when: StartWhen = StartWhen.GATE_OPENING

    @property
    def floor(self) -> float:
        """What gate and collector need if neither waits for anything, in s."""
        return max(self.stroke, RELAY + UP_TO_SPEED * self.spin_up)

    @property
    def at_best(self) -> float:
        """The floor, and what the reading needs where the gate does not need it too, in s."""
        return max(self.stroke, self.confirmation + RELAY + UP_TO_SPEED * self.spin_up)

    @property
    def expected(self) -> float:
        """The time to air, from the first reading, that a start from rest needs in s."""
        started = max(
            self.confirmation + self.start_delay + self.off_time, self._allowed
        )
        return max(self.stroke, started + RELAY + UP_TO_SPEED * self.spin_up)

    @property
    def from_the_switch(self) -> float:
        """The same from when the machine is switched on, at the longest."""
        return (self.reporting or 0.0) + self.expected

    @property
    def _allowed(self) -> float:
        """When the gate allows the collector to start, in s after the first reading."""
        if self.start_when is StartWhen.GATE_OPEN:
            return self.stroke
        if not self.stroke:
            return 0.0
        passable = LATENCY + self.stroke * PASSABLE
        return max(0.0, passable - HALF_SPEED * self.spin_up)


@dataclass(frozen=True, slots=True)
class JudgedTimeToAir:
    """What limits a time to air, and how many s it would save without."""

    limit: TimeToAirLimit
    saves: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeToAir:
    """The time to air of a machine, and what it depends on; times in s.

    `latest` is that of its last run, `usual` the median of its last `runs` that have one.
    """

    latest: float | None
    usual: float | None
    runs: int
    chain: Chain
    judged: JudgedTimeToAir


def time_to_air(
    shop: ShopControl, machine_id: str, waits: Iterable[float] = ()
) -> TimeToAir | None:
    """Return the time to air of a machine; None where `chain_of` does."""
    if (chain := chain_of(shop.sequence, machine_id, waits)) is None:
        return None
    times = shop.ledger.times_to_air
    return TimeToAir(
        latest=times.latest(machine_id),
        usual=times.usual(machine_id),
        runs=len(times.recent(machine_id)),
        chain=chain,
        judged=judge(chain),
    )


def judge(chain: Chain) -> JudgedTimeToAir:
    """Return what limits a time to air."""
    judged = [
        JudgedTimeToAir(limit, chain.from_the_switch - better.from_the_switch)
        for limit, better in _remedies(chain)
    ]
    # Of two that save the same the first is the easier one.
    most = max(judged, key=lambda one: round(one.saves, 3), default=None)
    if most is None or most.saves < WORTH_IT:
        return JudgedTimeToAir(TimeToAirLimit.NOTHING)
    return most


def _remedies(chain: Chain) -> Iterable[tuple[TimeToAirLimit, Chain]]:
    """Yield how it would be with each part as good as it can be, the easy ones first."""
    at_once = replace(chain, start_when=StartWhen.GATE_OPENING)
    yield TimeToAirLimit.GATE_OPEN, at_once
    yield TimeToAirLimit.START_DELAY, replace(chain, start_delay=0.0)
    yield TimeToAirLimit.MIN_OFF_TIME, replace(chain, off_time=0.0)
    fast = replace(chain, stroke=min(chain.stroke, FAST_STROKE))
    if not chain.reported:
        yield TimeToAirLimit.ENTERED_STROKE, fast
    if chain.reporting is not None:
        prompt = min(chain.reporting, PROMPT_REPORT)
        confirmation = min(chain.confirmation, max(prompt, LEAST_CONFIRM))
        yield (
            TimeToAirLimit.REPORTING,
            replace(chain, reporting=prompt, confirmation=confirmation),
        )
    yield TimeToAirLimit.CONFIRMATION, replace(chain, confirmation=0.0)
    if chain.reported:
        yield TimeToAirLimit.STROKE, fast
    # An impeller that still turns at speed when the machine starts.
    yield TimeToAirLimit.SPIN_UP, replace(chain, spin_up=0.0)


def chain_of(
    sequence: Sequence, machine_id: str, waits: Iterable[float] = ()
) -> Chain | None:
    """Return what lies before a machine's dust collection, as the shop knows it now.

    `waits` are the s that its last runs waited for the motor's rest. None for what
    nobody switches on: a pickup, a machine that needs no dust collection or is gone.
    """
    run = sequence.machines.get(machine_id)
    if run is None or run.sensor is None or not run.plan.collect_while_running:
        return None
    collector = sequence.system.collector
    gate_id, stroke, reported = _slowest(sequence, run)
    return Chain(
        reporting=run.sensor.report_interval,
        confirmation=_confirmation(run.sensor),
        stroke=stroke,
        gate_id=gate_id,
        reported=reported,
        spin_up=sequence.motor.spin_up,
        start_delay=collector.start_delay,
        off_time=median(waits) if (waits := tuple(waits)) else 0.0,
        start_when=collector.start_when,
    )


def _confirmation(sensor: RunDetector) -> float:
    """Return how long a start has to last, in s: not longer than to the next report."""
    levels = sensor.levels
    if levels.certain is not None:
        return 0.0
    interval = sensor.report_interval
    if interval is None:
        return levels.start_confirm
    return min(levels.start_confirm, max(interval, LEAST_CONFIRM))


def _slowest(sequence: Sequence, run: Machine) -> tuple[str | None, float, bool]:
    """Return the driven gate that takes longest, its stroke in s, and if it reports."""
    slowest: tuple[str | None, float, bool] = (None, 0.0, True)
    for gate in sequence.system.gates:
        if gate.gate_id not in run.work_gates or gate.kind is not GateKind.POWERED:
            continue
        travel = sequence.gates.travel(gate.gate_id)
        stroke = None if travel is None else travel.stroke()
        took = gate.travel if stroke is None else stroke
        if took > slowest[1]:
            slowest = gate.gate_id, took, gate.feedback
    return slowest
