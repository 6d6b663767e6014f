"""Ducts entered by forms, laid out automatically: the same shop, readable, to scale."""

from itertools import combinations

from hypothesis import given, settings
import pytest

from custom_components.gatewright.core.plan.checks import check
from custom_components.gatewright.core.plan.document import DrawnDuct, ShopPlan
from custom_components.gatewright.core.plan.geometry import apart
from custom_components.gatewright.core.plan.layout import SHORTEST, lay_out
from custom_components.gatewright.core.plan.pieces import Pieces
from custom_components.gatewright.core.plan.reading import read
from custom_components.gatewright.core.plan.splitting import split
from custom_components.gatewright.core.plan.stored_drawing import SIZE
from custom_components.gatewright.core.plan.tree import read_tree
from custom_components.gatewright.core.plan.writing import write

from .random_trees import shops
from .shops import Data, demo_ducts, demo_places, normal_ducts, stock

type Shop = tuple[dict[str, Data], dict[str, Data]]


def drawn(shop: Shop) -> ShopPlan:
    """Return the drawing of a shop."""
    return lay_out(*shop, stock(*shop))


def placed(plan: ShopPlan) -> dict[str | None, Data]:
    """Return the places of the gates on a drawing."""
    places = read_tree(plan).places
    return {gate.bound: places[gate.id] for gate in plan.gates}


@given(shops())
@settings(max_examples=150, deadline=None)
def test_a_shop_that_is_drawn_and_read_back_is_the_same_shop(shop: Shop) -> None:
    ducts, places = shop
    plan = drawn(shop)
    assert read_tree(plan).ducts == ducts
    assert placed(plan) == places
    assert read(write(plan)) == plan
    assert not [p for p in check(plan, Pieces(plan)) if p.severity == "error"]


@given(shops())
@settings(max_examples=100, deadline=None)
def test_a_drawing_of_the_program_is_split_already(shop: Shop) -> None:
    plan = drawn(shop)
    assert read_tree(split(plan)).ducts == read_tree(plan).ducts


def _meet(one: DrawnDuct, other: DrawnDuct) -> bool:
    ends = {one.points[-1].at, one.points[0].at}
    return bool(ends & {other.points[-1].at, other.points[0].at})


@given(shops(most=20))
@settings(max_examples=100, deadline=None)
def test_nothing_runs_through_anything_else(shop: Shop) -> None:
    plan = drawn(shop)
    for one, other in combinations(plan.ducts, 2):
        gap = apart(*one.line.points[:2], *other.line.points[:2])
        assert _meet(one, other) or gap > 0.0


@given(shops())
@settings(max_examples=60, deadline=None)
def test_a_duct_is_as_long_on_the_sheet_as_it_is(shop: Shop) -> None:
    ducts, _ = shop
    for duct in drawn(shop).ducts:
        assert duct.bound is not None
        wanted = max(SHORTEST, ducts[duct.bound]["length"])
        assert duct.line.length == pytest.approx(wanted, abs=1e-4)


def test_the_demo_is_drawn_square_with_room_for_every_machine() -> None:
    shop = demo_ducts(), demo_places()
    plan = drawn(shop)
    for duct in plan.ducts:
        across, along, _ = duct.line.direction(0)
        assert across == pytest.approx(0, abs=1e-5) or along == pytest.approx(
            0, abs=1e-5
        )
    assert not check(plan, Pieces(plan))
    machines = [item for item in plan.items if item.type == "machine"]
    assert len(machines) == 14
    for one, other in combinations(machines, 2):
        assert max(abs(one.x - other.x), abs(one.y - other.y)) >= SIZE
    # Nothing is typed where the drawing shows it.
    main = next(duct for duct in plan.ducts if duct.bound == "main_2")
    assert main.typed.length is None
    assert main.typed.entry_angle is None


def test_a_large_shop_of_long_ducts_is_drawn_and_can_be_read() -> None:
    ducts = {
        f"d{number}": {
            **demo_ducts()["main_1"],
            "length": 200.0,
            **({"into": f"d{number // 3}"} if number else {}),
        }
        for number in range(400)
    }
    shop: Shop = (normal_ducts(ducts), {})
    plan = drawn(shop)
    assert read_tree(plan).ducts == shop[0]
    assert read(write(plan)) == plan


def test_figures_that_only_a_damaged_file_has_are_drawn_and_can_be_read() -> None:
    """So that a draft which took them over from the forms isn't lost."""
    ducts, places = demo_ducts(), demo_places()
    elbow = {"count": 99, "angle": 400.0, "radius": 0.0, "construction": "glass"}
    ducts["main_1"] = {**ducts["main_1"], "elbows": [elbow]}
    places["hose_gate"] = {
        **places["hose_gate"],
        "hose_diameter": 50.0,
        "hose_length": 5000.0,
        "entry_angle": 300.0,
    }
    plan = drawn((ducts, places))
    assert read_tree(plan).ducts == ducts
    assert placed(plan) == places
    assert read(write(plan)) == plan
