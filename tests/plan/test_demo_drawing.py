"""The demo's workshop drawn to scale means what its owner typed into the forms."""

from math import dist
from typing import Any

import pytest

from custom_components.gatewright.core.plan.checks import ERROR, check
from custom_components.gatewright.core.plan.layout import lay_out
from custom_components.gatewright.core.plan.pieces import Pieces
from custom_components.gatewright.core.plan.reading import read
from custom_components.gatewright.core.plan.stored_drawing import Stock
from custom_components.gatewright.core.plan.tree import read_tree
from custom_components.gatewright.core.plan.writing import write
from custom_components.gatewright.features.plan.parts import known_of
from demo.custom_components.virtual_workshop.model.alder_yard import ALDER_YARD
from demo.drawing import GATES, MACHINES, drawn
from demo.ducting import DUCTS, PLACES
from demo.newcomer import BENCH_HOOD, FLOOR_SWEEP, GATES as CHOSEN

from .shops import demo_ducts, demo_places, part_id

type Data = dict[str, Any]


def typed_ducts() -> dict[str, Data]:
    """Return the ducts as the forms store them, including those that rise."""
    found = demo_ducts()
    for name, figures in DUCTS.items():
        if figures.get("vertical"):
            found[part_id(name)]["vertical"] = True
    return found


def stock() -> Stock:
    """Return the demo's machines, gates and ducts."""
    names = [row["name"] for row in ALDER_YARD["machines"].values()]
    served = {
        name: CHOSEN.get(name)
        or [gate for gate in PLACES if gate.startswith(f"{name} ")]
        for name in (*names, FLOOR_SWEEP, BENCH_HOOD)
    }
    return Stock(
        name="Dust collector",
        machines={part_id(name): (name, "other") for name in served},
        served={
            part_id(name): tuple(map(part_id, gates)) for name, gates in served.items()
        },
        gates={part_id(name): name for name in PLACES},
        ducts={part_id(name): name for name in DUCTS},
    )


@pytest.fixture(name="document")
def drawn_document() -> Data:
    """Draw the demo like the demo itself."""
    have = stock()
    laid_out = write(lay_out(typed_ducts(), demo_places(), have))
    names = {**have.gates, **{key: name for key, (name, _) in have.machines.items()}}
    return drawn(laid_out, names)


def test_the_drawing_means_what_was_typed(document: Data) -> None:
    plan = read(document)
    found = read_tree(plan)
    for name, data in typed_ducts().items():
        mine = found.ducts[name]
        assert mine["length"] == pytest.approx(data["length"], abs=1e-3), name
        assert {**mine, "length": 0} == {**data, "length": 0}, name
    ids = {gate.id: gate.bound for gate in plan.gates}
    places = {ids[gate]: place for gate, place in found.places.items()}
    assert places == demo_places()


def test_nothing_is_typed_and_nothing_is_wrong(document: Data) -> None:
    plan = read(document)
    assert not any("typed" in duct for duct in document["ducts"])
    problems = check(plan, Pieces(plan), known_of(stock()))
    assert [row for row in problems if row.severity == ERROR] == []
    # The rear gate only purges after the saw, and two machines share the bench's.
    reported = {row.code: row.part for row in problems}
    assert reported == {
        "gate_without_machine": "gate miter_saw_rear_gate",
        "gate_with_machines": "gate bench_gate",
    }


def test_everything_stands_in_the_room_and_nothing_in_one_place(document: Data) -> None:
    assert {i["bound"] for i in document["items"][1:]} == set(map(part_id, MACHINES))
    assert {gate["bound"] for gate in document["gates"]} == set(map(part_id, GATES))
    spots = [(item["x"], item["y"], 0.0) for item in document["items"]]
    for at, one in enumerate(spots):
        assert 0 < one[0] < 18
        assert 1 < one[1] < 6.6
        assert all(dist(one, other) > 0.8 for other in spots[:at])
    plan = read(document)
    lines = {duct.id: duct.line for duct in plan.ducts}
    gates = [lines[gate.duct or ""].point_at(gate.at) for gate in plan.gates]
    for at, point in enumerate(gates):
        assert all(dist(point, other) > 0.4 for other in gates[:at])
