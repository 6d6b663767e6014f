"""Reports of plugs of different kinds, in cases worked out by hand."""

from itertools import pairwise

import pytest

from custom_components.gatewright.core.calibration.history import Reading

from .plugs import SORTS, averaged, held_back, on_change, polled

DRAW: list[Reading] = [
    (0.0, 0.0),
    (10.0, 100.0),
    (11.0, 102.0),
    (12.0, 104.0),
    (13.0, 110.0),
    (90.0, 108.0),
    (95.0, 0.0),
    (140.0, None),
    (200.0, 0.0),
]


def test_a_change_is_reported_at_once_and_a_small_one_at_the_heartbeat() -> None:
    assert on_change(3.0, 0.05, 60.0)(DRAW, 300.0) == [
        (0.0, 0.0),
        (10.0, 100.0),
        (13.0, 110.0),
        (95.0, 0.0),
        (140.0, None),
        (200.0, 0.0),
    ]
    slow = [(0.0, 100.0), (5.0, 102.0), (130.0, 200.0)]
    assert on_change(3.0, 0.05, 60.0)(slow, 300.0) == [
        (0.0, 100.0),
        (60.0, 102.0),
        (130.0, 200.0),
    ]


def test_a_poll_sees_what_holds_at_its_instant() -> None:
    assert polled(30.0, offset=0.5)(DRAW, 300.0) == [
        (15.0, 110.0),
        (105.0, 0.0),
        (140.0, None),
        (225.0, 0.0),
    ]
    assert polled(100.0, offset=0.99)(DRAW, 120.0) == [(99.0, 0.0)]


def test_an_average_spreads_the_ends_of_a_run() -> None:
    run: list[Reading] = [(0.0, 0.0), (25.0, 100.0), (55.0, 0.0)]
    assert averaged(10.0, offset=0.0)(run, 90.0) == [
        (10.0, 0.0),
        (30.0, 50.0),
        (40.0, 100.0),
        (60.0, 50.0),
        (70.0, 0.0),
    ]


def test_a_plug_that_holds_back_tells_the_last_of_what_changed() -> None:
    quick: list[Reading] = [(0.0, 0.0), (20.0, 50.0), (22.0, 80.0), (25.0, 90.0)]
    assert held_back(10.0, 5.0)(quick, 60.0) == [(0.0, 0.0), (20.0, 50.0), (30.0, 90.0)]
    brief: list[Reading] = [(0.0, 0.0), (20.0, 50.0), (22.0, 80.0), (25.0, 50.0)]
    assert held_back(10.0, 5.0)(brief, 60.0) == [(0.0, 0.0), (20.0, 50.0)]


@pytest.mark.parametrize("sort", SORTS, ids=lambda sort: sort.name)
def test_every_sort_keeps_order_and_tells_gaps(sort) -> None:  # type: ignore[no-untyped-def]
    reports = sort.report(DRAW, 300.0)
    assert [at for at, _ in reports] == sorted(at for at, _ in reports)
    assert (140.0, None) in reports
    assert all(a != b for (_, a), (_, b) in pairwise(reports))
    assert sort.report([], 300.0) == []
