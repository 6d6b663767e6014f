"""The split into levels, against its definition, Otsu's and a mixture of two normals."""

import math

from hypothesis import given, settings, strategies as st
import numpy as np
import pytest

from custom_components.gatewright.core.calibration.distribution import Histogram
from custom_components.gatewright.core.calibration.history import steps_of
from custom_components.gatewright.core.calibration.learner import learn
from custom_components.gatewright.core.calibration.level_split import (
    best_cuts,
    level_cuts,
)

from .references import gaussian_mixture, least_error, otsu
from .traces import Lamp, Motor, Plug, make_trace

weights = st.lists(
    st.one_of(st.just(0.0), st.floats(0.01, 1e6)), min_size=1, max_size=10
).filter(any)


@given(weights, st.sampled_from([0.5, 2.5]))
def test_no_other_cut_is_better(spread_of: list[float], spread: float) -> None:
    found = best_cuts(spread_of, 4, spread)
    for parts, cuts in enumerate(found, start=1):
        assert len(cuts.firsts) == parts - 1
        assert cuts.error == pytest.approx(
            least_error(spread_of, parts, spread), abs=1e-6
        )
    used = sum(weight > 0 for weight in spread_of)
    assert len(found) >= min(4, used) or min(filter(None, spread_of)) < 1e-9 * sum(
        spread_of
    )


def test_nothing_cannot_be_cut() -> None:
    with pytest.raises(ValueError, match="nothing"):
        best_cuts([0.0, 0.0])


def normal(mean: float, deviation: float, share: float) -> np.ndarray:
    places = np.arange(160)
    shape = np.exp(-0.5 * ((places - mean) / deviation) ** 2)
    return np.asarray(share * shape / shape.sum())


def misplaced(first: int, low: np.ndarray, high: np.ndarray) -> float:
    """Return the share of both parts that a cut puts on the wrong side."""
    return float(low[first:].sum() / low.sum() + high[:first].sum() / high.sum())


@settings(max_examples=settings().max_examples // 8)
@given(
    st.floats(20, 50),
    st.floats(3, 8),
    st.floats(45, 80),
    st.floats(3, 10),
    st.floats(0.2, 0.8),
)
def test_balanced_levels_are_cut_where_otsu_and_a_mixture_cut(
    mean: float, deviation: float, apart: float, other: float, share: float
) -> None:
    low = normal(mean, deviation, 1 - share)
    high = normal(mean + apart, other, share)
    both = (low + high).tolist()
    (first,) = best_cuts(both, 2)[1].firsts
    for reference in (otsu(both), gaussian_mixture(both)):
        assert misplaced(first, low, high) <= misplaced(reference, low, high) + 0.01


@pytest.mark.parametrize("share", [1e-2, 1e-3, 1e-4])
def test_rare_runs_are_cut_like_a_mixture_and_unlike_otsu(share: float) -> None:
    """Otsu's cut goes through the middle of a machine's sleep when it seldom works."""
    low, high = normal(30, 5, 1 - share), normal(100, 8, share)
    both = (low + high).tolist()
    (first,) = best_cuts(both, 2)[1].firsts
    assert misplaced(first, low, high) < 0.01
    assert misplaced(gaussian_mixture(both), low, high) < 0.01
    if share < 1e-3:
        assert misplaced(otsu(both), low, high) > 0.2


def test_levels_are_as_many_as_there_are() -> None:
    one = normal(50, 4, 1)
    three = normal(20, 3, 1) + normal(70, 5, 0.2) + normal(130, 6, 0.05)
    assert level_cuts(one.tolist()) == ()
    first, second = level_cuts(three.tolist())
    assert 25 < first < 60
    assert 80 < second < 118


@pytest.mark.parametrize(
    ("motor", "plug", "lamps"),
    [
        (Motor(free=620, work=1850, standby=3, inrush=5200), Plug(), ()),
        (Motor(free=700, work=2300, standby=22, inrush=5600), Plug(noise=0.03), ()),
        (Motor(free=640, work=1300, inrush=3900), Plug(interval=10), ()),
        (Motor(free=190, work=320, standby=0.5), Plug(noise=0.06), ()),
        (Motor(free=900, work=1500), Plug(interval=5), (Lamp(draws=9, stays=4e4),)),
    ],
)
def test_thresholds_lie_where_both_references_cut_the_same_readings(
    motor: Motor, plug: Plug, lamps: tuple[Lamp, ...]
) -> None:
    trace = make_trace(motor, plug, lamps=lamps, days=4, seed=5)
    steps = steps_of(trace.history, trace.until)
    histogram = Histogram.of(steps, 1.0)
    weights = [math.sqrt(seconds) for seconds in histogram.seconds]
    proposal = learn(trace.history, "W", trace.until).proposal
    assert proposal is not None
    for first in (otsu(weights), gaussian_mixture(weights)):
        edge = histogram.lower(first)
        apart = math.fsum(
            step.lasts
            for step in steps
            if (step.value >= edge) is not (step.value >= proposal.levels.start)
        )
        running = math.fsum(b - a for a, b in trace.ran)
        assert apart < 0.02 * running
