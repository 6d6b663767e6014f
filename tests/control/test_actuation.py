"""One actuator: what it should do, what it says, and who moved it."""

import math

import pytest

from custom_components.gatewright.core.control.actuator import Actuator
from custom_components.gatewright.core.control.actuator_memory import ActuatorMemory
from custom_components.gatewright.core.control.actuator_states import Deviation
from custom_components.gatewright.core.control.attempts import Tries

ONCE = Tries()
TWICE = Tries(count=2)
FOR_EVER = Tries(count=2, persistent=True)


def settled(*, target: bool = True, lag: float = 0.0) -> Actuator:
    """Return an actuator that stands as it should since 0, its window over at 10."""
    made = Actuator(window=10.0, lag=lag, on=TWICE, off=TWICE)
    made.report(not target, 0.0)
    made.set_target(target, 0.0)
    made.dispatched(0.0)
    made.report(target, 1.0)
    return made


def orders(made: Actuator, *instants: float) -> list[tuple[float, bool]]:
    """Return the commands that are given while time passes, each once."""
    given: list[tuple[float, bool]] = []
    last = 0
    for now in instants:
        made.advance(now)
        if (order := made.order) is not None and order.number != last:
            last = order.number
            made.dispatched(now)
            given.append((now, order.target))
    return given


@pytest.mark.parametrize(
    ("tries", "expected", "failed_at"),
    [
        (ONCE, [0.0], 10.0),
        (TWICE, [0.0, 10.0], 20.0),
        # Slower and slower, but never slower than every five minutes.
        (FOR_EVER, [0, 10, 20, 30, 50, 90, 170, 330, 630, 930, 1230], 20.0),
    ],
)
def test_tries(tries: Tries, expected: list[float], failed_at: float) -> None:
    made = Actuator(window=10.0, on=tries)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    instants = [float(now) for now in range(1300)]
    failed = next(now for now in instants if orders_failed(made, now))
    assert failed == failed_at
    made = Actuator(window=10.0, on=tries)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    assert [now for now, _ in orders(made, *instants)] == expected


def orders_failed(made: Actuator, now: float) -> bool:
    made.advance(now)
    return made.failed


def test_trying_for_days_does_not_overflow() -> None:
    made = Actuator(window=10.0, off=FOR_EVER)
    made.report(True, 0.0)
    made.set_target(False, 0.0)
    for number in range(3000):
        made.advance(300.0 * number)
    assert made.order is not None
    assert made.due == pytest.approx(300.0 * 2999 + 300.0, abs=300.0)


def test_failure_stands_until_it_is_mended_or_no_longer_matters() -> None:
    made = Actuator(window=10.0, on=ONCE)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    made.advance(10.0)
    assert made.order is None
    failed = [made.failed]
    made.report(True, 50.0)
    failed.append(made.failed)
    made.report(False, 60.0)
    made.set_target(False, 61.0)
    made.set_target(True, 62.0)
    made.advance(80.0)
    failed.append(made.failed)
    made.set_target(False, 90.0)
    failed.append(made.failed)
    assert failed == [True, False, True, False]


def test_hand_is_seen_after_a_late_confirmation() -> None:
    """What was given up and came about later is settled as well."""
    made = Actuator(window=10.0, on=ONCE)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    made.advance(10.0)
    made.report(True, 52.0)
    assert made.report(False, 100.0) is Deviation.HAND


def test_failed_actuator_that_returns_is_tried_again() -> None:
    made = Actuator(window=10.0, on=ONCE)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    made.advance(10.0)
    made.report(None, 20.0, reachable=False)
    assert made.report(False, 30.0) is None
    assert made.order is not None
    # It is still the same failure until that works.
    assert made.failed


def test_one_more_try_on_a_persons_word() -> None:
    made = Actuator(window=10.0, on=ONCE)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    made.advance(10.0)
    made.retry(20.0)
    assert not made.failed
    assert orders(made, 20.0, 25.0) == [(20.0, True)]
    made.advance(30.0)
    assert made.failed


@pytest.mark.parametrize(
    ("report", "at", "own", "expected"),
    [
        (False, 5.0, False, None),
        (None, 5.0, False, None),
        (False, 10.0, False, Deviation.HAND),
        (False, 10.0, True, Deviation.LATE),
        (None, 10.0, False, None),
        (True, 10.0, False, None),
    ],
)
def test_contrary_report(
    report: bool | None, at: float, own: bool, expected: Deviation | None
) -> None:
    made = settled()
    assert made.report(report, at, own=own) is expected


def test_noise_within_the_window_is_looked_at_again_at_its_end() -> None:
    made = settled()
    made.report(False, 5.0)
    made.report(True, 6.0)
    assert orders(made, 10.0, 30.0) == []
    made = settled()
    made.report(False, 5.0)
    assert orders(made, 10.0) == [(10.0, True)]


@pytest.mark.parametrize("target", [True, False, None])
def test_return_elsewhere_is_no_hand_but_is_set_right(target: bool | None) -> None:
    made = settled()
    made.set_target(target, 20.0)
    made.report(target if target is not None else True, 21.0)
    made.report(None, 40.0, reachable=False)
    assert made.order is None
    there = not target if target is not None else False
    expected = None if target is None else Deviation.BY_ITSELF
    assert made.report(there, 50.0) is expected
    assert (made.order is not None) is (target is not None)


def test_return_as_it_should_stand_needs_nothing() -> None:
    made = settled()
    made.report(None, 40.0, reachable=False)
    made.set_target(False, 45.0)
    assert made.report(False, 50.0) is None
    assert made.order is None


def test_first_report_other_than_remembered() -> None:
    made = Actuator(window=10.0)
    made.recall(ActuatorMemory(target=True, reported=True), 0.0, passed=0.0)
    assert made.report(False, 1.0) is Deviation.BY_ITSELF


@pytest.mark.parametrize(("first", "expected"), [(None, None), (True, Deviation.HAND)])
def test_hand_on_what_has_no_target(
    first: bool | None, expected: Deviation | None
) -> None:
    made = Actuator(window=10.0)
    made.report(first, 0.0)
    assert made.report(False, 1.0, own=True) is None
    made = Actuator(window=10.0)
    made.report(first, 0.0)
    assert made.report(False, 1.0) is expected
    assert made.report(False, 2.0) is None


def test_hand_is_seen_after_a_restart() -> None:
    """A remembered target that its first report confirms counts at once."""
    made = Actuator(window=10.0)
    made.recall(settled().remember(60.0), 100.0, passed=0.0)
    made.report(True, 101.0)
    assert made.report(False, 102.0) is Deviation.HAND


def test_restart_within_the_time_of_a_command() -> None:
    made = Actuator(window=10.0)
    made.recall(settled().remember(4.0), 100.0, passed=2.0)
    made.report(True, 101.0)
    # Until 104 the command from before may still show, in any order.
    assert made.report(False, 103.0) is None
    made.report(True, 103.5)
    assert made.report(False, 104.0) is Deviation.HAND


def test_changed_confirmation_time_counts_for_a_command_under_way() -> None:
    """The owner says that the actuator answers within 2 s, not 10 s."""
    made = settled()
    made.set_times(window=2.0)
    # Whoever moves it after those 2 s has moved it by hand.
    assert made.report(False, 3.0) is Deviation.HAND
    made = Actuator(window=2.0, on=ONCE)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    made.set_times(window=10.0)
    made.advance(9.9)
    assert not made.failed
    made.advance(10.0)
    assert made.failed


def test_changed_confirmation_time_revives_nothing() -> None:
    """What stands as it should is not waited for again."""
    made = settled()
    made.advance(10.0)
    made.set_times(window=30.0)
    assert made.report(False, 11.0) is Deviation.HAND


def test_hand_is_seen_within_the_pause_between_two_tries() -> None:
    """An off that failed often is tried every 5 min; its answer ends the waiting."""
    made = Actuator(window=10.0, off=FOR_EVER)
    made.report(True, 0.0)
    made.set_target(False, 0.0)
    assert orders(made, *(float(now) for now in range(640)))[-1] == (630.0, False)
    made.report(False, 635.0)
    # A report within the time that a command may take is noise, and one after it is not.
    assert made.report(True, 637.0) is None
    made.report(False, 638.0)
    assert made.report(True, 640.0) is Deviation.HAND


@pytest.mark.parametrize("passed", [0.0, 0.5])
def test_between_its_ends_after_a_restart_it_may_have_been_for_long(
    passed: float,
) -> None:
    """It isn't arriving on the word of an earlier process, which had seen it so as well."""
    before = Actuator(window=10.0, lag=5.0)
    before.report(True, 0.0)
    before.report(None, 20.0)
    assert before.arriving(21.0)
    made = Actuator(window=10.0, lag=5.0, since=100.0)
    made.recall(before.remember(21.0), 100.0, passed=passed)
    made.report(None, 100.0)
    assert not made.arriving(100.0)


def test_opposite_command_on_its_way_is_overtaken() -> None:
    made = Actuator(window=10.0, on=TWICE, off=TWICE)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    assert orders(made, 0.0) == [(0.0, True)]
    # It still says off, and may switch on any moment: it has to be told.
    made.set_target(False, 2.0)
    assert orders(made, 2.0) == [(2.0, False)]
    made.report(True, 3.0)
    made.report(False, 4.0)
    assert orders(made, 5.0, 11.9)
    assert orders(made, 12.0) == []
    assert made.report(True, 20.0) is Deviation.HAND


def test_command_that_never_left_needs_no_other() -> None:
    made = Actuator(window=10.0)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    made.set_target(False, 0.0)
    assert made.order is None


def test_target_withdrawn_with_its_command_on_its_way() -> None:
    made = Actuator(window=10.0)
    made.report(True, 0.0)
    made.set_target(False, 0.0)
    made.dispatched(0.0)
    made.set_target(None, 1.0)
    assert made.order is None
    made.set_target(True, 2.0)
    assert made.order is not None


def test_lag_of_what_only_says_what_it_was_told() -> None:
    made = Actuator(window=10.0, lag=5.0)
    made.report(False, 0.0)
    # What it says first may have been so for long.
    assert made.state_at(0.0) is False
    made.set_target(True, 10.0)
    made.report(True, 10.5)
    for now, state_at, arriving in ((10.5, None, True), (15.4, None, True)):
        assert made.state_at(now) is state_at
        assert made.arriving(now) is arriving
    assert made.due_after(10.5) == 15.5
    assert made.state_at(15.5) is True
    assert not made.arriving(15.5)


@pytest.mark.parametrize(
    ("reports", "target", "now", "expected"),
    [
        # Told to open, and within the time of the two tries.
        ([(0, False)], True, 19.0, True),
        ([(0, False)], True, 21.0, False),
        # Somebody moves it: it has the time of one stroke.
        ([(0, False), (5, None)], None, 14.0, True),
        ([(0, False), (5, None)], None, 15.0, False),
        # On its way to close, and closed.
        ([(0, True), (5, None)], False, 6.0, False),
        ([(0, False)], None, 1.0, False),
        # There already.
        ([(0, True)], True, 1.0, False),
    ],
)
def test_arriving(
    reports: list[tuple[float, bool | None]],
    target: bool | None,
    now: float,
    expected: bool,
) -> None:
    made = Actuator(window=10.0, on=TWICE, off=TWICE)
    first, *later = reports
    made.report(first[1], first[0])
    made.set_target(target, 0.0)
    for instant, value in later:
        made.report(value, instant)
    for instant in (10.0, 20.0):
        if instant <= now:
            made.advance(instant)
    assert made.arriving(now) is expected


def test_unknown_one_has_the_time_of_a_stroke_to_be_heard_of() -> None:
    made = Actuator(window=10.0, since=100.0)
    assert made.arriving(109.0)
    assert not made.arriving(110.0)
    assert made.expected(159.0)
    assert not made.expected(160.0)
    made.report(False, 120.0)
    assert not made.expected(130.0)


def test_what_stays() -> None:
    made = settled()
    assert made.stays(20.0)
    assert made.known(20.0)
    made.set_target(False, 20.0)
    # It still stands open, but not for long.
    assert made.state_at(20.0) is True
    assert not made.stays(20.0)
    # Stuck: it will not close.
    made.advance(30.0)
    made.advance(40.0)
    assert made.stays(40.0)
    other = Actuator(window=10.0)
    other.recall(ActuatorMemory(target=True, reported=True), 0.0, passed=0.0)
    assert other.stays(1.0)
    assert not other.known(1.0)


def test_left_between_its_ends() -> None:
    made = settled()
    made.report(None, 20.0)
    assert not made.left_between(29.0)
    assert made.left_between(30.0)
    # It is nobody's business to move it.
    assert made.order is None
    made.follow_hand(30.0)
    assert made.target is None
    moving = Actuator(window=10.0)
    moving.set_target(True, 0.0)
    moving.report(None, 1.0)
    assert not moving.left_between(20.0)


def test_following_a_hand() -> None:
    made = settled()
    made.report(False, 20.0)
    made.follow_hand(20.0)
    assert made.target is False
    assert made.order is None
    assert made.report(True, 21.0) is Deviation.HAND


def test_insisting_against_a_hand() -> None:
    made = settled(target=False)
    assert made.report(True, 20.0) is Deviation.HAND
    made.repeat(20.0)
    assert made.order is not None
    assert not made.order.target


def test_cut_off() -> None:
    made = settled()
    made.report(None, 20.0, reachable=False)
    # It was last seen as it should be: there is nothing to tell.
    assert not made.cut_off(1000.0)
    made.set_target(False, 1000.0)
    assert made.due_after(1000.0) == 1060.0
    assert not made.cut_off(1059.0)
    assert made.cut_off(1060.0)
    made.report(False, 1070.0)
    assert not made.cut_off(1070.0)


def test_memory_of_a_moving_slide() -> None:
    made = settled(lag=5.0)
    kept = made.remember(3.0)
    assert (kept.moves, kept.window) == (3.0, 7.0)
    after = Actuator(window=10.0, lag=5.0)
    after.recall(kept, 100.0, passed=1.0)
    assert after.state_at(101.9) is None
    assert after.state_at(102.0) is True
    assert made.remember(60.0) == ActuatorMemory(target=True, reported=True)


def test_memory_of_one_that_was_given_up_is_plain_data() -> None:
    made = Actuator(window=10.0, on=ONCE)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    made.advance(10.0)
    kept = made.remember(20.0)
    assert kept == ActuatorMemory(target=True, reported=False)
    assert math.isfinite(kept.moves)


def silent(*, lag: float = 0.0) -> Actuator:
    """Return an actuator that is there, does not say how it stands, and is to open."""
    made = Actuator(window=10.0, lag=lag, on=TWICE, off=TWICE)
    made.report(None, 0.0, no_feedback=True)
    made.set_target(True, 1.0)
    made.dispatched(1.0)
    return made


@pytest.mark.parametrize("lag", [0.0, 4.0])
def test_actuator_without_feedback_goes_by_the_time_of_its_command(lag: float) -> None:
    made = silent(lag=lag)
    made.advance(10.9)
    assert (made.stays(10.9), made.arriving(10.9)) == (False, True)
    assert made.advance(11.0)
    assert made.order is None
    assert made.known(11.0 + lag)
    assert (lag == 0.0) is made.known(11.0)
    made.report(None, 40.0, no_feedback=True)
    assert made.known(40.0)
    assert not made.failed


def test_actuator_without_feedback_that_refuses_is_not_taken_for_open() -> None:
    made = silent()
    given = []
    for now in (1.5, 11.0, 21.0, 31.0):
        made.advance(now)
        if made.order is not None:
            given.append((now, made.order.number))
            made.dispatched(now)
            made.refused()
    assert given[0] == (1.5, 1)
    assert made.failed
    assert not made.expected(31.0)
    assert not made.stays(31.0)


def test_actuator_without_feedback_reports_in_its_time_that_it_moves() -> None:
    made = silent()
    assert made.report(None, 2.0) is None
    # That is an answer: it is not told again, and is open when it says so.
    assert [order.number for order in (made.order,) if order] == [1]
    assert made.report(True, 6.0) is None
    assert made.order is None
    assert made.known(6.0)


def test_actuator_without_feedback_reports_later_that_it_stands_otherwise() -> None:
    made = silent()
    made.advance(11.0)
    assert made.report(False, 60.0) is Deviation.BY_ITSELF
    assert made.order is not None


def test_actuator_that_stops_reporting_keeps_its_state() -> None:
    made = settled()
    made.report(None, 20.0, no_feedback=True)
    assert (made.reported, made.reachable, made.order) == (True, True, None)
    assert made.report(True, 30.0) is None
    made.set_target(None, 40.0)
    made.report(None, 50.0, no_feedback=True)
    # Nobody knows since when it stands so.
    assert made.report(False, 60.0) is None


def test_target_of_an_actuator_that_returns_without_feedback_is_commanded_anew() -> (
    None
):
    made = Actuator(window=10.0, on=TWICE)
    made.set_target(True, 0.0)
    made.report(None, 50.0, no_feedback=True)
    assert made.order is not None
    made.dispatched(50.0)
    made.advance(59.0)
    assert not made.stays(59.0)
    made.advance(60.0)
    assert made.known(60.0)


def test_command_that_is_held_up_has_its_time_from_when_it_leaves() -> None:
    """One before it has not returned; that it waits is not a try that failed."""
    made = Actuator(window=10.0, on=ONCE)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    made.hold_up()
    assert made.arriving(9.0)
    made.advance(10.0)
    # It cannot be on its way any more, but it has not failed either.
    assert not made.arriving(10.0)
    assert not made.failed
    assert made.order is not None
    number = made.order.number
    made.dispatched(14.0)
    assert made.arriving(23.0)
    made.advance(23.9)
    assert not made.failed
    assert made.order.number == number
    made.advance(24.0)
    assert made.failed


def test_given_up_is_tried_anew_and_failed_until_that_succeeds() -> None:
    made = Actuator(window=10.0, on=TWICE)
    made.report(False, 0.0)
    made.set_target(True, 0.0)
    assert [at for at, _ in orders(made, 0.0, 10.0, 20.0)] == [0.0, 10.0]
    assert made.failed
    made.try_anew(30.0)
    assert made.failed
    assert made.order is not None
    number = made.order.number
    made.try_anew(31.0)
    assert made.order.number == number
    made.report(True, 33.0)
    assert not made.failed
