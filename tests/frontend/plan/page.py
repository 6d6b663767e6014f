"""The editor's page without Home Assistant, and user actions on it."""

from collections.abc import AsyncGenerator
from contextlib import asynccontextmanager
import json
from pathlib import Path
from typing import Any
from urllib.parse import urlparse

from playwright.async_api import Page, Route

import custom_components.gatewright

from ..browser import Chromium, Window

HERE = Path(__file__).parent
PROJECT = Path(custom_components.gatewright.__file__).parent
ADDRESS = "http://plan.test"

PAGE = """<!doctype html><html lang="en"><head><title>Plan</title><style>
body { margin: 0; font-family: sans-serif; background: #fafafa; }
@media (prefers-color-scheme: dark) { html { --primary-text-color: #e6e6e6; --card-background-color: #1c1c1c;
  --secondary-text-color: #aaa; } body { background: #111; color: #e6e6e6; } }
ha-card { display: block; background: var(--card-background-color, #fff); }
</style></head><body><main></main><script type="module" src="/page.mjs"></script></body></html>"""

KINDS = ("band_saw", "planer", "table_saw", "jointer", "drum_sander", "miter_saw")


def given(*, document: Any = None, language: str = "en", **more: Any) -> dict[str, Any]:
    """Return the server's data of an invented shop without ducts."""
    machines = [
        {
            "id": f"m{number}",
            "name": kind.replace("_", " ").capitalize(),
            "kind": kind,
            "gates": [f"k{number}"],
            "required_flow": 0.2,
        }
        for number, kind in enumerate(KINDS, 1)
    ]
    gates = [
        {"id": f"k{n}", "name": f"{machines[n - 1]['name']} gate", "kind": "powered"}
        for n in range(1, len(KINDS) + 1)
    ]
    empty = {
        "format": "gatewright-plan",
        "version": 1,
        "grid": {"step": 0.1},
        "room": {"outline": [], "height": 2.7},
        "items": [],
        "ducts": [],
        "gates": [],
    }
    return {
        "stored": False,
        "editable": True,
        "problems": [],
        "differs": False,
        "machines": machines,
        "gates": gates,
        "ducts": [],
        "units": "metric",
        "sizes": [0.08, 0.1, 0.125, 0.16, 0.2],
        "choices": {
            "materials": ["galvanized", "spiral", "flexible"],
            "constructions": ["stamped", "five_piece"],
            "hoods": ["machine_port", "plain_end"],
            "seals": ["airtight", "usual"],
            "hose_states": ["stretched", "relaxed"],
            "kinds": [*KINDS, "other"],
        },
        "computable": True,
        "why": "",
        "document": document or empty,
        "language": language,
        **more,
    }


def placed(**more: Any) -> dict[str, Any]:
    """Return the shop with everything placed and nothing drawn."""
    found = given(**more)
    spots = [(2, 4), (4, 4), (6, 4), (3, 1.6), (5, 1.6), (7.5, 2.5)]
    found["document"]["room"]["outline"] = [[0, 0], [9, 0], [9, 5.5], [0, 5.5]]
    found["document"]["items"] = [
        {"id": "c", "type": "collector", "x": 0.7, "y": 0.7, "z": 1.5},
        *(
            {"id": f"i{n}", "type": "machine", "bound": f"m{n}", "x": x, "y": y, "z": 1}
            for n, (x, y) in enumerate(spots, 1)
        ),
    ]
    return found


def texts(language: str) -> dict[str, dict[str, dict[str, str]]]:
    """Return the texts of a language as Home Assistant sends them."""
    read = json.loads((PROJECT / f"translations/{language}.json").read_text("utf-8"))

    def flat(value: Any, path: str) -> dict[str, str]:
        if isinstance(value, str):
            return {path: value}
        found: dict[str, str] = {}
        for key, inner in value.items():
            found |= flat(inner, f"{path}.{key}")
        return found

    start = "component.gatewright"
    return {
        "texts": {
            category: flat(read[category], f"{start}.{category}")
            for category in ("config_panel", "common", "selector", "issues")
        }
    }


@asynccontextmanager
async def editor(
    chromium: Chromium, shop: dict[str, Any] | None = None, **how: Any
) -> AsyncGenerator[Window]:
    """Open the editor on a page of its own; at the end it must be free of errors."""
    shop = shop or placed()
    found = {**texts(shop["language"]), "given": shop}

    async def answer(route: Route) -> None:
        path = urlparse(route.request.url).path
        if path == "/":
            await route.fulfill(body=PAGE, content_type="text/html")
        elif path == "/given.json":
            await route.fulfill(json=found)
        elif path == "/page.mjs":
            await route.fulfill(path=HERE / "page.mjs", content_type="text/javascript")
        elif path.startswith("/frontend/"):
            file = PROJECT / path.removeprefix("/")
            await route.fulfill(path=file, content_type="text/javascript")
        else:
            await route.fulfill(status=204)

    window = await chromium.window(ADDRESS, "", **{"width": 1100, "height": 800, **how})
    try:
        await window.page.route("**/*", answer)
        await window.open("/")
        await window.page.wait_for_function(
            "window.card?._editor?.scene?.node.querySelector('.grid')?.getAttribute('d')"
        )
        yield window
        assert not window.complaints, window.complaints
    finally:
        await window.close()


async def spot(page: Page, x: float, y: float) -> tuple[float, float]:
    """Return where on the page a place (m) of the plan is."""
    found: list[float] = await page.evaluate(
        """([x, y]) => {
          const { scene } = card._editor;
          const box = scene.node.getBoundingClientRect();
          return [box.left + (x - scene.origin.x) * scene.scale, box.top + (y - scene.origin.y) * scene.scale];
        }""",
        [x, y],
    )
    return found[0], found[1]


async def tap(page: Page, x: float, y: float) -> None:
    """Tap a place (m) of the plan."""
    await page.mouse.click(*await spot(page, x, y))


async def drag(
    page: Page, start: tuple[float, float], end: tuple[float, float]
) -> None:
    """Drag from one place (m) of the plan to another."""
    await page.mouse.move(*await spot(page, *start))
    await page.mouse.down()
    await page.mouse.move(*await spot(page, *end), steps=6)
    await page.mouse.up()


async def doc(page: Page) -> dict[str, Any]:
    """Return the plan as it is now."""
    found: dict[str, Any] = await page.evaluate("card._editor.model.history.settled")
    return found
