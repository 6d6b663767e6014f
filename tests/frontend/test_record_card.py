"""The card of the record: figures by day, week and month, reasons, downloads."""

import csv
from pathlib import Path

from playwright.async_api import expect

from .stage import Stage


def machines(table: Path) -> set[str]:
    """Return the machines in a table of runs."""
    with table.open(encoding="utf-8", newline="") as file:
        return {row["machine"] for row in csv.DictReader(file)}


async def test_the_record_is_reported_and_downloaded(stage: Stage) -> None:
    states = stage.client.states
    running = "binary_sensor.miter_saw_running"
    await stage.work("run_machine", machine="miter_saw", seconds=3)
    await states.until_state(running, "on", 10)
    await states.until_state(running, "off", 20)
    await states.until_state("sensor.dust_collector_phase", "idle", 60)
    async with stage.card("record", width=800) as window:
        page = window.page
        week = page.get_by_role("button", name="This week")
        await expect(week).to_have_attribute("aria-pressed", "true")
        today = page.get_by_role("button", name="Today")
        await today.click()
        await expect(today).to_have_attribute("aria-pressed", "true")
        await expect(week).to_have_attribute("aria-pressed", "false")
        sums = page.locator(".sums")
        await expect(sums).to_contain_text("of running")
        await expect(sums).to_contain_text("of running time with dust collection")
        row = page.locator("tbody tr", has_text="Miter saw")
        await expect(row).to_contain_text("%")
        # Each figure is read aloud with its machine.
        await expect(page.get_by_role("rowheader", name="Miter saw")).to_be_visible()
        # Its time to air, and what that depends on.
        times = page.locator(".times")
        await expect(times).to_contain_text("Miter saw")
        await expect(times).to_contain_text("s at best; ")
        # Its gate is open before the impeller is up to speed: that was the reason.
        reasons = page.locator(".why:not(.times)").first
        await expect(reasons).to_contain_text("collector starting")
        async with page.expect_download() as begun:
            await page.get_by_role("button", name="Download runs").click()
        download = await begun.value
        assert download.suggested_filename.endswith(".csv")
        assert "Miter saw" in machines(Path(await download.path()))
    await stage.rest()
