"""Drawing a plan in a real browser: with a mouse, a finger, a keyboard, and two browsers at once."""

import json
import re
from typing import Any

from playwright.async_api import Page, expect
import pytest

from ..browser import Chromium
from ..test_people import AXE
from .page import doc, drag, editor, given, placed, spot, tap

AXE_RUN = """
async () => {
  const result = await axe.run(card, {
    resultTypes: ["violations"],
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    // The page around the card is none of Home Assistant's.
    rules: { region: { enabled: false }, "page-has-heading-one": { enabled: false } },
  });
  return result.violations.map(({ id, nodes }) => [id, nodes.map(({ html, failureSummary }) => `${html}: ${failureSummary}`)]);
}
"""


async def choose(page: Page, tool: str) -> None:
    """Select a tool."""
    await page.get_by_role("button", name=tool, exact=True).click()


async def draw_all(page: Page) -> None:
    """Draw a main and a branch for every other machine."""
    await choose(page, "Duct")
    await tap(page, 7.5, 2.5)
    await tap(page, 0.7, 0.7)
    for x, y in ((2, 4), (4, 4), (6, 4), (3, 1.6), (5, 1.6)):
        await tap(page, x, y)
        await tap(page, x, 2.5)


async def sent(page: Page, name: str) -> list[dict[str, Any]]:
    """Return what was sent to the server under a name."""
    found: list[dict[str, Any]] = await page.evaluate(
        "(name) => connection.sent.filter(({ type }) => type === `gatewright/plan/${name}`)",
        name,
    )
    return found


async def test_a_first_duct_is_three_actions(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await expect(page.locator(".begin")).to_contain_text("Choose Duct")
        await choose(page, "Duct")
        await tap(page, 7.5, 2.5)
        await tap(page, 0.7, 0.7)
        found = await doc(page)
        [duct] = found["ducts"]
        assert duct["end"] == {"to": "collector"}
        assert [(p["x"], p["y"], p["z"]) for p in duct["points"]] == [
            (7.5, 2.5, 1),
            (7.5, 2.5, 2.4),
            (0.7, 2.5, 2.4),
            (0.7, 0.7, 2.4),
            (0.7, 0.7, 1.5),
        ]
        [gate] = found["gates"]
        assert (gate["bound"], gate["duct"], gate["items"]) == (
            "k6",
            duct["id"],
            ["i6"],
        )
        # It's saved without a request.
        await expect(page.locator(".status")).to_have_text("Draft saved, not applied")
        assert await page.evaluate("connection.document.ducts.length") == 1


async def test_a_stroke_of_a_finger_draws_a_duct(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        await choose(window.page, "Duct")
        await drag(window.page, (7.5, 2.5), (0.7, 0.7))
        assert len((await doc(window.page))["ducts"]) == 1


async def test_branches_meet_the_main_and_follow_it(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        await choose(page, "Select")
        await page.keyboard.press("Escape")
        await drag(page, (4.6, 2.5), (4.6, 2.8))
        found = await doc(page)
        main = found["ducts"][0]
        assert main["points"][3]["y"] == pytest.approx(2.8)
        for branch in found["ducts"][1:]:
            assert branch["end"]["duct"] == main["id"]
            assert branch["points"][-1]["y"] == pytest.approx(2.8)
        await drag(page, (4, 4), (4.5, 4.2))
        planer = next(
            d for d in (await doc(page))["ducts"] if d["name"] == "Planer branch"
        )
        assert [(p["x"], p["y"]) for p in planer["points"]] == [
            (4.5, 4.2),
            (4.5, 4.2),
            (4.5, 2.8),
        ]


async def test_every_step_can_be_undone(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        before = await doc(page)
        await draw_all(page)
        after = await doc(page)
        await page.locator(".plan").focus()
        for _ in range(6):
            await page.keyboard.press("Control+z")
        assert await doc(page) == before
        for _ in range(6):
            await page.keyboard.press("Control+y")
        assert await doc(page) == after


async def test_machines_are_dragged_from_the_list(chromium: Chromium) -> None:
    async with editor(chromium, given()) as window:
        page = window.page
        await choose(page, "Room")
        await drag(page, (0.5, 0.5), (6.5, 4.5))
        assert (await doc(page))["room"]["outline"] == [
            [0.5, 0.5],
            [6.5, 0.5],
            [6.5, 4.5],
            [0.5, 4.5],
        ]
        row = page.get_by_role("button", name="Table saw", exact=True)
        box = await row.bounding_box()
        assert box is not None
        await page.mouse.move(box["x"] + 20, box["y"] + 20)
        await page.mouse.down()
        await page.mouse.move(*await spot(page, 3, 3), steps=5)
        await page.mouse.up()
        [item] = (await doc(page))["items"]
        assert (item["bound"], item["x"], item["y"]) == ("m3", 3, 3)
        await expect(row).to_have_count(0)
        # A press of a key does it as well, where there is room.
        await page.get_by_role("button", name="Planer", exact=True).focus()
        await page.keyboard.press("Enter")
        assert [one["bound"] for one in (await doc(page))["items"]] == ["m3", "m2"]


async def test_what_is_chosen_is_changed_at_once(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        await choose(page, "Select")
        await page.get_by_role("button", name="Done").click()
        await choose(page, "Select several")
        for x in (2, 4, 6):
            await tap(page, x, 2.8)
        await expect(page.locator(".part h3")).to_have_text("3 selected")
        await page.locator(".part .offers").get_by_role("button", name="125 mm").click()
        await page.get_by_label("Height above the floor (m)").fill("2")
        await page.keyboard.press("Enter")
        found = await doc(page)
        chosen = [d for d in found["ducts"] if d["diameter"] == 0.125]
        assert [d["name"] for d in chosen] == [
            "Band saw branch",
            "Planer branch",
            "Table saw branch",
        ]
        for duct in chosen:
            # It rises to the main, which stays in place.
            assert [p["z"] for p in duct["points"]] == [1, 2, 2, 2.4]


async def test_a_figure_that_is_none_is_reported_where_it_was_typed(
    chromium: Chromium,
) -> None:
    async with editor(chromium) as window:
        page = window.page
        await tap(page, 2, 4)
        field = page.get_by_label("Height of the port (m)")
        await field.fill("high")
        await field.press("Enter")
        await expect(page.locator(".fault:visible")).to_have_text(
            "Enter a length, such as 2.4."
        )
        await expect(field).to_have_attribute("aria-invalid", "true")
        await field.fill("120 cm")
        await field.press("Enter")
        await expect(page.locator(".fault:visible")).to_have_count(0)
        assert (await doc(page))["items"][1]["z"] == 1.2


async def test_one_leg_and_one_elbow_are_made_otherwise(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        await choose(page, "Select")
        await tap(page, 4.6, 2.5)
        part = page.locator(".part")
        await part.locator("summary", has_text="Single legs and elbows").click()
        await part.get_by_label("Leg 1: material").select_option("flexible")
        await part.get_by_label("Elbow at point 2").select_option("five_piece")
        await part.get_by_label("Leg 1: diameter (mm)").fill("80")
        await page.keyboard.press("Enter")
        drawn = await chosen_duct(page)
        assert drawn["points"][0]["pipe"] == {"material": "flexible", "diameter": 0.08}
        made = drawn["points"][1]["elbow"]
        assert made == {"construction": "five_piece", "radius": 1.5}
        # Chosen for the whole duct, it holds for every piece of it.
        await part.get_by_label("Material", exact=True).select_option("spiral")
        drawn = await chosen_duct(page)
        assert drawn["material"] == "spiral"
        assert drawn["points"][0]["pipe"] == {"diameter": 0.08}


async def chosen_duct(page: Page) -> dict[str, Any]:
    """Return the selected duct."""
    [found] = await page.evaluate(
        "card._editor.model.doc.ducts.filter(({ id }) => card._editor.model.selection.has(id))"
    )
    assert isinstance(found, dict)
    return found


async def test_all_is_done_with_the_keyboard(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        said = page.locator("[aria-live]")
        # A duct from lists.
        await page.locator("summary", has_text="Draw a duct from lists").press("Enter")
        await page.get_by_label("From", exact=True).select_option(label="Table saw")
        await page.get_by_role("button", name="Draw duct").press("Enter")
        await expect(said).to_contain_text("Duct drawn. Main: 160 mm")
        # The list is one stop of the tab key, and the arrows go through it.
        pieces = page.locator(".piece")
        assert (
            await pieces.evaluate_all(
                "(all) => all.filter(({ tabIndex }) => tabIndex === 0).length"
            )
            == 1
        )
        await page.locator('.piece[tabindex="0"]').focus()
        await page.keyboard.press("Home")
        await page.keyboard.press("ArrowDown")
        await page.keyboard.press("Enter")
        await expect(page.locator(".part h3")).to_have_text("Band saw")
        await expect(page.locator(".piece:focus")).to_have_attribute(
            "aria-pressed", "true"
        )
        # On the drawing the arrows move what is chosen.
        await page.locator(".plan").focus()
        await page.keyboard.press("ArrowRight")
        await page.keyboard.press("Shift+ArrowUp")
        item = (await doc(page))["items"][1]
        assert (item["x"], item["y"]) == (pytest.approx(2.1), pytest.approx(3))
        await expect(said).to_contain_text("Moved to")
        await page.keyboard.press("]")
        await expect(page.locator(".part h3")).to_have_text("Planer")
        await page.keyboard.press("Delete")
        assert len((await doc(page))["items"]) == 6
        await expect(said).to_have_text("Planer removed")


async def test_what_runs_is_tried_by_tapping(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        await page.get_by_role("tab", name="Airflow").click()
        for x in (2, 4, 6):
            await tap(page, x, 4)
        rows = page.locator(".toggles .tile")
        await expect(rows.nth(0)).to_contain_text("enough")
        await expect(rows.nth(1)).to_contain_text("marginal")
        await expect(rows.nth(2)).to_contain_text("too little")
        # On the drawing the three differ by more than their color.
        shapes = await page.locator(".names .badge .shape").evaluate_all(
            "(all) => all.map((node) => [node.parentNode.dataset.tone, node.getAttribute('d')]).filter(([tone]) => tone)"
        )
        assert {tone for tone, _ in shapes} == {"good", "weak", "bad"}
        assert len({shape for _, shape in shapes}) == 3
        await expect(
            page.locator(".plan .label", has_text="too slow").first
        ).to_be_visible()
        await expect(page.locator(".fan-curve")).to_have_attribute(
            "aria-label", "The fan's curve. It works at 1,260 m³/h and 2,400 Pa."
        )
        before = await doc(page)
        await page.get_by_role("button", name="Check all machines").click()
        await expect(page.locator(".alone .tile")).to_have_count(6)
        assert await doc(page) == before


async def test_only_the_newest_drawing_is_computed(chromium: Chromium) -> None:
    """However many requests come during a pending answer, only one waits."""
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        await page.evaluate("connection.slow = 150")
        before = len(await sent(page, "compute"))
        await page.locator(".plan").focus()
        await tap(page, 2, 4)
        await page.evaluate(
            """() => {
              const { model } = card._editor;
              for (let step = 0; step < 20; step += 1) model.change({ ...model.doc, name: `${step}` });
            }"""
        )
        await page.wait_for_function("!card._editor._figures._busy")
        asked = (await sent(page, "compute"))[before:]
        assert len(asked) <= 3
        assert asked[-1]["document"]["name"] == "19"


async def test_a_drag_asks_for_figures_once_it_has_ended(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        await page.get_by_role("button", name="Select", exact=True).click()
        await page.wait_for_function("!card._editor._figures._busy")
        before = len(await sent(page, "compute"))
        await page.mouse.move(*await spot(page, 2, 4))
        await page.mouse.down()
        await page.mouse.move(*await spot(page, 2.6, 4.3), steps=12)
        assert len(await sent(page, "compute")) == before
        await page.mouse.up()
        # In the very turn in which the finger was lifted.
        assert len(await sent(page, "compute")) == before + 1


async def test_mistakes_are_shown_at_their_place(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await choose(page, "Duct")
        await tap(page, 6, 4)
        await tap(page, 6, 2)
        await page.keyboard.press("Enter")
        await page.locator(".plan").focus()
        await page.keyboard.press("Enter")
        [duct] = (await doc(page))["ducts"]
        assert duct["end"] is None
        row = page.locator(".shop .problem")
        await expect(row).to_contain_text("leads nowhere yet")
        await expect(page.locator(f'.ducts [data-id="{duct["id"]}"]')).to_have_class(
            "duct loose selected wrong"
        )
        await expect(page.locator(".status")).to_have_text("Draft saved, not applied")


async def test_a_proposal_is_taken_whole_or_piece_by_piece(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        await page.get_by_role("tab", name="Sizing").click()
        await page.get_by_role("button", name="Suggest diameters").click()
        await expect(page.locator(".changes li")).to_have_count(6)
        await expect(page.locator(".plan .proposal")).to_have_count(6)
        await page.get_by_role(
            "button", name="Use Planer branch: 100 mm → 200 mm"
        ).click()
        await expect(page.locator(".changes li")).to_have_count(5)
        widths = [d["diameter"] for d in (await doc(page))["ducts"]]
        assert widths == [0.16, 0.1, 0.2, 0.1, 0.1, 0.1]
        await page.get_by_role("button", name="Use all").click()
        assert {d["diameter"] for d in (await doc(page))["ducts"]} == {0.2}
        await expect(page.locator(".plan .proposal")).to_have_count(0)


async def test_two_browsers_lose_nothing(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        await expect(page.locator(".status")).to_have_text("Draft saved, not applied")
        mine = await doc(page)
        await page.evaluate(
            "connection.document = { ...connection.document, ducts: [], gates: [] }, connection.revision += 1"
        )
        await choose(page, "Select")
        await drag(page, (2, 4), (2.5, 4.3))
        moved = await doc(page)
        assert moved != mine
        dialog = page.get_by_role("dialog", name="Drawn in two places")
        await expect(dialog).to_be_visible()
        # Closing the question discards nothing: it's asked again.
        await page.keyboard.press("Escape")
        await expect(dialog).to_be_visible()
        await dialog.get_by_role("button", name="Use the other").click()
        await expect(dialog).to_be_hidden()
        assert (await doc(page))["ducts"] == []
        await page.locator(".plan").focus()
        await page.keyboard.press("Control+z")
        assert await doc(page) == moved
        await expect(page.locator(".status")).to_have_text("Draft saved, not applied")
        assert await page.evaluate("connection.document.ducts.length") == 6


async def test_a_broken_connection_loses_nothing(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await page.evaluate("connection.down = true")
        await draw_all(page)
        await expect(page.locator(".status")).to_contain_text(
            "Not saved: no connection"
        )
        mine = await doc(page)
        # Not even if the page is closed meanwhile.
        await page.reload()
        await page.wait_for_function("window.card?._editor?.draft?.status")
        assert await doc(page) == mine
        await expect(page.locator(".status")).to_have_text("Draft saved, not applied")


async def test_applying_says_what_changes_and_asks(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        apply = page.locator(".apply")
        await apply.click()
        dialog = page.get_by_role("dialog", name="Use this plan?")
        await expect(dialog).to_contain_text("Main is added")
        await dialog.get_by_role("button", name="Cancel").click()
        assert await sent(page, "apply") == []
        await apply.click()
        await dialog.get_by_role("button", name="Apply").click()
        await expect(page.locator(".status")).to_have_text("Same as in use")
        assert len(await sent(page, "apply")) == 1


async def test_a_phone_looks_and_changes_nothing(chromium: Chromium) -> None:
    async with editor(chromium, width=390, height=844, touch=True) as window:
        page = window.page
        await expect(page.locator(".phone")).to_contain_text(
            "To draw, open the plan on a tablet"
        )
        assert await page.locator(".tools:visible, .apply:visible").count() == 0
        before = await doc(page)
        # At (2, 4) of the shop, which is turned to be read.
        await page.touchscreen.tap(*await spot(page, -4, 2))
        await expect(page.locator('.toggles .tile[aria-pressed="true"]')).to_have_text(
            "Band sawNo values"
        )
        await drag(page, (4, 4), (5, 5))
        assert await doc(page) == before
        wide = await page.evaluate("document.documentElement.scrollWidth")
        assert wide <= 390


async def test_who_is_no_administrator_looks_only(chromium: Chromium) -> None:
    async with editor(chromium, placed(editable=False)) as window:
        page = window.page
        assert (
            await page.locator(
                ".tools:visible, .apply:visible, .deeds .danger:visible"
            ).count()
            == 0
        )
        assert await page.locator(".phone:visible").count() == 0
        await tap(page, 2, 4)
        await expect(page.locator('.toggles .tile[aria-pressed="true"]')).to_have_count(
            1
        )
        assert await sent(page, "save") == []


@pytest.mark.parametrize("dark", [False, True])
async def test_axe_finds_nothing(chromium: Chromium, *, dark: bool) -> None:
    async with editor(
        chromium, dark=dark, still=True, width=820, height=1100
    ) as window:
        page = window.page
        await draw_all(page)
        await page.evaluate(AXE.read_text("utf-8"))
        await choose(page, "Select")
        await tap(page, 4.6, 2.5)
        for summary in await page.locator("details.points summary").all():
            await summary.click()
        assert await page.evaluate(AXE_RUN) == []
        await page.get_by_role("tab", name="Airflow").click()
        for x in (2, 4, 6):
            await tap(page, x, 4)
        await page.get_by_role("button", name="Check all machines").click()
        await page.locator(".alone .tile").first.wait_for()
        assert await page.evaluate(AXE_RUN) == []
        await page.get_by_role("tab", name="Sizing").click()
        await page.get_by_role("button", name="Suggest diameters").click()
        await page.locator(".changes li").first.wait_for()
        assert await page.evaluate(AXE_RUN) == []
        await page.locator(".apply").click()
        await page.get_by_role("dialog").wait_for()
        assert await page.evaluate(AXE_RUN) == []


async def test_a_phone_shows_a_wide_shop_upright(chromium: Chromium) -> None:
    """As large as it can, with nothing over it; what is sent is the plan as it was drawn."""
    shop = placed()
    shop["document"]["room"]["outline"] = [[0, 0], [14, 0], [14, 5], [0, 5]]
    async with editor(chromium, shop, width=360, height=740, touch=True) as window:
        page = window.page
        shown = await page.evaluate(
            """() => {
              const { scene, model } = card._editor;
              const box = (node) => node.getBoundingClientRect();
              const stage = box(scene.node);
              const over = [...card.shadowRoot.querySelectorAll(".zoom, .begin:not([hidden])")].map(box)
                .filter(({ bottom, top }) => bottom > stage.top && top < stage.bottom);
              const room = box(scene.node.querySelector(".room"));
              return { room: [room.width, room.height], stage: [stage.width, stage.height], over: over.length,
                outline: model.doc.room.outline, settled: model.history.settled.room.outline };
            }"""
        )
        width, height = shown["room"]
        assert height > 2 * width
        assert height > 0.8 * shown["stage"][1]
        assert shown["stage"][1] > 0.6 * 740
        assert shown["over"] == 0
        assert shown["settled"] == [[0, 0], [14, 0], [14, 5], [0, 5]]
        assert shown["outline"] != shown["settled"]
        sent = await page.evaluate(
            "connection.sent.filter(({ type }) => type.endsWith('/compute')).at(-1).document"
        )
        assert sent["room"]["outline"] == shown["settled"]
        # A tap meets what it is on: here the planer, turned.
        machine = await page.evaluate(
            "card._editor.model.doc.items.find(({ id }) => id === 'i2')"
        )
        await tap(page, machine["x"], machine["y"])
        assert await page.evaluate("[...card._editor.model.running]") == ["i2"]
        # On a computer it lies as it was drawn.
        await page.set_viewport_size({"width": 1100, "height": 800})
        await page.wait_for_function("card._editor.model.editable")
        assert (
            await page.evaluate("card._editor.model.doc.room.outline")
            == shown["settled"]
        )


@pytest.mark.parametrize("language", ["de", "fr"])
async def test_other_languages_have_all_texts(
    chromium: Chromium, language: str
) -> None:
    async with editor(chromium, placed(language=language)) as window:
        page = window.page
        for tab in await page.get_by_role("tab").all():
            await tab.click()
            text = await page.evaluate(
                "card.shadowRoot.querySelector('.editor').innerText"
            )
            assert "undefined" not in text
            assert "{" not in text


async def test_everything_is_large_enough_for_a_finger(chromium: Chromium) -> None:
    async with editor(chromium, width=820, height=1100) as window:
        page = window.page
        await draw_all(page)
        small = """() => [...card.shadowRoot.querySelectorAll("button, select, summary, input[type=text]")]
          .filter((node) => node.offsetParent && !node.matches(".link"))
          .map((node) => [node.outerHTML, node.offsetHeight, node.offsetWidth])
          .filter(([, height, width]) => height < 44 || width < 40)"""
        assert await page.evaluate(small) == []
        await page.get_by_role("tab", name="Airflow").click()
        assert await page.evaluate(small) == []


async def test_the_shop_is_followed(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        await page.get_by_role("tab", name="Airflow").click()
        await page.get_by_role("button", name="As in shop").click()
        pressed = page.locator('.toggles .tile[aria-pressed="true"]')
        await expect(pressed).to_have_count(0)
        await page.evaluate(
            "card.feed._take({ now: 1, machines: { m2: { running: true }, m3: { running: true } } })"
        )
        await expect(pressed).to_have_count(2)
        await expect(pressed.first).to_contain_text("Planer")
        await page.evaluate(
            "card.feed._take({ now: 2, machines: { m2: { running: false } } })"
        )
        await expect(pressed).to_have_count(1)
        # A trial no longer follows the shop.
        await tap(page, 2, 4)
        await page.evaluate(
            "card.feed._take({ now: 3, machines: { m3: { running: false } } })"
        )
        await expect(pressed).to_have_count(2)


PRINT = """
async () => {
  const { paper } = await import("/frontend/plan/paper.js");
  const sized = await card._editor.session.call("size", { document: card._editor.model.doc });
  const frame = document.createElement("iframe");
  document.body.append(frame);
  paper(frame.contentDocument, card._editor, sized);
  const page = frame.contentDocument;
  const svg = page.querySelector("svg");
  return {
    width: svg.getAttribute("width"),
    height: svg.getAttribute("height"),
    view: svg.getAttribute("viewBox"),
    text: page.body.innerText,
    html: `<!doctype html>${page.documentElement.outerHTML}`,
  };
}
"""


async def test_it_is_printed_to_scale_on_one_sheet(chromium: Chromium) -> None:
    """9 x 5.5 m with 0.4 m around: 9.8 x 6.3 m, at 1:50 196 x 126 mm."""
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        sheet = await page.evaluate(PRINT)
        assert (sheet["width"], sheet["height"]) == ("196.00mm", "126.00mm")
        assert sheet["view"] == "-40.0 -40.0 980.0 630.0"
        assert "Scale 1:50" in sheet["text"]
        assert "Table saw branch" in sheet["text"]
        assert "pipe 200 mm" in sheet["text"]
        assert "{" not in sheet["text"]
        await page.set_content(sheet["html"])
        pdf = await page.pdf(prefer_css_page_size=True)
        assert len(re.findall(rb"/Type /Page\b", pdf)) == 1


def big() -> dict[str, Any]:
    """Return a shop with 200 pieces: a main, and 99 machines with a branch each."""
    found = placed()
    document = found["document"]
    machines = [
        {
            "id": f"i{n}",
            "type": "machine",
            "bound": None,
            "name": f"Machine {n}",
            "kind": "other",
            "x": 1 + n * 0.3,
            "y": 2 if n % 2 else 6,
            "z": 1,
        }
        for n in range(1, 100)
    ]
    main = {
        "id": "d0",
        "name": "Main",
        "points": [{"x": 32, "y": 4, "z": 2.4}, {"x": 0.7, "y": 4, "z": 2.4}],
        "diameter": 0.3,
        "material": "galvanized",
        "end": {"to": "collector"},
    }
    branches = [
        {
            "id": f"d{n}",
            "name": f"Branch {n}",
            "start": {"item": f"i{n}"},
            "points": [
                {"x": m["x"], "y": m["y"], "z": 1},
                {"x": m["x"], "y": m["y"], "z": 2.4},
                {"x": m["x"], "y": 4, "z": 2.4},
            ],
            "diameter": 0.1,
            "material": "galvanized",
            "end": {"to": "duct", "duct": "d0", "wye": 45},
        }
        for n, m in enumerate(machines, 1)
    ]
    document["items"] = [
        {"id": "c", "type": "collector", "x": 0.7, "y": 4, "z": 2.4},
        *machines,
    ]
    document["ducts"] = [main, *branches]
    return found


async def test_two_hundred_pieces_are_dragged_fluently(chromium: Chromium) -> None:
    """The main with all its branches: the editor's work per frame fits 30 times into a second.

    Counted is the work of a frame, as often as 60 frames of a drag do it, against the
    time of a plain loop on this very machine: a busy one slows both.
    """
    async with editor(chromium, big()) as window:
        page = window.page
        drawn = await doc(page)
        assert len(drawn["items"]) + len(drawn["ducts"]) == 200
        await page.evaluate("card._editor.model.runOnly(['i1', 'i2', 'i3'])")
        await page.wait_for_function(
            "card._editor.model.figures?.running?.length === 3"
        )
        share = await page.evaluate(
            """async () => {
              const { model, scene, tools } = card._editor;
              const tool = tools.choose;
              const place = (x, y) => ({ x, y, reach: 0.1 });
              const time = (work, times) => {
                const start = performance.now();
                for (let turn = 0; turn < times; turn += 1) work(turn);
                return (performance.now() - start) / times;
              };
              tool.down(place(20.1, 4));
              const frames = [];
              for (let step = 1; step <= 60; step += 1) {
                await new Promise(requestAnimationFrame);
                frames.push(time(() => {
                  tool.move(place(20.1, 4 + (1 + (step % 20)) / 10));
                  scene.draw();
                  scene.node.getBoundingClientRect();
                }, 1));
              }
              tool.up();
              // What a frame of 1/30 s is worth here: some plain work that takes about that long on an idle core.
              const plain = () => {
                let sum = 0;
                for (let at = 0; at < 4e6; at += 1) sum += Math.sqrt(at) * Math.sin(at);
                return sum;
              };
              plain();
              const whole = time(plain, 5);
              frames.sort((one, other) => one - other);
              return { frame: frames[30], whole, moved: model.doc.ducts[5].points.at(-1).y };
            }"""
        )
        assert share["moved"] != 4
        assert share["frame"] < share["whole"], share


async def test_a_drag_draws_once_in_a_frame(chromium: Chromium) -> None:
    """However many events a pointer sends, and only what was moved."""
    async with editor(chromium, big()) as window:
        page = window.page
        await page.evaluate(
            """() => {
              window.changed = new Set();
              new MutationObserver((all) => all.forEach(({ target }) => {
                const part = target.closest("[data-id]");
                if (part) changed.add(part.dataset.id);
              })).observe(card._editor.scene.node, { attributes: true, subtree: true });
              window.before = card._editor.frames;
              window.events = 0;
              card._editor.scene.node.addEventListener("pointermove", () => (window.events += 1));
            }"""
        )
        machine = (1 + 40 * 0.3, 6.0)
        await page.mouse.move(*await spot(page, *machine))
        await page.mouse.down()
        await page.mouse.move(*await spot(page, machine[0], 7), steps=40)
        await page.mouse.up()
        counted = await page.evaluate(
            "[window.events, card._editor.frames - window.before]"
        )
        assert counted[0] > 30
        assert counted[1] <= counted[0] + 3
        assert await page.evaluate("[...changed].sort()") == ["d40", "i40"]


async def test_two_fingers_zoom_and_change_nothing(chromium: Chromium) -> None:
    async with editor(chromium, touch=True) as window:
        page = window.page
        before = await doc(page)
        scale = await page.evaluate("card._editor.scene.scale")
        x, y = await spot(page, 2, 4)
        session = await window.context.new_cdp_session(page)

        async def touch(kind: str, *points: tuple[float, float]) -> None:
            await session.send(
                "Input.dispatchTouchEvent",
                {
                    "type": kind,
                    "touchPoints": [
                        {"x": left, "y": top, "id": number}
                        for number, (left, top) in enumerate(points)
                    ],
                },
            )

        await touch("touchStart", (x, y))
        await touch("touchStart", (x, y), (x + 100, y))
        for step in range(1, 6):
            await touch("touchMove", (x, y), (x + 100 + 20 * step, y))
        await touch("touchEnd")
        assert await page.evaluate("card._editor.scene.scale") == pytest.approx(
            2 * scale, rel=0.05
        )
        assert await doc(page) == before
        # One finger moves what it holds.
        x, y = await spot(page, 2, 4)
        await touch("touchStart", (x, y))
        for step in range(1, 6):
            await touch("touchMove", (x + 20 * step, y))
        await touch("touchEnd")
        assert (await doc(page))["items"][1]["x"] > 2


async def test_a_file_is_saved_and_opened(chromium: Chromium) -> None:
    async with editor(chromium) as window:
        page = window.page
        await draw_all(page)
        drawn = await doc(page)
        await page.locator(".menu summary").click()
        async with page.expect_download() as saving:
            await page.get_by_role("button", name="Save as file").click()
        download = await saving.value
        assert download.suggested_filename == "workshop-plan.json"
        text = (await download.path()).read_text("utf-8")
        assert json.loads(text) == drawn
        await page.locator(".plan").focus()
        await page.keyboard.press("Control+a")
        await page.keyboard.press("Delete")
        assert (await doc(page))["ducts"] == []
        await page.locator(".menu summary").click()
        async with page.expect_file_chooser() as choosing:
            await page.get_by_role("button", name="Open file").click()
        chooser = await choosing.value
        await chooser.set_files(
            {
                "name": "plan.json",
                "mimeType": "application/json",
                "buffer": text.encode(),
            }
        )
        await expect(page.locator("[aria-live]")).to_have_text("File opened")
        assert await doc(page) == drawn
        # The earlier drawing is one undo away.
        await page.locator(".plan").focus()
        await page.keyboard.press("Control+z")
        assert (await doc(page))["ducts"] == []
