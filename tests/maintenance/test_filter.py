"""The filter: hours, pressure, creeping base level."""

from dataclasses import replace
from datetime import UTC, datetime
import json
import random

import pytest

from custom_components.gatewright.core.maintenance.config import FilterConfig
from custom_components.gatewright.core.maintenance.filter import (
    FilterMonitor,
    FilterReason,
    FilterWork,
    clamped_loading,
)

WHEN = datetime(2026, 3, 2, 18, tzinfo=UTC)
HOUR = 3600.0

PLAN = FilterConfig(
    clean_after=20 * HOUR, replace_after=1000 * HOUR, clean_at=1000.0, flow=0.5
)


def run(
    filter_: FilterMonitor,
    hours: float,
    *,
    base: float,
    rise: float,
    noise: random.Random | None = None,
    flow: float | None = None,
) -> None:
    """Run for hours, with a reading a minute that rises from `base` by `rise` an hour."""
    for _ in range(round(hours * 60)):
        filter_.run(60.0)
        true = base + rise * filter_.since_cleaned / HOUR
        if flow is not None:
            true *= flow / 0.5
        spread = 0.0 if noise is None else noise.gauss(0, 0.08 * true)
        filter_.read(true + spread, flow)


def test_without_pressure_hours_count() -> None:
    filter_ = FilterMonitor(PLAN)
    filter_.run(19 * HOUR)
    state = filter_.state()
    assert state.work is FilterWork.NOTHING
    assert state.reason is None
    assert state.clean_in == HOUR
    assert state.replace_in == 981 * HOUR
    assert (state.level, state.base, state.rise) == (None, None, None)
    filter_.run(2 * HOUR)
    state = filter_.state()
    assert (state.work, state.reason) == (FilterWork.CLEAN, FilterReason.HOURS)
    assert state.clean_in == 0
    filter_.cleaned(WHEN)
    assert filter_.state().work is FilterWork.NOTHING
    assert filter_.state().since_replaced == 21 * HOUR
    assert filter_.cleaned_at == WHEN.timestamp()
    filter_.run(980 * HOUR)
    state = filter_.state()
    assert (state.work, state.reason) == (FilterWork.REPLACE, FilterReason.HOURS)
    filter_.replaced(WHEN)
    assert filter_.state().work is FilterWork.NOTHING
    assert filter_.replaced_at == WHEN.timestamp()


def test_nothing_by_hours_and_nothing_measured_is_nothing() -> None:
    filter_ = FilterMonitor(FilterConfig(clean_after=None, replace_after=None))
    filter_.run(1e9)
    state = filter_.state()
    assert state.work is FilterWork.NOTHING
    assert (state.clean_in, state.replace_in) == (None, None)


@pytest.mark.parametrize("seed", range(5))
def test_rate_of_rise_and_the_time_left(seed: int) -> None:
    """From 300 Pa, 50 Pa an hour, readings off by 8 %: 14 h in all to 1000 Pa."""
    filter_ = FilterMonitor(PLAN)
    run(filter_, 5.0, base=300.0, rise=50.0, noise=random.Random(seed))
    state = filter_.state()
    assert state.rise == pytest.approx(50.0, rel=0.12)
    assert state.level == pytest.approx(550.0, rel=0.05)
    assert state.base == pytest.approx(312.0, rel=0.05)
    assert state.clean_in == pytest.approx(9 * HOUR, rel=0.15)
    assert state.measured


def test_pressure_calls_for_cleaning_before_the_hours_do() -> None:
    filter_ = FilterMonitor(PLAN)
    run(filter_, 9.0, base=300.0, rise=80.0)
    state = filter_.state()
    assert (state.work, state.reason) == (FilterWork.CLEAN, FilterReason.PRESSURE)
    assert state.clean_in == 0


def test_steady_pressure_leaves_the_hours() -> None:
    filter_ = FilterMonitor(PLAN)
    run(filter_, 3.0, base=400.0, rise=-2.0)
    assert filter_.state().clean_in == 17 * HOUR


def test_pressure_is_brought_to_the_reference_flow() -> None:
    """With one small gate open the same filter shows half the loss: not half as dense."""
    filter_ = FilterMonitor(PLAN)
    run(filter_, 1.0, base=600.0, rise=0.0, flow=0.25)
    assert filter_.level == pytest.approx(600.0)
    run(filter_, 1.0, base=600.0, rise=0.0, flow=0.5)
    assert filter_.level == pytest.approx(600.0)
    # Too little flow says too little.
    filter_.read(500.0, 0.1)
    assert filter_.level == pytest.approx(600.0)
    other = FilterMonitor(FilterConfig(flow=None))
    other.read(123.0, 0.25)
    assert other.level == 123.0


def test_readings_that_say_nothing() -> None:
    filter_ = FilterMonitor(PLAN)
    for pressure in (None, 0.0, -4.0):
        filter_.read(pressure)
    assert filter_.level is None


def test_computed_loss_is_reported_as_such() -> None:
    filter_ = FilterMonitor(PLAN)
    filter_.read(400.0, measured=False)
    assert not filter_.state().measured


def years_of(filter_: FilterMonitor, *bases: float) -> None:
    """Run and clean, each cleaning leaving one of the `bases`."""
    for number, base in enumerate(bases):
        if number:
            filter_.cleaned(WHEN)
        run(filter_, 2.0, base=base, rise=20.0)


def test_level_that_creeps_up_after_cleaning_calls_for_a_new_filter() -> None:
    """Half way between 300 new and 1000 is 650: what stays in the medium is too much."""
    filter_ = FilterMonitor(PLAN)
    years_of(filter_, 300.0, 420.0, 540.0, 660.0)
    assert filter_.bases == pytest.approx([305.0, 425.0, 545.0, 665.0], rel=0.01)
    assert filter_.replace_at == pytest.approx(652.5, rel=0.01)
    # Once may be a poor cleaning.
    assert filter_.state().work is FilterWork.NOTHING
    years_of(filter_, 660.0, 680.0)
    state = filter_.state()
    assert (state.work, state.reason) == (FilterWork.REPLACE, FilterReason.CREEP)
    assert state.replace_in == 0
    filter_.replaced(WHEN)
    assert filter_.bases == ()
    assert filter_.cleanings == 0
    assert filter_.state().work is FilterWork.NOTHING


def test_limit_for_a_new_filter_can_be_given() -> None:
    filter_ = FilterMonitor(FilterConfig(clean_at=1000.0, replace_at=500.0))
    years_of(filter_, 300.0, 510.0, 520.0)
    assert filter_.state().reason is FilterReason.CREEP


def test_what_was_there_to_begin_with_is_no_cleaning() -> None:
    filter_ = FilterMonitor(FilterConfig(clean_at=1000.0, replace_at=500.0))
    years_of(filter_, 510.0, 520.0)
    assert filter_.state().work is FilterWork.NOTHING


def test_filter_that_was_dense_to_begin_with_is_not_called_off_at_once() -> None:
    filter_ = FilterMonitor(PLAN)
    years_of(filter_, 1200.0, 1150.0, 1100.0)
    assert filter_.replace_at > 1150.0
    assert filter_.state().reason is FilterReason.PRESSURE


def test_short_runs_between_cleanings_leave_a_base_too() -> None:
    filter_ = FilterMonitor(PLAN)
    for _ in range(3):
        run(filter_, 0.1, base=300.0, rise=0.0)
        filter_.cleaned(WHEN)
    assert filter_.bases == pytest.approx([300.0] * 3)
    filter_.read(300.0)
    filter_.cleaned(WHEN)
    assert len(filter_.bases) == 3


def test_what_is_kept_is_bounded() -> None:
    filter_ = FilterMonitor(PLAN)
    for _ in range(40):
        run(filter_, 0.2, base=300.0, rise=0.0)
        filter_.cleaned(WHEN)
    run(filter_, 60.0, base=300.0, rise=10.0)
    for _ in range(500):
        filter_.read(900.0)
    saved = json.dumps(filter_.save())
    assert len(saved) < 10_000
    assert filter_.bases[0] == pytest.approx(300.0)
    assert filter_.rise == pytest.approx(10.0, rel=0.02)
    assert filter_.base == pytest.approx(302.5, rel=0.01)


def test_survives_a_restart() -> None:
    filter_ = FilterMonitor(PLAN)
    years_of(filter_, 300.0, 420.0)
    again = FilterMonitor(PLAN)
    again.restore(json.loads(json.dumps(filter_.save())))
    assert again.bases == filter_.bases
    assert again.since_cleaned == filter_.since_cleaned
    assert again.level == pytest.approx(filter_.level, rel=0.02)
    assert again.state().work is filter_.state().work
    again.restore({})
    assert again.state() == FilterMonitor(PLAN).state()


def test_the_loading_is_the_loss_over_the_clean_one() -> None:
    """200 Pa at the plan's flow when clean; only a measured loss says anything."""
    plan = replace(PLAN, loss=200.0)
    filter_ = FilterMonitor(plan)
    assert filter_.loading == 1.0
    run(filter_, 10, base=200, rise=20, flow=0.25)
    # By hand: 200 + 20 x 10 h = 400 Pa at the plan's flow.
    assert filter_.loading == pytest.approx(2.0, rel=0.05)
    again = FilterMonitor(plan)
    again.restore(json.loads(json.dumps(filter_.save())))
    assert again.loading == pytest.approx(2.0, rel=0.1)
    assert FilterMonitor(PLAN).loading == 1.0
    filter_.read(900.0, measured=False)
    assert filter_.loading == 1.0


@pytest.mark.parametrize(
    ("found", "taken"), [(0.2, 1.0), (1.0, 1.0), (3.4, 3.4), (90.0, 20.0)]
)
def test_a_loading_that_a_filter_can_have(found: float, taken: float) -> None:
    assert clamped_loading(found) == taken
