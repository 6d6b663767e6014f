"""The demo's workshop, drawn from scratch in a browser, with Home Assistant behind it."""

import re
from typing import Any

from playwright.async_api import Page, expect
import pytest

from demo.hub import Hub
from demo.hub_client import HubClient
from tests.plan.shops import demo_ducts, demo_places

from ..browser import Chromium
from . import page as pages, workshop
from .board import plan

MOST_ACTIONS = 60


class Hand:
    """A user who draws, whose presses, drags and releases are counted."""

    def __init__(self, page: Page) -> None:
        """Begin with no action."""
        self.page = page
        self.actions = 0

    async def press(self, name: str) -> None:
        """Press a button of the editor."""
        self.actions += 1
        await self.page.get_by_role("button", name=name, exact=True).first.click()

    async def tap(self, x: float, y: float) -> None:
        """Tap a place (m) of the drawing."""
        self.actions += 1
        await pages.tap(self.page, x, y)

    async def carry(self, name: str, x: float, y: float) -> None:
        """Drag something from the list to a place (m) of the drawing."""
        self.actions += 1
        row = self.page.locator(".placeable", has_text=name).first
        await row.scroll_into_view_if_needed()
        box = await row.bounding_box()
        assert box is not None
        mouse = self.page.mouse
        await mouse.move(box["x"] + 10, box["y"] + 10)
        await mouse.down()
        await mouse.move(*await pages.spot(self.page, x, y), steps=4)
        await mouse.up()

    async def drag(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Drag over the drawing (m)."""
        self.actions += 1
        await pages.drag(self.page, start, end)

    # The keyboard is no pointer.

    async def choose(self, part: str) -> None:
        """Choose a part in the list, by its id."""
        row = self.page.locator(f'.piece[data-id="{part}"]')
        await row.focus()
        await row.press("Enter")

    async def type(self, label: str, value: object) -> None:
        """Type a figure into a field, or choose in one."""
        field = self.page.locator(".part").get_by_label(label, exact=True)
        if await field.evaluate("(node) => node.localName") == "select":
            await field.select_option(str(value))
        else:
            await field.fill(str(value))
            await field.press("Enter")


async def draw_workshop(page: Page) -> Hand:
    """Draw the demo's workshop from scratch."""
    hand = Hand(page)
    # Everything that was laid out is removed first.
    await page.locator(".plan").focus()
    await page.keyboard.press("Control+a")
    await page.keyboard.press("Delete")
    assert (await pages.doc(page))["items"] == []
    await hand.press("Room")
    await page.evaluate(
        "card._editor.scene.origin = { x: -0.5, y: -0.5 }, card._editor.scene.scale = 1,"
        "card._editor.scene.zoom(card._editor.scene._size.width / 19.5),"
        "card._editor.scene.origin = { x: -0.5, y: -0.5 }, card._editor.scene._look()"
    )
    await hand.drag((0, 0), (18, 7.5))
    await hand.carry("Drawn collector", 1, 2.5)
    for machine, (_, _, at) in workshop.MACHINES.items():
        await hand.carry(workshop.titled(machine), *at)
    await hand.press("Duct")
    # The main: from the far end to the collector.
    for x, y in ((13.0, 4.0), (2.0, 4.0), (2.0, 2.5)):
        await hand.tap(x, y)
    await hand.tap(1, 2.5)
    # Its branches, each from its machine square to it.
    for machine, x in (
        ("planer", 4.0),
        ("table_saw", 6.5),
        ("jointer", 6.5),
        ("band_saw", 9.5),
        ("drum_sander", 9.5),
    ):
        await hand.tap(*workshop.MACHINES[machine][2])
        await hand.tap(x, 4)
    await hand.tap(*workshop.MACHINES["miter_saw"][2])
    await hand.tap(13, 4)
    # The bench's main: from its far end to the beginning of the main.
    await hand.tap(16, 3)
    await hand.tap(16, 4)
    await hand.tap(13, 4)
    await hand.press("Gate")
    for x, y in ((9.5, 5.9), (12.3, 6.0), (12.5, 4.0)):
        await hand.tap(x, y)
    for _ in range(5):
        await hand.tap(16, 3.1)
    return hand


async def test_it_is_all_on_one_sheet(hub: Hub, chromium: Chromium) -> None:
    """With every duct, what each machine gets, the sizing table and what to buy."""
    async with plan(hub, chromium, "typed") as window:
        page = window.page
        reported = await page.evaluate(
            """async () => {
              const names = performance.getEntriesByType("resource").map(({ name }) => name);
              const { paper } = await import(names.find((name) => name.endsWith("/plan/paper.js")));
              const { session, model } = card._editor;
              const sized = await session.call("size", { document: model.doc, keep: true });
              const frame = document.createElement("iframe");
              document.body.append(frame);
              paper(frame.contentDocument, card._editor, sized);
              const { documentElement: root, body } = frame.contentDocument;
              return [body.innerText, `<!doctype html>${root.outerHTML}`];
            }"""
        )
        for words in (
            "Bench main",
            "Sizing table",
            "pipe 160 mm",
            "Each machine alone",
        ):
            assert words in reported[0]
        blank = await window.context.new_page()
        await blank.goto(f"{hub.directory.url}/manifest.json")
        await blank.set_content(reported[1])
        pdf = await blank.pdf(prefer_css_page_size=True)
        assert len(re.findall(rb"/Type /Page\b", pdf)) == 1


async def test_other_pages_load_nothing_of_it(hub: Hub, chromium: Chromium) -> None:
    loaded = "performance.getEntriesByType('resource').map(({ name }) => name).filter((name) => name.includes('/gatewright_static/'))"
    async with plan(hub, chromium, "typed") as window:
        page = window.page
        assert any("/plan/" in name for name in await page.evaluate(loaded))
        await window.open("/profile")
        await page.wait_for_function(
            "customElements.get('gatewright-plan-card') !== undefined"
        )
        names = await page.evaluate(loaded)
        assert any(name.endswith("/plan-card.js") for name in names)
        assert [name for name in names if "/plan/" in name] == []


async def parts(page: Page, kind: str) -> dict[str, dict[str, Any]]:
    """Return the drawn parts of a list by their names, or by their bindings."""
    found = await pages.doc(page)
    return {
        part.get("bound") or part.get("name") or part["id"]: part
        for part in found[kind]
    }


async def figures(client: HubClient, entry_id: str, machine: str) -> dict[str, Any]:
    """Return the plan's figures with one machine running."""
    command = client.socket.command
    drawn = await command("gatewright/plan/get", entry_id=entry_id)
    [item] = [
        i["id"] for i in drawn["document"]["items"] if i.get("bound", "") == machine
    ]
    found: dict[str, Any] = await command(
        "gatewright/plan/compute", entry_id=entry_id, running=[item]
    )
    assert found["available"], found
    return found


async def test_the_editor_opens_on_a_system(hub: Hub, chromium: Chromium) -> None:
    """On ducts that were entered by forms, laid out by the program."""
    async with plan(hub, chromium, "typed", width=1024, height=768) as window:
        page = window.page
        await expect(page.locator(".ducts .duct")).to_have_count(len(demo_ducts()))
        await expect(page.locator(".status")).to_have_text("Same as in use")
        await page.get_by_role("tab", name="Airflow").click()
        await page.locator(".toggles .tile").first.click()
        await expect(page.locator(".air-panel .verdict")).to_be_visible()
        await page.get_by_role("button", name="Check all machines").click()
        await expect(page.locator(".alone .tile")).to_have_count(len(workshop.MACHINES))
        await page.get_by_role("tab", name="Sizing").click()
        await page.get_by_role("button", name="Suggest diameters").click()
        await expect(page.locator(".size-panel [role=status]")).to_contain_text(".")


async def type_figures(page: Page, hand: Hand) -> None:
    """Type what no drawing shows: diameters, hoses, and measurements."""
    await hand.choose((await parts(page, "items"))["c1"]["id"])
    await hand.type("Height of the port (m)", 2.4)
    drawn = await parts(page, "ducts")
    await hand.choose(drawn["Main"]["id"])
    await hand.type("Diameter (mm)", 150)
    await page.get_by_label("Split at (m from its start)").fill("9")
    await page.get_by_role("button", name="Split", exact=True).press("Enter")
    await hand.choose((await parts(page, "ducts"))["Main 3"]["id"])
    await hand.type("Diameter (mm)", 160)
    await hand.type("Elbows", "five_piece")
    for duct, data in demo_ducts().items():
        if duct.startswith("main"):
            continue
        name = {"bench_main": "Main 2"}.get(duct, workshop.titled(duct))
        await hand.choose(drawn[name]["id"])
        await hand.type("Diameter (mm)", round(data["diameter"] * 1000))
        measured = page.locator(".part summary", has_text="Measured values")
        await measured.press("Enter")
        await hand.type("Measured length (m)", data["length"])
        await hand.type("Entry angle (°)", data["entry_angle"])
        for angle in (90, 45):
            count = sum(e["count"] for e in data["elbows"] if e["angle"] == angle)
            await hand.type(f"Elbows of {angle}°", count)
    gates = await parts(page, "gates")
    for gate, place in demo_places().items():
        await hand.choose(gates[f"drawn{gate}"]["id"])
        await hand.type("Sits", "start")
        await hand.type("Opening", place["hood"])
        for key, label, unit in (
            ("port_diameter", "Port diameter (mm)", 1000),
            ("hose_length", "Hose length (m)", 1),
            ("hose_diameter", "Hose diameter (mm)", 1000),
            ("drop_length", "Rigid pipe length (m)", 1),
            ("drop_diameter", "Rigid pipe diameter (mm)", 1000),
            ("drop_elbows", "Elbows in the rigid pipe", 1),
            ("entry_angle", "Entry angle (°)", 1),
        ):
            if key in place:
                await hand.type(label, round(place[key] * unit, 3))
        if "hose_state" in place:
            await hand.type("Hose layout", place["hose_state"])


async def test_the_workshop_is_drawn_from_nothing(hub: Hub, chromium: Chromium) -> None:
    """With few actions; as the forms' ducts it collects, and is applied in one step."""
    async with hub.client() as client, plan(hub, chromium, "drawn") as window:
        page = window.page
        hand = await draw_workshop(page)
        found = await pages.doc(page)
        assert len(found["items"]) == len(workshop.MACHINES) + 1
        assert len(found["gates"]) == len(demo_places())
        assert all(gate["bound"] and gate["duct"] for gate in found["gates"])
        assert hand.actions <= MOST_ACTIONS
        await type_figures(page, hand)
        await expect(page.locator(".status")).to_have_text("Draft saved, not applied")
        await expect(page.locator('.problem[data-tone="bad"]')).to_have_count(0)
        for machine in workshop.MACHINES:
            drawn, typed = [
                (await figures(client, entry, prefix + machine))["machines"]
                for entry, prefix in (
                    (workshop.DRAWN, "drawn"),
                    (workshop.TYPED_IN, "typed"),
                )
            ]
            [flow] = [one["flow"] for one in drawn.values() if one["running"]]
            [wanted] = [one["flow"] for one in typed.values() if one["running"]]
            assert flow == pytest.approx(wanted, rel=0.01), machine
        await hand.press("Apply")
        dialog = page.get_by_role("dialog", name="Use this plan?")
        rows = dialog.locator(".preview > li")
        await expect(rows).to_have_count(len(demo_ducts()) + len(demo_places()))
        await dialog.get_by_role("button", name="Apply").click()
        await expect(page.locator(".status")).to_have_text("Same as in use")
        stored = await client.socket.command(
            "gatewright/plan/get", entry_id=workshop.DRAWN
        )
        assert len(stored["ducts"]) == len(demo_ducts())
        assert not stored["differs"]
