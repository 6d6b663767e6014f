"""How soon the plan shows new figures after a piece of the drawing was altered.

Run from anywhere with the project's environment:

    .venv/bin/python benchmarks/plan.py           # prints the table
    .venv/bin/python benchmarks/plan.py --check   # and fails where the target is missed

Timed is all that the server does between a browser's message and its answer: the JSON is
read, the drawing is checked, split and solved, and the answer is written as JSON. Drawn
are the demo's workshop, and shops of more and more pieces.
"""

import argparse
from collections.abc import Callable
import json
import pathlib
from statistics import median
import sys
from time import perf_counter
from types import SimpleNamespace
from typing import Any, cast

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent))

from homeassistant.core import HomeAssistant

from custom_components.gatewright.core.plan.checks import check
from custom_components.gatewright.core.plan.layout import lay_out
from custom_components.gatewright.core.plan.pieces import Pieces
from custom_components.gatewright.core.plan.reading import read
from custom_components.gatewright.core.plan.writing import write
from custom_components.gatewright.core.stored.config import StoredConfig
from custom_components.gatewright.features.plan.draft_shop import draft_shop
from custom_components.gatewright.features.plan.figures import figures
from custom_components.gatewright.features.plan.parts import known_of, stock_of
from custom_components.gatewright.runtime.entry_data import read_config
from tests.integration.plan_shop import MACHINES, demo_entry
from tests.plan.drawn_demo import document

type Data = dict[str, Any]

TARGET = 0.1
"""Seconds for the demo's workshop."""

HASS = cast("HomeAssistant", SimpleNamespace(config=SimpleNamespace(elevation=0)))


def drawn_demo() -> Data:
    """Return the demo as drawn by hand."""
    own = {name: gates for name, (_, gates) in MACHINES.items()}
    found = document({gate: gate for gates in own.values() for gate in gates}, own)
    for item in found["items"][1:]:
        item["bound"] = item["id"]
    return found


def many(pieces: int) -> Data:
    """Return a comb: a main of this many pieces, half of them branches with a gate."""
    half = pieces // 2
    end = float(2 * half + 2)
    main = {
        "id": "main",
        "name": "Main",
        "points": [{"x": end, "y": 0, "z": 2.4}, {"x": 0, "y": 0, "z": 2.4}],
        "diameter": 0.3,
        "end": {"to": "collector"},
    }
    ducts = [main]
    gates = []
    items = [{"id": "c", "type": "collector", "x": 0, "y": 0, "z": 2.4}]
    for n in range(half):
        x, side = 2.0 * (n + 1), 1 if n % 2 else -1
        ducts.append(
            {
                "id": f"b{n}",
                "name": f"Branch {n}",
                "points": [
                    {"x": x, "y": 3 * side, "z": 1},
                    {"x": x, "y": 3 * side, "z": 2.4},
                    {"x": x, "y": 0, "z": 2.4},
                ],
                "diameter": 0.125,
                "end": {"to": "duct", "duct": "main"},
            }
        )
        gates.append({"id": f"g{n}", "duct": f"b{n}", "items": [f"m{n}"]})
        items.append(
            {
                "id": f"m{n}",
                "type": "machine",
                "name": f"Machine {n}",
                "kind": "planer",
                "x": x,
                "y": 3.5 * side,
                "width": 0.8,
                "depth": 0.8,
            }
        )
    return {
        "format": "gatewright-plan",
        "version": 1,
        "items": items,
        "ducts": ducts,
        "gates": gates,
    }


def answer(entry: StoredConfig, text: str, *, everything: bool) -> str:
    """Return the server's answer to a drawing with two machines running."""
    plan = read(json.loads(text)["document"])
    known = known_of(stock_of(entry))
    pieces = Pieces(plan)
    problems = check(plan, pieces, known)
    shop = draft_shop(plan, entry, known, pieces)
    found = figures(HASS, shop, list(shop.machines)[:2], everything=everything)
    assert found["available"], found
    return json.dumps({**found, "problems": [p.code for p in problems]})


def seconds(work: Callable[[], object], times: int = 15) -> float:
    """Return the median time of some work."""
    work()
    taken: list[float] = []
    for _ in range(times):
        at = perf_counter()
        work()
        taken.append(perf_counter() - at)
    return median(taken)


def main() -> int:
    """Print the table; return 1 where a target is missed and that counts."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--check", action="store_true")
    wanted = arguments.parse_args()
    demo = read_config(demo_entry(ducts=True))
    bare = read_config(demo_entry(ducts=False, machines=False))
    rows: list[tuple[str, float]] = []
    text = json.dumps({"document": drawn_demo()})
    at_once = seconds(lambda: answer(demo, text, everything=False))
    rows.append(("demo, two machines running", at_once))
    rows.append(
        ("demo, all at once", seconds(lambda: answer(demo, text, everything=True)))
    )
    for pieces in (50, 100, 200):
        drawn = json.dumps({"document": many(pieces)})
        rows.append(
            (
                f"{pieces} pieces, two machines running",
                seconds(lambda drawn=drawn: answer(bare, drawn, everything=False)),  # type: ignore[misc]
            )
        )
    stock = stock_of(demo)
    tree = draft_shop(read(drawn_demo()), demo, known_of(stock)).tree
    kept = write(read(drawn_demo()))
    rows.append(("demo, read from a file", seconds(lambda: read(kept))))
    places = {gate: place for gate, place in tree.places.items() if place}
    rows.append(("demo, laid out", seconds(lambda: lay_out(tree.ducts, places, stock))))
    for name, took in rows:
        print(f"{name:<36}{took * 1000:8.1f} ms")
    missed = at_once > TARGET
    if missed:
        print(f"The target is {TARGET * 1000:.0f} ms.")
    return int(missed and wanted.check)


if __name__ == "__main__":
    sys.exit(main())
