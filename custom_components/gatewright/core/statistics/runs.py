"""The record of runs, as data and as rows of a table."""

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from itertools import islice
from typing import Any

from ..units import percent
from .calendar import Calendar
from .not_collecting import NotCollectingReason, collected_share, load_without

RUNS_KEPT = 2000

_LACKS = tuple(
    reason
    for reason in NotCollectingReason
    if reason is not NotCollectingReason.TOO_LITTLE_AIR
)

RUN_COLUMNS = (
    "machine",
    "began",
    "ended",
    "run_time_s",
    "air_time_s",
    "collected_share_percent",
    "too_little_air_s",
    "cuts",
    "without_air",
    "time_to_air_s",
    "reporting_interval_s",
)
"""What stands in the columns of `run_rows`; keys of texts."""

DAY_COLUMNS = (
    "day",
    "machine",
    "run_time_s",
    "air_time_s",
    "collected_share_percent",
    "too_little_air_s",
    "runs",
    "cuts",
    *(f"without_{reason.value}_s" for reason in _LACKS),
)
"""What stands in the columns of `day_rows`; keys of texts."""

_TIME_TO_AIR, _REPORTING = "time_to_air", "reporting_interval"

type Row = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRun:
    """One run of a machine, on the calendar.

    `began` and `ended` are s since 1970, times s. `without` says for how long it
    lacked dust collection and why, and of how much of its `collecting_time` there was too little.
    `time_to_air` is None where the run has none, `reporting_interval` where it is not
    known how often its plug reports while it runs.
    """

    machine_id: str
    name: str
    began: float
    ended: float
    run_time: float
    collecting_time: float
    cuts: int
    without: Mapping[NotCollectingReason, float]
    time_to_air: float | None = None
    reporting_interval: float | None = None


class Record:
    """The last runs, the oldest first."""

    def __init__(self) -> None:
        self.runs: deque[KeptRun] = deque(maxlen=RUNS_KEPT)

    def keep(self, run: KeptRun) -> None:
        """Add a run, dropping the oldest where there are too many."""
        self.runs.append(run)

    def between(self, first: datetime, last: datetime) -> Iterator[KeptRun]:
        """Yield the runs that began from `first` on, up to and without `last`."""
        begin, end = first.timestamp(), last.timestamp()
        return (run for run in self.runs if begin <= run.began < end)

    def latest(self, machine_id: str, count: int) -> list[KeptRun]:
        """Return the last runs of a machine, the newest first."""
        runs = (run for run in reversed(self.runs) if run.machine_id == machine_id)
        return list(islice(runs, count))

    def adopt(self, old: str, new: str) -> None:
        """Hand the runs of one machine over to another."""
        runs = [
            _kept(_plain(run) | {"machine_id": new}) if run.machine_id == old else run
            for run in self.runs
        ]
        self.runs = deque(runs, maxlen=RUNS_KEPT)

    def save(self) -> list[dict[str, Any]]:
        """Return every run as plain data."""
        return [_plain(run) for run in self.runs]

    def restore(self, data: Iterable[Mapping[str, Any]]) -> None:
        """Take over what `save` returned."""
        self.runs = deque(map(_kept, data), maxlen=RUNS_KEPT)


def run_rows(runs: Iterable[KeptRun], zone: tzinfo) -> Iterator[Row]:
    """Yield the table of runs: `RUN_COLUMNS`, then a row each, in the zone's time."""
    yield RUN_COLUMNS
    for run in runs:
        yield (
            run.name,
            *(
                datetime.fromtimestamp(at, UTC)
                .astimezone(zone)
                .isoformat(timespec="seconds")
                for at in (run.began, run.ended)
            ),
            f"{run.run_time:.1f}",
            f"{run.collecting_time:.1f}",
            _percent(run.run_time, run.collecting_time, run.without),
            f"{run.without.get(NotCollectingReason.TOO_LITTLE_AIR, 0.0):.1f}",
            str(run.cuts),
            " ".join(
                f"{reason.value}={spent:.1f}"
                for reason, spent in run.without.items()
                if reason is not NotCollectingReason.TOO_LITTLE_AIR
            ),
            _seconds(run.time_to_air),
            _seconds(run.reporting_interval),
        )


def day_rows(
    calendar: Calendar,
    names: Mapping[str, str],
    shown: Callable[[str], bool] = lambda _: True,
) -> Iterator[Row]:
    """Yield the table of days: `DAY_COLUMNS`, then a row for each day and machine.

    Only machines that are `shown` have rows. A machine without a name in `names` is told by its id.
    """
    yield DAY_COLUMNS
    for day in sorted(calendar.days):
        for machine_id, spent in calendar.days[day].machines.items():
            if not shown(machine_id):
                continue
            yield (
                day.isoformat(),
                names.get(machine_id, machine_id),
                f"{spent.run:.1f}",
                f"{spent.air:.1f}",
                _percent(spent.run, spent.air, spent.without),
                f"{spent.little:.1f}",
                str(spent.runs),
                str(spent.cuts),
                *(f"{spent.without.get(reason, 0.0):.1f}" for reason in _LACKS),
            )


def _percent(
    run: float, air: float, without: Mapping[NotCollectingReason, float]
) -> str:
    share = percent(collected_share(run, air, without))
    return "" if share is None else f"{share:.1f}"


def _seconds(time: float | None) -> str:
    return "" if time is None else f"{time:.1f}"


def _plain(run: KeptRun) -> dict[str, Any]:
    return {
        "machine_id": run.machine_id,
        "name": run.name,
        "began": run.began,
        "ended": run.ended,
        "run_time": run.run_time,
        "collecting_time": run.collecting_time,
        "cuts": run.cuts,
        "without": {reason.value: spent for reason, spent in run.without.items()},
        **{
            key: value
            for key, value in (
                (_TIME_TO_AIR, run.time_to_air),
                (_REPORTING, run.reporting_interval),
            )
            if value is not None
        },
    }


def _kept(data: Mapping[str, Any]) -> KeptRun:
    return KeptRun(
        machine_id=data["machine_id"],
        name=data.get("name", data["machine_id"]),
        began=data["began"],
        ended=data.get("ended", data["began"]),
        run_time=data.get("run_time", 0.0),
        collecting_time=data.get("collecting_time", 0.0),
        cuts=data.get("cuts", 0),
        without=load_without(data.get("without", {})),
        time_to_air=data.get(_TIME_TO_AIR),
        reporting_interval=data.get(_REPORTING),
    )
