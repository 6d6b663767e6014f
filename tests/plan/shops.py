"""The demo's workshop as its forms store it, for tests of the plan."""

from typing import Any

from custom_components.gatewright.core.plan.stored import normal_duct, normal_place
from custom_components.gatewright.core.plan.stored_drawing import Stock
from demo.ducting import DUCTS, PLACES

type Data = dict[str, Any]

_MM = ("diameter", "port_diameter", "hose_diameter", "drop_diameter")


def part_id(name: str) -> str:
    """Return a part's id, made of its name."""
    return name.lower().replace(" ", "_")


def demo_ducts() -> dict[str, Data]:
    """Return the demo's ducts in SI units, as the form stores them."""
    found: dict[str, Data] = {}
    for name, typed in DUCTS.items():
        elbows = [
            {
                "count": typed[f"elbows_{row}_count"],
                "angle": angle,
                "radius": 1.5,
                "construction": typed.get(f"elbows_{row}_construction", "stamped"),
            }
            for row, angle in ((1, 90.0), (2, 45.0))
            if typed.get(f"elbows_{row}_count")
        ]
        data: Data = {} if "into" not in typed else {"into": part_id(typed["into"])}
        found[part_id(name)] = data | {
            "diameter": typed["diameter"] / 1000,
            "length": typed["length"],
            "duct_material": "galvanized",
            "entry_angle": float(typed.get("entry_angle", 0)),
            "elbows": elbows,
        }
    return normal_ducts(found)


def demo_places() -> dict[str, Data]:
    """Return the demo's gate locations, as the form of a new one stores them."""
    found: dict[str, Data] = {}
    for name, typed in PLACES.items():
        data: Data = {"hood": "machine_port", "seal": "usual"}
        for key, value in typed.items():
            data[key] = value / 1000 if key in _MM else value
        data["duct"] = part_id(typed["duct"])
        if "hose_length" in data:
            data["hose_state"] = "relaxed"
        found[part_id(name)] = data
    ducts = into(demo_ducts())
    return {gate: normal_place(place, ducts) for gate, place in found.items()}


def into(ducts: dict[str, Data]) -> dict[str, str | None]:
    """Return what each duct flows into."""
    return {duct: data.get("into") for duct, data in ducts.items()}


def normal_ducts(ducts: dict[str, Data]) -> dict[str, Data]:
    """Return ducts as the plan compares them."""
    return {duct: normal_duct(data, data.get("into")) for duct, data in ducts.items()}


def stock(ducts: dict[str, Data], places: dict[str, Data]) -> Stock:
    """Return a system in which each gate has a machine."""
    return Stock(
        name="Workshop",
        machines={f"machine_{gate}": (f"M {gate}", "other") for gate in places},
        served={f"machine_{gate}": (gate,) for gate in places},
        gates={gate: f"G {gate}" for gate in places},
        ducts={duct: f"D {duct}" for duct in ducts},
    )
