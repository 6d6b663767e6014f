"""A headless Chromium, signed in to a Home Assistant, and the errors on its page."""

from collections.abc import Sequence
from contextlib import AbstractAsyncContextManager
import json
import os
import shutil
from types import TracebackType
from typing import Any, Self, override

from playwright.async_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Error,
    Page,
    Playwright,
    async_playwright,
    expect,
)

_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
_ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

SETTINGS_BUTTON = "ha-config-entry-row ha-icon-button[slot=end]"
"""The button that opens a system's settings on the integration's page.

The row's other elements have different names in each release.
"""

# Home Assistant's page preloads its fonts, and a busy machine doesn't draw it within the
# few seconds after which the browser complains.
_ABOUT_THE_CLOCK = "was preloaded using link preload but not used"

# The browser reports a rejection without an error as "Object".
_TELL_REJECTIONS = """
addEventListener("unhandledrejection", ({ reason }) => {
  if (!(reason instanceof Error)) console.error(`Rejected: ${JSON.stringify(reason)}`);
});
"""


def find_chromium() -> str:
    """Return the path of the browser; raises `RuntimeError` with what to install."""
    chosen = os.environ.get("GATEWRIGHT_CHROMIUM")
    for name in (chosen,) if chosen else _NAMES:
        if path := shutil.which(name):
            return path
    raise RuntimeError(
        "The tests of the cards need a Chromium: install the package chromium, or "
        "name one in GATEWRIGHT_CHROMIUM"
    )


# The machine may be busy; what has to be quick is measured where it is.
expect.set_options(timeout=90_000)


class Window:
    """A page of Home Assistant, with everything that it logged."""

    def __init__(self, context: BrowserContext, page: Page, url: str) -> None:
        """Listen to a page that is still empty."""
        self.context = context
        self.page = page
        self.url = url
        self.complaints: list[str] = []
        page.on("console", self._said)
        page.on("pageerror", self._failed)

    def _said(self, message: ConsoleMessage) -> None:
        if (
            message.type in ("error", "warning")
            and _ABOUT_THE_CLOCK not in message.text
        ):
            self.complaints.append(f"{message.text} ({message.location.get('url')})")

    def _failed(self, error: Error) -> None:
        if str(error) != "Object":
            self.complaints.append(str(error))

    async def open(self, path: str) -> None:
        """Open a path of Home Assistant."""
        await self.page.goto(f"{self.url}{path}", wait_until="domcontentloaded")

    def forgive(self, *causes: str) -> None:
        """Drop the complaints with one of these texts."""
        self.complaints[:] = [
            complaint
            for complaint in self.complaints
            if not any(cause in complaint for cause in causes)
        ]

    async def close(self) -> None:
        """Close the page and sign out."""
        await self.context.close()


class Chromium(AbstractAsyncContextManager["Chromium"]):
    """One browser process; each window is a separate user."""

    _playwright: Playwright
    _browser: Browser

    @override
    async def __aenter__(self) -> Self:
        self._playwright = await async_playwright().start()
        self._browser = await self._playwright.chromium.launch(
            executable_path=find_chromium(), args=list(_ARGUMENTS)
        )
        return self

    @override
    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        await self._browser.close()
        await self._playwright.stop()

    async def window(
        self,
        url: str,
        token: str,
        *,
        width: int = 800,
        height: int = 900,
        dark: bool = False,
        still: bool = False,
        touch: bool = False,
        scale: float = 1.0,
        scripts: Sequence[str] = (),
    ) -> Window:
        """Return an empty page of a signed-in user."""
        context = await self._browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme="dark" if dark else "light",
            reduced_motion="reduce" if still else "no-preference",
            device_scale_factor=scale,
            has_touch=touch,
            service_workers="block",
            locale="en-US",
        )
        tokens: dict[str, Any] = {
            "access_token": token,
            "token_type": "Bearer",
            "expires_in": 315360000,
            "hassUrl": url,
            "clientId": f"{url}/",
            "expires": 4_000_000_000_000,
            "refresh_token": "",
        }
        stored = json.dumps(json.dumps(tokens))
        await context.add_init_script(f"localStorage.hassTokens = {stored};")
        for script in (_TELL_REJECTIONS, *scripts):
            await context.add_init_script(script)
        page = await context.new_page()
        page.set_default_timeout(90_000)
        return Window(context, page, url)
