"""How a gate really moves: strokes, positions, and whether it can be counted on."""

import pytest

from custom_components.gatewright.core.control.travel import LATENCY, Travel

from .bench import near


def opened(travel: Travel, at: float, stroke: float) -> None:
    """Have a closed gate told to open, and open; then closed again."""
    travel.told(True, at, stood=False)
    travel.arrived(True, at + stroke)
    travel.told(False, at + 50.0, stood=True)
    travel.arrived(False, at + 50.0 + 2 * stroke)


def test_strokes_by_direction() -> None:
    travel = Travel()
    assert not travel.seen
    for number, stroke in enumerate((2.0, 2.2, 9.0, 2.1)):
        opened(travel, 100.0 * number, stroke)
    assert travel.stroke() == near(2.15)
    assert travel.stroke(opening=False) == near(4.3)
    # It is judged by what it needed lately, not by what is usual.
    assert travel.longest == 9.0
    for number in range(5):
        opened(travel, 1000.0 + 100.0 * number, 2.0)
    assert travel.longest == 2.0


def test_what_is_no_whole_stroke_measures_nothing() -> None:
    travel = Travel()
    travel.told(True, 0.0, stood=None)
    travel.arrived(True, 1.0)
    assert not travel.seen
    # Told again on its way: nobody knows which of the two it followed.
    travel.told(True, 10.0, stood=False)
    travel.told(True, 15.0, stood=False)
    travel.arrived(True, 16.0)
    assert not travel.seen
    travel.told(True, 20.0, stood=False)
    travel.interrupted()
    travel.arrived(True, 30.0)
    assert not travel.seen


def test_when_it_is_due() -> None:
    travel = Travel()
    # Nothing was told to it yet: the command leaves now.
    assert travel.passable_at(6.0, 100.0, feedback=True) == near(102.0 + LATENCY)
    opened(travel, 0.0, 3.0)
    travel.told(True, 200.0, stood=False)
    assert travel.passable_at(6.0, 205.0, feedback=True) == near(201.0 + LATENCY)
    # One without feedback goes by what was entered.
    assert travel.passable_at(6.0, 205.0, feedback=False) == near(202.0 + LATENCY)


@pytest.mark.parametrize(
    ("strokes", "entered", "overdue"),
    [
        # Never timed: its owner's figure, and two seconds for its actuator to answer.
        ((), 1.0, 3.0),
        ((), 20.0, 26.0),
        ((2.0,), 1.0, 3.0),
        ((2.0, 8.0), 1.0, 10.4),
    ],
)
def test_when_it_has_failed(
    strokes: tuple[float, ...], entered: float, overdue: float
) -> None:
    travel = Travel()
    for number, stroke in enumerate(strokes):
        opened(travel, 100.0 * number, stroke)
    assert travel.overdue_at(entered) is None
    travel.told(True, 1000.0, stood=False)
    # Another try gives it no more time.
    travel.told(True, 1001.0, stood=False)
    assert travel.overdue_at(entered) == near(1000.0 + overdue, within=0.002)


def test_position_that_stays_small() -> None:
    travel = Travel()
    # Nothing is known of its positions yet.
    travel.told(True, 0.0, stood=False)
    for now, position in ((0.2, 0.0), (1.0, 0.2), (2.0, 0.4), (3.5, 0.9)):
        travel.moved(position, now)
        assert travel.lags_from is None
    travel.moved(1.0, 4.0)
    travel.arrived(True, 4.0)
    travel.told(False, 50.0, stood=True)
    travel.moved(0.0, 54.0)
    travel.arrived(False, 54.0)
    # They came 1.5 s apart at most.
    travel.told(True, 100.0, stood=False)
    assert travel.lags_from == near(102.35)
    travel.moved(0.2, 101.0)
    assert travel.lags_from == near(103.35)
    travel.moved(0.34, 102.0)
    assert travel.passable
    assert travel.lags_from is None
    travel.moved(None, 102.5)
    assert not travel.passable


def test_memory() -> None:
    travel = Travel()
    opened(travel, 0.0, 3.0)
    travel.moved(0.5, 200.0)
    travel.trusted = False
    kept = Travel()
    kept.recall(travel.remember(300.0))
    assert kept.remember(300.0) == travel.remember(300.0)
    assert kept.seen
    assert not kept.trusted
    assert kept.told_at is None
