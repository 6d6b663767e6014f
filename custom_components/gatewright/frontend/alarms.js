/** The active alarms, each with advice. */
import { el, setAttribute, setText } from "./dom.js";
import { timeText } from "./figures.js";
import { alarmWords, isLoaded, ISSUES, load } from "./i18n.js";
import { glyph, setGlyph } from "./shapes.js";

/** A list that announces new alarms; `update` takes its card. */
export class AlarmList {
  constructor() {
    this.node = el("ul.alarms", { role: "list", "aria-live": "assertive", "aria-relevant": "additions" });
    this._shown = new Map();
  }

  update(card) {
    if (!card.picture.alarms.length || this._worded(card)) this._draw(card);
  }

  /** Fetch the texts of alarms when there is one; returns whether they are loaded or couldn't be. */
  _worded(card) {
    const { connection, language } = card.hass;
    if (isLoaded(language, ISSUES)) return true;
    this._fetching ??= load(connection, language, ISSUES).then(() => {
      this._fetching = undefined;
      this._failed = !isLoaded(language, ISSUES);
      if (card.picture) card.guard.part(this.node, () => this._draw(card));
    });
    return this._failed;
  }

  _draw(card) {
    const alarms = told(card.picture.alarms);
    setAttribute(this.node, "aria-label", card.t("label.alarms", { name: card.picture.system.name }));
    const keys = new Set(alarms.map(keyOf));
    for (const [key, item] of this._shown) {
      if (keys.has(key)) continue;
      item.remove();
      this._shown.delete(key);
    }
    alarms.forEach((alarm, index) => {
      const key = keyOf(alarm);
      const item = this._shown.get(key) ?? itemOf();
      this._shown.set(key, item);
      card.guard.attempt(item, () => fillItem(item, alarm, card), () => {
        setText(item.querySelector("h3"), card.t("part.broken"));
      });
      // A remaining alarm keeps its position, so it's neither moved nor read aloud again.
      const there = this.node.children[index] ?? null;
      if (there !== item) this.node.insertBefore(item, there);
    });
  }
}

/** Alarms that can wait until the work is done. */
const LATER = new Set(["bin_nearly_full", "filter_clean_due", "filter_replace_due", "service_due"]);

const urgency = ({ kind }) => (kind === "fire_shutdown" ? 0 : LATER.has(kind) ? 2 : 1);

/** The alarms to show, most urgent first. */
function told(alarms) {
  const full = alarms.some(({ kind }) => kind === "bin_full");
  return alarms
    // A full bin won't soon be full as well.
    .filter(({ kind }) => !(full && kind === "bin_nearly_full"))
    .sort((one, other) => urgency(one) - urgency(other));
}

const keyOf = (alarm) => `${alarm.kind} ${alarm.part}`;

function itemOf() {
  const shape = glyph();
  setGlyph(shape, "bad");
  return el("li.alarm", { "data-tone": "bad" }, shape, el("div", {}, el("h3"), el("p", {}, el("span.do"), " ", el("span.since"))));
}

function fillItem(item, { kind, part, at, name: linked }, card) {
  const { system, gates, machines } = card.picture;
  const { language } = card.hass;
  const name = linked ?? (gates.get(part) ?? machines.get(part) ?? system).name;
  const words = alarmWords(language, kind, { part: name, system: system.name });
  const raised = new Date(Date.now() - (card.feed.now() - at) * 1000);
  const time = timeText(language, raised);
  setText(item.querySelector("h3"), words?.title ?? card.t("alarm.other", { name }));
  const advice = words?.advice ?? card.t("alarm.other_do");
  // These last until somebody says that the work is done.
  setText(item.querySelector(".do"), LATER.has(kind) ? `${advice} ${card.t("alarm.then")}` : advice);
  setText(item.querySelector(".since"), Number.isFinite(at) ? `(${card.t("alarm.since", { time })})` : "");
}
