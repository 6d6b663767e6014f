"""The live map to scale: what it shows, how it's chosen, who is offered to draw."""

from collections.abc import AsyncGenerator
from contextlib import asynccontextmanager
from pathlib import Path
import re
from typing import Any

import axe_playwright_python
from playwright.async_api import Locator, expect

from . import shop
from .browser import Window
from .stage import CARDS, MADE, Stage, headline, hold

AXE = Path(axe_playwright_python.__file__).parent / "axe.min.js"

AXE_RUN = """
async () => {
  const rules = { region: { enabled: false }, "page-has-heading-one": { enabled: false } };
  const result = await axe.run(findCard("map"), {
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"], rules,
  });
  return result.violations.map(({ id, nodes }) => [id, nodes.map(({ html, failureSummary }) => `${html}: ${failureSummary}`)]);
}
"""

ANIMATED = """
() => findCard("map").shadowRoot.querySelector(".live").shadowRoot.getAnimations().length
  + [...findCard("map").shadowRoot.querySelector(".live").shadowRoot.querySelectorAll("*")]
    .reduce((sum, node) => sum + node.getAnimations().length, 0)
"""


@asynccontextmanager
async def plan(stage: Stage, **how: Any) -> AsyncGenerator[Window]:
    """Open the yard's map, and its look to scale."""
    async with stage.card("map", **how) as window:
        await look(window, "Plan").click()
        await window.page.locator(".drawing .plan").wait_for()
        yield window


def look(window: Window, name: str) -> Locator:
    """Return the button of a look."""
    return window.page.locator(".looks").get_by_role("button", name=name, exact=True)


def gate(window: Window, gate_id: str) -> Locator:
    """Return a gate's tap target."""
    return window.page.locator(f'.gate-spot[data-gate="{gate_id}"]')


async def test_the_look_is_remembered_in_this_browser(stage: Stage) -> None:
    """And what nobody has drawn is shown as a schematic until it is asked for."""
    async with stage.card("map") as window:
        page = window.page
        await expect(look(window, "Schematic")).to_have_attribute(
            "aria-pressed", "true"
        )
        loaded = "performance.getEntriesByType('resource').map(({ name }) => name)"
        assert not any("/plan/" in name for name in await page.evaluate(loaded))
        await look(window, "Plan").click()
        await expect(page.locator(".drawing .duct")).to_have_count(5)
        assert await page.locator(".map:visible").count() == 0
        await window.open(f"{CARDS}/map")
        await expect(look(window, "Plan")).to_have_attribute("aria-pressed", "true")
        await expect(page.locator(".drawing .duct")).to_have_count(5)
        await look(window, "Schematic").click()
        await expect(page.locator(".map .gate").first).to_be_visible()
        assert await page.locator(".drawing").count() == 0


async def test_what_runs_is_drawn_and_said(stage: Stage) -> None:
    async with plan(stage, width=1200) as window:
        page = window.page
        assert await page.locator(".drawing .stream").count() == 0
        await expect(page.locator(".in-use .tile")).to_have_count(0)
        await stage.work("run_machine", machine="planer")
        await expect(headline(window)).to_have_text(
            "Planer is running with dust collection"
        )
        tile = page.locator('.in-use .tile[data-machine="planer"]')
        await expect(tile).to_have_attribute("data-tone", "good")
        machine = page.locator('.spot[data-machine="planer"]')
        await expect(machine).to_have_attribute(
            "aria-label", re.compile("Planer: Running")
        )
        await expect(page.locator(".items .item.machine.running")).to_have_count(1)
        # What flows, and how it stands, is written and not only colored.
        flow = page.locator(".names .figure", has_text="m³/h")
        await expect(flow).to_have_count(1)
        assert await page.locator(".labels .label", has_text="m/s").count() >= 2
        await expect(
            page.locator('.labels .label[data-tone="too_little"]').first
        ).to_contain_text("too slow")
        assert await page.locator(".drawing .stream").count() >= 3
    await stage.rest()


async def test_a_gate_is_seen_to_move_and_can_be_held(stage: Stage) -> None:
    async with plan(stage, width=1200) as window:
        page = window.page
        planer = gate(window, "planer_gate")
        await expect(planer).to_have_attribute("aria-label", "Planer gate: closed")
        seen = page.evaluate(
            """() => new Promise((resolve) => {
              const root = findCard("map").shadowRoot.querySelector(".live").shadowRoot;
              const look = () => {
                const text = root.querySelector(".gate.moving .figure")?.textContent;
                if (!text) return;
                observer.disconnect();
                resolve(text);
              };
              const observer = new MutationObserver(look);
              observer.observe(root, { attributes: true, subtree: true });
            })"""
        )
        box = await planer.bounding_box()
        assert box is not None
        await page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        await page.mouse.down()
        assert await seen == "opening"
        await page.mouse.up()
        await expect(planer).to_have_attribute("aria-label", "Planer gate: open")
        await expect(page.locator(".gates .gate.open").first).to_be_attached()
        await planer.click()
        await expect(page.locator(".hint")).to_contain_text("Planer gate: open")
        await stage.client.call("cover.close_cover", "cover.planer_gate")
        await expect(planer).to_have_attribute("aria-label", "Planer gate: closed")


async def test_a_tap_on_a_machine_offers_its_tile(stage: Stage) -> None:
    async with plan(stage, width=1200) as window:
        page = window.page
        await page.locator('.spot[data-machine="bench"]').click()
        tile = page.locator(".in-use .tile")
        await expect(tile).to_have_count(1)
        await expect(tile).to_be_focused()
        await hold(window, tile)
        await stage.client.states.until_state("switch.bench_hood", "on", 10)
        await expect(tile).to_have_attribute("aria-pressed", "true")
        await hold(window, tile)
        await stage.client.states.until_state("switch.bench_hood", "off", 10)
    await stage.rest()


async def test_on_a_phone_it_is_read(stage: Stage) -> None:
    """Turned upright, nothing moves by accident, no wider than the screen."""
    async with plan(stage, width=360, height=800, touch=True) as window:
        page = window.page
        assert await page.locator(".gate-spot").count() == 0
        assert await page.evaluate("document.documentElement.scrollWidth") <= 360
        box = await page.locator(".drawing").bounding_box()
        assert box is not None
        assert box["width"] <= 360
        small = """() => [...findCard("map").shadowRoot.querySelector(".live").shadowRoot.querySelectorAll(".names .name")]
          .filter((node) => node.getClientRects().length)
          .map((node) => node.getBoundingClientRect().height)"""
        heights = await page.evaluate(small)
        assert heights
        assert min(heights) >= 12, heights


async def test_on_a_phone_gates_are_moved_from_a_list(stage: Stage) -> None:
    """What is tapped on a small drawing is listed below it, each large enough for a finger."""
    async with plan(stage, width=360, height=800, touch=True) as window:
        page = window.page
        await page.locator('.spot[data-machine="band_saw"]').click()
        listed = page.locator(".in-use .tile")
        await expect(listed.locator(".name")).to_have_text(
            ["Band saw", "Lower gate", "Upper gate"]
        )
        upper = listed.filter(has_text="Upper gate")
        await expect(upper).to_contain_text("closed")
        box = await upper.bounding_box()
        assert box is not None
        assert box["height"] >= 44
        await hold(window, upper)
        await stage.client.states.until_state("cover.upper_gate", "open", 10)
        await expect(upper).to_contain_text("open")
        await hold(window, upper)
        await stage.client.states.until_state("cover.upper_gate", "closed", 10)
        # Tapped again, it is no longer listed; what serves no machine has its own place.
        await page.locator('.spot[data-machine="band_saw"]').click()
        await expect(listed).to_have_count(0)
        crowd = page.locator(".crowd").first
        names = (await crowd.get_attribute("aria-label") or "").partition(":")[0]
        await crowd.evaluate("(node) => node.click()")
        await expect(listed.locator(".name")).to_have_text(names.split(", "))
    await stage.rest()


async def test_no_name_lies_over_another_machine(stage: Stage) -> None:
    """Nor over another name, nor beyond the drawing."""
    laid = """() => {
      const { shadowRoot: root } = findCard("map").shadowRoot.querySelector(".live");
      const box = (node) => { const { left, top, right, bottom } = node.getBoundingClientRect(); return [left, top, right, bottom]; };
      const shown = (nodes) => [...nodes].filter((node) => node.getClientRects().length);
      return {
        names: shown(root.querySelectorAll(".names .name")).map((node) => [node.textContent, box(node)]),
        items: shown(root.querySelectorAll(".item .box")).map(box),
        drawing: box(root.querySelector(".drawing")),
      };
    }"""
    for width in (360, 390, 820):
        async with plan(stage, width=width, height=900, touch=True) as window:
            found = await window.page.evaluate(laid)
        names = dict(found["names"])
        assert len(names) >= 8
        edge = found["drawing"]
        for name, box in names.items():
            assert edge[0] - 1 <= box[0], name
            assert box[2] <= edge[2] + 1, name
            others = [other for key, other in names.items() if key != name]
            assert not [other for other in others if overlap(box, other) > 4], name
        hidden = [
            name
            for name, box in names.items()
            if any(overlap(box, item) > 4 for item in found["items"])
        ]
        # Where there is no other place at all.
        assert len(hidden) <= (1 if width < 600 else 0), hidden


def overlap(one: list[float], other: list[float]) -> float:
    """Return how deep two boxes `[left, top, right, bottom]` lie in each other (px)."""
    across = min(one[2], other[2]) - max(one[0], other[0])
    down = min(one[3], other[3]) - max(one[1], other[1])
    return min(across, down)


async def test_axe_finds_nothing_and_still_means_still(stage: Stage) -> None:
    await stage.busy()
    for dark in (False, True):
        async with plan(stage, width=1000, dark=dark, still=True) as window:
            page = window.page
            await page.locator(".in-use .tile").first.wait_for()
            await page.evaluate(AXE.read_text("utf-8"))
            assert await page.evaluate(AXE_RUN) == []
            assert await page.evaluate(ANIMATED) == 0
    async with plan(stage, width=1000) as window:
        await window.page.locator(".stream").first.wait_for(state="attached")
        assert await window.page.evaluate(ANIMATED) > 0
    await stage.rest()


async def test_a_shop_without_ducts_is_offered_to_draw_them(stage: Stage) -> None:
    """By a way to the dashboard's own view of the plan, for those who may draw."""
    view = f"map-{shop.HALL[-6:].lower()}"
    async with stage.page(f"{MADE}/{view}") as window:
        page = window.page
        offer = page.get_by_role("button", name="Draw the ducts")
        await offer.wait_for()
        assert await page.locator(".looks .choice:visible").count() == 0
        await offer.click()
        await page.wait_for_url(f"**{MADE}/plan-{shop.HALL[-6:].lower()}")
        await page.locator(".editor").wait_for()
    member = await stage.member("looker", "system-users")
    async with stage.page(f"{MADE}/{view}", token=member) as window:
        await window.page.locator(".headline p").first.wait_for()
        assert await window.page.locator(".looks .draw:visible").count() == 0
