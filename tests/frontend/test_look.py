"""The cards as their user meets them: room for the words and the finger, and one language."""

import asyncio
import json
from typing import Any

from playwright.async_api import Route, expect

from . import shop
from .stage import CARDS, MADE, Stage, tile

FINGER = 44
"""How large something has to be to be met by a finger [CSS px]."""

SMALL = """
([kind, least]) => [...findCard(kind).shadowRoot.querySelectorAll("button")]
  .filter((button) => button.offsetParent)
  .map((button) => [button.textContent, button.offsetWidth, button.offsetHeight])
  .filter(([, width, height]) => width < least || height < least)
"""

CUT_TILES = """
() => {
  const found = [];
  const look = (root) => {
    for (const node of root.querySelectorAll("*")) {
      if (node.matches('ha-tile-info > [slot="primary"]')) {
        found.push([node.textContent.trim(), node.scrollWidth > node.clientWidth + 1]);
      }
      if (node.shadowRoot) look(node.shadowRoot);
    }
  };
  look(document);
  return found;
}
"""


async def test_everything_is_large_enough_for_a_finger(busy: Stage) -> None:
    async with busy.page(None, width=360) as window:
        for kind, there in (
            ("map", ".gate"),
            ("status", "button.tile"),
            ("day", ".ask button"),
            ("record", ".tables button"),
        ):
            await window.open(f"{CARDS}/{kind}")
            await window.page.locator(there).first.wait_for()
            assert await window.page.evaluate(SMALL, [kind, FINGER]) == [], kind


async def test_the_dashboard_speaks_its_users_language_at_once(busy: Stage) -> None:
    """Also where its words are slow to come: the views are made but once."""
    suffix = shop.YARD[-6:].lower()

    async def later(route: Route) -> None:
        await asyncio.sleep(1.5)
        await route.continue_()

    for language, title in (("de", "Übersicht"), ("fr", "Aperçu")):
        script = f"localStorage.selectedLanguage = {json.dumps(json.dumps(language))};"
        async with busy.page(None, scripts=[script]) as window:
            await window.page.route(f"**/i18n/{language}.js", later)
            await window.open(f"{MADE}/overview-{suffix}")
            tab = window.page.get_by_text(f"Dust collector: {title}", exact=True)
            await expect(tab.first).to_be_visible()


async def test_no_name_of_the_record_is_cut_off_on_a_phone(busy: Stage) -> None:
    """Three kinds of coverage differ in their last word."""
    suffix = shop.YARD[-6:].lower()
    async with busy.page(f"{MADE}/record-{suffix}", width=360, height=740) as window:
        page = window.page
        await expect(page.get_by_text("Coverage this month")).to_be_visible()
        told: list[tuple[str, bool]] = await page.evaluate(CUT_TILES)
        assert len(told) >= 5
        assert [words for words, cut in told if cut] == []


async def test_what_happened_is_told_with_its_reason(busy: Stage) -> None:
    suffix = shop.YARD[-6:].lower()
    async with busy.page(f"{MADE}/alarms-{suffix}", width=1280) as window:
        logbook = window.page.locator("hui-logbook-card")
        await expect(logbook).to_contain_text("started because")


async def test_a_bin_that_is_full_will_not_soon_be_full(busy: Stage) -> None:
    told: list[dict[str, Any]] = [
        {"kind": kind, "part": "collector", "at": 1.0}
        for kind in ("bin_nearly_full", "bin_full")
    ]
    async with busy.card("alarms", width=360) as window:
        for alarms, words in (
            (told[:1], ["The bin of Dust collector will soon be full"]),
            (told, ["The bin of Dust collector is full"]),
        ):
            await window.page.evaluate(
                "(alarms) => findCard('alarms').feed._take({ now: 1, alarms })", alarms
            )
            await expect(window.page.locator(".alarm h3")).to_have_text(words)


async def test_a_fire_comes_before_all_else(busy: Stage) -> None:
    """However long the other alarms have been standing; those are not told again."""
    told: list[dict[str, Any]] = [
        {"kind": kind, "part": "collector", "at": float(at)}
        for at, kind in enumerate(("service_due", "collector_not_starting"))
    ]
    fire = {"kind": "fire_shutdown", "part": "collector", "at": 3.0}
    async with busy.card("alarms", width=360) as window:
        page = window.page
        take = "(alarms) => findCard('alarms').feed._take({ now: 3, alarms })"
        heads = page.locator(".alarm h3")
        await page.evaluate(take, told)
        starting = "Dust collector does not start"
        await expect(heads).to_have_text([starting, "Dust collector is due"])
        await page.evaluate(
            """() => {
              const list = findCard("alarms").shadowRoot.querySelector(".alarms");
              window.moved = 0;
              new MutationObserver((changes) => {
                for (const { addedNodes } of changes) window.moved += addedNodes.length;
              }).observe(list, { childList: true });
            }"""
        )
        await page.evaluate(take, [*told, fire])
        first = "Emergency stop of Dust collector"
        await expect(heads).to_have_text([first, starting, "Dust collector is due"])
        assert await page.evaluate("window.moved") == 1


async def test_what_is_read_aloud_does_not_count_seconds(busy: Stage) -> None:
    async with busy.card("map", width=360) as window:
        page = window.page
        await expect(tile(window, "Planer")).to_have_attribute("data-tone", "good")
        await page.evaluate(
            "findCard('map').feed._take({ now: 1, system: { phase: 'run_on', until: 9 } })"
        )
        collector = page.locator(".collector")
        await expect(collector).to_contain_text("Run-on, ")
        await expect(collector).to_have_attribute(
            "aria-label", "Dust collector: Run-on"
        )
        alarms = page.get_by_role("list", name="Alarms of Dust collector")
        await expect(alarms).to_be_visible()
        sweep = tile(window, "Floor sweep")
        await expect(sweep).to_contain_text("left")
        await expect(sweep).to_have_attribute("aria-label", "Floor sweep: Air on")
