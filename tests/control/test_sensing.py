"""When a reading means that a machine runs."""

from dataclasses import replace
import math

import pytest

from custom_components.gatewright.core.config import (
    SIGNAL_LEVELS,
    Thresholds,
    WhenSensorLost,
)
from custom_components.gatewright.core.control.run_detection import RunDetector

LEVELS = Thresholds(
    start=150.0, stop=60.0, start_confirm=1.0, stop_confirm=4.0, dropout=60.0
)
type Readings = list[tuple[float, float | None]]


def watch(
    readings: Readings,
    until: float,
    levels: Thresholds = LEVELS,
    *,
    running: bool = False,
) -> list[tuple[float, str]]:
    """Return what a sensor concludes from some readings, looking whenever it asks."""
    sensor = RunDetector(levels, 0.0, running=running)
    told: list[tuple[float, str]] = []

    def note(now: float) -> None:
        state = ("runs" if sensor.running else "rests") + (
            " stuck" if sensor.stuck else " lost" if sensor.lost else ""
        )
        if not told or told[-1][1] != state:
            told.append((now, state))

    note(0.0)
    for instant, value in [*readings, (until, math.nan)]:
        while (due := sensor.due) is not None and due <= instant:
            sensor.advance(due)
            note(due)
        if instant < until:
            sensor.read(value, instant)
            note(instant)
    return told[1:]


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        # At the level is enough, below is not.
        ([(5, 150.0)], [(6, "runs")]),
        ([(5, 149.9)], []),
        # A spike shorter than the confirmation time is none.
        ([(5, 1000.0), (5.5, 10.0)], []),
        # A second reading at or above the level confirms it, half a second later.
        ([(5, 1000.0), (5.5, 1000.0)], [(5.5, "runs")]),
        ([(5, 1000.0), (5.75, 400.0)], [(5.75, "runs")]),
        ([(5, 1000.0), (5.2, 1000.0), (5.4, 1000.0)], [(6, "runs")]),
        ([(5, 1000.0), (5.2, 1000.0), (5.4, 5.0)], []),
        # Between the two levels it stays as it is.
        ([(5, 1000.0), (20, 100.0)], [(6, "runs")]),
        ([(5, 100.0)], []),
        # At the stop level is enough, and a dip shorter than its confirmation time is none.
        ([(5, 1000.0), (20, 60.0)], [(6, "runs"), (24, "rests")]),
        ([(5, 1000.0), (20, 5.0), (23.9, 900.0)], [(6, "runs")]),
        # A clamp put on the wrong way round measures the same machine.
        ([(5, -1000.0), (20, -5.0)], [(6, "runs"), (24, "rests")]),
    ],
)
def test_levels_and_settling(
    readings: Readings, expected: list[tuple[float, str]]
) -> None:
    assert watch(readings, 60.0) == expected


@pytest.mark.parametrize("missing", [None, math.nan, math.inf, -math.inf])
def test_a_reading_that_is_none_starts_and_stops_nothing(missing: float | None) -> None:
    assert watch([(5, 1000.0), (20, missing), (79, 900.0)], 200.0) == [(6, "runs")]
    assert watch([(5, 10.0), (20, missing), (79, 10.0)], 200.0) == []
    # It interrupts a start or a stop that was being confirmed.
    assert watch([(5, 1000.0), (5.5, missing), (7, 10.0)], 60.0) == []
    assert watch([(5, 900.0), (20, 5.0), (21, missing), (40, 900.0)], 60.0) == [
        (6, "runs")
    ]


@pytest.mark.parametrize(
    ("on_lost", "expected"),
    [
        (WhenSensorLost.STOPPED, [(6, "runs"), (80, "rests lost"), (90, "rests")]),
        (WhenSensorLost.RUNNING, [(6, "runs"), (80, "runs lost"), (90, "runs")]),
    ],
)
def test_grace(on_lost: WhenSensorLost, expected: list[tuple[float, str]]) -> None:
    levels = replace(LEVELS, on_lost=on_lost)
    # Missing again and again does not begin the dropout time anew.
    readings: Readings = [(5, 900.0), (20, None), (50, math.nan), (90, 100.0)]
    assert watch(readings, 200.0, levels) == expected


def test_grace_counts_from_the_beginning() -> None:
    assert watch([], 100.0) == [(60, "rests lost")]
    assert watch([(61, 900.0)], 100.0) == [
        (60, "rests lost"),
        (61, "rests"),
        (62, "runs"),
    ]


def test_certain_reading_counts_at_once() -> None:
    levels = replace(LEVELS, start_confirm=3.0, certain=700.0)
    assert watch([(5, 700.0)], 60.0, levels) == [(5, "runs")]
    # Below it a start is in doubt until the plug says it again, or leaves no doubt.
    assert watch([(5, 699.0), (9, 699.0)], 60.0, levels) == [(9, "runs")]
    assert watch([(5, 200.0), (5.25, 800.0)], 60.0, levels) == [(5.25, "runs")]
    assert watch([(5, 699.0), (14, 5.0)], 60.0, levels) == []
    # One that never says it again meant it.
    assert watch([(5, 699.0)], 60.0, levels) == [(15, "runs")]


def test_doubt_lasts_as_long_as_the_plug_takes_to_say_it_again() -> None:
    sensor = RunDetector(replace(LEVELS, certain=700.0), 0.0)
    for number in range(8):
        sensor.read(900.0, 10.0 + 4 * number)
        sensor.advance(10.0 + 4 * number)
    sensor.read(5.0, 60.0)
    sensor.advance(64.0)
    sensor.read(300.0, 100.0)
    assert sensor.due == 106.0


def test_first_sign() -> None:
    """It is the first reading of a start, and stays so while the machine runs."""
    sensor = RunDetector(replace(LEVELS, start_confirm=2.0), 0.0)
    signs = []
    for now, value in (
        (5.0, 900.0),
        (5.2, 5.0),
        (8.0, 900.0),
        (9.0, 900.0),
        (20.0, 5.0),
        (25.0, 5.0),
        (30.0, 900.0),
        (31.0, None),
    ):
        sensor.read(value, now)
        sensor.advance(now)
        signs.append(sensor.first_sign)
    assert signs == [5.0, None, 8.0, 8.0, 8.0, None, 30.0, None]


def test_on_off_signal() -> None:
    assert watch([(5, 0.0), (6, 1.0), (20, 0.0)], 50.0, SIGNAL_LEVELS) == [
        (6, "runs"),
        (21, "rests"),
    ]


def test_stale_reading() -> None:
    levels = replace(LEVELS, stale_after=30.0)
    readings: Readings = [(5, 900.0), (30, 900.0)]
    assert watch(readings, 200.0, levels) == [
        (6, "runs"),
        (60, "runs stuck"),
        (120, "rests stuck"),
    ]
    # A machine at rest may report nothing for as long as it likes.
    assert watch([(5, 10.0)], 500.0, levels) == []


def test_late_look_gives_what_a_timely_one_would_have() -> None:
    """A timer may be late: what was due before a reading comes before it."""
    sensor = RunDetector(LEVELS, 0.0)
    sensor.read(900.0, 5.0)
    assert sensor.starting
    assert sensor.read(5.0, 9.0)
    assert sensor.running
    assert sensor.stopping
    sensor.read(None, 14.0)
    assert not sensor.running


def test_changed_levels_are_held_against_the_last_reading() -> None:
    """A plug that reports on change may never say again what it said."""
    sensor = RunDetector(LEVELS, 0.0)
    sensor.read(900.0, 5.0)
    sensor.levels = LEVELS
    assert sensor.due == 6.0
    sensor.levels = replace(LEVELS, start=2000.0)
    sensor.advance(5.5)
    assert not sensor.starting
    sensor.levels = replace(LEVELS, start=800.0)
    assert sensor.advance(20.0)
    sensor.advance(21.0)
    assert sensor.running
    sensor.read(None, 30.0)
    sensor.levels = LEVELS
    assert not sensor.advance(31.0)
    assert sensor.levels is LEVELS


def test_reading_tells_whether_anything_changed() -> None:
    sensor = RunDetector(LEVELS, 0.0)
    answers = [
        sensor.read(value, now)
        for now, value in ((1, 5.0), (2, 7.0), (3, 900.0), (3.2, 950.0), (4, 950.0))
    ]
    assert answers == [True, False, True, False, True]
    assert [sensor.read(None, 5.0), sensor.read(None, 6.0)] == [True, False]


def test_pace_of_a_plug() -> None:
    sensor = RunDetector(LEVELS, 0.0)
    for now in (0, 200, 400):
        sensor.read(5.0, now)
    intervals = [sensor.report_interval]
    for number in range(7):
        sensor.read(900.0, 500.0 + 10 * number)
    # What it said at rest, and how long it was quiet until the start, do not count.
    intervals.append(sensor.report_interval)
    verdicts = [sensor.settles_too_soon]
    sensor.levels = replace(LEVELS, stop_confirm=10.0)
    verdicts.append(sensor.settles_too_soon)
    assert verdicts == [True, False]
    sensor.read(None, 570.0)
    sensor.read(900.0, 900.0)
    sensor.read(900.0, 910.0)
    intervals.append(sensor.report_interval)
    assert intervals == [None, 10.0, 10.0]
