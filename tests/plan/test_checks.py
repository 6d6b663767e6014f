"""Problems of a drawing are reported at their part; the drawing can be saved anyway."""

from typing import Any

import pytest

from custom_components.gatewright.core.plan.checks import (
    ERRORS,
    WARNINGS,
    KnownParts,
    PlanProblem,
    check,
)
from custom_components.gatewright.core.plan.pieces import Pieces
from custom_components.gatewright.core.plan.reading import read
from custom_components.gatewright.core.plan.tree import read_tree
from custom_components.gatewright.core.plan.writing import write

from .test_tree import MAIN, duct, into, plan

type Data = dict[str, Any]

KNOWN = KnownParts(
    machines={"saw": "Saw", "planer": "Planer"},
    gates={"saw_gate": "Saw gate"},
    ducts={"trunk": "Trunk"},
    served={"saw": ("saw_gate",), "planer": ()},
)


def found(drawn: Data, known: KnownParts | None = None) -> list[PlanProblem]:
    """Return the problems of a document, which can be saved as it is."""
    drawing = read(drawn)
    assert read(write(drawing)) == drawing
    pieces = Pieces(drawing)
    read_tree(drawing, pieces)
    return check(drawing, pieces, known)


def at(problems: list[PlanProblem], code: str) -> PlanProblem:
    """Return the only problem with a code."""
    (one,) = (problem for problem in problems if problem.code == code)
    return one


def gate(name: str = "g", **more: Any) -> Data:
    """Return a gate at the upstream end of the main."""
    return {"id": name, "duct": "main", "name": name, **more}


def machine(name: str, **more: Any) -> Data:
    """Return a machine."""
    return {"id": name, "type": "machine", "x": 5, "y": 5, "name": name, **more}


def sound(*ducts: Data, gates: list[Data] | None = None, items: Any = ()) -> Data:
    """Return a document with the main, and the given parts."""
    drawn = plan(MAIN, *ducts, gates=gates)
    drawn["items"] += items
    return drawn


def test_nothing_is_wrong_with_a_sound_plan() -> None:
    drawn = sound(gates=[gate(items=["m"])], items=[machine("m")])
    assert found(drawn) == []


def test_a_duct_that_leads_nowhere() -> None:
    loose = duct("b", (5, 3), (5, 1), end=None)
    after = duct("a", (5, 6), (5, 3), end=into("b"))
    problems = found(sound(loose, after))
    one = at(problems, "end_nowhere")
    assert (one.kind, one.part, one.point, one.severity) == ("duct", "b", 1, "error")
    tree = read_tree(read(sound(loose, after)))
    assert tree.loose == {"plan:b/0", "plan:a/0"}


def test_a_duct_that_ends_beside_the_one_it_names() -> None:
    problems = found(sound(duct("b", (5, 3, 2.4), (5, 0.4, 2.1), end=into("main"))))
    one = at(problems, "end_off_duct")
    assert (one.part, one.other) == ("b", "main")
    assert one.distance == pytest.approx(0.5)


def test_a_loop() -> None:
    one = duct("a", (0, 5), (5, 5), end=into("b"))
    other = duct("b", (5, 5), (5, 8), (0, 8), (0, 5), end=into("a"))
    codes = [p.code for p in found(sound(one, other))]
    assert codes.count("duct_loop") == 2
    assert read_tree(read(sound(one, other))).loose == {"plan:a/0", "plan:b/0"}
    itself = duct("a", (0, 5), (5, 5), (5, 8), (2, 8), (2, 5), end=into("a"))
    assert at(found(sound(itself)), "duct_loop").part == "a"
    both = duct("a", (0, 5), (5, 5), end=into("b"))
    back = duct("b", (9, 5), (5, 5), end=into("a"))
    assert [p.code for p in found(sound(both, back))].count("duct_loop") == 2


def test_what_names_something_that_is_not_there() -> None:
    problems = found(
        sound(
            duct("b", (5, 3), (5, 0), end=into("gone"), start={"item": "ghost"}),
            gates=[gate(duct="none"), gate("h", items=["nobody"])],
        )
    )
    codes = [(p.code, p.part) for p in problems if p.severity == "error"]
    assert codes == [
        ("unknown_duct", "b"),
        ("unknown_item", "b"),
        ("unknown_duct", "g"),
        ("unknown_item", "h"),
    ]


def test_gates_and_machines() -> None:
    problems = found(
        sound(
            gates=[
                gate("lone"),
                gate("both", items=["m", "n"]),
                gate("off", duct=None, items=["m"]),
                gate("far", at=11.0, items=["m"]),
                gate("i", mount="inline", at=3.0),
                gate("j", mount="inline", at=4.0),
            ],
            items=[machine("m"), machine("n", x=7), machine("idle", x=9)],
        )
    )
    reported = {p.code: (p.part, p.other, p.severity) for p in problems}
    assert reported == {
        "gate_off_duct": ("far", "main", "error"),
        "two_gates_inline": ("j", "i", "error"),
        "gate_without_machine": ("lone", "", "warning"),
        "gate_with_machines": ("both", "n", "warning"),
        "gate_not_placed": ("off", "", "warning"),
        "machine_without_gate": ("idle", "", "warning"),
    }


def test_of_what_exists_the_systems_own_list_counts() -> None:
    bound = gate(bound="saw_gate", items=["p"])
    items = [machine("s", bound="saw"), machine("p", x=8, bound="planer")]
    problems = found(sound(gates=[bound], items=items), KNOWN)
    assert [(p.code, p.part) for p in problems] == [("machine_without_gate", "p")]


def test_what_is_bound_twice_or_to_nothing() -> None:
    trunk = duct("b", (5, 3, 1), (5, 0, 2.4), end=into("main"), bound="trunk")
    again = duct("d", (7, 3, 1), (7, 0, 2.4), end=into("main"), bound="trunk")
    problems = found(
        sound(
            trunk, again, gates=[gate(bound="gone", items=["m"])], items=[machine("m")]
        ),
        KNOWN,
    )
    assert at(problems, "bound_twice").part == "d"
    assert at(problems, "bound_unknown").part == "g"


def test_collectors() -> None:
    drawn = plan(MAIN, gates=[gate()])
    drawn["items"].append({"id": "c2", "type": "collector", "x": 3, "y": 3})
    assert at(found(drawn), "two_collectors").part == "c2"
    drawn["items"] = []
    assert at(found(drawn), "no_collector").kind == "plan"


def test_a_tee_against_the_flow() -> None:
    branch = duct("b", (2, 3, 2.4), (5, 0, 2.4), end=into("main", wye=None))
    assert at(found(sound(branch)), "tee_against_flow").part == "b"


def test_upstream_ends() -> None:
    bare = duct("b", (5, 3, 2.4), (5, 0, 2.4), end=into("main"))
    from_saw = duct("d", (7, 3, 2.4), (7, 0, 2.4), end=into("main"))
    from_saw["start"] = {"item": "m"}
    problems = found(sound(bare, from_saw, gates=[gate()], items=[machine("m")]))
    assert at(problems, "start_nowhere").part == "b"
    one = at(problems, "start_without_gate")
    assert (one.part, one.other) == ("d", "m")


def test_overlaps() -> None:
    across = duct("x", (3, 4, 2.4), (3, -4, 2.4))
    above = duct("y", (6, 4, 2.8), (6, -4, 2.8))
    items = [
        machine("m", width=1, depth=1),
        machine("n", x=5.9, width=1, depth=1),
        machine("o", x=7.4, width=1, depth=2, turn=90),
    ]
    problems = found(sound(across, above, items=items))
    reported = {
        frozenset((p.part, p.other)) for p in problems if p.code == "overlapping"
    }
    assert reported == {frozenset("mn"), frozenset(("x", "main"))}


def test_a_duct_of_no_length() -> None:
    short = duct("b", (5, 0.001, 2.4), (5, 0, 2.4), end=into("main"))
    assert at(found(sound(short)), "no_length").part == "b"


def test_names_of_new_ducts() -> None:
    unnamed = duct("b", (5, 3, 1), (5, 0, 2.4), end=into("main")) | {"name": " "}
    saw = duct("d", (7, 3, 1), (7, 0, 2.4), end=into("main")) | {"name": "saw GATE"}
    problems = found(sound(unnamed, saw), KNOWN)
    assert at(problems, "name_missing").part == "b"
    assert at(problems, "name_taken").part == "d"


def test_every_code_has_one_severity() -> None:
    assert not ERRORS & WARNINGS
