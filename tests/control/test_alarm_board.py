"""Alarms are raised once and cleared once, also when their cause flaps."""

from collections.abc import Iterable

import pytest

from custom_components.gatewright.core.control.alarms import (
    AlarmKind,
    AlarmSet,
    Condition,
)

STUCK = Condition(AlarmKind.GATE_NOT_MOVING, "gate")
LOST = Condition(AlarmKind.READING_LOST, "saw")


def changes(
    board: AlarmSet, looks: Iterable[tuple[float, tuple[Condition, ...]]]
) -> list[tuple[float, bool]]:
    """Return what is told, looking as well whenever the board asks for it."""
    told = []
    present: tuple[Condition, ...] = ()
    for now, conditions in looks:
        while (due := board.due) is not None and due < now:
            board.update(present, due)
            told += board.drain()
        present = conditions
        board.update(present, now)
        told += board.drain()
    return [(change.at, change.raised) for change in told]


def test_raised_once_and_cleared_once() -> None:
    board = AlarmSet()
    looks = [(float(now), (STUCK,) if 5 <= now < 20 else ()) for now in range(30)]
    assert changes(board, looks) == [(5.0, True), (20.0, False)]
    assert board.standing == {}
    assert board.due is None


def test_alarms_do_not_mind_each_other() -> None:
    board = AlarmSet()
    board.update((STUCK,), 1.0)
    board.update((STUCK, LOST), 2.0)
    assert list(board.standing) == [STUCK, LOST]
    assert board.standing[LOST].raised_at == 2.0
    board.update((LOST,), 3.0)
    assert list(board.standing) == [LOST]
    assert [c.condition for c in board.drain()] == [STUCK, LOST, STUCK]


def flapping(period: float, times: int) -> list[tuple[float, tuple[Condition, ...]]]:
    looks: list[tuple[float, tuple[Condition, ...]]] = []
    for number in range(times):
        looks += [
            (number * period, (STUCK,)),
            (number * period + period / 2, ()),
        ]
    return [*looks, (times * period + 1000.0, ())]


@pytest.mark.parametrize(
    ("period", "expected"),
    [
        # The third time within ten minutes it is left standing until all is quiet.
        (
            10.0,
            [
                (0.0, True),
                (5.0, False),
                (10.0, True),
                (15.0, False),
                (20.0, True),
                (95.0 + 60.0, False),
            ],
        ),
        # What comes back once in half an hour is told each time.
        (1800.0, [(900.0 * n, n % 2 == 0) for n in range(20)]),
    ],
)
def test_flapping(period: float, expected: list[tuple[float, bool]]) -> None:
    assert changes(AlarmSet(), flapping(period, 10)) == expected


def test_restart_neither_tells_it_again_nor_clears_it_before_it_can_know() -> None:
    board = AlarmSet()
    board.recall({STUCK: 40.0, LOST: 100.0})
    assert list(board.standing) == [STUCK, LOST]
    looks: list[tuple[float, tuple[Condition, ...]]] = [
        (101.0, ()),
        (110.0, (STUCK,)),
        (200.0, (STUCK,)),
        (210.0, ()),
    ]
    # The one is back before long, and its end told at once; the other stays away.
    assert changes(board, looks) == [(161.0, False), (210.0, False)]
