"""The three verdicts don't flip with the last digit."""

from itertools import pairwise

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.airflow import (
    MARGIN,
    Judge,
    Network,
    Verdict,
    assess,
    bleed_gates,
    ratio_of,
    verdict,
    worst,
)
from custom_components.gatewright.core.airflow.verdict import BAND
from tests.airflow.reference_shop import reference_shop
from tests.airflow.test_advice import narrow_main

ENOUGH, MARGINAL, TOO_LITTLE = Verdict


@pytest.mark.parametrize(
    ("ratio", "found"),
    [
        (2.0, ENOUGH),
        (1.15, ENOUGH),
        (1.1449, ENOUGH),  # shown as 114 to 115 %
        (1.14, MARGINAL),
        (1.0, MARGINAL),
        (0.9951, MARGINAL),  # shown as 100 %
        (0.994, TOO_LITTLE),
        (0.0, TOO_LITTLE),
        (ratio_of(1.0, 0.0), ENOUGH),
    ],
)
def test_the_limits(ratio: float, found: Verdict) -> None:
    assert verdict(ratio) is found


def test_the_margin_can_be_changed() -> None:
    assert MARGIN >= 1.15
    assert verdict(1.2, 1.3) is MARGINAL
    assert verdict(1.05, 1.0) is ENOUGH
    # A margin below 1 asks for no less than the need itself.
    assert verdict(0.9, 0.5) is TOO_LITTLE


@given(
    start=st.floats(0.5, 2.0),
    steps=st.lists(st.floats(-BAND / 2.2, BAND / 2.2), max_size=30),
)
def test_a_verdict_does_not_flicker(start: float, steps: list[float]) -> None:
    """Around any one figure, however often it is computed, it changes once at most."""
    judge = Judge()
    judge.judge("flow", start)
    seen = [judge.judge("flow", start * (1.0 + step)) for step in steps]
    changes = sum(a is not b for a, b in pairwise(seen))
    assert changes <= 1


def test_a_judge_remembers_each_figure() -> None:
    judge = Judge()
    assert judge.known("saw") is None
    assert judge.judge("saw", 1.16) is ENOUGH
    assert judge.judge("saw", 1.14) is ENOUGH
    assert judge.judge("planer", 1.14) is MARGINAL
    assert judge.judge("saw", 1.12) is MARGINAL
    assert judge.judge("saw", 0.985) is MARGINAL
    assert judge.judge("saw", 0.97) is TOO_LITTLE
    assert judge.judge("saw", 0.99) is TOO_LITTLE
    assert judge.judge("saw", 1.0) is MARGINAL
    assert judge.known("saw") is MARGINAL


def test_the_worst_counts() -> None:
    assert worst(()) is ENOUGH
    assert worst((ENOUGH, MARGINAL)) is MARGINAL
    assert worst((TOO_LITTLE, ENOUGH)) is TOO_LITTLE


def test_an_assessment_has_a_verdict() -> None:
    found = assess(Network(reference_shop()), {"table_saw_gate"})
    assert not found.main_ok
    assert found.main_verdict() is found.verdict() is TOO_LITTLE
    (pickup,) = found.pickups
    assert pickup.ratio == min(
        pickup.flow / pickup.required, pickup.velocity / pickup.transport
    )
    assert found.ratio == min(result.ratio for result in found.ducts)
    nothing = assess(Network(reference_shop()), ())
    assert nothing.verdict() is TOO_LITTLE
    planer = assess(Network(narrow_main()), {"planer_gate"})
    assert planer.ok
    assert planer.verdict() is MARGINAL
    assert planer.verdict(1.0) is ENOUGH


def test_bleed_gates_keep_the_margin_where_they_can() -> None:
    """The saw's main: slow by the bare limit; the sander makes it fast by no margin."""
    network = Network(narrow_main())
    bare = bleed_gates(network, {"saw_gate"}, margin=1.0)
    assert bare[0].restored
    usual = bleed_gates(network, {"saw_gate"})
    # Nothing has the whole margin, so what keeps the bare limits counts.
    assert usual[0].restored
    assert usual[0].margin >= 1.0
