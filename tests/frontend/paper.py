"""The dialog that sets up an integration, filled in in a browser."""

from collections.abc import Awaitable, Callable, Mapping
from typing import Any

from playwright.async_api import JSHandle, Locator

from demo.forms import Form
from demo.hub_client import HubClient, Json

from .browser import Window

type Look = Callable[[str, Mapping[str, Any], Locator], Awaitable[None]]
"""Called with each page once it's filled in: the step, its content, and the dialog."""

# Values are set at once: how Home Assistant's own fields work isn't the subject here.
_FILL = """(form, value) => form.dispatchEvent(
  new CustomEvent("value-changed", { detail: { value } }))"""
_CHOOSE = "(menu, step) => menu._handleStep({ currentTarget: { step } })"
_TURNED = "([dialog, last]) => dialog._step && dialog._step !== last"


class Paper:
    """A form that is filled in and sent in a browser."""

    def __init__(self, window: Window, look: Look) -> None:
        """Choose the page of Home Assistant, and who looks at the form."""
        self._window = window
        self._look = look
        self._flow = window.page.locator("dialog-data-entry-flow")
        self._dialog = self._flow.locator("dialog")

    async def add(self, client: HubClient, domain: str) -> Form:
        """Open the dialog that adds an integration."""
        page = self._window.page
        await self._window.open(f"/config/integrations/dashboard/add?domain={domain}")
        await page.locator("dialog-box").get_by_role("button", name="OK").click()
        await self._dialog.wait_for()
        return Form(await self._next(None), self._send)

    async def _send(self, step: Json, answers: Mapping[str, Any]) -> Json:
        """Fill in the present page and send it; return the next one."""
        last = await self._flow.evaluate_handle("flow => flow._step")
        if step["type"] == "menu":
            menu = self._flow.locator("step-flow-menu")
            await menu.evaluate(_CHOOSE, answers["next_step_id"])
        else:
            await self._flow.locator("ha-form").first.evaluate(_FILL, answers)
            await self._look(step["step_id"], answers, self._dialog)
            await self._flow.locator("ha-dialog-footer ha-button").click()
        return await self._next(last)

    async def _next(self, last: JSHandle | None) -> Json:
        """Return the present page, once it's another one."""
        flow = await self._flow.element_handle()
        await self._window.page.wait_for_function(_TURNED, arg=[flow, last])
        shown: Json = await self._flow.evaluate("flow => flow._step")
        return shown
