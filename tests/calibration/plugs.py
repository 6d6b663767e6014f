"""What plugs of different kinds report of the same power: at intervals, averaged, on change, delayed.

Each takes the readings of a finer record, in which a reading holds until the next, and
returns what a recorder would have kept of such a plug's reports: the changes. None is
"no usable reading" and ends an average; the plug itself reports it at once.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
import math

from custom_components.gatewright.core.calibration.history import Reading

type Report = Callable[[Sequence[Reading], float], list[Reading]]
"""From readings, and the instant in s at which they end, to what is kept of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sort:
    """A kind of reporting; `interval` in s is the longest time a change may go unseen.

    None is the interval of the record that the reports are made from.
    """

    name: str
    report: Report
    interval: float | None = None


def as_recorded(readings: Sequence[Reading], until: float) -> list[Reading]:
    """Report what is there."""
    return list(kept(at_most(readings, until)))


def on_change(watts: float, share: float, heartbeat: float) -> Report:
    """Report a change of at least so many watts and such a share, and at a heartbeat."""

    def report(readings: Sequence[Reading], until: float) -> list[Reading]:
        return list(kept(_changed(readings, until, watts, share, heartbeat)))

    return report


def held_back(interval: float, watts: float) -> Report:
    """Report a change of so many watts, but not sooner than `interval` s after the last."""

    def report(readings: Sequence[Reading], until: float) -> list[Reading]:
        return list(kept(_held_back(readings, until, interval, watts)))

    return report


def polled(interval: float, offset: float = 0.4) -> Report:
    """Measure every `interval` s; `offset` is the first measurement within an interval."""

    def report(readings: Sequence[Reading], until: float) -> list[Reading]:
        return list(kept(_looks(readings, until, interval, offset)))

    return report


def averaged(interval: float, offset: float = 0.4) -> Report:
    """Report every `interval` s the mean since the last report."""

    def report(readings: Sequence[Reading], until: float) -> list[Reading]:
        return list(kept(_means(readings, until, interval, offset)))

    return report


def kept(readings: Iterable[Reading]) -> Iterator[Reading]:
    """Yield what a recorder keeps: readings that differ from the one before."""
    last: float | None = math.nan
    for at, value in readings:
        if value != last:
            yield at, value
            last = value


def at_most(readings: Iterable[Reading], until: float) -> Iterator[Reading]:
    """Yield the readings before an instant."""
    return (reading for reading in readings if reading[0] < until)


def _changed(
    readings: Sequence[Reading],
    until: float,
    watts: float,
    share: float,
    heartbeat: float,
) -> Iterator[Reading]:
    reported: float | None = None
    reported_at = -math.inf
    held: float | None = None
    for at, value in [*at_most(readings, until), (until, None)]:
        while reported is not None and reported_at + heartbeat < at:
            reported_at += heartbeat
            if held != reported:
                reported = held
                yield reported_at, reported
        held = value
        if value is not None and reported is not None:
            apart = abs(value - reported)
            if apart < watts or apart < share * max(value, reported):
                continue
        if at < until and value != reported:
            reported, reported_at = value, at
            yield at, value


def _held_back(
    readings: Sequence[Reading], until: float, interval: float, watts: float
) -> Iterator[Reading]:
    reported: float | None = None
    reported_at = -math.inf
    waiting: float | None = None
    for at, value in [*at_most(readings, until), (until, None)]:
        if waiting is not None and at >= reported_at + interval:
            reported, reported_at, waiting = waiting, reported_at + interval, None
            yield reported_at, reported
        if at >= until:
            return
        if value is None or reported is None:
            if value != reported:
                reported, reported_at, waiting = value, at, None
                yield at, value
        elif abs(value - reported) < watts:
            waiting = None
        elif at >= reported_at + interval:
            reported, reported_at, waiting = value, at, None
            yield at, value
        else:
            waiting = value


def _looks(
    readings: Sequence[Reading], until: float, interval: float, offset: float
) -> Iterator[Reading]:
    """Yield what each measurement sees; one without a change is left out."""
    beat = -1
    for (at, value), end in _stretches(readings, until):
        if value is None:
            yield at, None
            continue
        # The looks from `at` up to before `end` all see this value.
        first = math.ceil((at - offset * interval) / interval)
        first = max(first, beat + 1, 0)
        when = (first + offset) * interval
        if when < end:
            beat = math.ceil((end - offset * interval) / interval) - 1
            yield when, value


def _means(
    readings: Sequence[Reading], until: float, interval: float, offset: float
) -> Iterator[Reading]:
    due: float | None = None
    begun, total = 0.0, 0.0
    for (at, value), end in _stretches(readings, until):
        if value is None:
            yield at, None
            due = None
            continue
        if due is None:
            due = (math.floor(at / interval - offset) + 1 + offset) * interval
            begun, total, now = at, 0.0, at
        else:
            now = at
        if due <= end:
            yield due, round((total + value * (due - now)) / (due - begun), 1)
            whole = math.floor((end - due) / interval)
            if whole:
                yield due + interval, value
            begun = due + whole * interval
            due, now, total = begun + interval, begun, 0.0
        total += value * (end - now)


def _stretches(
    readings: Sequence[Reading], until: float
) -> Iterator[tuple[Reading, float]]:
    """Yield each reading and the instant up to which it holds."""
    inside = list(at_most(readings, until))
    if not inside:
        return
    ends = [at for at, _ in inside[1:]] + [until]
    for reading, end in zip(inside, ends, strict=True):
        if end > reading[0]:
            yield reading, end


SORTS: tuple[Sort, ...] = (
    Sort(name="as recorded", report=as_recorded),
    Sort(name="on change, 3 W and 5 %, 60 s", report=on_change(3.0, 0.05, 60.0)),
    Sort(name="on change, 10 W and 10 %, 300 s", report=on_change(10.0, 0.1, 300.0)),
    Sort(name="on change, 1 W, 3600 s", report=on_change(1.0, 0.0, 3600.0)),
    Sort(name="held back for 10 s, 5 W", report=held_back(10.0, 5.0), interval=10.0),
    Sort(name="polled every 5 s", report=polled(5.0), interval=5.0),
    Sort(name="polled every 10 s", report=polled(10.0), interval=10.0),
    Sort(name="polled every 30 s", report=polled(30.0), interval=30.0),
    Sort(name="polled every 60 s", report=polled(60.0), interval=60.0),
    Sort(name="averaged over 10 s", report=averaged(10.0), interval=10.0),
    Sort(name="averaged over 30 s", report=averaged(30.0), interval=30.0),
)
"""The kinds that a learner is tried with; figures of plugs on the market's settings
pages, common practice with no published source."""
