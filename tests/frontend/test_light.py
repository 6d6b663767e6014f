"""A page fetches from Gatewright only what it shows, and once."""

from collections.abc import Callable
import json
from typing import Any

from playwright.async_api import Route, WebSocketRoute, expect

from benchmarks.footprint import ALL_CARDS, loaded

from . import shop
from .stage import CARDS, MADE, Stage, headline, tile

LOADED = """() => performance.getEntriesByType("resource").map(({ name }) => name)
  .filter((name) => name.includes("/gatewright_static/")).map((name) => name.split("/").at(-1))"""


class Asked(list[dict[str, Any]]):
    """What a page asked Home Assistant for."""

    def listen(self, route: WebSocketRoute) -> None:
        """Store every message to Home Assistant."""
        server = route.connect_to_server()

        def of_page(message: str | bytes) -> None:
            told = json.loads(message)
            self.extend(told if isinstance(told, list) else [told])
            server.send(message)

        route.on_message(of_page)

    def of(self, kind: str) -> list[dict[str, Any]]:
        """Return the messages of a kind."""
        return [each for each in self if each.get("type") == kind]

    def texts(self) -> list[str]:
        """Return the categories of our texts that were asked for."""
        return [
            each["category"]
            for each in self.of("frontend/get_translations")
            if each.get("integration") == "gatewright"
        ]


async def page_of(stage: Stage, path: str, *cards: dict[str, Any]) -> None:
    """Make a page with some cards."""
    command = stage.client.socket.command
    name = path.removeprefix("/")
    await command(
        "lovelace/dashboards/create", url_path=name, title=name, mode="storage"
    )
    views = [{"title": name, "cards": list(cards)}]
    await command("lovelace/config/save", url_path=name, config={"views": views})


async def test_a_page_subscribes_once_to_each_system(stage: Stage) -> None:
    """Whether its cards name the system or take the first one, in whichever order."""
    kinds = ("status", "map", "alarms", "status")
    ids = (None, shop.YARD, None, shop.HALL)
    some = [
        {"type": f"custom:gatewright-{kind}-card", **({"entry_id": i} if i else {})}
        for kind, i in zip(kinds, ids, strict=True)
    ]
    for path, cards in (("/gate-some", some), ("/gate-other", some[::-1])):
        await page_of(stage, path, *cards)
        asked = Asked()
        async with stage.page(None, width=1280) as window:
            await window.page.route_web_socket("**/api/websocket", asked.listen)
            await window.open(path)
            await expect(window.page.locator(".headline p:first-child")).to_have_count(
                4
            )
            systems = [each["entry_id"] for each in asked.of("gatewright/subscribe")]
            assert sorted(systems) == [shop.HALL, shop.YARD]
            # All are told what changes.
            await stage.work("run_machine", machine="planer")
            running = window.page.get_by_text("Planer is running with dust collection")
            await expect(running).to_have_count(3)
            await stage.work("stop_machine", machine="planer")
            await expect(running).to_have_count(0)
    await stage.rest()


async def test_a_page_fetches_what_it_shows(stage: Stage) -> None:
    """No other card's content, no texts of the plan or of alarms."""
    asked = Asked()
    async with stage.page(None) as window:
        await window.page.route_web_socket("**/api/websocket", asked.listen)
        await window.open(f"{CARDS}/status")
        await expect(headline(window)).to_be_visible()
        there = await window.page.evaluate(LOADED)
        assert "status-card.js" in there
        for other in ("map-card.js", "day-card.js", "record-card.js", "dashboard.js"):
            assert other not in there
        assert asked.texts() == ["config_panel"]
        # An alarm brings its words along, which are the repairs' own.
        await stage.work("break", part="planer_gate", fault="gate_unpowered")
        await stage.work("run_machine", machine="planer")
        alarm = window.page.locator(".alarm", has_text="Planer gate is offline")
        await expect(alarm).to_contain_text("it can move without warning")
        await expect(alarm).not_to_contain_text("Submit")
        await expect(alarm).not_to_contain_text("**")
        assert asked.texts() == ["config_panel", "issues"]
    await stage.rest()


async def test_an_alarm_without_its_words_is_told_all_the_same(stage: Stage) -> None:
    """And with them once they can be had."""
    refuse = """() => {
      const { connection } = findCard("alarms").hass;
      const { sendMessagePromise } = connection;
      connection.sendMessagePromise = (message) => message.category === "issues"
        ? Promise.reject({ code: 3 }) : sendMessagePromise.call(connection, message);
      window.answer = () => { connection.sendMessagePromise = sendMessagePromise; };
    }"""
    take = """(at) => findCard("alarms").feed._take({ now: at, alarms:
      [{ kind: "bin_full", part: "collector", at }] })"""
    async with stage.card("alarms") as window:
        await window.page.evaluate(refuse)
        await window.page.evaluate(take, 1.0)
        title = window.page.locator(".alarm h3")
        await expect(title).to_have_text("Dust collector needs attention")
        await window.page.evaluate("window.answer()")
        await window.page.evaluate(take, 2.0)
        await expect(title).to_have_text("The bin of Dust collector is full")


def failing(times: int) -> Callable[[Route], Any]:
    """Return a route that fails so many times, as when Home Assistant is offline."""
    left = [times]

    async def answer(route: Route) -> None:
        left[0] -= 1
        if left[0] >= 0:
            await route.abort()
        else:
            await route.continue_()

    return answer


async def test_a_card_that_cannot_be_fetched_comes_later(stage: Stage) -> None:
    """Meanwhile it says so, without a key or an error of the page's."""
    async with stage.page(None) as window:
        page = window.page
        await page.route("**/status-card.js*", failing(2))
        await window.open(f"{CARDS}/status")
        await page.wait_for_function("findCard('status')?.feed?.picture")
        text = await page.evaluate(
            "findCard('status').shadowRoot.querySelector('ha-card').innerText"
        )
        assert text.strip() in ("", "Loading …")
        await expect(page.locator(".note")).to_contain_text("Loading …")
        await expect(tile(window, "Planer")).to_be_visible()
        await expect(page.locator(".note")).to_be_hidden()
        await expect(page.get_by_text("Configuration error")).to_have_count(0)
        window.forgive("cannot be fetched yet", "ERR_FAILED")


async def test_views_of_the_dashboard_open_offline(
    stage: Stage,
) -> None:
    """The content of the other views is fetched soon after the first view is drawn."""
    suffix = shop.YARD[-6:].lower()
    async with stage.page(f"{MADE}/overview-{suffix}", width=1280) as window:
        page = window.page
        await expect(tile(window, "Planer").first).to_be_visible()
        await page.wait_for_function(
            f"(all) => {{ const there = ({LOADED})(); return all.every((name) => there.includes(name)); }}",
            arg=[module.name for module in loaded(*ALL_CARDS)],
        )
        await page.route("**/gatewright_static/**", lambda route: route.abort())
        await page.get_by_role("tab", name="Dust collector: Alarms").click()
        await expect(page.locator("gatewright-alarms-card .headline")).to_be_visible()
        await page.get_by_role("tab", name="Dust collector: History").click()
        await expect(page.locator("gatewright-record-card .sums")).to_be_visible()
