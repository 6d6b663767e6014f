"""An invalid file is rejected with the location; a valid one is kept completely."""

import copy
import json
from pathlib import Path
import re
from typing import Any

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.gatewright.core.plan.checks import ERRORS, WARNINGS, check
from custom_components.gatewright.core.plan.fields import UnreadablePlanError
from custom_components.gatewright.core.plan.pieces import Pieces
from custom_components.gatewright.core.plan.reading import read, read_text
from custom_components.gatewright.core.plan.tree import read_tree
from custom_components.gatewright.core.plan.writing import write

from .drawn_demo import document

type Data = dict[str, Any]

PAGE = Path(__file__).parents[2] / "docs" / "plan-file.md"


def refused(drawn: Any) -> list[tuple[str, str]]:
    """Return why a document is rejected: codes and locations."""
    with pytest.raises(UnreadablePlanError) as err:
        read(drawn)
    return [(one.code, one.path) for one in err.value.refusals]


def changed(value: Any, *path: Any) -> Data:
    """Return the drawn demo with a changed value."""
    drawn = copy.deepcopy(document())
    at: Any = drawn
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = value
    return drawn


@pytest.mark.parametrize(
    ("value", "path", "code", "place"),
    [
        ("west", ("ducts", 2, "points", 0, "x"), "wrong_type", "ducts[2].points[0].x"),
        (True, ("ducts", 2, "diameter"), "wrong_type", "ducts[2].diameter"),
        (float("nan"), ("items", 0, "x"), "wrong_type", "items[0].x"),
        (5.0, ("ducts", 0, "diameter"), "out_of_range", "ducts[0].diameter"),
        (None, ("ducts", 1, "diameter"), "missing", "ducts[1].diameter"),
        ("glass", ("ducts", 0, "material"), "unknown_choice", "ducts[0].material"),
        ([], ("ducts", 0, "points"), "missing", "ducts[0].points[0]"),
        ({}, ("gates",), "wrong_type", "gates"),
        ([3], ("gates",), "wrong_type", "gates[0]"),
        ("main", ("gates", 3, "id"), "duplicate_id", "gates[3].id"),
        ("", ("gates", 3, "id"), "missing", "gates[3].id"),
        ({"to": "moon"}, ("ducts", 0, "end"), "unknown_choice", "ducts[0].end.to"),
        ({"to": "duct"}, ("ducts", 0, "end"), "missing", "ducts[0].end.duct"),
        (
            {"outline": [[0, 0], [1]]},
            ("room",),
            "wrong_type",
            "room.outline[1]",
        ),
        (
            {"outline": [[0, "y"]]},
            ("room",),
            "wrong_type",
            "room.outline[0][1]",
        ),
        ("x" * 300, ("name",), "too_many", "name"),
        ([1], ("gates", 0, "items"), "wrong_type", "gates[0].items[0]"),
    ],
)
def test_a_mistake_is_reported_with_its_place(
    value: Any, path: tuple[Any, ...], code: str, place: str
) -> None:
    assert refused(changed(value, *path)) == [(code, place)]


def test_all_mistakes_are_reported_at_once() -> None:
    drawn = changed("x", "ducts", 0, "diameter")
    drawn["gates"][1]["seal"] = "glue"
    del drawn["items"]
    assert refused(drawn) == [
        ("missing", "items"),
        ("wrong_type", "ducts[0].diameter"),
        ("unknown_choice", "gates[1].seal"),
    ]


def test_a_point_twice() -> None:
    drawn = document()
    drawn["ducts"][0]["points"].insert(1, dict(drawn["ducts"][0]["points"][0]))
    assert refused(drawn) == [("point_twice", "ducts[0].points[1]")]


@pytest.mark.parametrize("drawn", [None, 3, [], "plan", {}, {"format": "other"}])
def test_what_is_no_plan(drawn: Any) -> None:
    assert refused(drawn) == [("not_a_plan", "format")]


@pytest.mark.parametrize("version", [2, 0, None, "1", True])
def test_another_version(version: Any) -> None:
    assert refused(changed(version, "version")) == [("wrong_version", "version")]


def test_what_is_no_json_is_reported_with_line_and_column() -> None:
    with pytest.raises(UnreadablePlanError) as err:
        read_text('{"format":\n "gatewright-plan",, }')
    (one,) = err.value.refusals
    assert (one.code, one.values) == ("not_json", {"line": "2", "column": "20"})
    with pytest.raises(UnreadablePlanError):
        read_text("[" * 100_000)


def test_keys_that_nobody_knows_are_kept() -> None:
    drawn = changed({"a": [1, 2]}, "notes")
    drawn["ducts"][0]["color"] = "red"
    drawn["ducts"][0]["points"][1]["mark"] = 7
    drawn["gates"][0]["note"] = "sticks"
    drawn["items"][0]["photo"] = "x"
    again = write(read(drawn))
    assert again["notes"] == {"a": [1, 2]}
    assert again["ducts"][0]["color"] == "red"
    assert again["ducts"][0]["points"][1]["mark"] == 7
    assert again["gates"][0]["note"] == "sticks"
    assert again["items"][0]["photo"] == "x"
    assert write(read(again)) == again


def test_the_page_for_owners_shows_a_plan_that_works() -> None:
    text = PAGE.read_text("utf-8")
    (example,) = re.findall(r"```json\n(.*?)```", text, re.DOTALL)
    plan = read(json.loads(example))
    pieces = Pieces(plan)
    assert check(plan, pieces) == []
    tree = read_tree(plan, pieces)
    # The branch is drawn square: a 45 degree wye and a 45 degree elbow, after a drop.
    branch = tree.ducts["plan:d2/0"]
    assert branch["entry_angle"] == 45.0
    assert {row["angle"]: row["count"] for row in branch["elbows"]} == {90: 1, 45: 1}
    for code in ERRORS | WARNINGS:
        assert f"`{code}`" in text, code


_JUNK = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.floats(), st.integers(), st.text(max_size=5)
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner)
    ),
    max_leaves=5,
)


@given(st.data())
@settings(deadline=None, max_examples=300)
def test_whatever_is_in_a_file_is_read_or_refused(data: st.DataObject) -> None:
    drawn: Any = document()
    at, parent, key = drawn, drawn, "name"
    while isinstance(at, dict | list) and at:
        keys = sorted(at) if isinstance(at, dict) else range(len(at))
        parent, key = at, data.draw(st.sampled_from(list(keys)))
        at = at[key]
        if data.draw(st.booleans()):
            break
    parent[key] = data.draw(_JUNK)
    try:
        plan = read(drawn)
    except UnreadablePlanError:
        return
    pieces = Pieces(plan)
    read_tree(plan, pieces)
    check(plan, pieces)
    assert read(json.loads(json.dumps(write(plan)))) == plan
