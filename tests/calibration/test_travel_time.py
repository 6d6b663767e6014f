"""Whether an entered travel time fits the measured strokes."""

from hypothesis import given, strategies as st
import pytest

from custom_components.gatewright.core.calibration.travel_time import (
    TravelMisfit,
    TravelProposal,
    propose_travel,
)

strokes = st.lists(st.floats(0.0, 100.0), min_size=5, max_size=9)


@pytest.mark.parametrize(
    ("entered", "opening", "closing", "travel"),
    [
        # Two times 2.0 s is still taken for cautious, more is not.
        (4.0, [2.0] * 5, [], None),
        (5.0, [2.0] * 5, [], 3.0),
        (2.2, [2.0] * 5, [], None),
        (2.1, [2.0] * 5, [], 3.0),
        # A third more than 3.0 is 4.0 and needs no rounding up.
        (12.0, [3.0] * 5, [], 4.0),
        (12.0, [3.1] * 5, [], 4.5),
        # Both ways have to fit into the time.
        (12.0, [3.0] * 5, [6.0], None),
        (12.0, [3.0] * 5, [4.4], 6.0),
        (3.2, [2.0] * 5, [3.0], 4.0),
        # Only what it does now counts.
        (12.0, [9.0] + [2.0] * 5, [9.0] + [2.0] * 5, 3.0),
        # Not enough was seen, or nothing that can be a stroke.
        (12.0, [2.0] * 4, [2.0] * 9, None),
        (5.0, [0.1] * 5, [], None),
        # Nothing shorter in half seconds.
        (1.0, [0.4] * 5, [], None),
        (0.5, [0.24] * 5, [], None),
    ],
)
def test_what_is_proposed(
    entered: float, opening: list[float], closing: list[float], travel: float | None
) -> None:
    proposal = propose_travel(entered, opening, closing)
    assert (proposal and proposal.travel) == travel


def test_it_says_which_way_it_differs() -> None:
    assert propose_travel(5.0, [0.5] * 5, [0.6]) == TravelProposal(
        misfit=TravelMisfit.TOO_LONG, longest=0.6, travel=1.0
    )
    assert propose_travel(5.0, [5.0] * 4 + [6.4], []) == TravelProposal(
        misfit=TravelMisfit.TOO_SHORT, longest=6.4, travel=9.0
    )


@given(entered=st.floats(0.0, 120.0), opening=strokes, closing=strokes)
def test_a_proposal_fits_and_is_made_once(
    entered: float, opening: list[float], closing: list[float]
) -> None:
    proposal = propose_travel(entered, opening, closing)
    if proposal is None:
        return
    assert proposal.travel > proposal.longest
    assert proposal.travel % 0.5 == 0
    shorter = proposal.misfit is TravelMisfit.TOO_LONG
    assert (proposal.travel < entered) is shorter
    assert propose_travel(proposal.travel, opening, closing) is None
