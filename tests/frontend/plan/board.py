"""The editor with Home Assistant behind it."""

from collections.abc import AsyncGenerator
from contextlib import asynccontextmanager
from typing import Any

from demo.hub import Hub

from ..browser import Chromium, Window
from . import workshop

# As on the harness's page, so that its helpers work here.
FIND = """
window.findPlan = () => {
  const look = (root) => {
    for (const node of root.querySelectorAll("*")) {
      if (node.localName === "gatewright-plan-card") return node;
      const found = node.shadowRoot && look(node.shadowRoot);
      if (found) return found;
    }
    return null;
  };
  return look(document);
};
"""


DASHBOARD = "gate-plan"


async def add_pages(hub: Hub) -> None:
    """Give each of both systems a page with its plan."""
    views = [
        {
            "title": name,
            "path": name,
            "type": "panel",
            "cards": [{"type": "custom:gatewright-plan-card", "entry_id": entry}],
        }
        for name, entry in (("drawn", workshop.DRAWN), ("typed", workshop.TYPED_IN))
    ]
    async with hub.client() as client:
        command = client.socket.command
        await command(
            "lovelace/dashboards/create",
            url_path=DASHBOARD,
            title="Plan",
            mode="storage",
        )
        await command(
            "lovelace/config/save", url_path=DASHBOARD, config={"views": views}
        )


@asynccontextmanager
async def plan(
    hub: Hub, chromium: Chromium, name: str, *, token: str | None = None, **how: Any
) -> AsyncGenerator[Window]:
    """Open the plan of a system; at the end the page must be free of errors."""
    how = {"width": 1400, "height": 900, **how}
    directory = hub.directory
    window = await chromium.window(
        directory.url, token or directory.token, scripts=[FIND], **how
    )
    try:
        await window.open(f"/{DASHBOARD}/{name}")
        await window.page.wait_for_function(
            "(window.card = findPlan())?._editor?.scene?.node.isConnected"
            " && card._editor.scene._sized"
        )
        yield window
        assert not window.complaints, window.complaints
    finally:
        await window.close()
