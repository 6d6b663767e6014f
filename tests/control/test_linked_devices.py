"""Switches that run with a machine, and whose they are."""

import json

import pytest

from custom_components.gatewright.core.control.switch_controller import (
    SwitchController,
    SwitchTimes,
)

LIGHT = frozenset({"light"})
NONE = frozenset[str]()


def board(
    *, delay: float = 0.0, shutoff_delay: float = 0.0, on: bool = False
) -> SwitchController:
    made = SwitchController()
    made.plan({"light": SwitchTimes(delay, shutoff_delay)})
    tell(made, on, 0.0)
    return made


def tell(
    made: SwitchController, value: bool | None, now: float, *, reachable: bool = True
) -> None:
    made.report("light", value, now, reachable=reachable, own=False)


def drive(made: SwitchController, now: float) -> bool | None:
    """Carry out what is due and report it done; return what that was."""
    made.advance(now)
    for linked_device, order in list(made.orders()):
        actuator = made.actuator(linked_device)
        assert actuator is not None
        actuator.dispatched(now)
        tell(made, order.target, now)
        return order.target
    return None


def test_runs_with_the_work_and_stops_after_it() -> None:
    made = board(delay=2.0, shutoff_delay=30.0)
    made.apply_demand(LIGHT, 10.0)
    assert drive(made, 10.0) is None
    assert 12.0 in list(made.due_after(10.0))
    made.apply_demand(LIGHT, 12.0)
    assert drive(made, 12.0) is True
    made.apply_demand(NONE, 50.0)
    assert drive(made, 50.0) is None
    assert 80.0 in list(made.due_after(50.0))
    made.apply_demand(NONE, 80.0)
    assert drive(made, 80.0) is False


def test_work_that_begins_during_the_shutoff_delay_keeps_it_on() -> None:
    made = board(delay=2.0, shutoff_delay=30.0)
    made.apply_demand(LIGHT, 0.0)
    made.apply_demand(LIGHT, 2.0)
    drive(made, 2.0)
    made.apply_demand(NONE, 50.0)
    made.apply_demand(LIGHT, 60.0)
    made.apply_demand(LIGHT, 100.0)
    assert drive(made, 100.0) is None
    made.apply_demand(NONE, 110.0)
    made.apply_demand(NONE, 140.0)
    assert drive(made, 140.0) is False


def test_work_that_ends_before_the_delay_does_nothing() -> None:
    made = board(delay=5.0)
    made.apply_demand(LIGHT, 0.0)
    made.apply_demand(NONE, 3.0)
    made.apply_demand(NONE, 10.0)
    assert drive(made, 10.0) is None


def test_one_that_was_on_before_is_its_owners() -> None:
    made = board(on=True)
    made.apply_demand(LIGHT, 10.0)
    made.apply_demand(NONE, 20.0)
    assert drive(made, 20.0) is None


@pytest.mark.parametrize("value", [False, True])
def test_one_switched_by_hand_during_the_work_is_left_alone(value: bool) -> None:
    made = board()
    made.apply_demand(LIGHT, 0.0)
    drive(made, 0.0)
    tell(made, False, 20.0)
    made.apply_demand(LIGHT, 21.0)
    assert drive(made, 21.0) is None
    tell(made, value, 22.0)
    made.apply_demand(NONE, 30.0)
    assert drive(made, 30.0) is None
    # The next work runs it again, unless it is on already.
    made.apply_demand(LIGHT, 40.0)
    assert drive(made, 40.0) is (None if value else True)


def test_one_switched_on_by_hand_at_rest_stays_on() -> None:
    made = board()
    tell(made, True, 20.0)
    made.apply_demand(NONE, 21.0)
    assert drive(made, 21.0) is None


def test_fire_shutdown_leaves_out_the_shutoff_delay() -> None:
    made = board(shutoff_delay=60.0)
    made.apply_demand(LIGHT, 0.0)
    drive(made, 0.0)
    made.apply_demand(NONE, 20.0)
    made.apply_demand(NONE, 21.0, at_once=True)
    assert drive(made, 21.0) is False


@pytest.mark.parametrize("running", [True, False])
def test_under_start_block_only_what_runs_goes_on(running: bool) -> None:
    made = board()
    if running:
        made.apply_demand(LIGHT, 0.0)
        drive(made, 0.0)
    made.apply_demand(LIGHT, 20.0, start=False)
    assert drive(made, 20.0) is None
    made.apply_demand(NONE, 30.0, start=False)
    assert drive(made, 30.0) is (False if running else None)


def test_failure_stands_until_it_is_off_after_all() -> None:
    made = board()
    made.apply_demand(LIGHT, 0.0)
    drive(made, 0.0)
    made.apply_demand(NONE, 20.0)
    for now in (20.0, 30.0, 40.0):
        made.advance(now)
        made.apply_demand(NONE, now)
    actuator = made.actuator("light")
    assert actuator is not None
    failed = [actuator.failed]
    assert list(made.orders()) == []
    tell(made, False, 50.0)
    made.apply_demand(NONE, 50.0)
    failed.append(actuator.failed)
    assert failed == [True, False]
    # From now on it is the owner's again.
    tell(made, True, 60.0)
    made.apply_demand(NONE, 61.0)
    assert list(made.orders()) == []


def test_unknown_state_is_no_hand() -> None:
    made = board()
    made.apply_demand(LIGHT, 0.0)
    drive(made, 0.0)
    tell(made, None, 20.0)
    tell(made, True, 30.0)
    made.apply_demand(NONE, 40.0)
    assert drive(made, 40.0) is False


@pytest.mark.parametrize(
    ("stage", "off_at"),
    [
        # During the work, its shut-off delay counts from its end;
        ("work", 150.0),
        # during the shut-off delay it goes on, less the 5 s away;
        ("shutoff_delay", 105.0),
        # and one that was being switched off is.
        ("off", 100.0),
    ],
)
def test_restart(stage: str, off_at: float) -> None:
    before = board(shutoff_delay=20.0)
    before.apply_demand(LIGHT, 0.0)
    drive(before, 0.0)
    if stage != "work":
        before.apply_demand(NONE, 20.0)
    if stage == "off":
        before.apply_demand(NONE, 40.0)
    kept = json.loads(json.dumps(before.remember(40.0 if stage == "off" else 30.0)))
    after = board(shutoff_delay=20.0)
    after.recall({**kept, "gone": kept["light"]}, 100.0, passed=5.0)
    tell(after, True, 100.0)
    wanted = LIGHT if stage == "work" else NONE
    offs = []
    for now in range(100, 200):
        after.apply_demand(wanted if now < 130 else NONE, now)
        if drive(after, now) is False:
            offs.append(now)
    assert offs == [off_at]


def test_changed_plan() -> None:
    made = board()
    made.plan({})
    assert made.actuator("light") is None
    tell(made, True, 1.0)
    made.apply_demand(LIGHT, 2.0)
    assert list(made.orders()) == []
