"""A gate whose relay is offline, as a newcomer sees it: on the map and in the repairs."""

from playwright.async_api import expect

from .stage import Stage, headline


async def test_an_offline_gate_is_said_at_once_and_its_repair_stays(
    stage: Stage,
) -> None:
    # A gate that was left open would serve the planer although it's offline.
    await stage.client.call("cover.close_cover", "cover.planer_gate")
    await stage.client.states.until_state("cover.planer_gate", "closed", 30)
    await stage.work("break", part="planer_gate", fault="gate_unpowered")
    async with stage.card("map", width=390) as window:
        await stage.work("run_machine", machine="planer")
        alarms = window.page.locator(".alarm")
        offline = alarms.filter(has_text="Planer gate is offline")
        # Long before the minute after which a missing gate is reported.
        await expect(offline).to_be_visible(timeout=15_000)
        await expect(offline).to_contain_text("Check the device's power, network")
        await expect(alarms.filter(has_text="doesn't move")).to_have_count(0)
        await expect(headline(window)).to_have_text(
            "Planer is running without dust collection"
        )
    async with stage.page("/config/repairs", width=390, height=844) as window:
        page = window.page
        await page.get_by_text("Planer gate is offline").first.click()
        dialog = page.locator("dialog-data-entry-flow")
        await expect(
            dialog.get_by_text("when the gate's device is back")
        ).to_be_visible()
        await dialog.get_by_role("button", name="Submit").click()
        await expect(dialog.get_by_text("is still offline")).to_be_visible()
        await expect(dialog.get_by_text("Success")).to_have_count(0)
        window.forgive("/api/brands/")
    await stage.rest()
