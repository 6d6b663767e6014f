"""A history in parts: steps, spikes and dips, and the distribution of its values."""

from itertools import pairwise

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.calibration.distribution import (
    SCALES,
    Histogram,
    class_of,
    picture,
    quantile,
    trimmed_range,
    weighted_median,
)
from custom_components.gatewright.core.calibration.history import (
    LevelStep,
    Reading,
    beat_of,
    bridged,
    runs_by,
    smooth,
    stays_of,
    steps_of,
)
from custom_components.gatewright.core.config import Thresholds

# The picture


@given(
    st.lists(
        st.tuples(st.floats(0, 1e5), st.floats(0.1, 1e6)), min_size=1, max_size=40
    ),
    st.integers(1, 20),
    st.integers(1, 40),
)
def test_a_picture_shows_all_the_time_within_its_size(
    spread: list[tuple[float, float]], lines: int, width: int
) -> None:
    histogram = Histogram.of((LevelStep(0.0, v, lasts) for v, lasts in spread), 1.0)
    bars = picture(histogram, lines=lines, width=width, stop=20.0, start=50.0)
    assert len(bars) <= max(2, lines)
    assert sum(bar.seconds for bar in bars) == pytest.approx(sum(histogram.seconds))
    for bar, following in pairwise(bars):
        assert bar.high == following.low
    longest = max(bars, key=lambda bar: bar.seconds)
    assert longest.bar == "█" * width
    assert all(len(bar.bar) <= width for bar in bars)
    assert all(bool(bar.bar) is (bar.seconds > 0) for bar in bars)
    sides = [bar.running for bar in bars]
    assert sides == sorted(sides, key=[False, None, True].index)


def test_a_picture_of_nothing_is_empty() -> None:
    assert picture(Histogram.of([], 1.0)) == ()


def test_classes_are_six_percent_wide() -> None:
    assert class_of(0.3, 1.0) == class_of(1.0, 1.0) == 0
    assert class_of(10.0, 1.0) == 40
    histogram = Histogram.of([LevelStep(0, 100.0, 5.0)], 1.0)
    assert histogram.lower(80) < 100 < histogram.lower(81) < 1.06 * histogram.lower(80)
    assert set(SCALES) == {"W", "A"}


def test_medians_and_ranges_are_weighted_by_time() -> None:
    steps = [
        LevelStep(0, 1.0, 100.0),
        LevelStep(100, 50.0, 3.0),
        LevelStep(103, 900.0, 1.0),
    ]
    assert weighted_median((s.value, s.lasts) for s in steps) == 1.0
    assert weighted_median([]) == 0.0
    assert trimmed_range(steps, below=0.0, above=0.0) == (1.0, 900.0)
    assert trimmed_range(steps, below=0.0, above=2.0) == (1.0, 50.0)
    assert quantile([1.0, 2.0, 4.0], 0.75) == 3.0
    with pytest.raises(ValueError, match="no numbers"):
        quantile([], 0.5)


# The history


def test_steps_hold_until_the_next_reading() -> None:
    history: list[Reading] = [
        (5.0, 2.0),
        (0.0, 1.0),
        (7.0, None),
        (9.0, -3.0),
        (9.0, 4.0),
    ]
    steps = [LevelStep(0.0, 1.0, 5.0), LevelStep(5.0, 2.0, 2.0)]
    assert steps_of(history) == steps
    assert steps_of(history, 10.0) == [*steps, LevelStep(9.0, 4.0, 1.0)]
    assert steps_of([]) == []


def test_the_beat_is_that_of_a_machine_at_work() -> None:
    idle = [LevelStep(60.0 * n, 1.0 + n % 2, 60.0) for n in range(50)]
    busy = [LevelStep(3000.0 + 2.0 * n, 600.0 + n, 2.0) for n in range(20)]
    assert beat_of([*idle, *busy], 1.0) == 2.0
    flicker = [step._replace(value=step.value + 3.0) for step in idle]
    odd = [LevelStep(3000.0, 9000.0, 2.0), LevelStep(3002.0, 9000.0, 2.0)]
    assert beat_of([*flicker, *odd], 1.0) == 60.0
    assert beat_of([], 1.0) is None
    assert beat_of(busy[:3], 1.0) is None


def test_what_stands_alone_is_taken_out() -> None:
    values = [1.0, 900.0, 1.0, 5000.0, 600.0, 650.0, 0.0, 640.0, 1.0]
    steps = [LevelStep(float(n), value, 1.0) for n, value in enumerate(values)]
    smoothed = smooth(steps, 1.0, 1.0)
    assert [s.value for s in smoothed.steps] == [1, 1, 1, 600, 600, 650, 640, 640, 1]
    assert [s.at for s in smoothed.spikes] == [1.0]
    assert [s.at for s in smoothed.dips] == [6.0]
    long = [LevelStep(0, 1.0, 9.0), LevelStep(9, 900.0, 9.0), LevelStep(18, 1.0, 9.0)]
    assert smooth(long, 1.0, 1.0).spikes == ()
    apart = [LevelStep(0, 1.0, 1.0), LevelStep(2, 900.0, 1.0), LevelStep(3, 1.0, 1.0)]
    assert smooth(apart, 1.0, 1.0).spikes == ()


def test_runs_are_those_of_the_sensor_itself() -> None:
    levels = Thresholds(start=100.0, stop=50.0, start_confirm=1.0, stop_confirm=4.0)
    history: list[Reading] = [
        (0.0, 2.0),
        (10.0, 500.0),
        (20.0, 10.0),
        (22.0, 500.0),
        (30.0, 10.0),
        (50.0, 500.0),
        (60.0, None),
        (300.0, 500.0),
        (900.0, 500.0),
    ]
    assert runs_by(levels, history, 400.0) == [(11, 34), (51, 120), (301, 400)]
    assert runs_by(levels, [], 400.0) == []


def test_intervals_are_joined_over_short_breaks() -> None:
    intervals = [(0.0, 2.0), (1.0, 1.5), (4.0, 5.0), (9.0, 9.5)]
    assert list(bridged(intervals)) == [(0, 2), (4, 5), (9, 9.5)]
    assert list(bridged(intervals, longest=2.0)) == [(0, 5), (9, 9.5)]
    assert list(bridged([])) == []


def test_a_stay_is_one_however_often_it_is_reported() -> None:
    held = [
        LevelStep(0.0, 2.0, 50.0),
        LevelStep(50.0, 700.0, 60.0),
        LevelStep(110.0, 0.0, 40.0),
    ]
    noisy = [LevelStep(50.0 + n, 690.0 + 10.0 * (n % 3), 1.0) for n in range(60)]
    flicker = [LevelStep(float(n), 2.0 * (n % 2), 1.0) for n in range(50)]
    stays = stays_of([*flicker, *noisy, held[2]], 3.0)
    assert [(stay.at, stay.lasts) for stay in stays] == [(0, 50), (50, 60), (110, 40)]
    assert [stay.value for stay in stays] == pytest.approx([1.0, 700.0, 0.0])
    assert stays_of(held, 3.0) == held
    apart = [LevelStep(0.0, 2.0, 10.0), LevelStep(20.0, 2.0, 10.0)]
    assert stays_of(apart, 3.0) == apart
    assert stays_of([], 3.0) == []


@given(
    st.lists(
        st.tuples(st.floats(0, 3000), st.floats(0.1, 1e5), st.booleans()), max_size=40
    )
)
def test_stays_keep_time_and_mean(spread: list[tuple[float, float, bool]]) -> None:
    at, steps = 0.0, []
    for value, lasts, away in spread:
        at += 5.0 if away else 0.0
        steps.append(LevelStep(at, value, lasts))
        at = steps[-1].end
    stays = stays_of(steps, 3.0)
    assert sum(s.lasts for s in stays) == pytest.approx(sum(s.lasts for s in steps))
    assert sum(s.value * s.lasts for s in stays) == pytest.approx(
        sum(s.value * s.lasts for s in steps), abs=1e-6
    )
    assert all(first.end <= second.at + 1e-6 for first, second in pairwise(stays))


def test_the_heartbeat_is_not_the_beat() -> None:
    """A steady machine on a plug that reports on change: each run is two readings."""
    steps: list[LevelStep] = []
    for number in range(12):
        at = 1000.0 * number
        steps += [
            LevelStep(at, 0.0, 700.0),
            LevelStep(at + 700.0, 900.0, 2.0),
            LevelStep(at + 702.0, 1500.0, 60.0),
            LevelStep(at + 762.0, 1520.0, 60.0),
            LevelStep(at + 822.0, 1500.0, 178.0),
        ]
    assert beat_of(steps, 1.0) == 2.0
