"""The demo's workshop in a Home Assistant, twice: with its ducts from forms, and with nothing drawn."""

from collections.abc import Iterator
from typing import Any

from demo.ducting import FAN as TYPED
from demo.hub_directory import HubDirectory
from tests.plan.shops import demo_ducts, demo_places

from .. import shop

DRAWN = "01DRAWN000000000000000PLAN"
TYPED_IN = "01TYPED000000000000000FORM"

MACHINES: dict[str, tuple[str, list[str], tuple[float, float]]] = {
    "planer": ("planer", ["planer_gate"], (4.5, 6)),
    "table_saw": ("table_saw", ["table_saw_gate"], (6.5, 6)),
    "jointer": ("jointer", ["jointer_gate"], (6.5, 2)),
    "band_saw": (
        "band_saw",
        ["band_saw_lower_gate", "band_saw_upper_gate"],
        (9.5, 6),
    ),
    "drum_sander": ("drum_sander", ["drum_sander_gate"], (9.5, 2)),
    "miter_saw": ("miter_saw", ["miter_saw_gate", "miter_saw_rear_gate"], (12, 6)),
    "floor_sweep": ("floor_sweep", ["floor_sweep_gate"], (12, 2)),
    "router_table": ("router_table", ["router_table_gate"], (14, 2)),
    "drill_press": ("drill_press", ["bench_gate"], (16, 5)),
    "orbital_sander": ("sander", ["hose_gate"], (17, 5)),
    "bench_hood": ("bench_hood", ["bench_hood_gate"], (17, 2)),
}
"""Kind, gates and place (m) of each machine; the drop box's gate serves none."""

FAN: dict[str, Any] = {
    "fan_points": [
        [float(flow) / 3600, float(pressure)]
        for flow, pressure in (text.split() for text in TYPED["fan_points"])
    ],
    "inlet_diameter": TYPED["inlet_diameter"] / 1000,
    "separator_flow": TYPED["separator_flow"] / 3600,
    "separator_loss": float(TYPED["separator_loss"]),
    "filter_flow": TYPED["filter_flow"] / 3600,
    "filter_loss": float(TYPED["filter_loss"]),
}

COLLECTORS = ("input_boolean.drawn_collector", "input_boolean.typed_collector")


def titled(part: str) -> str:
    """Return the name of a part of an id."""
    return part.replace("_", " ").capitalize()


def _parts(prefix: str, *, ducts: bool) -> Iterator[shop.Part]:
    for gate, place in demo_places().items():
        data: dict[str, Any] = {
            "gate_kind": "powered",
            "actuator": f"input_boolean.{prefix}_{gate}",
            "inverted": False,
            "travel": 1.0,
            "rest": "shut",
        }
        if ducts:
            data |= place | {"duct": prefix + place["duct"]}
        yield prefix + gate, "gate", titled(gate), data
    for machine, (kind, gates, _) in MACHINES.items():
        data = {
            "kind": kind,
            "gates": [prefix + gate for gate in gates],
            "needs_air": True,
            "hold": 0.0,
            "clearing": [],
            "companions": [],
            "sensor": f"input_boolean.{prefix}_{machine}",
            "running_states": ["on"],
            "start_settle": 0.0,
            "stop_settle": 0.0,
            "grace": 60.0,
            "on_lost": "stopped",
        }
        yield prefix + machine, "machine", titled(machine), data
    if ducts:
        for duct, data in demo_ducts().items():
            into = {"into": prefix + data["into"]} if data.get("into") else {}
            yield prefix + duct, "duct", titled(duct), {**data, **into}


def yaml() -> str:
    """Return the configuration of the switches."""
    names = [name.partition(".")[2] for name in COLLECTORS]
    for prefix in ("drawn", "typed"):
        names += [f"{prefix}_{part}" for part in (*demo_places(), *MACHINES)]
    return "input_boolean:\n" + "".join(f"  {name}:\n" for name in names)


def seed(directory: HubDirectory) -> None:
    """Put both systems into a prepared directory."""
    entries = []
    for entry_id, switch, prefix, ducts in (
        (DRAWN, COLLECTORS[0], "drawn", False),
        (TYPED_IN, COLLECTORS[1], "typed", True),
    ):
        parts = list(_parts(prefix, ducts=ducts))
        title = f"{prefix.capitalize()} collector"
        entries.append(shop.entry(entry_id, title, switch, parts, **FAN))
    shop.write_entries(directory, entries)
