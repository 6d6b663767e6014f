"""A Home Assistant with pages of the cards, and user actions on them."""

from collections.abc import AsyncGenerator
from contextlib import AbstractAsyncContextManager, AsyncExitStack, asynccontextmanager
from types import TracebackType
from typing import Any, Self, override

import aiohttp
from playwright.async_api import Locator

from demo.hub import Hub
from demo.hub_client import HubClient

from . import shop
from .browser import Chromium, Window

CARDS = "/gate-cards"
MADE = "/gate-made"

FIND_CARD = """
window.findCard = (kind) => {
  const look = (root) => {
    for (const node of root.querySelectorAll("*")) {
      if (node.localName === `gatewright-${kind}-card`) return node;
      const found = node.shadowRoot && look(node.shadowRoot);
      if (found) return found;
    }
    return null;
  };
  return look(document);
};
"""


class Stage(AbstractAsyncContextManager["Stage"]):
    """Home Assistant, a worker in the virtual workshop, and the browser."""

    client: HubClient

    def __init__(self, hub: Hub, chromium: Chromium) -> None:
        """Use a running Home Assistant."""
        self.hub = hub
        self.chromium = chromium
        self._stack = AsyncExitStack()

    @override
    async def __aenter__(self) -> Self:
        await self.connect()
        await self._make_pages()
        states = self.client.states
        await states.until_state("sensor.dust_collector_phase", "idle", 30)
        return self

    @override
    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        await self._stack.aclose()

    async def connect(self) -> None:
        """Connect to Home Assistant, again after a restart."""
        await self._stack.aclose()
        self.client = await self._stack.enter_async_context(self.hub.client())

    async def _make_pages(self) -> None:
        command = self.client.socket.command
        card = "custom:gatewright-{}-card"
        views = [
            {
                "title": kind,
                "path": kind,
                "type": "panel",
                "cards": [{"type": card.format(kind), "entry_id": shop.YARD}],
            }
            for kind in ("map", "status", "day", "alarms", "record")
        ]
        hall = {"type": card.format("map"), "entry_id": shop.HALL}
        views.append(
            {"title": "hall", "path": "hall", "type": "panel", "cards": [hall]}
        )
        for path, config in (
            (CARDS, {"views": views}),
            (MADE, {"strategy": {"type": "custom:gatewright"}}),
        ):
            name = path.removeprefix("/")
            await command(
                "lovelace/dashboards/create", url_path=name, title=name, mode="storage"
            )
            await command("lovelace/config/save", url_path=name, config=config)

    @asynccontextmanager
    async def page(
        self, path: str | None, *, token: str | None = None, **how: Any
    ) -> AsyncGenerator[Window]:
        """Open a page, or an empty one; at the end it must be free of errors."""
        directory = self.hub.directory
        scripts = [FIND_CARD, *how.pop("scripts", ())]
        window = await self.chromium.window(
            directory.url, token or directory.token, scripts=scripts, **how
        )
        try:
            if path is not None:
                await window.open(path)
            yield window
            assert not window.complaints, window.complaints
        finally:
            await window.close()

    @asynccontextmanager
    async def card(self, kind: str, **how: Any) -> AsyncGenerator[Window]:
        """Open the page of one card of the yard, and wait until it shows something."""
        async with self.page(f"{CARDS}/{kind}", **how) as window:
            await window.page.wait_for_selector(".headline p, .sums")
            yield window

    async def work(self, action: str, **data: Any) -> None:
        """Do something in the virtual workshop."""
        await self.client.call(f"virtual_workshop.{action}", **data)

    async def rest(self) -> None:
        """Stop and repair everything, and wait until the yard is at rest.

        An alarm may stay active for a while: one that came back again and again does.
        """
        await self.work("mend")
        await self.work("attach_machine", machine="orbital_sander", attached=True)
        for machine in ("planer", "table_saw", "miter_saw", "jointer", "router_table"):
            await self.work("stop_machine", machine=machine)
        for switch in ("switch.bench_hood", "switch.floor_sweep"):
            await self.client.call("switch.turn_off", switch)
        states = self.client.states
        await states.until_state("sensor.dust_collector_phase", "idle", 30)

    async def busy(self) -> None:
        """Produce one of every state: served, unserved, requested, without hose."""
        await self.work("attach_machine", machine="orbital_sander", attached=False)
        await self.work("run_machine", machine="planer")
        await self.work("run_machine", machine="router_table")
        await self.client.call("switch.turn_on", "switch.floor_sweep")
        states = self.client.states
        await states.until_state("binary_sensor.planer_collecting", "on", 10)
        await states.until_state("binary_sensor.router_table_running", "on", 10)

    async def member(self, name: str, group: str) -> str:
        """Add a user to Home Assistant; return a token."""
        command = self.client.socket.command
        added = await command("config/auth/create", name=name, group_ids=[group])
        await command(
            "config/auth_provider/homeassistant/create",
            user_id=added["user"]["id"],
            username=name,
            password=name,
        )
        url = self.hub.directory.url
        client = {"client_id": f"{url}/"}
        async with aiohttp.ClientSession(raise_for_status=True) as session:
            flow = {
                **client,
                "handler": ["homeassistant", None],
                "redirect_uri": f"{url}/?auth_callback=1",
            }
            async with session.post(f"{url}/auth/login_flow", json=flow) as answer:
                step = await answer.json()
            who = {**client, "username": name, "password": name}
            path = f"{url}/auth/login_flow/{step['flow_id']}"
            async with session.post(path, json=who) as answer:
                step = await answer.json()
            grant = {
                **client,
                "grant_type": "authorization_code",
                "code": step["result"],
            }
            async with session.post(f"{url}/auth/token", data=grant) as answer:
                token: str = (await answer.json())["access_token"]
        return token

    def troubles(self) -> list[str]:
        """Return Home Assistant's complaints about us."""
        return [
            trouble.text
            for trouble in self.hub.troubles(all_starts=True)
            if "gatewright" in f"{trouble.logger} {trouble.text}".lower()
        ]


async def hold(window: Window, part: Locator) -> None:
    """Press a tile or a gate long enough."""
    box = await part.bounding_box()
    assert box is not None
    mouse = window.page.mouse
    await mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    await mouse.down()
    await window.page.wait_for_timeout(750)
    await mouse.up()


def tile(window: Window, name: str) -> Locator:
    """Return the tile of a machine."""
    return window.page.locator(".tile", has=window.page.get_by_text(name, exact=True))


def gate(window: Window, gate_id: str) -> Locator:
    """Return a gate on the map."""
    return window.page.locator(f'.gate[data-gate="{gate_id}"]')


def headline(window: Window) -> Locator:
    """Return the first sentence of a card."""
    return window.page.locator(".headline p:first-child")


__all__ = ["CARDS", "MADE", "Hub", "Stage", "gate", "headline", "hold", "tile"]
