"""Readings of machines with a known truth: what ran when, and what a plug reported.

Figures of plug readings are taken from the smart plugs of the public data set tracebase
(Darmstadt, 2011 to 2012; Reinhardt and others, SustainIT 2012): bread cutters that run
for 2 to 10 s, refrigerators whose 90 to 130 W begin with 800 to 1,150 W for 1 to 3 s, a
washing machine whose drum draws 40 to 260 W for 6 to 15 s and rests for 2 to 6 s, in
between a heater of 2,000 W for 2 to 8 minutes, and readings that hold for 1 to 16 s and
average.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
import heapq
from itertools import pairwise
import math
from random import Random

from custom_components.gatewright.core.calibration.history import (
    Interval,
    Reading,
    bridged,
)

HOUR, DAY = 3600.0, 86_400.0
_LONGEST_REST = 10.0


@dataclass(frozen=True, kw_only=True)
class Motor:
    """A machine's power: in standby, running free, at full load, and while it starts."""

    free: float
    work: float
    standby: float = 0.0
    inrush: float = 0.0
    inrush_time: float = 0.5
    heater: float = 0.0
    """Beside the motor, which then turns to and fro: a part that heats now and then."""


@dataclass(frozen=True, kw_only=True)
class Plug:
    """How a sensor measures: every `interval` s, `jitter` of it early or late.

    An averaging one reports the mean since its last measurement. At rest it measures
    every `heartbeat` s, and at the next beat after a jump. `spikes` and `zeros` are odd
    readings an hour, at any time and while the machine runs; `outages` are per day,
    `outage` s long.
    """

    interval: float = 1.0
    jitter: float = 0.03
    noise: float = 0.02
    heartbeat: float = 60.0
    digits: int = 1
    averaging: bool = False
    spikes: float = 0.0
    spike: float = 3000.0
    zeros: float = 0.0
    outages: float = 0.0
    outage: float = 600.0

    @property
    def longest(self) -> float:
        return self.interval * (1.0 + self.jitter)


@dataclass(frozen=True, kw_only=True)
class Habit:
    """How the machine is used: runs a day, their length in s, sessions in the evening."""

    runs: float = 20.0
    shortest: float = 15.0
    longest: float = 240.0
    busy: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Lamp:
    """Something else on the outlet: so much for so long, so often a day, and at rest."""

    draws: float
    stays: float = 7200.0
    times: float = 1.0
    asleep: float = 0.0


@dataclass
class Trace:
    """A history and its truth: when the machine ran, when there was no reading."""

    history: list[Reading]
    ran: list[Interval]
    outages: list[Interval]
    until: float
    interval: float
    zeros: list[float] = field(default_factory=list)

    @property
    def hours(self) -> float:
        return self.until / HOUR


def make_trace(
    motor: Motor,
    plug: Plug,
    *,
    habit: Habit = Habit(),
    lamps: Iterable[Lamp] = (),
    days: float = 7.0,
    seed: int = 0,
) -> Trace:
    """Return what a recorder keeps of some days, beginning at 0."""
    random = Random(seed)
    until = days * DAY
    sources = [_work(motor, habit, days, random)]
    ran = [(a, b) for (a, w), (b, _) in pairwise(sources[0]) if w > motor.standby]
    # A machine's own rhythm is one run, pauses and all.
    ran = list(bridged(ran, longest=_LONGEST_REST if motor.heater else 0.0))
    sources += [_lamp(lamp, days, random) for lamp in lamps]
    jumps = _summed(sources)
    outages = _outages(plug, days, random)
    odd = _poisson(plug.spikes, until, random)
    zeros = [
        at
        for first, last in ran
        for gap in [_poisson(plug.zeros, last - first, random)]
        for at in (first + offset for offset in gap)
    ]
    history = _look(plug, jumps, ran, outages, odd, zeros, until, random)
    return Trace(history, ran, outages, until, plug.longest, zeros)


def _work(
    motor: Motor, habit: Habit, days: float, random: Random
) -> list[tuple[float, float]]:
    """Return a session of runs a day: free, under load in bouts, free again."""
    steps = [(0.0, motor.standby)]
    for day in range(math.ceil(days)):
        at = day * DAY + random.uniform(8.0, 10.0) * HOUR
        ends = min(days, day + 1) * DAY - HOUR
        for _ in range(_times(habit.runs, random)):
            at += random.expovariate(1.0 / 400.0) + 40.0
            length = random.uniform(habit.shortest, habit.longest)
            if at + length > ends:
                break
            if motor.inrush:
                steps.append((at, motor.inrush))
            now = at + (motor.inrush_time if motor.inrush else 0.0)
            if motor.heater:
                steps += _rhythm(motor, now, at + length, random)
                now = at + length
            while now < at + length:
                load = random.random() if random.random() < habit.busy else 0.0
                for share, lasts in ((0.0, 3.0), (load, random.uniform(2.0, 15.0))):
                    steps.append((now, motor.free + (motor.work - motor.free) * share))
                    now = min(now + lasts, at + length)
                    if now >= at + length:
                        break
            at += length
            steps.append((at, motor.standby))
    return steps


def _rhythm(
    motor: Motor, begins: float, ends: float, random: Random
) -> Iterator[tuple[float, float]]:
    """Yield a motor that turns to and fro, with a heater in between."""
    at = begins
    while at < ends:
        for _ in range(random.randint(5, 20)):
            yield at, random.uniform(motor.free, motor.work)
            at += random.uniform(6.0, 15.0)
            if at >= ends:
                return
            yield at, motor.standby
            at += random.uniform(2.0, 6.0)
            if at >= ends:
                return
        yield at, motor.heater
        at += random.uniform(120.0, 480.0)


def _lamp(lamp: Lamp, days: float, random: Random) -> list[tuple[float, float]]:
    steps = [(0.0, lamp.asleep)]
    at = 0.0
    while True:
        at += random.expovariate(lamp.times / DAY)
        length = random.uniform(0.7, 1.3) * lamp.stays
        if at + length > days * DAY:
            return steps
        steps += [(at, lamp.draws), (at + length, lamp.asleep)]
        at += length


def _times(mean: float, random: Random) -> int:
    return int(mean) + (random.random() < mean % 1.0)


def _poisson(per_hour: float, seconds: float, random: Random) -> list[float]:
    found: list[float] = []
    if per_hour <= 0:
        return found
    at = random.expovariate(per_hour / HOUR)
    while at < seconds:
        found.append(at)
        at += random.expovariate(per_hour / HOUR)
    return found


def _outages(plug: Plug, days: float, random: Random) -> list[Interval]:
    return [
        (at, at + plug.outage) for at in _poisson(plug.outages / 24, days * DAY, random)
    ]


def _summed(
    sources: Sequence[Sequence[tuple[float, float]]],
) -> list[tuple[float, float]]:
    """Return the instants at which the whole draw jumps, and to what."""
    now = [steps[0][1] for steps in sources]
    merged = heapq.merge(
        *([(at, n, value) for at, value in steps] for n, steps in enumerate(sources))
    )
    jumps: list[tuple[float, float]] = []
    for at, n, value in merged:
        now[n] = value
        if jumps and jumps[-1][0] == at:
            jumps.pop()
        jumps.append((at, sum(now)))
    return jumps


def _look(
    plug: Plug,
    jumps: Sequence[tuple[float, float]],
    ran: Sequence[Interval],
    outages: Sequence[Interval],
    odd: Sequence[float],
    zeros: Sequence[float],
    until: float,
    random: Random,
) -> list[Reading]:
    history: list[Reading] = []
    odd_left, zeros_left = list(reversed(odd)), list(reversed(zeros))
    away = list(reversed(list(bridged(sorted(outages)))))
    run = list(reversed(ran))
    at, index, reported, looked = 0.0, 0, math.nan, 0.0
    while at < until:
        while away and away[-1][1] <= at:
            away.pop()
        while run and run[-1][1] < at:
            run.pop()
        if away and away[-1][0] <= at:
            history.append((at, None))
            at, reported = away[-1][1], math.nan
            continue
        mean, index = _mean(jumps, index, max(looked, at - plug.interval), at)
        value = mean if plug.averaging else jumps[index][1]
        value = max(0.0, random.gauss(value, plug.noise * value))
        if odd_left and odd_left[-1] <= at:
            odd_left.pop()
            value = plug.spike
        elif zeros_left and zeros_left[-1] <= at:
            zeros_left.pop()
            value = 0.0
        value = round(value, plug.digits)
        if value != reported:
            history.append((at, value))
            reported = value
        looked = at
        # Looks fall on a beat, whatever happens; at rest most of them tell nothing.
        beat = plug.interval * random.uniform(1.0 - plug.jitter, 1.0 + plug.jitter)
        following = at + beat
        live = run and run[-1][0] <= following
        if not live and reported == round(jumps[index][1], plug.digits):
            upcoming = [at + plug.heartbeat]
            if index + 1 < len(jumps):
                upcoming.append(jumps[index + 1][0])
            upcoming += [rest[-1] for rest in (odd_left,) if rest]
            if away:
                upcoming.append(away[-1][0])
            beats = max(1.0, math.ceil((min(upcoming) - at) / plug.interval))
            if beats > 1:
                following = at + beats * plug.interval
        at = following
    return history


def _mean(
    jumps: Sequence[tuple[float, float]], index: int, since: float, at: float
) -> tuple[float, int]:
    """Return the mean draw since the last look, and which jump is in force now."""
    total, now = 0.0, since
    while index + 1 < len(jumps) and jumps[index + 1][0] <= at:
        index += 1
        if jumps[index][0] > now:
            total += jumps[index - 1][1] * (jumps[index][0] - now)
            now = jumps[index][0]
    total += jumps[index][1] * (at - now)
    return (total / (at - since) if at > since else jumps[index][1]), index
