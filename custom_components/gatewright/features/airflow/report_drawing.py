"""The drawing of a system's ducts: a schematic, with the collector on the left.

A duct's width follows its diameter, its length only roughly the real one. A duct is
dashed where the slowest machine running alone lets material settle, so that the drawing
works without color.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from .data import Data
from .ducts import AirShop
from .units import AirUnits

_ROW = 54.0
_LEFT, _TOP = 110.0, 34.0
_SHORTEST = 112.0
_RUN = 470.0
"""Width of the longest path through the ducts, in drawing units."""
_STUB = 40.0
_LETTER = 7.0
"""The approximate width of a letter; SVG text can't be measured here."""
_LABEL = 190.0
"""Room for names at the right edge; longer names get more."""


@dataclass(slots=True)
class _Node:
    """A duct in the drawing: from `x` (nearer the collector) to `end`, at `y`."""

    duct_id: str
    name: str
    length: float
    children: list[_Node] = field(default_factory=list)
    pickups: list[str] = field(default_factory=list)
    x: float = 0.0
    end: float = 0.0
    y: float = 0.0


def drawing(shop: AirShop, data: Data, units: AirUnits) -> Data:
    """Return the elements of an assessed system's drawing, in its coordinates."""
    roots = _tree(shop)
    rows = 0
    # A piece of duct is always long enough for its name.
    scale = _RUN / max(max((_reach(root) for root in roots), default=1.0), 1.0)
    for root in roots:
        rows = _place(root, _LEFT, rows, scale)
    pen = _Pen(shop, {duct["id"]: duct for duct in data["ducts"]}, units)
    middle = sum(root.y for root in roots) / len(roots)
    for root in roots:
        pen.line(82, middle, _LEFT, root.y, 8)
        pen.duct(root)
    width = max((_right(root, shop) for root in roots), default=_LEFT + _LABEL)
    return {
        "name": shop.name,
        "width": round(width),
        "height": round(_TOP + rows * _ROW + 10),
        "middle": round(middle),
        "lines": pen.lines,
        "gates": pen.gates,
        "labels": pen.labels,
    }


def _tree(shop: AirShop) -> list[_Node]:
    system = shop.network.system
    nodes = {
        duct.id: _Node(duct.id, shop.names[duct.id], duct.length)
        for duct in system.ducts
    }
    angles = {duct.id: duct.entry_angle for duct in system.ducts}
    roots = []
    for duct in system.ducts:
        if duct.into is None:
            roots.append(nodes[duct.id])
        else:
            nodes[duct.into].children.append(nodes[duct.id])
    for pickup in system.pickups:
        nodes[pickup.duct].pickups.append(pickup.id)
    for node in nodes.values():
        # A straight run is drawn straight.
        node.children.sort(key=lambda child: (angles[child.duct_id], -_reach(child)))
    return roots


def _reach(node: _Node) -> float:
    return node.length + max((_reach(child) for child in node.children), default=0.0)


def _right(node: _Node, shop: AirShop) -> float:
    """Return how far a duct, its upstream ducts and their names reach."""
    labels = (max(map(len, _label(shop, pickup))) for pickup in node.pickups)
    label = max((_STUB + 12 + letters * _LETTER for letters in labels), default=0.0)
    own = node.end + max(label, _LABEL)
    return max([own, *(_right(child, shop) for child in node.children)])


def _label(shop: AirShop, pickup: str) -> tuple[str, str]:
    """Return the machines at a pickup, and its gate."""
    users = [need.name for need in shop.needs.values() if pickup in need.pickups]
    return ", ".join(users), shop.names.get(pickup, "")


def _place(node: _Node, x: float, row: int, scale: float) -> int:
    """Place a duct and everything upstream of it; return the next row."""
    # The name of a duct without branches may reach as far as the pickup's ring.
    free = 0.0 if node.children else _STUB - 8
    shortest = max(_SHORTEST, 6 + len(node.name) * _LETTER - free)
    node.x, node.end = x, x + max(shortest, node.length * scale)
    node.y = _TOP + row * _ROW + _ROW / 2
    for child in node.children:
        row = _place(child, node.end, row, scale)
    own = len(node.pickups)
    # A pickup at the end of a duct without branches shares its row.
    return row + own if node.children else row + max(own, 1)


def _lowest(node: _Node) -> float:
    """Return the lowest row of a duct and everything upstream of it."""
    below = [_lowest(child) for child in node.children]
    own = len(node.pickups)
    if below:
        return max(below) + own * _ROW
    return node.y + (max(own, 1) - 1) * _ROW


class _Pen:
    """Collects the lines, gates and labels of placed ducts."""

    def __init__(
        self, shop: AirShop, ducts: Mapping[str, Data], units: AirUnits
    ) -> None:
        self.lines: list[Data] = []
        self.gates: list[tuple[int, int]] = []
        self.labels: list[Data] = []
        self._shop, self._ducts, self._units = shop, ducts, units

    def line(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        width: float,
        *,
        slow: bool = False,
    ) -> None:
        """Draw a straight piece of duct."""
        ends = {"x1": round(x1), "y1": round(y1), "x2": round(x2), "y2": round(y2)}
        self.lines.append({**ends, "width": round(width, 1), "slow": slow})

    def duct(self, node: _Node) -> None:
        """Draw a duct and everything upstream of it."""
        duct, units = self._ducts[node.duct_id], self._units
        slowest = duct["slowest"]
        slow = slowest is not None and not slowest["carries"]
        width = 3 + 26 * min(duct["diameter"], 0.4)
        x, below = node.x + 6, node.y + width / 2 + 12
        self.line(node.x, node.y, node.end, node.y, width, slow=slow)
        self._write("name", x, node.y - width / 2 - 4, node.name)
        length = units.length.text(duct["length"])
        self._write("", x, below, f"{units.width.text(duct['diameter'])} × {length}")
        if slowest is not None:
            velocity = units.velocity.text(slowest["velocity"])
            self._write("bad" if slow else "", x, below + 12, f"≥ {velocity}")
        for child in node.children:
            if child.y != node.y:
                self.line(node.end, node.y, node.end, child.y, 2)
            self.duct(child)
        last = max((_lowest(child) for child in node.children), default=None)
        for number, pickup in enumerate(node.pickups):
            y = node.y + number * _ROW if last is None else last + (number + 1) * _ROW
            if y != node.y:
                self.line(node.end, node.y, node.end, y, 2)
            self.line(node.end, y, node.end + _STUB, y, 4)
            self._pickup(pickup, node.end + _STUB, y)

    def _pickup(self, pickup: str, x: float, y: float) -> None:
        users, gate = _label(self._shop, pickup)
        self.gates.append((round(x), round(y)))
        if users:
            self._write("name", x + 12, y - 2, users)
        self._write("", x + 12, y + (11 if users else 4), gate)

    def _write(self, style: str, x: float, y: float, text: str) -> None:
        place = {"x": round(x), "y": round(y)}
        self.labels.append({**place, "style": style, "text": text})
