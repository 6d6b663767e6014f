"""A page whose number and time formats come late, like those of Home Assistant's newest frontend."""

from playwright.async_api import expect

from .stage import CARDS, Stage

# Home Assistant's page may bring its own `Intl`. Until its data arrives, creating a format throws;
# here, in our files only.
LATE = """
window.tried = [];
window.arrived = false;
const kinds = ["NumberFormat", "DateTimeFormat", "PluralRules"];
const late = (kind, Format) => new Proxy(Format, {
  construct(target, given) {
    if (!window.arrived && new Error().stack.includes("gatewright_static")) {
      window.tried.push(kind);
      throw new RangeError(`Missing locale data for ${kind}`);
    }
    return Reflect.construct(target, given);
  },
});
// Around whatever the page puts there itself.
window.Intl = new Proxy(Intl, {
  get: (target, kind) => (kinds.includes(kind) ? late(kind, target[kind]) : target[kind]),
});
for (const name of ["toLocaleString", "toLocaleDateString", "toLocaleTimeString"]) {
  for (const { prototype } of [Number, Date]) {
    const whole = prototype[name];
    if (!whole) continue;
    prototype[name] = function (...given) {
      if (!window.arrived && new Error().stack.includes("gatewright_static")) {
        throw new RangeError(`Missing locale data for ${name}`);
      }
      return whole.apply(this, given);
    };
  }
}
"""


async def test_cards_are_plain_first_and_drawn_again(stage: Stage) -> None:
    async with stage.page(None, scripts=[LATE]) as window:
        page = window.page
        for kind in ("map", "status", "day", "alarms"):
            await window.open(f"{CARDS}/{kind}")
            await page.wait_for_selector(".headline p, .sums")
        await window.open(f"{CARDS}/record")
        await expect(page.locator(".sums")).to_be_visible()
        assert "NumberFormat" in await page.evaluate("window.tried")
        offers = await page.evaluate(
            """() => {
              const { hass } = findCard("record");
              const ours = window.customCards.filter(({ type }) => type.startsWith("gatewright-"));
              const of = (card) => card.getEntitySuggestion(hass, "binary_sensor.planer_running") ?? [];
              return { names: ours.map(({ name }) => name), planer: ours.flatMap(of).length };
            }"""
        )
        # The whole module has run, including what is below its last call.
        assert len(offers["names"]) == 6
        assert all(offers["names"])
        assert offers["planer"] > 0
        # This card asks Home Assistant once a minute: something new before that was drawn again.
        await page.evaluate(
            "findCard('record').shadowRoot.querySelector('.sums').plain = true"
        )
        await page.evaluate("window.arrived = true")
        await page.wait_for_function(
            """() => {
              const sums = findCard("record")?.shadowRoot.querySelector(".sums");
              return sums && !sums.plain;
            }"""
        )


async def test_figures_are_drawn_again_when_they_can_be_whole(stage: Stage) -> None:
    async with stage.page(f"{CARDS}/map", scripts=[LATE]) as window:
        page = window.page
        await page.wait_for_selector(".headline p")
        reported = await page.evaluate(
            """async () => {
              const urls = performance.getEntriesByType("resource").map(({ name }) => name);
              const load = (file) => import(urls.find((name) => name.endsWith(file)));
              const { numberText, percentText, moneyText, timeText, dayText, pluralOf, onWhole } =
                await load("/figures.js");
              const { translator } = await load("/i18n.js");
              const noon = new Date(2026, 10, 5, 13, 7);
              const all = () => [
                numberText("en", 1234.56, 1),
                percentText("en", 0.429),
                moneyText("en", 12.5, "USD"),
                timeText("en", noon),
                dayText("en", noon),
                pluralOf("en", 1),
                translator("en")("day.starts", { count: 1234 }),
              ];
              const plain = all();
              const told = new Promise((resolve) => onWhole(resolve));
              window.arrived = true;
              await told;
              // Releases of the browser differ in the kind of space.
              const spaced = (text) => text.replace(/\\s/g, " ");
              return { plain, whole: all().map(spaced) };
            }"""
        )
    assert reported["plain"] == [
        "1234.6",
        "43%",
        "12.50 USD",
        "13:07",
        "11/5",
        "one",
        "1234 starts",
    ]
    assert reported["whole"] == [
        "1,234.6",
        "43%",
        "$12.50",
        "1:07 PM",
        "November 5",
        "one",
        "1,234 starts",
    ]
