"""The cleaning switch: after the collector, in strokes, never against it."""

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.maintenance.config import (
    CleaningKind,
    FilterCleaningConfig,
)
from custom_components.gatewright.core.maintenance.filter_cleaning import (
    Cleaning,
    CleaningPhase,
)

SHAKER = FilterCleaningConfig(wait=5.0, duration=10.0, pause=4.0, times=3, every=3600.0)


def due(plan: FilterCleaningConfig = SHAKER) -> Cleaning:
    cleaning = Cleaning(plan)
    cleaning.run(plan.every)
    return cleaning


def strokes(
    cleaning: Cleaning, begin: float, end: float, *, at_rest: bool = True
) -> tuple[list[tuple[float, float]], list[float]]:
    """Look only when asked; return when the switch was on, and the completions."""
    now, on_at = begin, None
    found: list[tuple[float, float]] = []
    completed: list[float] = []
    while now <= end:
        if cleaning.advance(now, at_rest=at_rest):
            completed.append(now)
        if cleaning.wanted and on_at is None:
            on_at = now
        elif not cleaning.wanted and on_at is not None:
            found.append((on_at, now))
            on_at = None
        look = cleaning.due_after(now)
        if look is None:
            break
        assert look > now
        now = look
    return found, completed


def test_strokes_after_the_impeller_has_stopped() -> None:
    cleaning = due()
    assert not cleaning.advance(90.0, at_rest=False)
    assert cleaning.phase is CleaningPhase.WAITING
    assert cleaning.due_after(90.0) is None
    found, completed = strokes(cleaning, 100.0, 1000.0)
    assert found == [(105.0, 115.0), (119.0, 129.0), (133.0, 143.0)]
    assert completed == [143.0]
    assert not cleaning.due
    assert cleaning.since == 0
    assert strokes(cleaning, 200.0, 1000.0) == ([], [])


def test_not_due_yet() -> None:
    cleaning = Cleaning(SHAKER)
    cleaning.run(3599.0)
    assert strokes(cleaning, 0.0, 1000.0) == ([], [])
    cleaning.run(1.0)
    assert strokes(cleaning, 1100.0, 2000.0)[1]


def test_due_after_every_stop() -> None:
    plan = FilterCleaningConfig(every=0.0, times=1)
    cleaning = Cleaning(plan)
    cleaning.run(0.0)
    assert strokes(cleaning, 0.0, 1000.0) == ([], [])
    cleaning.run(2.0)
    cleaning.advance(1001.0, at_rest=False)
    assert len(strokes(cleaning, 1002.0, 2000.0)[0]) == 1


def test_due_by_pressure_or_on_demand() -> None:
    cleaning = Cleaning(FilterCleaningConfig(above=800.0))
    for level in (None, 799.0):
        cleaning.read(level)
        assert not cleaning.due
    cleaning.read(800.0)
    assert cleaning.due
    other = Cleaning(SHAKER)
    other.read(5000.0)
    assert not other.due
    other.ask()
    assert len(strokes(other, 0.0, 1000.0)[0]) == 3


def test_collector_that_starts_ends_a_stroke_and_the_rest_is_done_later() -> None:
    cleaning = due()
    cleaning.advance(100.0, at_rest=True)
    cleaning.advance(105.0, at_rest=True)
    cleaning.advance(115.0, at_rest=True)
    cleaning.advance(119.0, at_rest=True)
    assert cleaning.phase is CleaningPhase.ON
    assert not cleaning.advance(120.0, at_rest=False)
    assert not cleaning.wanted
    assert cleaning.due
    # One of three strokes was complete.
    found, completed = strokes(cleaning, 500.0, 1000.0)
    assert found == [(505.0, 515.0), (519.0, 529.0)]
    assert completed == [529.0]


@pytest.mark.parametrize("at_rest", [True, False])
def test_nothing_moves_under_start_block(at_rest: bool) -> None:
    cleaning = due(FilterCleaningConfig(while_running=True, every=10.0))
    cleaning.ask()
    assert not cleaning.advance(0.0, at_rest=at_rest, allowed=False)
    assert not cleaning.advance(1000.0, at_rest=at_rest, allowed=False)
    assert not cleaning.wanted
    assert cleaning.due_after(1000.0) is None


def test_pulses_beside_a_running_collector_where_they_may() -> None:
    plan = FilterCleaningConfig(
        kind=CleaningKind.PULSE, duration=0.2, pause=15.0, times=4, while_running=True
    )
    found, completed = strokes(due(plan), 50.0, 1000.0, at_rest=False)
    assert [round(off - on, 3) for on, off in found] == [0.2] * 4
    assert found[0][0] == 50.0
    assert len(completed) == 1


def test_late_look_does_not_skip_strokes() -> None:
    cleaning = due()
    cleaning.advance(0.0, at_rest=True)
    cleaning.advance(5.0, at_rest=True)
    assert cleaning.wanted
    # Ten minutes late: this stroke was long, the next one begins now.
    cleaning.advance(605.0, at_rest=True)
    assert cleaning.wanted
    assert cleaning.strokes == 1
    assert cleaning.due_after(605.0) == 615.0


def test_restart_within_a_stroke_begins_it_anew() -> None:
    cleaning = due()
    for now in (0.0, 5.0, 15.0, 19.0):
        cleaning.advance(now, at_rest=True)
    saved = cleaning.save()
    again = Cleaning(SHAKER)
    again.restore(saved)
    assert not again.wanted
    assert len(strokes(again, 100.0, 1000.0)[0]) == 2
    again.restore({})
    assert not again.due


@given(
    st.lists(
        st.tuples(st.floats(0.1, 50), st.booleans(), st.booleans(), st.booleans()),
        max_size=40,
    )
)
def test_never_on_against_the_rules(
    steps: list[tuple[float, bool, bool, bool]],
) -> None:
    cleaning = due()
    now = 0.0
    for passed, at_rest, allowed, asked in steps:
        now += passed
        if asked:
            cleaning.ask()
        cleaning.advance(now, at_rest=at_rest, allowed=allowed)
        if cleaning.wanted:
            assert at_rest
            assert allowed
            look = cleaning.due_after(now)
            assert look is not None
            assert now < look <= now + SHAKER.duration


def test_a_stroke_whose_switch_does_not_come_on_is_left_for_the_next_stop() -> None:
    cleaning = due()
    assert not cleaning.advance(0.0, at_rest=True)
    assert not cleaning.advance(5.0, at_rest=True, works=False)
    assert (cleaning.wanted, cleaning.failed) == (True, False)
    assert not cleaning.advance(15.0, at_rest=True, works=False)
    assert (cleaning.wanted, cleaning.failed) == (False, True)
    assert cleaning.due
    assert cleaning.phase is CleaningPhase.WAITING
    # It isn't retried again and again.
    assert cleaning.due_after(15.0) is None
    assert not cleaning.advance(500.0, at_rest=True)
    assert not cleaning.wanted
    cleaning.advance(600.0, at_rest=False)
    found, completed = strokes(cleaning, 700.0, 1000.0)
    assert len(found) == 3
    assert len(completed) == 1
    assert (cleaning.wanted, cleaning.failed) == (False, False)


def test_asking_tries_again_at_once() -> None:
    cleaning = due()
    for now in (0.0, 5.0, 15.0):
        cleaning.advance(now, at_rest=True, works=False)
    cleaning.ask()
    cleaning.advance(20.0, at_rest=True)
    assert cleaning.wanted
