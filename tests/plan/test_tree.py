"""What a drawing gives: lengths, elbows, entries, pieces, reducers."""

from typing import Any

from hypothesis import given, settings, strategies as st
import pytest

from custom_components.gatewright import const
from custom_components.gatewright.core.plan import stored
from custom_components.gatewright.core.plan.fittings import fittings
from custom_components.gatewright.core.plan.pieces import Pieces
from custom_components.gatewright.core.plan.reading import read
from custom_components.gatewright.core.plan.splitting import split, with_widths
from custom_components.gatewright.core.plan.tree import DuctTree, read_tree

from .drawn_demo import document
from .shops import demo_ducts, demo_places, part_id

type Data = dict[str, Any]


def plan(*ducts: Data, gates: list[Data] | None = None) -> Data:
    """Return a document of ducts and gates."""
    return {
        "format": "gatewright-plan",
        "version": 1,
        "items": [{"id": "c", "type": "collector", "x": 0, "y": 0}],
        "ducts": list(ducts),
        "gates": gates or [],
    }


def duct(name: str, *points: tuple[float, ...], **more: Any) -> Data:
    """Return a duct of 150 mm into the collector."""
    return {
        "id": name,
        "name": name,
        "points": [dict(zip("xyz", point, strict=False)) for point in points],
        "diameter": 0.15,
        "end": {"to": "collector"},
        **more,
    }


def into(name: str, **more: Any) -> Data:
    """Return an end in another duct."""
    return {"to": "duct", "duct": name, **more}


def tree(*ducts: Data, gates: list[Data] | None = None) -> DuctTree:
    """Return the tree of ducts and gates."""
    return read_tree(read(plan(*ducts, gates=gates)))


def elbow(count: int, angle: float, construction: str = "stamped") -> Data:
    """Return a row of elbows as it is stored."""
    return {
        "count": count,
        "angle": angle,
        "radius": 1.5,
        "construction": construction,
    }


MAIN = duct("main", (10, 0, 2.4), (0, 0, 2.4))


def test_the_keys_are_those_of_the_forms() -> None:
    ours = {*stored.OF_DUCT, *stored.OF_PLACE}
    theirs = {value for name, value in vars(const).items() if name.startswith("CONF_")}
    assert ours <= theirs


def test_a_drop_gives_length_an_elbow_and_a_rise() -> None:
    # 1.4 m up from the machine, 3 m along, 4 m across: two corners square.
    found = tree(duct("d", (3, 4, 1.0), (3, 4, 2.4), (0, 4, 2.4), (0, 0, 2.4)))
    (data,) = found.ducts.values()
    assert data["length"] == pytest.approx(8.4)
    assert data["elbows"] == [elbow(2, 90.0)]
    assert data["vertical"] is True
    assert data["entry_angle"] == 0.0
    assert "into" not in data


def test_what_falls_does_not_rise() -> None:
    found = tree(duct("d", (3, 0, 2.4), (0, 0, 2.4), (0, 0, 1.0)))
    (data,) = found.ducts.values()
    assert "vertical" not in data
    # Up by 0.2 m is no rise yet, and neither is a gentle slope.
    low = tree(duct("d", (3, 0, 1.0), (3, 0, 1.2), (0, 0, 2.0)))
    assert "vertical" not in next(iter(low.ducts.values()))


def test_corners_of_one_kind_are_counted_together() -> None:
    points = [(0, 0), (1, 0), (2, 1), (3, 1), (3, 2), (3.001, 3)]
    bent = duct("d", *points, elbow={"construction": "five_piece", "radius": 2.0})
    bent["points"][3]["elbow"] = {"construction": "mitered", "radius": 1.5}
    (data,) = tree(bent).ducts.values()
    rows = {(r["angle"], r["construction"]): r["count"] for r in data["elbows"]}
    # The last corner turns by 0.06 degrees: nobody builds that.
    assert rows == {(45.0, "five_piece"): 2, (90.0, "mitered"): 1}


@pytest.mark.parametrize(
    ("start", "end", "entry", "rest"),
    [
        # Square to the main: a 45 degree wye and a 45 degree elbow.
        ((5, 3), {}, 45.0, 45.0),
        # At 45 degrees: the wye alone.
        ((8, 3), {}, 45.0, 0.0),
        ((5, 3), {"wye": 30}, 30.0, 60.0),
        # As drawn: a tee.
        ((5, 3), {"wye": None}, 90.0, 0.0),
        # At 26.6 degrees, less than the wye: as drawn.
        ((9, 2), {}, 26.6, 0.0),
        # Against the flow, the elbow does the rest.
        ((2, 3), {}, 45.0, 90.0),
        ((5, 3), {"as": "run"}, 0.0, 90.0),
    ],
)
def test_entries_by_the_angle_at_which_ducts_meet(
    start: tuple[float, float], end: Data, entry: float, rest: float
) -> None:
    branch = duct("b", (*start, 2.4), (5, 0, 2.4), end=into("main", **end))
    data = tree(MAIN, branch).ducts["plan:b/0"]
    assert data["entry_angle"] == pytest.approx(entry)
    assert [row["angle"] for row in data["elbows"]] == ([rest] if rest else [])


def test_a_branch_splits_the_main_it_joins() -> None:
    first = duct("a", (7, 2, 2.4), (7, 0, 2.4), end=into("main"))
    second = duct("b", (4, -2, 2.4), (4, 0.01, 2.4), end=into("main"))
    also = duct("e", (4, 2, 2.4), (4, 0, 2.4), end=into("main"))
    found = tree(MAIN, first, second, also)
    lengths = [found.ducts[f"plan:main/{n}"]["length"] for n in range(3)]
    assert lengths == pytest.approx([3, 3, 4])
    assert found.ducts["plan:main/0"]["into"] == "plan:main/1"
    assert found.ducts["plan:a/0"]["into"] == "plan:main/1"
    assert found.ducts["plan:b/0"]["into"] == "plan:main/2"
    assert found.ducts["plan:e/0"]["into"] == "plan:main/2"
    assert [found.names[f"plan:main/{n}"] for n in range(3)] == [
        "main 3",
        "main 2",
        "main 1",
    ]


def test_what_ends_at_an_end_flows_on_into_what_that_flows_into() -> None:
    first = duct("a", (7, 2, 2.4), (7, 0, 2.4), end=into("main"))
    second = duct("b", (9, 2, 2.4), (7, 0, 2.4), end=into("a"))
    found = tree(MAIN, first, second)
    assert found.ducts["plan:b/0"]["into"] == "plan:main/1"
    assert found.ducts["plan:b/0"]["entry_angle"] == 45.0
    last = duct("b", (0, 2, 2.4), (0, 0, 2.4), end=into("main"))
    assert "into" not in tree(MAIN, last).ducts["plan:b/0"]


def test_alone_at_an_upstream_end_a_duct_goes_straight_on() -> None:
    far = duct("f", (10, 4, 2.4), (10, 0, 2.4), end=into("main"))
    found = tree(MAIN, far).ducts["plan:f/0"]
    assert found["entry_angle"] == 0.0
    assert found["elbows"] == [elbow(1, 90.0)]
    # With another beside it both are branches.
    other = duct("o", (13, 0, 2.4), (10, 0, 2.4), end=into("main"))
    found = tree(MAIN, far, other).ducts["plan:f/0"]
    assert found["entry_angle"] == 45.0
    assert found["elbows"] == [elbow(1, 45.0)]


def test_pipe_that_changes_is_another_duct() -> None:
    wide = duct("d", (9, 0), (5, 0), (5, 3), (0, 3))
    wide["points"][1]["pipe"] = {"diameter": 0.2, "material": "spiral"}
    wide["points"][2]["pipe"] = {"diameter": 0.2, "material": "spiral"}
    found = tree(wide)
    first, second = found.ducts["plan:d/0"], found.ducts["plan:d/1"]
    assert (first["diameter"], second["diameter"]) == (0.15, 0.2)
    assert second["duct_material"] == "spiral"
    assert (first["length"], second["length"]) == (4, 8)
    # The corner where it changes is an elbow of what comes before it.
    assert first["elbows"] == second["elbows"] == [elbow(1, 90.0)]
    (reducer,) = (f for f in fittings(found.pieces) if f.kind == "reducer")
    assert (reducer.at, reducer.diameter, reducer.to) == ((5, 0, 0), 0.15, 0.2)


def test_an_opening_at_the_side_splits_the_main() -> None:
    gate: Data = {"id": "g", "duct": "main", "mount": "side", "at": 6.0}
    found = tree(MAIN, gates=[gate])
    assert found.places["g"]["duct"] == "plan:main/1"
    assert found.places["g"]["entry_angle"] == 45.0
    assert found.ducts["plan:main/1"]["length"] == 4


def test_a_gate_in_the_duct_closes_the_piece_it_stands_in() -> None:
    branch = duct("b", (5, 3, 2.4), (5, 0, 2.4), end=into("main"))
    gates: list[Data] = [
        {"id": "g", "duct": "main", "mount": "inline", "at": 4.0},
        {"id": "h", "duct": "main", "mount": "inline", "at": 9.0},
    ]
    found = tree(MAIN, branch, gates=gates)
    assert found.places["g"] == {"duct": "plan:main/0", "hood": "none"}
    assert found.places["h"] == {"duct": "plan:main/1", "hood": "none"}


def test_typed_figures_count() -> None:
    rows = [elbow(3, 60.0, "mitered")]
    typed = {"length": 7.5, "elbows": rows, "entry_angle": 22.5, "vertical": True}
    branch = duct("b", (5, 3, 2.4), (5, 0, 2.4), end=into("main"), typed=typed)
    data = tree(MAIN, branch).ducts["plan:b/0"]
    assert data["length"] == 7.5
    assert data["elbows"] == rows
    assert data["entry_angle"] == 22.5
    assert data["vertical"]


def test_the_drawn_demo_is_the_demo_of_the_forms() -> None:
    found = tree_of_demo = read_tree(read(document()))
    names = {part_id(name): key for key, name in tree_of_demo.names.items()}
    wanted = demo_ducts()
    assert names.keys() == wanted.keys()
    for name, data in wanted.items():
        at = {"into": names[data["into"]]} if "into" in data else {}
        mine = found.ducts[names[name]]
        assert mine["length"] == pytest.approx(data["length"], abs=1e-3)
        assert {**mine, "length": 0} == {**data, **at, "length": 0}, name
    for gate, place in demo_places().items():
        mine = found.places[f"g_{gate}"]
        assert mine == {**place, "duct": names[place["duct"]]}


@st.composite
def drawings(draw: st.DrawFn) -> Data:
    """Return a main with branches and openings at its sides, and pipe that changes."""
    points = [(20.0, 0.0, 2.4), (12.0, 0.0, 2.4), (12.0, 6.0, 2.4), (0.0, 6.0, 2.4)]
    main = duct("main", *points)
    if draw(st.booleans()):
        main["points"][draw(st.integers(0, 2))]["pipe"] = {"diameter": 0.2}
    if draw(st.booleans()):
        main["typed"] = {"length": 40.0}
    places = draw(
        st.lists(st.integers(0, 52).map(lambda n: n / 2), min_size=1, max_size=6)
    )
    line = read(plan(main)).ducts[0].line
    ducts: list[Data] = [main]
    gates: list[Data] = []
    for number, place in enumerate(places):
        x, y, z = line.point_at(min(place, line.length))
        if draw(st.booleans()) or place > 25.5:
            start = (x + draw(st.integers(-3, 3)), y - 0.7 - number, z)
            end = into("main", wye=draw(st.sampled_from((30, 45, None))))
            ducts.append(duct(f"b{number}", start, (x, y, z), end=end))
            gates.append({"id": f"g{number}", "duct": f"b{number}"})
        else:
            side: Data = {"duct": "main", "mount": "side", "at": place}
            gates.append({"id": f"g{number}", **side})
    return plan(*ducts, gates=gates)


@given(drawings())
@settings(deadline=None)
def test_a_drawing_that_is_split_means_the_same(drawn: Data) -> None:
    before = read(drawn)
    after = split(before)
    one, other = read_tree(before), read_tree(after)
    assert all(len(list(other.pieces.of(duct.id))) == 1 for duct in after.ducts)
    keys = dict(zip(one.ducts, other.ducts, strict=True))
    for key, data in one.ducts.items():
        mine = other.ducts[keys[key]]
        assert mine.pop("length") == pytest.approx(data.pop("length"), abs=2e-4)
        if "into" in data:
            data["into"] = keys[data["into"]]
        assert mine == data
    for gate, place in one.places.items():
        assert other.places[gate] == {**place, "duct": keys[place["duct"]]}
    assert split(after) == after


@given(drawings(), st.data())
@settings(deadline=None)
def test_a_piece_can_be_given_another_width(drawn: Data, data: st.DataObject) -> None:
    before = read(drawn)
    one = read_tree(before)
    key = data.draw(st.sampled_from(sorted(one.ducts)))
    after = read_tree(with_widths(before, {key: 0.315}))
    widths = {k: d["diameter"] for k, d in one.ducts.items()}
    assert {k: d["diameter"] for k, d in after.ducts.items()} == {**widths, key: 0.315}
    for k, d in one.ducts.items():
        assert after.ducts[k]["length"] == pytest.approx(d["length"], abs=2e-4)


def test_a_gate_with_a_hose_can_be_given_another_width() -> None:
    gate: Data = {
        "id": "g",
        "duct": "main",
        "opening": {"port": 0.1, "hose": {"length": 1}, "drop": {"length": 2}},
    }
    found = with_widths(read(plan(MAIN, gates=[gate])), {"g": 0.16})
    place = read_tree(found, Pieces(found)).places["g"]
    assert (place["hose_diameter"], place["drop_diameter"]) == (0.16, 0.16)
    assert place["port_diameter"] == 0.1
