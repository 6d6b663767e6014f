"""Files, two browsers and a user without rights, with Home Assistant behind the editor."""

import json
from typing import Any

from playwright.async_api import FilePayload, Locator, Page, expect
import pytest

from demo.hub import Hub
from demo.hub_client import HubClient
from tests.plan.shops import demo_ducts, demo_places

from ..browser import Chromium
from ..stage import Stage
from . import workshop
from .board import plan
from .page import doc


async def assessed(client: HubClient, entry_id: str) -> dict[str, tuple[Any, ...]]:
    """Return what each machine gets by the airflow action, by its name."""
    answer = await client.request(
        "POST",
        "services/gatewright/assess_airflow?return_response",
        {"config_entry_id": entry_id},
    )
    return {
        row["name"]: (
            row["verdict"],
            row["required"],
            [pickup["flow"] for pickup in row["breakdown"]],
        )
        for row in answer["service_response"]["machines"]
    }


async def press(page: Page, name: str) -> None:
    """Press something in the menu."""
    await page.locator(".menu summary").click()
    await page.get_by_role("button", name=name, exact=True).click()


async def open_file(page: Page, text: str) -> None:
    """Open a file with a content."""
    async with page.expect_file_chooser() as choosing:
        await press(page, "Open file")
    file: FilePayload = {
        "name": "shop.json",
        "mimeType": "application/json",
        "buffer": text.encode(),
    }
    await (await choosing.value).set_files(file)


def status(page: Page) -> Locator:
    """Return the displayed state of the draft."""
    return page.locator(".status")


async def revision(client: HubClient) -> int:
    """Return the stored revision."""
    got = await client.socket.command("gatewright/plan/get", entry_id=workshop.DRAWN)
    return int(got["revision"])


async def push(page: Page, part: str, key: str) -> None:
    """Select a part, and push it with a key."""
    await page.evaluate("(id) => card._editor.model.choose([id])", part)
    await page.locator(".plan").focus()
    await page.keyboard.press(key)


async def first_machine(page: Page) -> str:
    """Return a machine of the plan."""
    items = (await doc(page))["items"]
    return next(str(item["id"]) for item in items if item["type"] == "machine")


async def test_a_file_of_another_system_gives_the_same_assessment(
    hub: Hub, chromium: Chromium
) -> None:
    """Saved from one, opened in one without ducts, applied: each step on the screen."""
    async with plan(hub, chromium, "typed") as window:
        async with window.page.expect_download() as saving:
            await press(window.page, "Save as file")
        download = await saving.value
        assert download.suggested_filename == "typed-collector-plan.json"
        text = (await download.path()).read_text("utf-8")
    async with hub.client() as client:
        async with plan(hub, chromium, "drawn") as window:
            page = window.page
            await open_file(page, text)
            await expect(page.locator(".ducts .duct")).to_have_count(len(demo_ducts()))
            await expect(status(page)).to_have_text("Draft saved, not applied")
            drawn = await doc(page)
            assert all(gate["bound"].startswith("drawn") for gate in drawn["gates"])
            await page.get_by_role("button", name="Apply", exact=True).click()
            dialog = page.get_by_role("dialog", name="Use this plan?")
            count = len(demo_ducts()) + len(demo_places())
            await expect(dialog.locator(".preview > li")).to_have_count(count)
            await dialog.get_by_role("button", name="Apply").click()
            await expect(status(page)).to_have_text("Same as in use")
        one, other = [
            await assessed(client, entry)
            for entry in (workshop.TYPED_IN, workshop.DRAWN)
        ]
    assert len(one) == len(workshop.MACHINES)
    assert one.keys() == other.keys()
    for name, (verdict, required, flows) in one.items():
        assert other[name][:2] == (verdict, required), name
        assert other[name][2] == pytest.approx(flows, rel=1e-6), name


async def test_a_file_that_is_no_plan_is_refused_with_the_place(
    hub: Hub, chromium: Chromium
) -> None:
    async with plan(hub, chromium, "drawn") as window:
        page = window.page
        before = await doc(page)
        broken = json.loads(json.dumps(before))
        broken["items"][1]["x"] = "left"
        for text, said in (("{", "JSON"), (json.dumps(broken), "items[1].x")):
            await open_file(page, text)
            dialog = page.get_by_role("dialog", name="Open file")
            await expect(dialog).to_contain_text("Your plan stays as it is")
            await expect(dialog).to_contain_text(said)
            await dialog.get_by_role("button").click()
            await expect(dialog).to_have_count(0)
        assert await doc(page) == before


async def test_another_browser_shows_what_was_drawn_in_this_one(
    hub: Hub, chromium: Chromium
) -> None:
    async with (
        plan(hub, chromium, "drawn") as here,
        plan(hub, chromium, "drawn") as there,
    ):
        part = await first_machine(here.page)
        await push(here.page, part, "ArrowRight")
        await expect(here.page.locator("[aria-live]")).to_contain_text("Moved")
        moved = await doc(here.page)
        await there.page.wait_for_function(
            "(wanted) => JSON.stringify(card._editor.model.history.settled) === wanted",
            arg=json.dumps(moved, separators=(",", ":"), ensure_ascii=False),
        )
        said = there.page.locator("[aria-live]")
        await expect(said).to_contain_text("changed elsewhere")


async def test_two_browsers_at_once_lose_nothing(hub: Hub, chromium: Chromium) -> None:
    """The later one is asked, may keep its own, and the other finds its own by undoing."""
    async with (
        hub.client() as client,
        plan(hub, chromium, "drawn") as here,
        plan(hub, chromium, "drawn") as there,
    ):
        part = await first_machine(here.page)
        before = await revision(client)
        # Both have drawn before either is stored: the pause after a stroke is 0.6 s.
        hold = "card._editor.draft.draft.save = async function () { return false; }"
        await there.page.evaluate(hold)
        await push(there.page, part, "ArrowDown")
        await push(here.page, part, "ArrowRight")
        await expect(status(here.page)).to_have_attribute("data-status", "saved")
        mine, theirs = await doc(there.page), await doc(here.page)
        assert mine != theirs
        await there.page.evaluate(
            "delete card._editor.draft.draft.save, card._editor.draft.save(), undefined"
        )
        dialog = there.page.get_by_role("dialog", name="Drawn in two places")
        await expect(dialog).to_be_visible()
        await dialog.get_by_role("button", name="Keep mine").click()
        await expect(status(there.page)).to_have_attribute("data-status", "saved")
        await here.page.wait_for_function(
            "(wanted) => JSON.stringify(card._editor.model.history.settled) === wanted",
            arg=json.dumps(mine, separators=(",", ":"), ensure_ascii=False),
        )
        assert await revision(client) == before + 2
        await here.page.locator(".plan").focus()
        await here.page.keyboard.press("Control+z")
        assert await doc(here.page) == theirs


async def test_what_was_stored_while_the_connection_was_gone_is_shown(
    hub: Hub, chromium: Chromium
) -> None:
    async with plan(hub, chromium, "drawn") as window, hub.client() as client:
        page = window.page
        command = client.socket.command
        got = await command("gatewright/plan/get", entry_id=workshop.DRAWN)
        document = got["document"]
        document["room"] = {"outline": [[0, 0], [31, 0], [31, 9], [0, 9]], "height": 3}
        await window.context.set_offline(True)
        await page.evaluate("card.hass.connection.socket.close(), undefined")
        saved = await command(
            "gatewright/plan/save",
            entry_id=workshop.DRAWN,
            revision=got["revision"],
            document=document,
        )
        assert saved["saved"]
        await window.context.set_offline(False)
        await page.wait_for_function(
            "findPlan()?._editor?.model?.history.settled.room.outline[1]?.[0] === 31"
        )
        # The browser reports each connection attempt, and Home Assistant's page unsubscribes
        # subscriptions that the server forgot.
        window.forgive(
            "ERR_INTERNET_DISCONNECTED",
            f"dynamically imported module: {hub.directory.url}/frontend_latest",
            "Subscription not found.",
        )


async def test_who_is_no_administrator_sees_and_changes_nothing(
    hub: Hub, chromium: Chromium
) -> None:
    async with hub.client() as client:
        stage = Stage(hub, chromium)
        stage.client = client
        token = await stage.member("looker", "system-users")
        before = await revision(client)
        async with plan(hub, chromium, "drawn", token=token) as window:
            page = window.page
            await expect(page.locator(".ducts .duct")).to_have_count(len(demo_ducts()))
            assert await page.locator(".tools:visible, .apply:visible").count() == 0
            await expect(
                page.locator(".names .name", has_text="Planer")
            ).to_be_visible()
            # Everybody can try what each machine gets.
            await page.locator(".toggles .tile", has_text="Planer").click()
            await expect(page.locator(".air-panel .verdict")).to_be_visible()
            await page.locator(".menu summary").click()
            assert await page.get_by_role("button", name="Open file").count() == 0
            refused = await page.evaluate(
                """async (entry_id) => {
                  const { connection } = card.hass;
                  const found = [];
                  for (const [name, more] of [["save", { document: {} }], ["import", { content: "{}" }], ["apply", {}], ["discard", {}]]) {
                    await connection.sendMessagePromise({ type: `gatewright/plan/${name}`, entry_id, revision: 1, ...more })
                      .then(() => found.push("done"), ({ code }) => found.push(code));
                  }
                  return found;
                }""",
                workshop.DRAWN,
            )
            assert refused == ["unauthorized"] * 4
        assert await revision(client) == before
