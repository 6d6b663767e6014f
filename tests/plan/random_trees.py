"""Random ducts and gates as the forms could store them."""

from typing import Any

from hypothesis import strategies as st

from custom_components.gatewright.core.airflow import HOODS, MATERIALS, HoseState, Seal
from custom_components.gatewright.core.plan.reading import CONSTRUCTIONS
from custom_components.gatewright.core.plan.stored import normal_place

from .shops import into, normal_ducts

type Data = dict[str, Any]

_WIDTHS = st.sampled_from((0.1, 0.125, 0.1016, 0.15, 0.2))
_LENGTHS = st.one_of(
    st.floats(0, 200), st.floats(0.2, 8), st.integers(1, 80).map(lambda n: n / 10)
)
_ANGLES = st.one_of(st.just(0.0), st.sampled_from((30.0, 45.0, 90.0)), st.floats(0, 90))


@st.composite
def elbows(draw: st.DrawFn) -> list[Data]:
    """Return up to two rows."""
    return [
        {
            "count": draw(st.integers(1, 20)),
            "angle": draw(st.one_of(st.just(angle), st.floats(1, 180))),
            "radius": draw(st.sampled_from((1.0, 1.5, 2.5))),
            "construction": draw(st.sampled_from(CONSTRUCTIONS)),
        }
        for angle in (90.0, 45.0)[: draw(st.integers(0, 2))]
    ]


@st.composite
def shops(draw: st.DrawFn, most: int = 14) -> tuple[dict[str, Data], dict[str, Data]]:
    """Return ducts and gate locations, by id, as the plan compares them."""
    count = draw(st.integers(1, most))
    ducts: dict[str, Data] = {}
    for number in range(count):
        data: Data = {
            "diameter": draw(_WIDTHS),
            "length": draw(_LENGTHS),
            "duct_material": draw(st.sampled_from(sorted(MATERIALS))),
            "entry_angle": draw(_ANGLES),
            "elbows": draw(elbows()),
        }
        if number and (to := draw(st.integers(-1, number - 1))) >= 0:
            data["into"] = f"d{to}"
        if draw(st.booleans()):
            data["vertical"] = True
        ducts[f"d{number}"] = data
    places: dict[str, Data] = {}
    closed: set[str] = set()
    for number in range(draw(st.integers(0, most))):
        duct = f"d{draw(st.integers(0, count - 1))}"
        hood = draw(st.sampled_from((*sorted(HOODS), "none")))
        if hood == "none":
            if duct in closed:
                continue
            closed.add(duct)
        place = draw(_before(duct, hood))
        places[f"g{number}"] = normal_place(place, into(ducts))
    return normal_ducts(ducts), places


@st.composite
def _before(draw: st.DrawFn, duct: str, hood: str) -> Data:
    place: Data = {"duct": duct, "hood": hood}
    for key in ("port_diameter", "hose_diameter", "drop_diameter"):
        if draw(st.booleans()):
            place[key] = draw(_WIDTHS)
    for key in ("hose_length", "drop_length"):
        if draw(st.booleans()):
            place[key] = draw(st.floats(0.1, 10))
    if draw(st.booleans()):
        place["drop_elbows"] = draw(st.integers(1, 10))
    if draw(st.booleans()):
        place["entry_angle"] = draw(st.floats(1, 90))
    if draw(st.booleans()):
        place["seal"] = draw(st.sampled_from(Seal)).value
    if "hose_length" in place and draw(st.booleans()):
        place["hose_state"] = draw(st.sampled_from(HoseState)).value
    return place
