"""The invented workshop drawn to scale, as its owner would after entering its ducts.

Gatewright lays out what the forms know; here everything is moved to its real place. The
ducts then take lengths, elbows and entries from the drawing, equal to the typed ones.
"""

from collections.abc import Callable, Mapping
from math import cos, radians, sin
from typing import Any, Final

from .hub_client import HubClient

type Document = dict[str, Any]
type Vertex = tuple[float, float, float]

CEILING: Final = 2.4
"""Height of the main and of the branches [m]."""

DROP: Final = 0.8
"""Length of the drop to a machine [m]."""

ROOM: Final = [
    [0, 1],
    [18, 1],
    [18, 6.6],
    [2.6, 6.6],
    [2.6, 3.4],
    [0, 3.4],
]
"""The machine room, the bench room, and the collector's closet on the left [m]."""

COLLECTOR: Final[Vertex] = (1, 2.5, CEILING)

MACHINES: Final[Mapping[str, tuple[float, float, float]]] = {
    "Planer": (5.21, 5.2, 0),
    "Table saw": (7.54, 5.9, 0),
    "Jointer": (7.6, 2.5, 0),
    "Band saw": (10.89, 5.3, 0),
    "Drum sander": (11.58, 2.3, 0),
    "Miter saw": (14.07, 5.8, 0),
    "Floor sweep": (12.6, 5.5, 0),
    "Router table": (14.3, 2.6, 0),
    "Lathe": (15.9, 5.9, 0),
    "Drill press": (17.2, 4.9, 0),
    "Orbital sander": (17.2, 3.7, 0),
    "Shop vacuum": (17.2, 2.6, 0),
    "Bench hood": (16, 1.5, 0),
}
"""The middle of each machine [m], and its rotation [degrees]."""

GATES: Final[Mapping[str, float]] = {
    "Planer gate": 1.2,
    "Table saw gate": 0.5,
    "Jointer gate": 1.2,
    "Band saw lower gate": 1.2,
    "Band saw upper gate": 1.8,
    "Drum sander gate": 1.2,
    "Miter saw gate": 1.1,
    "Miter saw rear gate": 1.7,
    "Floor sweep gate": 0.6,
    "Bench hood gate": 0.75,
    "Drop box gate": 1.2,
    "Hose gate": 1.65,
    "Bench gate": 2.5,
    "Router table gate": 3.8,
}
"""The distance of each gate from the upstream end of its duct [m]."""


_SIZE: Final = ("width", "depth")


def _branch(
    x: float, side: int, angle: float, *legs: float, bend: float = 0
) -> list[Vertex]:
    """Return a branch from above its machine to its joint with the main.

    `angle` and `bend` in degrees, `legs` [m] from the main outwards.
    """
    y, heading = 4.0, side * angle
    found = [(x, y, CEILING)]
    for leg in legs:
        x, y = x + leg * cos(radians(heading)), y + leg * sin(radians(heading))
        found.append((round(x, 4), round(y, 4), CEILING))
        heading += side * bend
    return found[::-1]


def _dropped(line: list[Vertex], *, out: float = 0) -> list[Vertex]:
    """Return a line that first rises from its machine, `out` [m] beside it."""
    x, y, z = line[0]
    low = (x, y, z - DROP if not out else z - 1)
    beside = [(x, round(y + out, 4), low[2])] if out else []
    return [*beside, low, *line]


DUCTS: Final[Mapping[str, list[Vertex]]] = {
    "Main 1": [(4, 4, CEILING), (2, 4, CEILING), (2, 2.5, CEILING), COLLECTOR],
    "Main 2": [(6.5, 4, CEILING), (4, 4, CEILING)],
    "Main 3": [(9.5, 4, CEILING), (6.5, 4, CEILING)],
    "Main 4": [(13, 4, CEILING), (9.5, 4, CEILING)],
    "Planer branch": _dropped(_branch(4, 1, 30, 1.4)),
    "Table saw branch": _dropped(_branch(6.5, 1, 30, 1.2), out=0.8),
    "Jointer branch": _dropped(_branch(6.5, -1, 45, 1.2)),
    "Band saw branch": _dropped(_branch(9.5, 1, 30, 1.6)),
    "Drum sander branch": _dropped(_branch(9.5, -1, 30, 2.4)),
    "Miter saw branch": _dropped(_branch(13, 1, 30, 1, 0.8, bend=45)),
    "Bench main": [(16, 2, CEILING), (16, 4, CEILING), (13, 4, CEILING)],
}
"""The line of each duct in the direction of the flow [m]."""

ELBOWS: Final = {"Main 1": {"construction": "five_piece", "radius": 1.5}}
"""A duct's elbows where they differ from the default."""


def drawn(laid_out: Document, names: Mapping[str, str]) -> Document:
    """Return a plan from Gatewright's layout with everything in its real place.

    `names` are those of machines and gates by their ids.
    """

    def item(one: Document) -> Document:
        if one["type"] == "collector":
            x, y, z = COLLECTOR
            return {**one, "x": x, "y": y, "z": z}
        x, y, turn = MACHINES[names.get(one["bound"], one["name"])]
        # The usual size of its kind.
        kept = {key: value for key, value in one.items() if key not in _SIZE}
        return {**kept, "x": x, "y": y, "turn": turn, "z": 0.8}

    def duct(one: Document) -> Document:
        points = [dict(zip("xyz", point, strict=True)) for point in DUCTS[one["name"]]]
        kept = {key: value for key, value in one.items() if key != "typed"}
        made = ELBOWS.get(one["name"])
        return {**kept, "points": points, **({"elbow": made} if made else {})}

    def gate(one: Document) -> Document:
        return {**one, "at": GATES[names.get(one["bound"], one["name"])]}

    return {
        **laid_out,
        "room": {"outline": ROOM, "height": 2.7},
        "items": [item(one) for one in laid_out["items"]],
        "ducts": [duct(one) for one in laid_out["ducts"]],
        "gates": [gate(one) for one in laid_out["gates"]],
    }


class Draftsman:
    """Draws the shop on the dashboard's plan, like an owner."""

    def __init__(self, client: HubClient, tell: Callable[[str], None]) -> None:
        """Use a Home Assistant; `tell` gets a line about each step."""
        self._client = client
        self._tell = tell

    async def draw(self, entry_id: str) -> None:
        """Draw the shop to scale and apply the plan; raises `RuntimeError`."""
        got = await self._ask("get", entry_id)
        names = {part["id"]: part["name"] for part in got["machines"] + got["gates"]}
        document = drawn(got["document"], names)
        saved = await self._ask(
            "save", entry_id, revision=got["revision"], document=document
        )
        wrong = [row["text"] for row in saved["problems"]]
        applied = await self._ask("apply", entry_id, revision=saved["revision"])
        if not applied["applied"]:
            raise RuntimeError(f"The plan isn't applied: {wrong}")
        changed = len(applied["changes"])
        self._tell(
            f"drew the shop to scale: {len(document['ducts'])} ducts, {changed} of"
            " them other than typed"
        )

    async def _ask(self, name: str, entry_id: str, **fields: Any) -> dict[str, Any]:
        found: dict[str, Any] = await self._client.socket.command(
            f"gatewright/plan/{name}", entry_id=entry_id, **fields
        )
        return found
