"""The set-up as a file, from the dialog of the settings on a phone."""

from pathlib import Path

from playwright.async_api import expect

from .browser import SETTINGS_BUTTON
from .stage import Stage

CHOOSE = "(menu, step) => menu._handleStep({ currentTarget: { step } })"


async def test_a_file_is_downloaded_and_looked_at_again(
    stage: Stage, tmp_path: Path
) -> None:
    path = "/config/integrations/integration/gatewright"
    async with stage.page(path, width=360, height=900) as window:
        page = window.page
        await page.locator(SETTINGS_BUTTON).first.click()
        flow = page.locator("dialog-data-entry-flow")
        await flow.locator("step-flow-menu").evaluate(CHOOSE, "setup_file")
        async with page.expect_download() as waiting:
            await page.get_by_text("Download the set-up", exact=True).click()
        download = await waiting.value
        assert "_setup_" in download.suggested_filename
        file = tmp_path / "setup.json"
        await download.save_as(file)
        await page.locator("input[type=file]").set_input_files(file)
        await expect(page.get_by_text("setup.json")).to_be_visible()
        await flow.get_by_role("button", name="Next").click()
        await expect(page.get_by_text("Nothing changes.")).to_be_visible()
