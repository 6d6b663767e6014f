"""The demo's workshop as a person draws it: one main, branches that join it midway."""

from math import cos, radians, sin
from typing import Any

from .shops import Data, demo_places, part_id

HEIGHT = 2.4

JOINS = {"main_1": 4.0, "main_2": 6.5, "main_3": 9.5, "main_4": 13.0}
"""Where along x each piece of the main has its far end; it flows towards x = 0."""


def point(x: float, y: float, **more: Any) -> Data:
    """Return a point of a duct."""
    return {"x": round(x, 6), "y": round(y, 6), "z": HEIGHT, **more}


def branch(
    name: str,
    into: str,
    width: float,
    angle: float,
    legs: list[float],
    turns: list[float],
    side: int,
) -> Data:
    """Return a branch that joins the main at an angle (degrees), drawn from its end.

    `legs` (m) from the main outwards, `turns` (degrees) between them.
    """
    x, y, heading = JOINS[into], 4.0, radians(side * angle)
    points = [point(x, y)]
    for leg, turn in zip(legs, [0.0, *turns], strict=True):
        heading += radians(side * turn)
        x, y = x + leg * cos(heading), y + leg * sin(heading)
        points.append(point(x, y))
    return {
        "id": part_id(name),
        "name": name,
        "points": points[::-1],
        "diameter": width,
        "end": {"to": "duct", "duct": "main", "wye": max(angle, 30.0)},
    }


def document(bound: dict[str, str] | None = None, machines: Data | None = None) -> Data:
    """Return the drawing; `bound` are gates, `machines` gates by machine."""
    five = {"construction": "five_piece", "radius": 1.5}
    wide = {"pipe": {"diameter": 0.16}}
    main = {
        "id": "main",
        "name": "Main",
        "points": [
            point(13, 4),
            point(4, 4, **wide),
            point(2, 4, elbow=five, **wide),
            point(2, 2.5, elbow=five, **wide),
            point(1, 2.5),
        ],
        "diameter": 0.15,
        "end": {"to": "collector"},
    }
    ducts = [
        main,
        branch("Planer branch", "main_1", 0.15, 30, [1.2, 1.0], [90], 1),
        branch("Table saw branch", "main_2", 0.125, 30, [1, 1, 1], [90, -90], 1),
        branch("Jointer branch", "main_2", 0.125, 45, [1, 1], [90], -1),
        branch("Band saw branch", "main_3", 0.15, 30, [1.4, 1], [90], 1),
        branch("Drum sander branch", "main_3", 0.125, 30, [2.2, 1], [90], -1),
        branch("Miter saw branch", "main_4", 0.125, 30, [1, 0.8, 0.8], [45, 90], 1),
        branch("Bench main", "main_4", 0.125, 0, [3, 2], [90], -1),
    ]
    gates = []
    for gate, place in demo_places().items():
        duct = "main" if place["duct"].startswith("main") else place["duct"]
        gates.append(
            {
                "id": f"g_{gate}",
                "bound": (bound or {}).get(gate),
                "name": gate,
                "duct": duct,
                "seal": "usual",
                "opening": opening(place),
                "items": [m for m, own in (machines or {}).items() if gate in own],
            }
        )
    items: list[Data] = [{"id": "c", "type": "collector", "x": 1, "y": 2.5, "z": 2.4}]
    items += [
        {
            "id": machine,
            "type": "machine",
            "name": machine,
            "kind": "other",
            "required_flow": 0.2,
            "x": 20.0 + number,
            "y": 0.0,
        }
        for number, machine in enumerate(machines or {})
    ]
    return {
        "format": "gatewright-plan",
        "version": 1,
        "items": items,
        "ducts": ducts,
        "gates": gates,
    }


def opening(place: Data) -> Data:
    """Return what lies before a stored gate, in the plan's terms."""
    found: Data = {"hood": place["hood"]}
    if "port_diameter" in place:
        found["port"] = place["port_diameter"]
    if "hose_length" in place:
        found["hose"] = {"length": place["hose_length"], "state": place["hose_state"]}
        if "hose_diameter" in place:
            found["hose"]["diameter"] = place["hose_diameter"]
    if "drop_length" in place:
        found["drop"] = {
            "length": place["drop_length"],
            "diameter": place["drop_diameter"],
            "elbows": place["drop_elbows"],
        }
    if "entry_angle" in place:
        found["entry_angle"] = place["entry_angle"]
    return found
