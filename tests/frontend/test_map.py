"""The map in a real browser: events in the shop, and user actions on the card."""

import asyncio
from typing import Any

from playwright.async_api import expect

from . import shop
from .stage import Stage, gate, headline, hold, tile

AT_ONCE = 300
"""The latest time for a change to show, in ms."""

WATCH_TILE = """
([id, tone]) => new Promise((resolve) => {
  const node = findCard("map").shadowRoot.querySelector(`[data-machine="${id}"]`);
  const look = () => {
    if (node.dataset.tone !== tone) return;
    observer.disconnect();
    resolve(Date.now());
  };
  const observer = new MutationObserver(look);
  observer.observe(node, { attributes: true });
  look();
})
"""


async def test_a_machine_start_is_seen_at_once(stage: Stage) -> None:
    """From the entity's change in Home Assistant to the tile's change on the page."""
    delays = []
    async with stage.card("map", width=360) as window:
        for machine, entity_id in (
            ("planer", "binary_sensor.planer_running"),
            ("jointer", "binary_sensor.jointer_running"),
            ("saw", "binary_sensor.table_saw_running"),
        ):
            seen = asyncio.create_task(
                window.page.evaluate(WATCH_TILE, [machine, "wait"])
            )
            await asyncio.sleep(0.1)
            name = {"saw": "table_saw"}.get(machine, machine)
            await stage.work("run_machine", machine=name)
            await stage.client.states.until_state(entity_id, "on", 10)
            changed = stage.client.states.history(entity_id)[-1].at * 1000
            delays.append(await asyncio.wait_for(seen, 5) - changed)
        await expect(tile(window, "Planer")).to_have_attribute("data-tone", "good")
        await expect(headline(window)).to_have_text(
            "3 machines are running with dust collection"
        )
        await expect(gate(window, "planer_gate").locator(".word")).to_have_text("open")
        flows = await window.page.locator(".pipe.flows").count()
        # Three branches and the fixed opening, and the trunk down to it.
        assert flows > 8
    assert max(delays) < AT_ONCE, delays
    await stage.rest()


async def test_a_held_tile_requests_dust_collection_and_withdraws_it(
    stage: Stage,
) -> None:
    states = stage.client.states
    relay = "switch.plant_closet_collector_relay"
    async with stage.card("map", width=360, touch=True) as window:
        hood = tile(window, "Bench hood")
        await expect(hood).to_have_attribute("aria-pressed", "false")
        # A tap only explains.
        await hood.tap()
        await expect(hood).to_contain_text("Hold to turn on")
        await expect(hood).not_to_contain_text("Hold", timeout=6_000)
        assert states.state(relay) == "off"
        await hold(window, hood)
        await states.until_state(relay, "on", 10)
        await expect(hood).to_have_attribute("aria-pressed", "true")
        await hood.tap()
        await expect(hood).to_contain_text("Hold to turn off")
        await expect(hood).to_have_attribute("data-tone", "ask")
        await expect(headline(window)).to_have_text("Dust collection on at Bench hood")
        assert (await stage.client.truth())["starts_none_open"] == 0
        # A request with a limit: the seconds left are counted in the page.
        sweep = tile(window, "Floor sweep")
        await hold(window, sweep)
        await expect(sweep).to_contain_text("Collecting, 9:5")
        left = [await sweep.inner_text()]
        await window.page.wait_for_timeout(1100)
        left.append(await sweep.inner_text())
        assert left[0] > left[1]
        await hold(window, sweep)
        await hold(window, hood)
        await states.until_state(relay, "off", 15)
        phase = window.page.locator(".collector .state")
        await expect(phase).to_have_text("Idle")
        await expect(headline(window)).to_have_text("Nothing is running")
    await stage.rest()


async def test_an_alarm_appears_and_goes(stage: Stage) -> None:
    async with stage.card("map") as window:
        alarms = window.page.locator(".alarm")
        stuck = alarms.filter(has_text="Planer gate doesn't move")
        await expect(stuck).to_have_count(0)
        await stage.work("break", part="planer_gate", fault="gate_stuck")
        await stage.work("run_machine", machine="planer")
        await expect(stuck).to_be_visible(timeout=25_000)
        await expect(stuck).to_contain_text("Check for a chip in the slide")
        await expect(headline(window)).to_have_text(
            "Planer is running without dust collection"
        )
        await expect(tile(window, "Planer")).to_have_attribute("data-tone", "bad")
        word = gate(window, "planer_gate").locator(".word")
        await expect(word).to_have_text("not moving")
        await stage.work("mend")
        await stage.work("move_gate", gate="planer_gate", position=100)
        await expect(stuck).to_have_count(0)
        await expect(headline(window)).to_have_text(
            "Planer is running with dust collection"
        )
    await stage.rest()


async def test_a_held_gate_moves_and_asks_first_while_the_fan_turns(
    stage: Stage,
) -> None:
    states = stage.client.states
    saw_gate, drawn = "cover.table_saw_gate", "saw_gate"
    async with stage.card("map", width=360) as window:
        page = window.page
        hint = page.locator(".hint")
        await gate(window, drawn).click()
        await expect(hint).to_have_text("Table saw gate: closed. Hold to open.")
        await gate(window, "router_gate").click()
        await expect(hint).to_have_text("Router gate: closed. Moved by hand.")
        assert states.state(saw_gate) == "closed"

        await hold(window, gate(window, drawn))
        await states.until_state(saw_gate, "open", 10)
        dialog = page.locator("gatewright-map-card dialog")
        await expect(dialog).to_have_count(0)
        await hold(window, gate(window, drawn))
        await states.until_state(saw_gate, "closed", 10)

        await hold(window, tile(window, "Floor sweep"))
        await states.until_state("sensor.dust_collector_phase", "collecting", 10)
        await hold(window, gate(window, drawn))
        await expect(dialog).to_contain_text("Open Table saw gate?")
        await expect(dialog).to_contain_text("may be turning")
        await page.get_by_role("button", name="Cancel").click()
        await expect(dialog).to_have_count(0)
        await asyncio.sleep(0.5)
        assert states.state(saw_gate) == "closed"

        # By keyboard, where nothing can be held, it always asks.
        await gate(window, drawn).focus()
        await page.keyboard.press("Enter")
        await expect(dialog).to_be_visible()
        await page.keyboard.press("Escape")
        await expect(dialog).to_have_count(0)
        await page.keyboard.press("Space")
        await page.get_by_role("button", name="Open", exact=True).click()
        await states.until_state(saw_gate, "open", 10)
        assert states.state("cover.sweep_gate") == "open"
    await stage.rest()


async def test_it_tells_when_the_system_is_reloaded_or_disabled(stage: Stage) -> None:
    async with stage.card("map") as window:
        note = window.page.locator(".note")
        reported: list[str] = []
        await stage.client.reload_entry(shop.YARD)
        for _ in range(20):
            reported += [text for text in await note.all_inner_texts() if text]
            await window.page.wait_for_timeout(50)
        assert reported == []
        await expect(headline(window)).to_have_text("Nothing is running")

        disable: dict[str, Any] = {"entry_id": shop.YARD}
        command = stage.client.socket.command
        await command("config_entries/disable", disabled_by="user", **disable)
        await expect(note).to_have_text("Dust collector is disabled.")
        await expect(window.page.locator(".tile")).to_have_count(0)
        await command("config_entries/disable", disabled_by=None, **disable)
        await expect(note).to_be_hidden()
        await expect(tile(window, "Planer")).to_be_visible()
    await stage.rest()


async def test_it_outlives_a_lost_connection(stage: Stage) -> None:
    async with stage.card("map") as window:
        note = window.page.locator(".note")
        await window.context.set_offline(True)
        await window.page.evaluate("findCard('map').hass.connection.socket.close()")
        await expect(note).to_have_text(
            "Connection lost. These values may be out of date."
        )
        await stage.work("run_machine", machine="planer")
        await asyncio.sleep(2)
        await expect(tile(window, "Planer")).to_have_attribute("data-tone", "off")
        await window.context.set_offline(False)
        await expect(note).to_be_hidden(timeout=15_000)
        await expect(headline(window)).to_have_text(
            "Planer is running with dust collection"
        )
        # The browser reports each connection attempt, and Home Assistant's page unsubscribes
        # subscriptions that the server forgot.
        window.forgive(
            "ERR_INTERNET_DISCONNECTED",
            "dynamically imported module: "
            + stage.hub.directory.url
            + "/frontend_latest",
            "Subscription not found.",
        )
    await stage.rest()
