"""The cards as their users see them: room for texts and fingers, and one language."""

import asyncio
import json
from typing import Any

from playwright.async_api import WebSocketRoute, expect

from . import shop
from .stage import CARDS, MADE, Stage, headline, tile

FINGER = 44
"""The least size of a tap target [CSS px]."""

RECORD = (
    "collected_share_day",
    "collected_share_week",
    "collected_share_month",
    "shop_run_time",
    "not_collecting_time",
)
"""What the view of the record shows of the collector's entities."""

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


def late_texts(route: WebSocketRoute) -> None:
    """Delay the texts of the cards, and nothing else."""
    server = route.connect_to_server()
    asked: set[int] = set()

    def of_page(message: str | bytes) -> None:
        reported = json.loads(message)
        for each in reported if isinstance(reported, list) else [reported]:
            if each.get("category") == "config_panel":
                asked.add(each["id"])
        server.send(message)

    async def of_server(message: str | bytes) -> None:
        reported = json.loads(message)
        every = reported if isinstance(reported, list) else [reported]
        if late := [each for each in every if each.get("id") in asked]:
            route.send(json.dumps([each for each in every if each not in late]))
            await asyncio.sleep(1.5)
            message = json.dumps(late)
        route.send(message)

    route.on_message(of_page)
    server.on_message(of_server)


async def test_a_card_shows_nothing_before_its_texts(busy: Stage) -> None:
    script = """localStorage.selectedLanguage = '"de"';"""
    async with busy.page(None, scripts=[script]) as window:
        await window.page.route_web_socket("**/api/websocket", late_texts)
        await window.open(f"{CARDS}/map")
        await window.page.wait_for_function("findCard('map')?.feed?.picture")
        shown = "findCard('map').shadowRoot.querySelector('ha-card').innerText.trim()"
        drawn = "findCard('map').t !== null"
        text, ready = await window.page.evaluate(f"[{shown}, {drawn}]")
        assert not ready
        assert text == ""
        await expect(headline(window)).to_have_text("Router table läuft ohne Absaugung")


async def test_the_card_picker_speaks_its_users_language(stage: Stage) -> None:
    """On a page without a card of ours; the picker asks for the names only once."""
    script = """localStorage.selectedLanguage = '"fr"';"""
    async with stage.page("/config/dashboard", scripts=[script]) as window:
        names = "(window.customCards ?? []).map(({ name }) => name)"
        await window.page.wait_for_function(
            f"{names}.includes('Synoptique Gatewright')"
        )
        assert "Aspiration" in await window.page.evaluate(
            "window.customStrategies.map(({ name }) => name)"
        )


async def test_texts_that_did_not_come_are_asked_for_again(stage: Stage) -> None:
    """And a language may have more plurals than English."""
    async with stage.card("status") as window:
        reported = await window.page.evaluate(
            """async () => {
              const urls = performance.getEntriesByType("resource").map(({ name }) => name);
              const { load, translator } = await import(urls.find((name) => name.endsWith("/i18n.js")));
              const start = "component.gatewright.config_panel.";
              const texts = { "language.code": "pl", "x.n_one": "{count} A", "x.n_few": "{count} B", "x.n_other": "{count} C" };
              const resources = Object.fromEntries(Object.entries(texts).map(([key, text]) => [start + key, text]));
              const asked = [];
              let down = true;
              const sendMessagePromise = async ({ language }) => {
                asked.push(language);
                if (down) throw new Error("no connection");
                return { resources };
              };
              const connection = { sendMessagePromise };
              const first = await load(connection, "pl");
              const without = translator("pl");
              down = false;
              const both = await Promise.all([load(connection, "pl"), load(connection, "pl")]);
              const again = await load(connection, "pl");
              const t = translator("pl");
              return { first, without, both, again, asked, forms: [1, 3, 5].map((count) => t("x.n", { count })), none: t("x.m", { count: 1 }) ?? null };
            }"""
        )
    assert reported == {
        "first": False,
        "without": None,
        "both": [True, True],
        "again": False,
        "asked": ["pl", "pl"],
        "forms": ["1 A", "3 B", "5 C"],
        "none": None,
    }


async def test_the_dashboard_speaks_its_users_language_at_once(busy: Stage) -> None:
    """Even if its texts are slow: the views are made only once."""
    suffix = shop.YARD[-6:].lower()
    for language, title in (("de", "Übersicht"), ("fr", "Aperçu")):
        script = f"localStorage.selectedLanguage = {json.dumps(json.dumps(language))};"
        async with busy.page(None, width=1280, scripts=[script]) as window:
            await window.page.route_web_socket("**/api/websocket", late_texts)
            await window.open(f"{MADE}/overview-{suffix}")
            tab = window.page.get_by_text(f"Dust collector: {title}", exact=True)
            await expect(tab.first).to_be_visible()


async def test_no_name_of_the_record_is_cut_off_on_a_phone(busy: Stage) -> None:
    """Even with everything enabled: three shares differ in their last word."""
    ids = await busy.client.entity_ids("gatewright")
    await busy.client.enable([ids[f"{shop.YARD}_{key}"] for key in RECORD])
    suffix = shop.YARD[-6:].lower()
    async with busy.page(f"{MADE}/record-{suffix}", width=360, height=740) as window:
        page = window.page
        await expect(page.get_by_text("Collected share this month")).to_be_visible()
        reported: list[tuple[str, bool]] = await page.evaluate(CUT_TILES)
        assert len(reported) >= 5
        assert [words for words, cut in reported if cut] == []


async def test_what_happened_is_reported_with_its_reason(busy: Stage) -> None:
    suffix = shop.YARD[-6:].lower()
    async with busy.page(f"{MADE}/alarms-{suffix}", width=1280) as window:
        logbook = window.page.locator("hui-logbook-card")
        await expect(logbook).to_contain_text("started because")


async def test_a_bin_that_is_full_will_not_soon_be_full(busy: Stage) -> None:
    reported: list[dict[str, Any]] = [
        {"kind": kind, "part": "collector", "at": 1.0}
        for kind in ("bin_nearly_full", "bin_full")
    ]
    async with busy.card("alarms", width=360) as window:
        for alarms, words in (
            (reported[:1], ["The bin of Dust collector is nearly full"]),
            (reported, ["The bin of Dust collector is full"]),
        ):
            await window.page.evaluate(
                "(alarms) => findCard('alarms').feed._take({ now: 1, alarms })", alarms
            )
            await expect(window.page.locator(".alarm h3")).to_have_text(words)


async def test_a_fire_comes_before_all_else(busy: Stage) -> None:
    """However long the other alarms have been active; those aren't announced again."""
    reported: list[dict[str, Any]] = [
        {"kind": kind, "part": "collector", "at": float(at)}
        for at, kind in enumerate(("service_due", "collector_not_starting"))
    ]
    fire = {"kind": "fire_shutdown", "part": "collector", "at": 3.0}
    async with busy.card("alarms", width=360) as window:
        page = window.page
        take = "(alarms) => findCard('alarms').feed._take({ now: 3, alarms })"
        heads = page.locator(".alarm h3")
        await page.evaluate(take, reported)
        starting = "Dust collector doesn't start"
        await expect(heads).to_have_text(
            [starting, "Dust collector is due at Dust collector"]
        )
        await page.evaluate(
            """() => {
              const list = findCard("alarms").shadowRoot.querySelector(".alarms");
              window.moved = 0;
              new MutationObserver((changes) => {
                for (const { addedNodes } of changes) window.moved += addedNodes.length;
              }).observe(list, { childList: true });
            }"""
        )
        await page.evaluate(take, [*reported, fire])
        first = "Fire alarm shutdown of Dust collector"
        await expect(heads).to_have_text(
            [first, starting, "Dust collector is due at Dust collector"]
        )
        assert await page.evaluate("window.moved") == 1


async def test_what_is_read_aloud_does_not_count_seconds(busy: Stage) -> None:
    async with busy.card("map", width=360) as window:
        page = window.page
        await expect(tile(window, "Planer")).to_have_attribute("data-tone", "good")
        await page.evaluate(
            "findCard('map').feed._take({ now: 1, system: { phase: 'shutting_off', until: 9 } })"
        )
        collector = page.locator(".collector")
        await expect(collector).to_contain_text("Shut-off delay, ")
        await expect(collector).to_have_attribute(
            "aria-label", "Dust collector: Shut-off delay"
        )
        alarms = page.get_by_role("list", name="Alarms of Dust collector")
        await expect(alarms).to_be_visible()
        sweep = tile(window, "Floor sweep")
        await expect(sweep).to_contain_text("left")
        await expect(sweep).to_have_attribute("aria-label", "Floor sweep: Collecting")
