"""How fast each machine fills the bin, learned from the times it was found full.

A rate is the share of the bin that one hour with dust collection brings. Before the
first emptyings it is what machines of the kind usually make. From then on the rates
are those that fit best, never below zero, where each of these counts by how well
it is known: what was seen of the bin; that the machines differ from their kind by
a factor that is mostly the shop's (wood, fineness, how the chips pack) and less
the machine's. So the first emptying already moves all rates together, and what the
kind says fades as emptyings tell the machines apart.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
import math

from ..kinds import MachineKind
from . import least_squares

LITERS_PER_HOUR: Mapping[MachineKind, float] = {
    MachineKind.TABLE_SAW: 15.0,
    MachineKind.BAND_SAW: 8.0,
    MachineKind.PLANER: 120.0,
    MachineKind.JOINTER: 60.0,
    MachineKind.MITER_SAW: 8.0,
    MachineKind.DRUM_SANDER: 12.0,
    MachineKind.ROUTER_TABLE: 25.0,
    MachineKind.LATHE: 20.0,
    MachineKind.DRILL_PRESS: 4.0,
    MachineKind.SANDER: 3.0,
    MachineKind.FLOOR_SWEEP: 20.0,
    MachineKind.BENCH_HOOD: 3.0,
    MachineKind.TOOL_HOSE: 4.0,
    MachineKind.OTHER: 15.0,
}
"""Loose chips and dust by the hour of running. Common practice, no source: orders of
magnitude to begin with, for a shop of one person."""

_SHOP = 0.8
"""How far a whole shop is from its kinds, as a share (one standard deviation)."""

_MACHINE = 0.5
"""How far a machine is from the rest of its shop."""

_WORK = 0.1
"""How far the chips of one filling are from what its hours say."""

_WORK_WORTH = 6.0
"""Emptyings that the figure above is worth against what the emptyings themselves say."""

_FADE = 0.5 ** (1 / 8)
"""Weight of an observation against the one after it: half after eight."""

_ODD = 2.5
"""Standard deviations from which an observation counts less: an emptying not told."""

_PASSES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """The bin was found fuller by `share` after so many `hours` of each machine.

    `error` is the standard deviation of `share` in itself, without that of the work.
    """

    hours: Mapping[str, float]
    share: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Shares of the bin per hour with dust collection, by machine id."""

    per_hour: Mapping[str, float]
    work: float = _WORK
    _order: Sequence[str] = field(default=(), repr=False)
    _spread: Sequence[Sequence[float]] = field(default=(), repr=False)

    def rise(self, hours: Mapping[str, float]) -> float:
        """Return by what share the bin fills in these hours."""
        return math.fsum(self.per_hour[m] * spent for m, spent in hours.items())

    def error(self, hours: Mapping[str, float]) -> float:
        """Return the standard deviation of `rise`."""
        weights = [0.0, *(hours.get(m, 0.0) for m in self._order)]
        known = least_squares.variance([list(row) for row in self._spread], weights)
        return math.sqrt(known + (self.work * self.rise(hours)) ** 2)


def load_kind(name: str) -> MachineKind:
    """Return a saved kind; one of a later version is some other machine."""
    return MachineKind(name) if name in MachineKind else MachineKind.OTHER


def usual(kinds: Mapping[str, MachineKind], volume: float) -> dict[str, float]:
    """Return the rates that machines of these kinds usually have in a bin of m3."""
    return {m: LITERS_PER_HOUR[kind] / 1000 / volume for m, kind in kinds.items()}


def learn(observations: Sequence[Observation], usually: Mapping[str, float]) -> Rates:
    """Return the rates that fit the observations, the oldest first.

    `usually` gives the rate of every machine that is asked for or was observed.
    """
    order = list(usually)
    work = _WORK
    trust = [1.0] * len(observations)
    sizes = [seen.share for seen in observations]
    for _ in range(_PASSES if observations else 1):
        errors = [
            math.hypot(seen.error, work * size)
            for seen, size in zip(observations, sizes, strict=True)
        ]
        solution, spread = _fit(
            observations,
            [error / math.sqrt(t) for error, t in zip(errors, trust, strict=True)],
            usually,
            order,
        )
        rates = Rates(
            per_hour=dict(zip(order, solution[1:], strict=True)),
            work=work,
            _order=order,
            _spread=spread,
        )
        rises = [rates.rise(seen.hours) for seen in observations]
        misses = [
            (rise - seen.share) / error
            for rise, seen, error in zip(rises, observations, errors, strict=True)
        ]
        trust = [
            _FADE**age / (1 + (miss / _ODD) ** 2)
            for age, miss in zip(reversed(range(len(misses))), misses, strict=True)
        ]
        # Chips vary in proportion. Between what was seen and what is computed lies
        # the size for which twice as many and half as many are equally far off.
        sizes = [
            math.sqrt(max(rise, seen.share / 4) * seen.share)
            for rise, seen in zip(rises, observations, strict=True)
        ]
        work = _WORK * _scatter(misses)
    return rates


def _scatter(misses: Iterable[float]) -> float:
    """Return by what factor the observations scatter more than was assumed."""
    clipped = [min(abs(miss), _ODD) ** 2 for miss in misses]
    return math.sqrt((_WORK_WORTH + sum(clipped)) / (_WORK_WORTH + len(clipped)))


def _fit(
    observations: Sequence[Observation],
    errors: Sequence[float],
    usually: Mapping[str, float],
    order: Sequence[str],
) -> tuple[list[float], list[list[float]]]:
    """Solve for the shop's factor and every rate, each row in its own error."""
    rows = [[1 / _SHOP] + [0.0] * len(order)]
    values = [1 / _SHOP]
    for i, machine_id in enumerate(order):
        row = [-1 / _MACHINE] + [0.0] * len(order)
        row[1 + i] = 1 / (_MACHINE * usually[machine_id])
        rows.append(row)
        values.append(0.0)
    for seen, error in zip(observations, errors, strict=True):
        rows.append([0.0, *(seen.hours.get(m, 0.0) / error for m in order)])
        values.append(seen.share / error)
    return least_squares.solve(rows, values)
