"""Waiting through a pause, compared with starting again."""

from itertools import pairwise
from random import Random

from hypothesis import example, given, strategies as st
import pytest

from custom_components.gatewright.core.calibration.history import Interval
from custom_components.gatewright.core.calibration.hold_time import (
    LONGEST_WAIT,
    WEEK,
    Costs,
    HoldLimit,
    NoProposal,
    PauseHistory,
    WaitProposal,
    propose_wait,
)

HOUR = 3600.0


def cuts_with(pauses: list[float], lasts: float = 10.0) -> list[Interval]:
    """Return cuts with these pauses between them."""
    cuts = [(0.0, lasts)]
    for pause in pauses:
        begins = cuts[-1][1] + pause
        cuts.append((begins, begins + lasts))
    return cuts


def walked(cuts: list[Interval], wait: float) -> tuple[float, list[float]]:
    """Return the wait and the starts of a collector, cut by cut."""
    waited, starts = 0.0, [cuts[0][0]]
    for (_, ended), (begins, _) in pairwise(cuts):
        if begins - ended <= wait:
            waited += begins - ended
        else:
            waited += wait
            starts.append(begins)
    return waited + wait, starts


def proposal_for(
    pauses: list[float],
    costs: Costs,
    *,
    present: float = 15.0,
    before: float = 0.0,
    least: float = 0.0,
) -> WaitProposal:
    found = propose_wait(
        cuts_with(pauses),
        2 * WEEK,
        costs,
        present=present,
        before=before,
        least=least,
    )
    assert isinstance(found, WaitProposal)
    return found


lengths = st.lists(
    st.floats(0.5, 3000).map(lambda x: round(x, 1)), min_size=10, max_size=60
)


@given(lengths, st.floats(0, 400))
# A pause that is as long as the wait, once it has been through the arithmetic.
@example([1.0] * 6 + [421.0, 567.0, 3000.0, 2.1], 2.1000000000000014)
def test_an_outcome_is_what_a_pass_through_the_cuts_gives(
    pauses: list[float], wait: float
) -> None:
    cuts = cuts_with(pauses)
    outcome = PauseHistory(cuts, 2 * WEEK).outcome(
        wait, Costs(power=1500.0, price=0.3, wear=0.02)
    )
    waited, starts = walked(cuts, wait)
    assert outcome.waited == pytest.approx(waited / 2)
    assert outcome.starts == len(starts) / 2
    assert outcome.worst_hour == max(
        sum(start <= other < start + HOUR for other in starts) for start in starts
    )
    assert outcome.energy == pytest.approx(1500 * waited / 2)
    assert outcome.money == pytest.approx(
        1500 * waited / 2 / 3.6e6 * 0.3 + 0.02 * len(starts) / 2
    )


@given(lengths, st.floats(5, 280))
def test_no_other_wait_is_much_cheaper_and_the_promise_is_kept(
    pauses: list[float], worth: float
) -> None:
    found = proposal_for(pauses, Costs(power=1000.0, price=0.36, wear=worth / 1e4))
    assert found.break_even == pytest.approx(worth)
    assert 1.0 <= found.times_best <= 2.0 + 1e-9
    cuts = cuts_with(pauses)

    def cost(wait: float) -> float:
        waited, starts = walked(cuts, wait)
        return waited + worth * len(starts)

    # The wait is a whole number of seconds, which costs at most that at every stop.
    slack = len(cuts)
    others = [0.0, *pauses, *(float(wait) for wait in range(0, 300, 7))]
    assert cost(found.best.wait) <= min(cost(w) for w in others if w <= 300) + slack


def test_short_pauses_are_waited_for_and_long_ones_are_not() -> None:
    random = Random(1)
    pauses = [random.uniform(5, 20) for _ in range(100)]
    pauses += [random.uniform(600, 2000) for _ in range(40)]
    random.shuffle(pauses)
    found = proposal_for(pauses, Costs(power=1500.0, starts_per_hour=20.0))
    assert 18 <= found.best.wait <= 20
    assert found.break_even == HOUR / 20
    assert found.pauses == 140
    assert found.limited is None
    # At 15 s about a third of the short pauses meant another start.
    assert found.starts_saved == found.present.starts - found.best.starts
    assert found.starts_saved == pytest.approx(100 / 3 / 2, rel=0.35)
    assert found.best.energy == pytest.approx(1500 * found.best.waited)
    assert found.best.money is None
    assert found.times_best < 1.25


def test_a_start_that_costs_nothing_is_never_waited_out() -> None:
    found = proposal_for(
        [20.0] * 30, Costs(power=1500.0, price=0.3, wear=0.0), present=25.0
    )
    assert found.best.wait == 0.0
    assert found.starts_saved < 0


def test_a_collector_without_figures_has_a_cautious_start() -> None:
    assert Costs().start_worth == 300.0
    assert Costs(power=1000.0, price=0.3).start_worth == 300.0
    assert Costs(starts_per_hour=6.0).start_worth == 600.0
    assert Costs(power=1000.0, price=0.36, wear=0.0).start_worth == 1.0
    assert Costs(power=1000.0, price=0.36, wear=0.01).start_worth == pytest.approx(100)
    assert Costs().energy(10.0) is None
    assert Costs(power=1000.0, price=0.36).money(3600.0, 5) == pytest.approx(0.36)


def test_the_motor_is_not_started_more_often_than_it_may() -> None:
    """Cheap starts would not be waited out, but the motor allows only 10 an hour."""
    costs = Costs(power=1500.0, price=0.3, wear=0.001, starts_per_hour=10.0)
    pauses = ([40.0] * 5 + [90.0] + [700.0]) * 12
    found = proposal_for(pauses, costs)
    assert found.limited is HoldLimit.ALLOWANCE
    assert found.best.worst_hour <= 10
    assert found.best.wait == 40.0
    free = proposal_for(pauses, Costs(power=1500.0, price=0.3, wear=0.001))
    assert free.best.wait < 40.0
    assert free.best.worst_hour > 10


def test_where_no_wait_keeps_to_the_allowance_the_longest_is_taken() -> None:
    found = proposal_for(
        [310.0] * 40, Costs(power=1.0, price=1.0, wear=0.0, starts_per_hour=2.0)
    )
    assert found.limited is HoldLimit.ALLOWANCE
    assert found.best.wait == LONGEST_WAIT
    assert found.best.worst_hour > 2


def test_a_shutoff_delay_is_at_least_what_the_duct_needs() -> None:
    costs = Costs(power=1500.0, price=0.3, wear=0.0)
    found = proposal_for([20.0] * 30, costs, least=6.0)
    assert found.best.wait == 6.0
    assert found.limited is HoldLimit.LEAST


def test_a_hold_counts_the_shutoff_delay_that_follows_it() -> None:
    pauses = [24.0] * 30
    found = proposal_for(pauses, Costs(starts_per_hour=30.0), before=8.0, present=5.0)
    assert found.best.wait == 16.0
    assert found.present.wait == 5.0
    assert found.present.starts == pytest.approx(31 / 2)
    assert found.best.starts == pytest.approx(1 / 2)
    assert found.starts_saved == pytest.approx(15)


def test_breaks_between_sessions_are_no_pauses() -> None:
    pauses = PauseHistory(cuts_with([30.0, 20_000.0, 40.0]), WEEK)
    assert pauses.lengths == [30.0, 40.0]
    assert pauses.outcome(300.0, Costs()).starts == 2


def test_a_few_pauses_tell_nothing() -> None:
    found = propose_wait(cuts_with([20.0] * 9), WEEK, Costs(), present=5.0)
    assert found is NoProposal.TOO_FEW_PAUSES
    assert propose_wait([], WEEK, Costs(), present=5.0) is NoProposal.TOO_FEW_PAUSES
    with pytest.raises(ValueError, match="no time"):
        PauseHistory([], 0.0)
    assert PauseHistory([], WEEK).outcome(5.0, Costs()).worst_hour == 0
