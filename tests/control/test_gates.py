"""Make before break, rest, and hands at the slide."""

from dataclasses import replace

import pytest

from custom_components.gatewright.core.config import GateConfig, GateKind, IdlePosition
from custom_components.gatewright.core.control.gates import GateController

A, B, C = (GateConfig(gate_id=name, name=name, travel=5.0) for name in "abc")
HAND = GateConfig(gate_id="hand", name="Hand", kind=GateKind.HAND)
FIXED = GateConfig(gate_id="fixed", name="Fixed", kind=GateKind.FIXED)


def board(*plans: GateConfig, opened: str = "", now: float = 0.0) -> GateController:
    """Return a board whose gates have said how they stand."""
    made = GateController(10.0)
    made.plan(plans, 10.0, now)
    for plan in plans:
        tell(made, plan.gate_id, plan.gate_id in opened, now)
    return made


def tell(
    made: GateController,
    gate: str,
    value: bool | None,
    now: float,
    *,
    reachable: bool = True,
) -> None:
    made.report(gate, value, now, reachable=reachable, own=False)


def due(made: GateController) -> dict[str, bool]:
    return {gate: order.target for gate, order in made.orders()}


def wishes(made: GateController) -> dict[str, bool | None]:
    found = {}
    for gate in made.powered():
        actuator = made.actuator(gate)
        assert actuator is not None
        found[gate] = actuator.target
    return found


def test_wanted_gate_opens_before_another_closes() -> None:
    made = board(A, B, opened="a")
    made.apply_demand(frozenset("b"), 3.0, 10.0)
    assert due(made) == {"b": True}
    tell(made, "b", None, 11.0)
    made.apply_demand(frozenset("b"), 3.0, 11.0)
    assert due(made) == {"b": True}
    tell(made, "b", True, 14.0)
    made.apply_demand(frozenset("b"), 3.0, 14.0)
    assert due(made) == {"a": False}


def test_gate_no_longer_wanted_stays_open_for_the_delay() -> None:
    made = board(A, B, opened="ab")
    made.apply_demand(frozenset("ab"), 3.0, 0.0)
    made.apply_demand(frozenset("b"), 3.0, 10.0)
    assert due(made) == {}
    assert 13.0 in list(made.due_after(10.0))
    made.apply_demand(frozenset("b"), 3.0, 12.9)
    assert due(made) == {}
    made.apply_demand(frozenset("b"), 3.0, 13.0)
    assert due(made) == {"a": False}
    made.apply_demand(frozenset("ab"), 3.0, 14.0)
    assert due(made) == {}


def test_every_wanted_gate_that_moves_is_waited_for() -> None:
    made = board(A, B, C, opened="a")
    made.apply_demand(frozenset("bc"), 0.0, 0.0)
    tell(made, "b", True, 3.0)
    made.apply_demand(frozenset("bc"), 0.0, 3.0)
    assert due(made) == {"c": True}
    # It is stuck: the work goes on with the other.
    made.advance(5.0)
    made.advance(10.0)
    made.apply_demand(frozenset("bc"), 0.0, 10.0)
    assert due(made) == {"a": False}


def test_gate_out_of_reach_is_neither_waited_for_nor_counted_on() -> None:
    made = board(A, B, C, opened="a")
    tell(made, "c", None, 1.0, reachable=False)
    made.apply_demand(frozenset("bc"), 0.0, 2.0)
    tell(made, "b", True, 5.0)
    made.apply_demand(frozenset("bc"), 0.0, 5.0)
    assert due(made) == {"a": False}
    made = board(A, B, opened="ab")
    tell(made, "b", None, 1.0, reachable=False)
    made.apply_demand(frozenset("b"), 0.0, 2.0)
    assert due(made) == {}


@pytest.mark.parametrize("wanted", [frozenset[str](), frozenset({"hand"})])
def test_nothing_closes_while_none_of_the_wanted_is_open(
    wanted: frozenset[str],
) -> None:
    made = board(A, HAND, opened="a")
    made.apply_demand(wanted, 0.0, 10.0)
    assert due(made) == {}
    assert made.any_open(10.0)


def test_gate_closed_by_hand_no_longer_counts_as_open_at_once() -> None:
    """It still stands open when the command leaves, and is no way in any more."""
    made = board(A, B, opened="ab")
    made.apply_demand(frozenset("ab"), 10.0, 0.0)
    made.apply_demand(frozenset("b"), 10.0, 0.5)
    made.move("b", opened=False, now=1.0)
    assert made.is_open("b", 1.0)
    assert not made.ready(frozenset("b"), 1.0)
    assert made.any_open(1.0)
    assert not made.any_open(1.0, but="a")
    made.apply_demand(frozenset("b"), 0.0, 2.0)
    assert due(made) == {"b": False}


@pytest.mark.parametrize(
    ("plans", "opened", "has_open_path"),
    [
        ((), "", True),
        ((A,), "", False),
        ((A,), "a", True),
        ((A, FIXED), "", True),
        ((A, HAND), "hand", True),
    ],
)
def test_an_open_path(
    plans: tuple[GateConfig, ...], opened: str, has_open_path: bool
) -> None:
    made = board(*plans, opened=opened)
    assert made.any_open(0.0) is has_open_path
    assert made.has_open_path(0.0) is has_open_path
    assert made.ready(frozenset(), 0.0) is has_open_path


def test_way_that_is_coming() -> None:
    made = board(A, B)
    made.open_way("a", 10.0)
    assert not made.any_open(10.0)
    assert made.has_open_path(14.9)
    assert made.coming("a", 10.0)
    assert not made.coming("b", 10.0)
    assert not made.coming(["fixed"], 10.0)
    made.advance(15.0)
    assert made.has_open_path(19.9)
    made.advance(20.0)
    assert not made.has_open_path(20.0)


def test_way_is_sought_elsewhere_only_where_it_must_be() -> None:
    made = board(A, B, HAND, FIXED)
    made.open_way(["hand", "fixed"], 0.0)
    assert wishes(made) == {"a": None, "b": None}
    made.open_way(["hand"], 0.0, or_any=True)
    assert wishes(made) == {"a": True, "b": True}


def test_closing_is_called_off() -> None:
    made = board(A, B, C, opened="ab")
    for gate in "abc":
        made.move(gate, opened=False, now=10.0)
    tell(made, "b", None, 11.0)
    made.keep_open(12.0)
    # One still stands open; the other may close.
    assert wishes(made) == {"a": None, "b": False, "c": False}
    made.move("a", opened=False, now=13.0)
    tell(made, "a", None, 14.0)
    made.keep_open(15.0)
    assert wishes(made) == {"a": True, "b": True, "c": False}


def test_closing_that_overtakes_an_opening_is_called_off_too() -> None:
    made = board(A)
    made.move("a", opened=True, now=0.0)
    actuator = made.actuator("a")
    assert actuator is not None
    actuator.dispatched(0.0)
    made.move("a", opened=False, now=1.0)
    assert due(made) == {"a": False}
    made.keep_open(2.0)
    assert due(made) == {}


@pytest.mark.parametrize(
    ("rest", "close_all", "expected"),
    [
        (IdlePosition.CLOSED, False, {"a": False}),
        (IdlePosition.OPEN, False, {}),
        (IdlePosition.LEAVE, False, {}),
        (IdlePosition.OPEN, True, {"a": False}),
        (IdlePosition.LEAVE, True, {"a": False}),
    ],
)
def test_rest(rest: IdlePosition, close_all: bool, expected: dict[str, bool]) -> None:
    made = board(replace(A, rest=rest), HAND, FIXED, opened="a")
    made.settle(10.0, close_all=close_all)
    assert due(made) == expected


def test_gate_moved_by_hand_is_left_until_it_is_wanted_anew() -> None:
    made = board(A, B, opened="ab")
    made.apply_demand(frozenset("ab"), 0.0, 0.0)
    tell(made, "a", False, 10.0)
    made.apply_demand(frozenset("ab"), 0.0, 11.0)
    made.settle(12.0)
    assert due(made) == {"b": False}
    assert made.is_held_by_hand("a")
    made.apply_demand(frozenset("a"), 0.0, 13.0)
    assert due(made)["a"]
    assert not made.is_held_by_hand("a")


def test_work_that_is_over_makes_the_next_demand_a_new_one() -> None:
    made = board(A, opened="a")
    made.apply_demand(frozenset("a"), 0.0, 0.0)
    tell(made, "a", False, 10.0)
    made.clear_demand()
    made.apply_demand(frozenset("a"), 0.0, 11.0)
    assert due(made) == {"a": True}


def test_released_gate_goes_to_its_rest() -> None:
    made = board(A)
    made.settle(0.0)
    tell(made, "a", True, 20.0)
    made.settle(21.0)
    assert due(made) == {}
    made.release()
    made.settle(22.0)
    assert due(made) == {"a": False}


def test_gate_left_half_way_is_a_hands_doing() -> None:
    made = board(A)
    made.settle(0.0)
    tell(made, "a", None, 20.0)
    made.advance(24.9)
    assert not made.is_held_by_hand("a")
    assert 25.0 in list(made.due_after(20.0))
    made.advance(25.0)
    made.settle(26.0)
    assert made.is_held_by_hand("a")
    assert due(made) == {}


def test_hand_gate_is_never_driven() -> None:
    made = board(HAND, FIXED, opened="hand")
    tell(made, "hand", False, 10.0)
    tell(made, "fixed", False, 10.0)
    made.apply_demand(frozenset({"hand", "fixed"}), 0.0, 11.0)
    assert due(made) == {}
    assert made.is_open("fixed", 11.0)
    assert not made.is_open("elsewhere", 11.0)


def test_changed_plan() -> None:
    made = board(A, B, opened="ab")
    made.apply_demand(frozenset("ab"), 5.0, 0.0)
    made.apply_demand(frozenset("b"), 5.0, 1.0)
    made.move("b", opened=False, now=2.0)
    slower = replace(A, travel=20.0)
    made.plan((slower, C), 10.0, 10.0)
    assert "b" not in made
    assert made.is_open("a", 10.0)
    actuator = made.actuator("a")
    assert actuator is not None
    assert actuator.window == 20.0
    # The new one has the time of a stroke to say where it stands.
    assert made.coming("c", 14.9)
    made.plan((replace(A, feedback=False), C), 7.0, 20.0)
    assert not made.is_open("a", 20.0)
    assert made.actuator("a") is not actuator


def test_exchanged_actuator_is_unknown() -> None:
    made = board(A, opened="a")
    made.settle(0.0)
    tell(made, "a", False, 1.0)
    tell(made, "a", True, 10.0)
    made.renew("a")
    assert not made.is_open("a", 10.0)
    assert not made.is_held_by_hand("a")


def test_restart_closes_nothing_on_an_earlier_report() -> None:
    before = board(A, B, C, HAND, opened="ab")
    before.apply_demand(frozenset("a"), 0.0, 0.0)
    before.move("c", opened=False, now=1.0)
    kept = before.remember(20.0)
    after = GateController(10.0)
    after.plan((A, B, C, HAND), 10.0, 100.0)
    after.recall({**kept, "gone": kept["a"]}, 100.0, passed=0.0)
    assert wishes(after) == {"a": True, "b": None, "c": False}
    assert after.is_open("a", 100.0)
    assert after.is_held_by_hand("c")
    # What was known is enough to go on, and not to start.
    assert after.has_open_path(100.0)
    assert not after.ready(frozenset("a"), 100.0)
    tell(after, "a", True, 101.0)
    assert after.ready(frozenset("a"), 101.0)
    # It was wanted before: a hand that closes it is no new demand.
    tell(after, "a", False, 120.0)
    after.apply_demand(frozenset("a"), 0.0, 121.0)
    assert "a" not in due(after)
