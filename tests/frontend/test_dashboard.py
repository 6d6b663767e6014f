"""The generated dashboard, the other cards, and how they are offered."""

import asyncio
import re
from typing import Any

from playwright.async_api import Route, expect

from . import shop
from .stage import CARDS, MADE, Stage, headline, hold, tile


async def test_the_dashboard_has_everything(stage: Stage) -> None:
    """Every view opens, and every card on it can be drawn."""
    for system, machine in ((shop.YARD, "Planer"), (shop.HALL, "Machine 07")):
        suffix = system[-6:].lower()
        async with stage.page(f"{MADE}/overview-{suffix}", width=1280) as window:
            page = window.page
            await expect(
                page.locator("gatewright-status-card .tile").first
            ).to_be_visible()
            await expect(page.locator("gatewright-day-card .sums")).to_be_visible()
            await expect(page.get_by_text("Block starts", exact=True)).to_be_visible()
            await window.open(f"{MADE}/map-{suffix}")
            await expect(
                page.locator("gatewright-map-card .gate").first
            ).to_be_visible()
            await window.open(f"{MADE}/machines-{suffix}")
            heading = page.locator("hui-heading-card", has_text=machine)
            await expect(heading).to_be_visible()
            await window.open(f"{MADE}/record-{suffix}")
            await expect(page.locator("gatewright-record-card .sums")).to_be_visible()
            await window.open(f"{MADE}/alarms-{suffix}")
            await expect(headline(window)).to_be_visible()
            await expect(page.locator("hui-logbook-card")).to_be_visible()
            assert await page.locator("hui-error-card, hui-warning").count() == 0


async def test_it_is_offered_as_a_new_dashboard(stage: Stage) -> None:
    async with stage.page("/config/lovelace/dashboards", width=1280) as window:
        page = window.page
        await page.get_by_text("Add dashboard", exact=True).click()
        await page.locator("dashboard-card", has_text="Dust collection").click()
        title = page.locator("dialog-lovelace-dashboard-detail input").first
        await expect(title).to_have_value("Dust collection")


async def test_cards_are_offered_for_our_entities(stage: Stage) -> None:
    ids = await stage.client.entity_ids("gatewright")
    async with stage.card("map") as window:
        offers: dict[str, Any] = await window.page.evaluate(
            """([machine, problem]) => {
              const { hass } = findCard("map");
              const ours = window.customCards.filter(({ type }) => type.startsWith("gatewright-"));
              const of = (id) => ours.flatMap((card) => card.getEntitySuggestion(hass, id) ?? []);
              return {
                names: ours.map(({ name, description }) => [name, description]),
                planer: of(machine),
                problem: of(problem),
                foreign: of("sensor.machine_room_planer_plug_power"),
                nothing: of("light.nowhere"),
              };
            }""",
            [ids["planer_request"], ids[f"{shop.YARD}_problem"]],
        )
        assert len(offers["names"]) == 6
        assert all(name and description for name, description in offers["names"])
        assert [offer["config"] for offer in offers["planer"]] == [
            {"type": f"custom:gatewright-{kind}-card", "entry_id": shop.YARD}
            for kind in ("map", "status", "day")
        ]
        assert [offer["config"]["type"] for offer in offers["problem"]] == [
            "custom:gatewright-map-card",
            "custom:gatewright-alarms-card",
        ]
        assert offers["foreign"] == offers["nothing"] == []


async def test_alarms_of_another_system_are_in_sight(stage: Stage) -> None:
    """On a phone as well, and one tap away."""
    hall, yard = shop.HALL[-6:].lower(), shop.YARD[-6:].lower()
    async with stage.page(f"{MADE}/overview-{hall}", width=360) as window:
        page = window.page
        await expect(page.locator(".tile").first).to_be_visible()
        badge = page.locator("hui-entity-badge", has_text="Dust collector")
        await expect(badge).to_have_count(0)
        await stage.work("run_machine", machine="router_table")
        await expect(badge).to_be_visible()
        await badge.click()
        await page.wait_for_url(f"**{MADE}/alarms-{yard}")
        await expect(page.locator(".alarm").first).to_be_visible()
    await stage.rest()


async def test_every_card_has_a_form(stage: Stage) -> None:
    """Home Assistant's own editor shows it, with a text for each field."""
    async with stage.page(f"{CARDS}/map?edit=1", width=1280) as window:
        page = window.page
        await page.wait_for_selector(".headline p")
        forms: dict[str, Any] = await page.evaluate(
            """() => Object.fromEntries(["map", "status", "day", "alarms", "record"].map((kind) => {
              const form = customElements.get(`gatewright-${kind}-card`).getConfigForm();
              return [kind, form.schema.map((field) => [field.name, form.computeLabel(field)])];
            }))"""
        )
        assert {kind: [name for name, _ in form] for kind, form in forms.items()} == {
            "map": ["entry_id", "title", "figures"],
            "status": ["entry_id", "title", "hide_idle"],
            "day": ["entry_id", "title", "hide_unused"],
            "alarms": ["entry_id", "title"],
            "record": ["entry_id", "title"],
        }
        assert all(label for form in forms.values() for _, label in form)
        await page.locator("hui-card-options, hui-card-edit-mode").first.wait_for()
        wrong = await page.evaluate(
            """() => {
              try {
                document.createElement("gatewright-map-card").setConfig({ entry_id: 5 });
              } catch ({ message }) {
                return message;
              }
            }"""
        )
        assert "entry_id" in wrong


async def test_the_status_card_puts_what_is_in_use_first(stage: Stage) -> None:
    async with stage.card("status", width=800) as window:
        names = window.page.locator(".tiles .name")
        await expect(names.first).to_have_text("Table saw")
        await stage.work("run_machine", machine="jointer")
        await expect(names.first).to_have_text("Jointer")
        await expect(tile(window, "Jointer")).to_have_attribute("data-tone", "good")
        # Under a finger nothing moves; a moment later it does.
        sweep = tile(window, "Floor sweep")
        await hold(window, sweep)
        await expect(sweep).to_have_attribute("aria-pressed", "true")
        assert (await names.all_inner_texts())[1] != "Floor sweep"
        await expect(names.nth(1)).to_have_text("Floor sweep")
        await hold(window, sweep)
    await stage.rest()


async def test_the_day_is_told_from_the_recorder(stage: Stage) -> None:
    await stage.work("run_machine", machine="miter_saw", seconds=6)
    await stage.client.states.until_state("binary_sensor.miter_saw_running", "on", 5)
    async with stage.card("day", width=800) as window:
        row = window.page.get_by_role("listitem", name="Miter saw: ran")
        await expect(row).to_be_visible(timeout=15_000)
        await expect(row.locator(".bar .with")).not_to_have_count(0)
        sums = window.page.locator(".sums")
        await expect(sums).to_contain_text("of running time")
        # The record knows how often the collector started; the history has gaps.
        record = await stage.client.ask(
            "gatewright.get_summary", config_entry_id=shop.YARD
        )
        starts = record["collector"]["starts"]
        await expect(sums).to_contain_text(re.compile(rf"\b{starts:g} starts?\b"))
        unused = window.page.get_by_role("listitem", name="Orbital sander: didn't run")
        await expect(unused).to_be_visible()
    await stage.rest()


async def test_dates_and_spans(stage: Stage) -> None:
    """The calculation behind the day, with a day that is known."""
    async with stage.card("day") as window:
        reported: dict[str, Any] = await window.page.evaluate(
            """async () => {
              const url = performance.getEntriesByType("resource").map(({ name }) => name)
                .find((name) => name.endsWith("/day-data.js"));
              const { dayOf, axisOf, spansOf, both, without, total, startsOf, recordedOf, toldOf } = await import(url);
              const on = (...times) => times.map((at, index) => ({ at, on: index % 2 === 0 }));
              const day = dayOf(on(100, 200, 300), on(150, 220, 290), 400);
              const hour = 3600;
              const axis = (first, now) => {
                const { from, to, ticks } = axisOf([{ ...day, withAir: [[first, now]], withoutAir: [], onlyAir: [] }], 0, now);
                return [from / hour, to / hour, ticks.length];
              };
              return {
                day,
                broken: spansOf([{ at: 5, on: false }, { at: 6, on: true }, { at: 7, on: true }], 9),
                both: both([[0, 10], [20, 30]], [[5, 25]]),
                without: without([[0, 10]], [[2, 3], [5, 20]]),
                total: total([[1, 2], [5, 9]]),
                starts: startsOf([
                  { at: 0, on: true, known: true },
                  { at: 2, on: false, known: true },
                  { at: 5, on: true, known: true },
                  // The hub restarts while it turns, and later while it stands.
                  { at: 6, on: false, known: false },
                  { at: 7, on: true, known: true },
                  { at: 8, on: false, known: true },
                  { at: 9, on: false, known: false },
                  { at: 10, on: true, known: true },
                ], 0),
                told: [toldOf({ run: 0.4, covered: 0.1 }), toldOf({ run: 0.6, covered: 0.5 })],
                recorded: [recordedOf({ run_time: 9, collecting_time: 7, cuts: 2 }), recordedOf(undefined)],
                early: axis(0.5 * hour, 1.2 * hour),
                late: axis(9.5 * hour, 16.2 * hour),
                whole: axis(0, 24 * hour),
              };
            }"""
        )
    assert reported["day"] == {
        "withAir": [[150, 200], [300, 400]],
        "withoutAir": [[100, 150]],
        "onlyAir": [[200, 220], [290, 300]],
        "run": 200,
        "covered": 150,
    }
    assert reported["broken"] == [[6, 9]]
    assert reported["both"] == [[5, 10], [20, 25]]
    assert reported["without"] == [[0, 2], [3, 5]]
    assert reported["total"] == 5
    assert reported["starts"] == 2
    # A pickup that was never used isn't shown with 0 s, 0 %.
    assert reported["told"] == [{"run": 0, "covered": 0}, {"run": 0.6, "covered": 0.5}]
    assert reported["recorded"] == [{"run": 9, "covered": 7}, {}]
    assert reported["early"] == [0, 2, 5]
    assert reported["late"] == [9, 17, 5]
    assert reported["whole"] == [0, 24, 7]


async def test_figures_are_in_home_assistants_units(stage: Stage) -> None:
    """By hand: 1 m3/s is 2118.88 cfm, 1 m/s is 196.85 ft/min."""
    async with stage.card("day") as window:
        reported = await window.page.evaluate(
            """async () => {
              const urls = performance.getEntriesByType("resource").map(({ name }) => name);
              const load = (file) => import(urls.find((name) => name.endsWith(file)));
              const { flowText, shareText, speedText } = await load("/units.js");
              const { left, span, translator } = await load("/i18n.js");
              const of = (length) => {
                const hass = { language: "en", config: { unit_system: { length } } };
                return [flowText(hass, 0.3), speedText(hass, 20), speedText(hass, 3.14)];
              };
              const t = translator("en-GB");
              return {
                metric: of("km"),
                shares: [1, 0.99999, 0.949, 0.29, 0].map((share) => shareText({ language: "en" }, share)),
                us: of("mi"),
                left: [-1, 0.4, 12, 119, 125, 600].map((seconds) => left(t, seconds)),
                span: [4.4, 59.4, 61, 3599, 3700].map((seconds) => span(t, seconds)),
                one: t("day.starts", { count: 1 }),
                many: t("day.starts", { count: 1234 }),
                unknown: t("nothing.there") ?? null,
              };
            }"""
        )
    assert reported == {
        # To a tenth and rounded down, as the entities on the same page are.
        "shares": ["100%", "99.9%", "94.9%", "29%", "0%"],
        "metric": ["1,080 m³/h", "20 m/s", "3.1 m/s"],
        "us": ["635 cfm", "3,940 ft/min", "620 ft/min"],
        "left": ["0 s", "1 s", "12 s", "119 s", "2:05", "10:00"],
        "span": ["4 s", "59 s", "1 min", "1 h 0 min", "1 h 2 min"],
        "one": "1 start",
        "many": "1,234 starts",
        "unknown": None,
    }


async def test_a_card_for_a_system_that_is_not_there(stage: Stage) -> None:
    command = stage.client.socket.command
    card = {"type": "custom:gatewright-map-card", "entry_id": "gone"}
    await command(
        "lovelace/dashboards/create", url_path="gate-gone", title="Gone", mode="storage"
    )
    await command(
        "lovelace/config/save",
        url_path="gate-gone",
        config={"views": [{"title": "Gone", "cards": [card, card]}]},
    )
    async with stage.page("/gate-gone") as window:
        notes = window.page.locator(".note")
        await expect(notes).to_have_count(2)
        await expect(notes.first).to_have_text(
            "This system doesn't exist, or you're not allowed to see it."
        )
        await asyncio.sleep(1)


async def test_the_cards_are_there_however_late_the_page_itself_is(
    stage: Stage,
) -> None:
    """Home Assistant's page brings its own element registry, in place of the browser's."""
    async with stage.page(None) as window:

        async def late(route: Route) -> None:
            await asyncio.sleep(1.5)
            await route.continue_()

        await window.page.route("**/frontend_*/app.*.js", late)
        await window.open(f"{CARDS}/map")
        await window.page.wait_for_selector(".headline p")
