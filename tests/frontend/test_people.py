"""The cards for everybody.

For users with read-only rights, with a keyboard or a screen reader, in another language
or from right to left, and without motion.
"""

import json
from pathlib import Path
from typing import Any, Literal

import axe_playwright_python
from playwright.async_api import expect
import pytest

from .browser import Window
from .stage import CARDS, Stage, gate, headline, tile

AXE = Path(axe_playwright_python.__file__).parent / "axe.min.js"

LIMIT_TO_CARDS = """
async (kinds) => {
  const cards = kinds.map((kind) => findCard(kind)).filter(Boolean);
  const result = await axe.run(cards, {
    resultTypes: ["violations"],
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
  });
  return result.violations.map(({ id, impact, nodes }) => ({
    id, impact, nodes: nodes.map(({ html, failureSummary }) => `${html}: ${failureSummary}`),
  }));
}
"""


async def violations(window: Window, *kinds: str) -> list[dict[str, Any]]:
    """Return what axe finds wrong with the cards on a page."""
    await window.page.evaluate(AXE.read_text("utf-8"))
    found: list[dict[str, Any]] = await window.page.evaluate(
        LIMIT_TO_CARDS, list(kinds)
    )
    return found


async def test_axe_finds_nothing(busy: Stage) -> None:
    """With every tone on the page, in light and in dark."""
    async with busy.card("map", width=360, still=True) as window:
        page = window.page
        for kind, there in (
            ("map", '.tile[data-tone="bad"]'),
            ("status", '.tile[data-tone="bad"]'),
            ("alarms", ".alarm"),
            ("day", ".row"),
            ("record", "thead"),
        ):
            await window.open(f"{CARDS}/{kind}")
            await page.locator(there).first.wait_for()
            schemes: tuple[Literal["light", "dark"], ...] = ("light", "dark")
            for scheme in schemes:
                await page.emulate_media(color_scheme=scheme)
                await page.wait_for_function(
                    "(dark) => findCard(location.pathname.split('/').at(-1))"
                    ".hass.themes.darkMode === dark",
                    arg=scheme == "dark",
                )
                assert await violations(window, kind) == [], (kind, scheme)
        await window.open(f"{CARDS}/map")
        await gate(window, "planer_gate").focus()
        await page.keyboard.press("Enter")
        await expect(page.locator("gatewright-map-card dialog")).to_be_visible()
        assert await violations(window, "map") == []


async def test_who_may_only_look_sees_no_control_that_works(busy: Stage) -> None:
    token = await busy.member("visitor", "system-read-only")
    async with busy.card("map", token=token, width=360) as window:
        await expect(window.page.get_by_text("View only")).to_be_visible()
        await expect(headline(window)).to_have_text(
            "Router table is running without dust collection"
        )
        hood = tile(window, "Bench hood")
        await hood.click()
        assert await hood.get_attribute("aria-pressed") is None
        assert await window.page.locator("button.tile").count() == 0
        await gate(window, "planer_gate").focus()
        await window.page.keyboard.press("Enter")
        await expect(window.page.locator(".hint")).to_have_text("Planer gate: open.")
        assert await window.page.locator("gatewright-map-card dialog").count() == 0
        # Home Assistant would refuse anyway; the card doesn't even try.
        assert busy.client.states.state("switch.bench_hood") == "off"


async def test_everything_is_reached_and_done_by_keyboard(busy: Stage) -> None:
    async with busy.card("map", width=360) as window:
        page = window.page
        await page.locator(".collector").focus()
        walked = []
        for _ in range(22):
            walked.append(
                await page.evaluate(
                    "(({ gate, machine }) => gate ?? machine ?? 'collector')"
                    "(findCard('map').shadowRoot.activeElement.dataset)"
                )
            )
            await page.keyboard.press("Tab")
        assert len(set(walked)) == 22
        assert walked[0] == "collector"
        # Down the map, each gate before its machine.
        saw = walked.index("saw_gate")
        assert walked[saw : saw + 4] == ["saw_gate", "saw", "low_gate", "band_saw"]
        hood = tile(window, "Bench hood")
        await hood.focus()
        await page.keyboard.press("Space")
        dialog = page.locator("gatewright-map-card dialog")
        await expect(dialog).to_contain_text("Turn on dust collection at Bench hood?")
        await page.keyboard.press("Escape")
        await expect(dialog).to_have_count(0)
        assert busy.client.states.state("switch.bench_hood") == "off"
        await page.keyboard.press("Space")
        # The answer is in focus.
        await page.keyboard.press("Enter")
        await busy.client.states.until_state("switch.bench_hood", "on", 5)
        await expect(hood).to_be_focused()
        spoken = page.get_by_role("button", name="Bench hood: Collecting", pressed=True)
        await expect(spoken).to_be_visible()
        await page.keyboard.press("Enter")
        await page.get_by_role("button", name="Turn off", exact=True).click()
        await busy.client.states.until_state("switch.bench_hood", "off", 5)
        # The sentence is read aloud when it changes, an alarm at once.
        status = page.locator('.headline[role="status"]')
        await expect(status).to_contain_text(
            "Router table is running without dust collection"
        )
        assert await page.locator('.alarms[aria-live="assertive"]').count() == 1


async def test_without_motion_nothing_moves(busy: Stage) -> None:
    async with busy.card("map", width=360, still=True) as window:
        await expect(tile(window, "Planer")).to_have_attribute("data-tone", "good")
        moving = "findCard('map').shadowRoot.getAnimations().length"
        assert await window.page.evaluate(moving) == 0
        await window.page.emulate_media(reduced_motion="no-preference")
        await window.page.wait_for_function(f"{moving} > 3")


@pytest.mark.parametrize(
    ("language", "says"),
    [
        ("de", "Router table läuft ohne Absaugung"),
        ("fr", "Router table tourne sans aspiration"),
    ],
)
async def test_other_languages(busy: Stage, language: str, says: str) -> None:
    script = f"localStorage.selectedLanguage = {json.dumps(json.dumps(language))};"
    async with busy.card("map", width=360, scripts=[script]) as window:
        await expect(headline(window)).to_have_text(says)
        await fits(window)


async def test_from_right_to_left(busy: Stage) -> None:
    """A language without its own texts gets English ones."""
    script = """localStorage.selectedLanguage = '"he"';"""
    async with busy.card("map", width=360, scripts=[script]) as window:
        await expect(headline(window)).to_have_text(
            "Router table is running without dust collection"
        )
        await fits(window)
        fan = await window.page.locator(".fan").bounding_box()
        planer = await tile(window, "Planer").bounding_box()
        assert fan is not None
        assert planer is not None
        assert fan["x"] > 250
        assert planer["x"] < 60
        await window.page.set_viewport_size({"width": 1280, "height": 900})
        await window.page.wait_for_timeout(300)
        await fits(window)


async def fits(window: Window) -> None:
    """Check that nothing on the map overlaps, is cut off, or is outside of the page."""
    problems = await window.page.evaluate(
        """() => {
          const root = findCard("map").shadowRoot;
          const boxes = [...root.querySelectorAll(".tile, .gate, .collector")].map((node) => ({
            who: node.getAttribute("aria-label") ?? "collector",
            box: node.getBoundingClientRect(),
            cut: [...node.querySelectorAll(".name, .word, .state")].some(
              (text) => text.scrollWidth > text.clientWidth + 1 && getComputedStyle(text).display !== "inline"
            ),
            high: node.querySelector(".words")?.offsetHeight > node.clientHeight + 1,
          }));
          const found = [];
          boxes.forEach(({ who, box, cut, high }, index) => {
            if (cut) found.push(`${who} is cut off`);
            if (high) found.push(`${who} has more lines than room`);
            if (box.left < 0 || box.right > innerWidth) found.push(`${who} is outside`);
            for (const other of boxes.slice(index + 1)) {
              const across = Math.min(box.right, other.box.right) - Math.max(box.left, other.box.left);
              const down = Math.min(box.bottom, other.box.bottom) - Math.max(box.top, other.box.top);
              if (across > 1 && down > 2) found.push(`${who} overlaps ${other.who}`);
            }
          });
          if (document.documentElement.scrollWidth > innerWidth) found.push("the page scrolls sideways");
          return found;
        }"""
    )
    assert problems == []
