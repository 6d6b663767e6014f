"""A page that stays open while Home Assistant is restarted, with an update of our files."""

import os

from playwright.async_api import expect

from .stage import Stage, headline


async def test_it_outlives_a_restart_and_notices_an_update(stage: Stage) -> None:
    frontend = stage.hub.directory.path / "custom_components/gatewright/frontend"
    async with stage.card("map") as window:
        page = window.page
        await page.evaluate("window.sameDocument = true")
        note = page.locator(".note")
        await stage.hub.stop()
        await expect(note).to_contain_text("Connection lost")
        entry = frontend / "gatewright.js"
        entry.write_text(f"{entry.read_text('utf-8')}\nwindow.isNew = true;\n", "utf-8")
        await stage.hub.start()
        await stage.connect()
        # The page continues with its files, and offers to load the new ones.
        await expect(note).to_contain_text("Gatewright was updated.")
        await stage.work("run_machine", machine="planer")
        await expect(headline(window)).to_have_text(
            "Planer is running with dust collection"
        )
        assert await page.evaluate("[window.sameDocument, window.isNew]") == [
            True,
            None,
        ]
        await page.get_by_role("button", name="Reload the page").click()
        await page.wait_for_function("window.isNew && !window.sameDocument")
        await expect(headline(window)).to_have_text(
            "Planer is running with dust collection"
        )
        await expect(note).to_be_hidden()
        # The browser reports each attempt to reach a stopped Home Assistant. Its page unsubscribes
        # forgotten subscriptions, and doesn't catch requests lost with the connection (3).
        window.complaints[:] = [
            text for text in window.complaints if text not in ("3", "Rejected: 3 ()")
        ]
        if os.environ.get("GATEWRIGHT_HUB_PATH"):
            # A page newer than Home Assistant asks for something unknown.
            window.forgive('"unknown_command"')
        window.forgive(
            "ERR_CONNECTION_REFUSED",
            "WebSocket connection to",
            "/frontend_latest/",
            "Subscription not found.",
        )
    await stage.rest()
