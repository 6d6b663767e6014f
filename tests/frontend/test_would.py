"""The day card shows the simulated day on request."""

import asyncio
import re

from playwright.async_api import expect

from demo.hub_client import HubClient

from . import shop
from .stage import Stage

ASK = "Simulate"


async def test_the_day_as_it_would_have_been(stage: Stage) -> None:
    states = stage.client.states
    await stage.work("run_machine", machine="planer", seconds=10)
    await states.until_state("binary_sensor.planer_running", "on", 5)
    await states.until_state("sensor.dust_collector_phase", "idle", 30)
    # The recorder writes every few seconds.
    await asyncio.sleep(6)
    async with stage.card("day", width=800) as window:
        page = window.page
        button = page.get_by_role("button", name=ASK)
        await expect(button).to_have_attribute("aria-pressed", "false")
        would = page.get_by_role("listitem", name=re.compile("simulated"))
        assert await would.count() == 0
        await button.focus()
        await page.keyboard.press("Enter")
        row = page.get_by_role("listitem", name="Planer, simulated: runs")
        await expect(row).to_be_visible(timeout=30_000)
        await expect(row.locator(".bar .with")).not_to_have_count(0)
        await expect(row.locator(".figures")).to_contain_text("%")
        # What stood still and would have is said by one row; no test runs this one.
        idle = page.get_by_role("listitem", name=re.compile("Drill press"))
        await expect(idle).to_have_count(1)
        status = page.locator("gatewright-day-card .ask [role=status]")
        await expect(status).to_contain_text(re.compile(r"starts?\."))
        await expect(button).to_have_attribute("aria-pressed", "true")
        # Drawn anew while it runs, the card leaves the focus where it was.
        await expect(button).to_be_focused()
        await page.keyboard.press("Enter")
        await expect(would).to_have_count(0)
        await expect(button).to_be_focused()


async def test_a_system_that_only_monitors_says_so(stage: Stage) -> None:
    """On every card; and the day card shows the simulated day unasked."""
    client = stage.client
    switch = (await client.entity_ids("gatewright"))[f"{shop.YARD}_monitor_only"]
    await client.enable([switch])
    await stage.client.states.until_state("sensor.dust_collector_phase", "idle", 30)
    await _switch(client, switch, on=True)
    try:
        async with stage.card("day", width=800) as window:
            note = window.page.locator("gatewright-day-card .note")
            await expect(note).to_contain_text("monitor-only mode: nothing moves")
            reported = window.page.locator("gatewright-day-card .ask [role=status]")
            await expect(reported).to_contain_text("Simulated")
        async with stage.card("status") as window:
            note = window.page.locator("gatewright-status-card .note")
            await expect(note).to_be_visible()
    finally:
        await _switch(client, switch, on=False)
    await stage.client.states.until_state("sensor.dust_collector_phase", "idle", 30)


async def _switch(client: HubClient, entity_id: str, *, on: bool) -> None:
    action = "switch.turn_on" if on else "switch.turn_off"
    await client.call(action, entity_id)
    await client.states.until_state(entity_id, "on" if on else "off", 20)
