"""Messages with a missing field: the rest of the card keeps working.

A page may be older or newer than Home Assistant, and one of its parts may send less
than it should. A missing field shows only in its own place.
"""

from typing import Any

from playwright.async_api import expect

from .stage import Stage, headline, tile

# Remove every field of a message, one by one, and look at what is left of the card.
TAKE_AWAY = """async (kind) => {
  const card = findCard(kind);
  const { picture } = card.feed;
  const whole = () => structuredClone({
    ...picture,
    gates: Object.fromEntries(picture.gates),
    machines: Object.fromEntries(picture.machines),
    alarms: [{ kind: "gate_not_moving", part: "planer_gate", at: card.feed.now() - 60 },
      { kind: "reading_lost", part: "saw", at: card.feed.now() - 50 }],
    now: performance.now() / 1000 - 1e6,
  });
  const paths = [];
  const sent = whole();
  for (const key of Object.keys(sent)) if (!["now", "state"].includes(key)) paths.push([key]);
  for (const key of Object.keys(sent.system)) paths.push(["system", key]);
  for (const group of ["gates", "machines"]) {
    for (const [id, part] of Object.entries(sent[group])) {
      for (const key of Object.keys(part)) if (key !== "id") paths.push([group, id, key]);
    }
  }
  for (const key of Object.keys(sent.alarms[0])) paths.push(["alarms", 0, key]);
  for (const key of Object.keys(sent.flows ?? {})) paths.push(["flows", key]);
  const found = [];
  const root = card.shadowRoot;
  for (const path of paths) {
    const less = whole();
    let at = less;
    for (const step of path.slice(0, -1)) at = at[step];
    delete at[path.at(-1)];
    card.feed._take(less);
    const text = root.querySelector(".body").innerText;
    found.push({
      path: path.join("."),
      alarms: root.querySelectorAll(".alarm h3").length,
      stuck: text.includes("Planer gate doesn't move"),
      headline: root.querySelectorAll(".headline p").length,
      map: root.querySelectorAll(".map .gate").length,
      tiles: root.querySelectorAll(".tile").length,
      broken: root.querySelectorAll(".broken").length,
      odd: /undefined|NaN|null|\\{\\w+\\}/.exec(text)?.[0] ?? null,
    });
  }
  card.feed._take(whole());
  return { found, parts: paths.length };
}"""


async def look(stage: Stage, kind: str) -> list[dict[str, Any]]:
    """Remove the fields on one card; return what was left each time."""
    async with stage.card(kind, width=390) as window:
        await expect(
            tile(window, "Planer") if kind != "alarms" else headline(window)
        ).to_be_visible()
        reported: dict[str, Any] = await window.page.evaluate(TAKE_AWAY, kind)
        assert reported["parts"] > 200
        # Whole again, nothing is left of it.
        await expect(window.page.locator(".broken")).to_have_count(0)
        for complaint in window.complaints:
            assert "a part of a card cannot be shown" in complaint, complaint
        window.forgive("a part of a card cannot be shown")
    return list(reported["found"])


async def test_the_map_survives_any_missing_field(busy: Stage) -> None:
    for left in await look(busy, "map"):
        path = left["path"]
        assert left["odd"] is None, left
        if path not in ("alarms", "gates"):
            assert left["alarms"] == 2, left
        reported = ("alarms.0.kind", "alarms.0.part", "gates.planer_gate.name")
        if path not in ("alarms", "gates", *reported):
            assert left["stuck"], left
        if path not in ("gates", "machines", "ducts"):
            assert left["map"] > 5 or left["broken"] == 1, left


async def test_the_tiles_survive_any_missing_field(busy: Stage) -> None:
    for left in await look(busy, "status"):
        path = left["path"]
        assert left["odd"] is None, left
        if path != "machines":
            assert left["tiles"] > 5, left
        if path != "alarms":
            assert left["alarms"] == 2, left


async def test_the_alarms_survive_any_missing_field(busy: Stage) -> None:
    for left in await look(busy, "alarms"):
        assert left["odd"] is None, left
        if left["path"] != "alarms":
            assert left["alarms"] == 2, left


async def test_a_missing_field_is_said_in_its_place(busy: Stage) -> None:
    async with busy.card("map", width=390) as window:
        await expect(tile(window, "Router table")).to_be_visible()
        await window.page.evaluate(
            """() => {
              const feed = findCard("map").feed;
              const machine = { ...feed.picture.machines.get("router") };
              delete machine.gates;
              feed.picture.machines.set("router", machine);
              feed._tell({ all: true });
            }"""
        )
        await expect(tile(window, "Router table")).to_contain_text("can't be shown")
        await expect(tile(window, "Planer")).to_have_attribute("data-tone", "good")
        window.forgive("a part of a card cannot be shown")
