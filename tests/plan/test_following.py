"""Changes by forms are applied to a drawing, and no drawing is lost."""

from dataclasses import replace
from typing import Any

from hypothesis import given, settings, strategies as st

from custom_components.gatewright.core.plan.changes import StoredParts, changes
from custom_components.gatewright.core.plan.document import ShopPlan
from custom_components.gatewright.core.plan.following import follow
from custom_components.gatewright.core.plan.layout import lay_out
from custom_components.gatewright.core.plan.reading import read
from custom_components.gatewright.core.plan.tree import read_tree
from custom_components.gatewright.core.plan.writing import write

from .random_trees import shops
from .shops import Data, demo_ducts, demo_places, stock
from .test_tree import duct, into

type Shop = tuple[dict[str, Data], dict[str, Data]]


def stored(shop: Shop) -> StoredParts:
    """Return a shop as it's stored."""
    ducts, places = shop
    has = stock(ducts, places)
    return StoredParts(ducts=ducts, places=places, names={**has.ducts, **has.gates})


def without(shop: Shop, gone: set[str]) -> Shop:
    """Return a shop without some ducts; their inflow goes downstream, as after a removal."""
    ducts, places = shop

    def on(duct_id: str | None) -> str | None:
        while duct_id in gone:
            duct_id = ducts[duct_id].get("into")
        return duct_id

    def led(data: Data, key: str) -> Data:
        rest = {k: v for k, v in data.items() if k != key}
        at = on(data.get(key))
        return rest if at is None else {key: at} | rest

    left = {k: led(d, "into") for k, d in ducts.items() if k not in gone}
    placed = {k: led(p, "duct") if p else {} for k, p in places.items()}
    return left, {k: p if "duct" in p else {} for k, p in placed.items()}


@given(shops(most=8), shops(most=8))
@settings(deadline=None, max_examples=150)
def test_whatever_the_forms_do_the_drawing_says_the_same(
    before: Shop, after: Shop
) -> None:
    plan = lay_out(*before, stock(*before))
    followed = follow(plan, stored(before), stored(after), stock(*after))
    assert changes(read_tree(followed), stored(after)) == []
    assert read(write(followed)) == followed


@given(shops(most=8), st.data())
@settings(deadline=None, max_examples=60)
def test_a_duct_that_is_removed_is_gone(shop: Shop, data: st.DataObject) -> None:
    gone = data.draw(st.sets(st.sampled_from(sorted(shop[0]))))
    left = without(shop, gone)
    plan = lay_out(*shop, stock(*shop))
    followed = follow(plan, stored(shop), stored(left), stock(*left))
    assert changes(read_tree(followed), stored(left)) == []


def demo() -> tuple[ShopPlan, StoredParts, Any]:
    """Return the demo's layout, its stored data, and its parts."""
    shop = demo_ducts(), demo_places()
    has = stock(*shop)
    return lay_out(*shop, has), stored(shop), has


def test_what_is_only_drawn_stays() -> None:
    plan, base, has = demo()
    new = duct("new", (1, 1, 2.4), (1, 2, 2.4), end=into("duct main_4"))
    drawn = read({**write(plan), "ducts": [*write(plan)["ducts"], new]})
    ducts = {**base.ducts, "main_1": {**base.ducts["main_1"], "diameter": 0.2}}
    followed = follow(drawn, base, replace(base, ducts=ducts), has)
    assert followed.ducts[-1] == drawn.ducts[-1]
    by_id = {one.id: one for one in followed.ducts}
    assert by_id["duct main_1"].diameter == 0.2
    for one in drawn.ducts:
        if one.bound != "main_1":
            assert by_id[one.id] == one


def test_a_duct_that_is_moved_keeps_its_shape() -> None:
    plan, base, has = demo()
    ducts = {
        **base.ducts,
        "jointer_branch": {**base.ducts["jointer_branch"], "into": "main_1"},
    }
    followed = follow(plan, base, replace(base, ducts=ducts), has)
    before, after = (
        next(d for d in one.ducts if d.bound == "jointer_branch")
        for one in (plan, followed)
    )
    main = next(d for d in followed.ducts if d.bound == "main_1")
    assert after.points[-1].at == main.points[0].at
    assert after.line.length == before.line.length
    assert changes(read_tree(followed), replace(base, ducts=ducts)) == []


def test_names_come_from_the_system_but_a_drawn_name_stays() -> None:
    plan, base, has = demo()
    renamed = replace(
        plan,
        ducts=tuple(
            replace(one, name="Mine") if one.bound == "main_2" else one
            for one in plan.ducts
        ),
    )
    names = {**base.names, "main_1": "Trunk", "main_2": "Second"}
    gates = {**has.gates, "hose_gate": "Hose"}
    followed = follow(
        renamed, base, replace(base, names=names), replace(has, gates=gates)
    )
    reported = {duct.bound: duct.name for duct in followed.ducts}
    reported |= {gate.bound: gate.name for gate in followed.gates}
    assert reported["main_1"] == "Trunk"
    assert reported["main_2"] == "Mine"
    assert reported["hose_gate"] == "Hose"


def test_what_is_gone_from_the_system_is_planned_now() -> None:
    plan, base, has = demo()
    gates = {key: name for key, name in has.gates.items() if key != "hose_gate"}
    machines = {k: v for k, v in has.machines.items() if k != "machine_planer_gate"}
    followed = follow(plan, base, base, replace(has, gates=gates, machines=machines))
    (gate,) = (one for one in followed.gates if one.id == "gate hose_gate")
    assert (gate.bound, gate.name) == (None, "G hose_gate")
    (item,) = (one for one in followed.items if "planer" in one.id)
    assert item.bound is None
