"""Takes the pictures of the cards for the readme, in the demo's workshop.

The machines really run and the collector really stands still while the pictures are
taken, so two runs differ in a second here and there.
"""

import asyncio
from dataclasses import dataclass
from pathlib import Path
import sys
from tempfile import TemporaryDirectory

from demo.custom_components.virtual_workshop.layouts import build_layout
from demo.dashboards import SHOP, add_dashboards
from demo.hub import Hub
from demo.hub_directory import free_port, prepare
from demo.newcomer import FLOOR_SWEEP, Newcomer
from demo.shop_floor import ShopFloor

from .browser import Chromium


@dataclass(frozen=True, kw_only=True)
class Shot:
    """One picture: which page, how large, and whether of the card alone."""

    name: str
    view: str
    width: int
    height: int
    dark: bool = False
    card: str = ""


AT_WORK = (
    Shot(name="map-phone", view="map", width=360, height=740),
    Shot(name="map", view="map", width=1060, height=800, card="map"),
    Shot(name="map-dark", view="map", width=1060, height=800, card="map", dark=True),
    Shot(name="dashboard", view="overview", width=1280, height=860),
    Shot(name="day", view="overview", width=800, height=1600, card="day"),
)
IN_TROUBLE = (
    Shot(name="alarm-phone", view="map", width=360, height=740),
    Shot(name="status", view="overview", width=1000, height=900, card="status"),
)


async def work(floor: ShopFloor) -> None:
    """Have some machines run; the miter saw has stopped and is waited for."""
    act = floor.client.call
    await act("virtual_workshop.run_machine", machine="planer", seconds=12)
    await asyncio.sleep(16)
    await act("virtual_workshop.run_machine", machine="table_saw")
    await act("virtual_workshop.run_machine", machine="miter_saw", seconds=8)
    await asyncio.sleep(15)


async def go_wrong(floor: ShopFloor) -> None:
    """Have a gate stick, and a machine run behind a gate that is shut by hand."""
    act = floor.client.call
    await act("switch.turn_on", floor.own("request", FLOOR_SWEEP))
    await act("virtual_workshop.break", part="jointer_gate", fault="gate_stuck")
    await act("virtual_workshop.run_machine", machine="jointer")
    await act("virtual_workshop.run_machine", machine="router_table")
    await floor.until("problem", "on", "Jointer gate", timeout=60)


async def take(floor: ShopFloor, browser: Chromium, shot: Shot, folder: Path) -> None:
    """Take one picture."""
    directory = floor.hub.directory
    window = await browser.window(
        directory.url,
        directory.token,
        width=shot.width,
        height=shot.height,
        dark=shot.dark,
        scale=1.5,
    )
    await window.open(f"/{SHOP}/{shot.view}")
    page = window.page
    await page.locator(".headline p, hui-heading-card").first.wait_for()
    # Icons come a moment later.
    await page.wait_for_timeout(2500)
    place = page.locator(f"gatewright-{shot.card}-card") if shot.card else page
    await place.screenshot(path=folder / f"{shot.name}.png")
    if window.complaints:
        raise RuntimeError(f"{shot.name}: {window.complaints}")
    await window.close()
    print(f"{shot.name}.png", flush=True)  # noqa: T201 - says how far it is


async def take_all(folder: Path) -> None:
    """Set the demo up and take every picture."""
    layout = build_layout({})
    with TemporaryDirectory() as scratch:
        hub = Hub(prepare(Path(scratch) / "config", port=free_port(0)))
        async with hub, Chromium() as browser:
            floor = ShopFloor(hub, layout)
            try:
                await floor.enter()
                await floor.until_measured()
                entry_id = await Newcomer(floor.client, lambda _: None).set_up(
                    layout.collector.coast
                )
                await floor.learn(entry_id)
                await add_dashboards(floor)
                await floor.until("phase", "resting", timeout=40)
                for act, shots in ((work, AT_WORK), (go_wrong, IN_TROUBLE)):
                    await act(floor)
                    for shot in shots:
                        await take(floor, browser, shot, folder)
            finally:
                await floor.leave()


if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    asyncio.run(take_all(target))
