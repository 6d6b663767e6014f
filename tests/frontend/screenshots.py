"""Takes the manual's pictures in the demo's workshop: the set-up forms, and the cards.

The machines really run and the collector really stands still while the pictures are
taken, so two runs differ in a second here and there.
"""

import argparse
import asyncio
from collections.abc import Mapping, Set as AbstractSet
from dataclasses import dataclass
import json
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from PIL import Image, ImageOps
from playwright.async_api import Locator

from demo.custom_components.virtual_workshop.layouts import build_layout
from demo.dashboards import SHOP, add_dashboards
from demo.hub import Hub
from demo.hub_directory import prepare
from demo.newcomer import FLOOR_SWEEP, Newcomer
from demo.past import remember
from demo.shop_floor import ShopFloor

from .browser import Chromium, Window
from .paper import Paper

SCALE = 1.5
EDGE = "#d0d0d0"

# Whatever is behind the dialog would show in the corners.
_SQUARE = "dialog => { dialog.style.borderRadius = 0; }"

TEXTS = Path("custom_components/gatewright/translations/en.json")
PLAN: Mapping[str, str] = json.loads(TEXTS.read_text("utf-8"))["common"]

USED_BEFORE = ("table_saw", "band_saw", "planer")
"""The machines of the machine room that were used in the week before."""


@dataclass(frozen=True, kw_only=True)
class Shot:
    """One picture: its page, its size, and whether it shows only the card."""

    name: str
    view: str
    width: int
    height: int
    dark: bool = False
    card: str = ""
    cut: str = ""
    """A machine in its hold after a cut."""
    press: tuple[str, ...] = ()
    """The buttons to press first, by their text keys in the plan."""


@dataclass(frozen=True, kw_only=True)
class Page:
    """A page of the set-up: which form, and of which part if there is one for each."""

    name: str
    step: str
    part: str = ""


SET_UP = (
    Page(name="setup-collector", step="user"),
    Page(name="setup-machines", step="machines"),
    Page(name="setup-gates", step="gates"),
    Page(name="setup-gate", step="gate", part="Miter saw gate"),
    Page(name="setup-machine", step="machine", part="Table saw"),
    Page(name="setup-levels", step="levels"),
)
DONE = "setup-done"
AT_WORK = (
    Shot(name="map", view="map", width=1060, height=800, card="map", cut="miter_saw"),
    Shot(name="map-dark", view="map", width=1060, height=800, card="map", dark=True),
    Shot(name="map-phone", view="map", width=360, height=740),
    Shot(
        name="plan",
        view="plan",
        width=1400,
        height=690,
        card="plan",
        press=("tab_air", "as_in_shop"),
    ),
    Shot(name="dashboard", view="overview", width=1280, height=860),
    Shot(name="day", view="overview", width=800, height=1600, card="day"),
)
IN_TROUBLE = (
    Shot(name="alarm-phone", view="map", width=360, height=740),
    Shot(name="status", view="overview", width=1000, height=900, card="status"),
)
NAMES = tuple(
    [page.name for page in SET_UP]
    + [DONE]
    + [shot.name for shot in AT_WORK + IN_TROUBLE]
)


async def work(floor: ShopFloor) -> None:
    """Run two machines, and one that the collector serves well alone."""
    act = floor.client.call
    for machine in ("planer", "miter_saw"):
        await act("virtual_workshop.run_machine", machine=machine, seconds=12)
        await asyncio.sleep(16)
    await floor.until("phase", "idle", timeout=90)
    await act("virtual_workshop.run_machine", machine="table_saw")
    await asyncio.sleep(15)


async def go_wrong(floor: ShopFloor) -> None:
    """Make a gate stick, and run a machine behind a gate closed by hand."""
    act = floor.client.call
    await act("switch.turn_on", floor.own("request", FLOOR_SWEEP))
    await act("virtual_workshop.break", part="jointer_gate", fault="gate_stuck")
    await act("virtual_workshop.run_machine", machine="jointer")
    await act("virtual_workshop.run_machine", machine="router_table")
    await floor.until("problem", "on", "Jointer gate", timeout=60)


class Photographer:
    """Takes the wanted pictures, and puts them into a folder."""

    def __init__(
        self,
        floor: ShopFloor,
        browser: Chromium,
        folder: Path,
        wanted: AbstractSet[str],
    ) -> None:
        """Start in a shop that isn't set up."""
        self._floor = floor
        self._browser = browser
        self._folder = folder
        self._wanted = wanted

    async def set_up(self) -> str:
        """Set the system up; return the id of its entry."""
        floor = self._floor
        spin_down = floor.layout.collector.coast
        if not self._wanted & {DONE, *(page.name for page in SET_UP)}:
            return await Newcomer(floor.client, lambda _: None).set_up(spin_down)
        window = await self._window(700, 2000)
        panels = window.page.locator("step-flow-form ha-expansion-panel")

        async def look(step: str, answers: Mapping[str, Any], dialog: Locator) -> None:
            await dialog.evaluate(_SQUARE)
            for page in SET_UP:
                if page.step == step and page.part in {"", answers.get("name")}:
                    for more in await panels.all():
                        await more.locator("#summary").click()
                    await self._take(page.name, window, dialog, framed=True)

        paper = Paper(window, look)
        newcomer = Newcomer(floor.client, lambda _: None, add=paper.add)
        entry_id = await newcomer.set_up(spin_down)
        await window.page.set_viewport_size({"width": 700, "height": 1058})
        await window.open("/config/integrations/integration/gatewright")
        await self._take(DONE, window, window.page.locator("body"), framed=True)
        await window.close()
        return entry_id

    async def take(self, shot: Shot) -> None:
        """Take one picture of the shop's dashboard."""
        if shot.name not in self._wanted:
            return
        window = await self._window(shot.width, shot.height, dark=shot.dark)
        await window.open(f"/{SHOP}/{shot.view}")
        page = window.page
        there = page.locator(".headline p, hui-heading-card, .editor .plan")
        await there.first.wait_for()
        if shot.cut:
            call = self._floor.client.call
            await call("virtual_workshop.run_machine", machine=shot.cut, seconds=5)
            await asyncio.sleep(7)
        card = f"gatewright-{shot.card}-card" if shot.card else "body"
        for key in shot.press:
            words = page.locator(card).get_by_text(PLAN[f"plan_{key}"], exact=True)
            await words.first.click()
        await self._take(shot.name, window, page.locator(card))
        await window.close()

    async def _window(self, width: int, height: int, *, dark: bool = False) -> Window:
        directory = self._floor.hub.directory
        return await self._browser.window(
            directory.url,
            directory.token,
            width=width,
            height=height,
            dark=dark,
            scale=SCALE,
        )

    async def _take(
        self, name: str, window: Window, place: Locator, *, framed: bool = False
    ) -> None:
        if name not in self._wanted:
            return
        # Icons come a moment later. The last pressed button is dark under the mouse.
        await window.page.mouse.move(0, 0)
        await window.page.wait_for_timeout(2500)
        file = self._folder / f"{name}.png"
        await place.screenshot(path=file)
        # The virtual workshop has no picture of its own among the integrations.
        window.forgive("/api/brands/")
        if window.complaints:
            raise RuntimeError(f"{name}: {window.complaints}")
        pack(file, framed=framed)
        print(f"{name}.png", flush=True)  # noqa: T201 - says how far it is


def pack(file: Path, *, framed: bool) -> None:
    """Shrink a picture, and give it an edge against a white page."""
    with Image.open(file) as taken:
        picture = taken.convert("RGB")
    if framed:
        # The outermost pixels may be half of what is behind.
        picture = ImageOps.expand(ImageOps.crop(picture, 2), border=1, fill=EDGE)
    # A form is little more than text on white.
    small = picture.quantize(64 if framed else 256, dither=Image.Dither.NONE)
    small.save(file, optimize=True)


async def take_all(folder: Path, wanted: AbstractSet[str]) -> None:
    """Set the demo up and take the wanted pictures."""
    layout = build_layout({})
    with TemporaryDirectory() as scratch:
        directory = prepare(Path(scratch) / "config")
        for key in USED_BEFORE:
            plug = f"sensor.machine_room_{key}_plug_power"
            remember(directory.path, plug, layout.machines[key])
        async with Hub(directory) as hub, Chromium() as browser:
            floor = ShopFloor(hub, layout)
            photographer = Photographer(floor, browser, folder, wanted)
            try:
                await floor.enter()
                await floor.until_measured()
                entry_id = await photographer.set_up()
                await floor.learn(entry_id)
                # The newcomer enters ducts in metric units; the English manual shows inches.
                await floor.client.socket.command(
                    "config/core/update", unit_system="us_customary"
                )
                await add_dashboards(floor)
                await floor.until("phase", "idle", timeout=40)
                for act, shots in ((work, AT_WORK), (go_wrong, IN_TROUBLE)):
                    if not wanted & {shot.name for shot in AT_WORK + IN_TROUBLE}:
                        break
                    await act(floor)
                    for shot in shots:
                        await photographer.take(shot)
            finally:
                await floor.leave()


def _read_arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="scripts/screenshots")
    parser.add_argument("folder", type=Path, nargs="?", default=".github/images")
    parser.add_argument(
        "--only", action="append", choices=NAMES, metavar="NAME", help=", ".join(NAMES)
    )
    return parser.parse_args()


if __name__ == "__main__":
    asked = _read_arguments()
    asked.folder.mkdir(parents=True, exist_ok=True)
    asyncio.run(take_all(asked.folder, frozenset(asked.only or NAMES)))
