"""The drawing of a system's ducts, as SVG: a schematic, the collector on the left.

A duct's width follows its diameter, its length only roughly its own. Where the
slowest machine running alone would let material settle the duct is dashed, so that
the drawing says the same without color.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from html import escape
from typing import Any

from .ducts import AirShop
from .report_words import Line, Words
from .units import AirUnits

_ROW = 54.0
_LEFT, _TOP = 110.0, 34.0
_SHORTEST = 112.0
_RUN = 470.0
"""Width of the longest way through the ducts, in the drawing's own units."""
_STUB = 40.0
_LETTER = 7.0
"""About how wide a letter of a name is; as an SVG it cannot be measured."""
_LABEL = 190.0
"""Room for the names at the right edge; more where they are longer."""


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


def drawing(
    shop: AirShop,
    ducts: Mapping[str, Mapping[str, Any]],
    units: AirUnits,
    words: Words,
) -> str:
    """Return the drawing; `ducts` are the assessment's by id."""
    roots = _tree(shop)
    rows = 0
    # A piece of duct is never so short that its name would not fit.
    scale = _RUN / max(max((_reach(root) for root in roots), default=1.0), 1.0)
    for root in roots:
        rows = _place(root, _LEFT, rows, scale)
    height = _TOP + rows * _ROW + 10
    width = max((_right(root, shop) for root in roots), default=_LEFT + _LABEL)
    middle = sum(root.y for root in roots) / len(roots)
    parts = [
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" role="img" '
        f'aria-label="{words.html(Line.DRAWING, name=shop.name)}">',
        f'<rect class="collector" x="2" y="{middle - 26:.0f}" width="80" '
        'height="52" rx="6"/>',
        f'<text class="name" x="42" y="{middle - 2:.0f}" text-anchor="middle">'
        f"{words.html(Line.COLLECTOR)}</text>",
        f'<text x="42" y="{middle + 13:.0f}" text-anchor="middle">'
        f"{words.html(Line.AND_FAN)}</text>",
    ]
    for root in roots:
        parts.append(_line(82, middle, _LEFT, root.y, 8, slow=False))
        parts += _draw(root, shop, ducts, units)
    return "".join((*parts, "</svg>"))


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
        # What goes straight on is drawn straight on.
        node.children.sort(key=lambda child: (angles[child.duct_id], -_reach(child)))
    return roots


def _reach(node: _Node) -> float:
    return node.length + max((_reach(child) for child in node.children), default=0.0)


def _right(node: _Node, shop: AirShop) -> float:
    """Return how far a duct, what is upstream of it, and their names reach."""
    labels = (max(map(len, _label(shop, pickup))) for pickup in node.pickups)
    label = max((_STUB + 12 + letters * _LETTER for letters in labels), default=0.0)
    own = node.end + max(label, _LABEL)
    return max([own, *(_right(child, shop) for child in node.children)])


def _label(shop: AirShop, pickup: str) -> tuple[str, str]:
    """Return the machines at a pickup, and its gate."""
    users = [need.name for need in shop.needs.values() if pickup in need.pickups]
    return ", ".join(users), shop.names.get(pickup, "")


def _place(node: _Node, x: float, row: int, scale: float) -> int:
    """Give a duct and all that is upstream of it its place; return the next row."""
    # The name of a duct without branches may reach on as far as the pickup's ring.
    free = 0.0 if node.children else _STUB - 8
    shortest = max(_SHORTEST, 6 + len(node.name) * _LETTER - free)
    node.x, node.end = x, x + max(shortest, node.length * scale)
    node.y = _TOP + row * _ROW + _ROW / 2
    for child in node.children:
        row = _place(child, node.end, row, scale)
    own = len(node.pickups)
    # A pickup at the end of a duct without branches shares the duct's own row.
    return row + own if node.children else row + max(own, 1)


def _line(
    x1: float, y1: float, x2: float, y2: float, width: float, *, slow: bool
) -> str:
    name = "duct slow" if slow else "duct"
    return (
        f'<path class="{name}" stroke-width="{width:.1f}" '
        f'd="M{x1:.0f} {y1:.0f} L{x2:.0f} {y2:.0f}"/>'
    )


def _draw(
    node: _Node,
    shop: AirShop,
    ducts: Mapping[str, Mapping[str, Any]],
    units: AirUnits,
) -> list[str]:
    duct = ducts[node.duct_id]
    slowest = duct["slowest"]
    slow = slowest is not None and not slowest["carries"]
    width = 3 + 26 * min(duct["diameter"], 0.4)
    below = node.y + width / 2 + 12
    parts = [_line(node.x, node.y, node.end, node.y, width, slow=slow)]
    size = f"{units.width.text(duct['diameter'])} × {units.length.text(duct['length'])}"
    parts.append(
        f'<text class="name" x="{node.x + 6:.0f}" y="{node.y - width / 2 - 4:.0f}">'
        f"{escape(node.name)}</text>"
        f'<text x="{node.x + 6:.0f}" y="{below:.0f}">{size}</text>'
    )
    if slowest is not None:
        parts.append(
            f'<text class="{"bad" if slow else ""}" x="{node.x + 6:.0f}" '
            f'y="{below + 12:.0f}">≥ {units.velocity.text(slowest["velocity"])}</text>'
        )
    for child in node.children:
        if child.y != node.y:
            parts.append(_line(node.end, node.y, node.end, child.y, 2, slow=False))
        parts += _draw(child, shop, ducts, units)
    last = max((_lowest(child) for child in node.children), default=None)
    for number, pickup in enumerate(node.pickups):
        y = node.y + number * _ROW if last is None else last + (number + 1) * _ROW
        if y != node.y:
            parts.append(_line(node.end, node.y, node.end, y, 2, slow=False))
        parts.append(_line(node.end, y, node.end + _STUB, y, 4, slow=False))
        parts.append(_pickup(shop, pickup, node.end + _STUB, y))
    return parts


def _lowest(node: _Node) -> float:
    """Return the lowest row that a duct and all upstream of it take."""
    below = [_lowest(child) for child in node.children]
    own = len(node.pickups)
    if below:
        return max(below) + own * _ROW
    return node.y + (max(own, 1) - 1) * _ROW


def _pickup(shop: AirShop, pickup: str, x: float, y: float) -> str:
    users, gate = map(escape, _label(shop, pickup))
    circle = f'<circle class="gate" cx="{x:.0f}" cy="{y:.0f}" r="6"/>'
    if not users:
        return f'{circle}<text x="{x + 12:.0f}" y="{y + 4:.0f}">{gate}</text>'
    return (
        f'{circle}<text class="name" x="{x + 12:.0f}" y="{y - 2:.0f}">'
        f"{users}</text>"
        f'<text x="{x + 12:.0f}" y="{y + 11:.0f}">{gate}</text>'
    )
