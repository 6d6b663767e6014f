"""Reads a folder of recorded plugs, and says when each machine really ran.

A folder has `levels.csv` with the columns `file`, `reference_level_w`, `pause_bridged_s`
and, if known, `sort`; each file it names is a CSV with a header. Its first column is time:
seconds, or a date and time. The watts are in the column `watts`, or the first whose name
begins with "active", or the second one. An empty value is "no usable reading".
"""

from collections.abc import Sequence
import csv
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from statistics import median

from custom_components.gatewright.core.calibration.history import (
    Interval,
    Reading,
    bridged,
    steps_of,
)

_SLOWEST = 16.0
_LAST_LASTS = 60.0


@dataclass(frozen=True, kw_only=True)
class Recorded:
    """A recorded plug and its truth.

    `ran` are the runs: at or above the reference level, short pauses bridged. `lone`
    are single readings up there, which may or may not be runs. `interval` is the usual
    time in s between two readings of a running machine.
    """

    name: str
    sort: str
    readings: list[Reading]
    until: float
    ran: list[Interval]
    lone: list[Interval]
    interval: float


def read_folder(folder: Path) -> list[Recorded]:
    """Return all recorded plugs of a folder; raises `OSError` or `ValueError`."""
    with (folder / "levels.csv").open(newline="", encoding="utf-8") as file:
        return [
            _judged(
                row["file"].removesuffix(".csv"),
                row.get("sort") or "",
                *read_file(folder / row["file"]),
                float(row["reference_level_w"]),
                float(row["pause_bridged_s"]),
            )
            for row in csv.DictReader(file)
        ]


def read_file(path: Path) -> tuple[list[Reading], float]:
    """Return the readings of a file from 0 on, and when they end."""
    with path.open(newline="", encoding="utf-8") as file:
        rows = csv.reader(file)
        header = [name.strip().lower() for name in next(rows)]
        column = _column_of_watts(header)
        readings: list[Reading] = [
            (_instant(row[0]), float(row[column]) if row[column].strip() else None)
            for row in rows
            if row
        ]
    if not readings:
        raise ValueError(f"{path.name}: no readings")
    begins = readings[0][0]
    readings = [(at - begins, value) for at, value in readings]
    until = readings[-1][0]
    if readings[-1][1] is not None:
        until += _LAST_LASTS
    return readings, until


def _column_of_watts(header: Sequence[str]) -> int:
    if "watts" in header:
        return header.index("watts")
    named = [at for at, name in enumerate(header) if name.startswith("active")]
    return named[0] if named else 1


def _instant(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return datetime.fromisoformat(text).timestamp()


def _judged(
    name: str,
    sort: str,
    readings: list[Reading],
    until: float,
    level: float,
    pause: float,
) -> Recorded:
    steps = [step for step in steps_of(readings, until) if step.value >= level]
    gaps = [step.lasts for step in steps if step.lasts <= _SLOWEST]
    interval = max(1.0, median(gaps)) if gaps else 1.0
    runs = list(bridged(((s.at, s.end) for s in steps), longest=pause))
    begins = [step.at for step in steps]
    lone: list[Interval] = []
    ran: list[Interval] = []
    at = 0
    for first, last in runs:
        count = 0
        while at < len(begins) and begins[at] < last:
            at, count = at + 1, count + 1
        # One reading that was kept may be a steady run of minutes; a short one is not.
        alone = count == 1 and last - first <= max(3.0, 2.0 * interval)
        (lone if alone else ran).append((first, last))
    return Recorded(
        name=name,
        sort=sort,
        readings=readings,
        until=until,
        ran=ran,
        lone=lone,
        interval=interval,
    )
