"""The system check in a real browser, from the first page to the last."""

import asyncio
from collections.abc import AsyncGenerator
from typing import Any

from playwright.async_api import JSHandle
import pytest
import pytest_asyncio
import pytest_socket

from custom_components.gatewright.core.commissioning.task import Ask
from demo.hub import Hub
from demo.hub_client import HubClient
from demo.hub_directory import prepare

from . import annex, shop
from .browser import SETTINGS_BUTTON, Chromium, Window

PHONE: dict[str, Any] = {"width": 390, "height": 844}

_CHOOSE = "(menu, step) => menu._handleStep({ currentTarget: { step } })"
_TURNED = "([dialog, last]) => dialog._step !== last && dialog._step"

HANDS: dict[Ask, tuple[str, str] | None] = {
    Ask.WATCH_GATE: None,
    Ask.SEE_OPEN: None,
    Ask.SEE_CLOSED: None,
    Ask.HOW_STANDS: None,
    Ask.OPEN_BY_HAND: ("turn_on", annex.HAND_GATE),
    Ask.CLOSED_BY_HAND: ("turn_off", annex.HAND_GATE),
    Ask.RUN_MACHINE: ("turn_on", annex.SAW),
    Ask.START_COLLECTOR: None,
    Ask.DOES_TURN: None,
}
"""A person's action in the shop on each page before the first option is tapped."""

NAMES = {
    Ask.WATCH_GATE: "Bench gate",
    Ask.SEE_OPEN: "Bench gate",
    Ask.SEE_CLOSED: "Bench gate",
    Ask.HOW_STANDS: "Lathe gate",
    Ask.OPEN_BY_HAND: "Drill gate",
    Ask.CLOSED_BY_HAND: "Drill gate",
    Ask.RUN_MACHINE: "Bench saw",
    Ask.START_COLLECTOR: "Bench collector",
    Ask.DOES_TURN: "Bench collector",
}


@pytest_asyncio.fixture(loop_scope="session", scope="module")
async def hub(tmp_path_factory: pytest.TempPathFactory) -> AsyncGenerator[Hub]:
    """Start a Home Assistant with the small system of plain switches."""
    pytest_socket.enable_socket()
    directory = prepare(
        tmp_path_factory.mktemp("annex") / "config",
        workshop=shop.quick(),
        extra_yaml=annex.yaml(),
    )
    annex.seed(directory)
    async with Hub(directory) as hub:
        yield hub


class Dialog:
    """The dialog of the system check on a phone."""

    def __init__(self, window: Window, client: HubClient) -> None:
        """Start on the integration's page."""
        self._window = window
        self._client = client
        self.flow = window.page.locator("dialog-data-entry-flow")
        self._last: JSHandle | None = None

    async def open(self) -> dict[str, Any]:
        """Open the settings from the row of the system; return the first page."""
        await self._window.open("/config/integrations/integration/gatewright")
        await self._window.page.locator(SETTINGS_BUTTON).first.click()
        await self.flow.locator("dialog").wait_for()
        return await self.next()

    async def next(self) -> dict[str, Any]:
        """Return the present page, once it isn't the last one returned.

        A page that only waits may be gone before anybody can read it.
        """
        flow = await self.flow.element_handle()
        self._last = await self._window.page.wait_for_function(
            _TURNED, arg=[flow, self._last]
        )
        shown: dict[str, Any] = await self._last.json_value()
        return shown

    async def choose(self, option: str) -> dict[str, Any]:
        """Tap an option of a menu; return the next page."""
        await self.flow.locator("step-flow-menu").evaluate(_CHOOSE, option)
        return await self.next()

    async def send(self) -> dict[str, Any]:
        """Send a form as it is; return the next page."""
        await self.flow.locator("ha-dialog-footer ha-button").click()
        return await self.next()

    async def looks_right(self, name: str = "") -> None:
        """Check that a page has a title and no error, and names its part."""
        text = await self.flow.locator("ha-dialog").evaluate(_SHOWN)
        assert "rror" not in text, text
        assert "{" not in text, text
        assert name in text, text


# What is displayed, through the roots of Home Assistant's own elements.
_SHOWN = """(dialog) => {
  const words = [];
  const look = (node) => {
    if (node.nodeType === Node.TEXT_NODE) words.push(node.data.trim());
    if (["STYLE", "SCRIPT"].includes(node.nodeName)) return;
    for (const child of node.childNodes) look(child);
    if (node.shadowRoot) look(node.shadowRoot);
  };
  look(dialog);
  return words.filter(Boolean).join(" ");
}"""


async def falls(client: HubClient) -> None:
    """Turn the saw off a while after it was turned on."""
    await asyncio.sleep(2)
    await client.call("input_boolean.turn_off", annex.SAW)


async def test_the_whole_check_shows_no_error(hub: Hub, chromium: Chromium) -> None:
    """Every page with a question comes once, in the order of a person."""
    directory = hub.directory
    seen: list[Ask] = []
    async with hub.client() as client:
        window = await chromium.window(directory.url, directory.token, **PHONE)
        dialog = Dialog(window, client)
        step = await dialog.open()
        await dialog.looks_right("Settings")
        step = await dialog.choose("system_check")
        await dialog.looks_right("System check")
        step = await dialog.choose("begin")
        assert step["step_id"] == "begin"
        await dialog.looks_right()
        step = await dialog.send()
        waits: list[asyncio.Task[None]] = []
        while step["step_id"] != "found":
            if step["type"] == "progress":
                await dialog.looks_right()
                step = await dialog.next()
                continue
            ask = Ask(step["step_id"])
            seen.append(ask)
            await dialog.looks_right(NAMES[ask])
            if (hands := HANDS[ask]) is not None:
                action, entity_id = hands
                await client.call(f"input_boolean.{action}", entity_id)
                if ask is Ask.RUN_MACHINE:
                    waits.append(asyncio.create_task(falls(client)))
            step = await dialog.choose(next(iter(step["menu_options"])))
        await dialog.looks_right()
        assert set(seen) == set(Ask)
        await asyncio.gather(*waits)
        step = await dialog.send()
        assert step["type"] == "create_entry"
        window.forgive("/api/brands/")
        assert window.complaints == []
        await window.close()
    troubles = [trouble.text for trouble in hub.troubles(all_starts=True)]
    assert [text for text in troubles if "gatewright" in text.lower()] == []
