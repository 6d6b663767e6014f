/** The alarms that stand, each with what to do about it. */
import { el, setAttribute, setText } from "./dom.js";
import { glyph, setGlyph } from "./shapes.js";

/** A list that announces what is new; `update` takes the card that it is shown on. */
export class AlarmList {
  constructor() {
    this.node = el("ul.alarms", { role: "list", "aria-live": "assertive", "aria-relevant": "additions" });
    this._shown = new Map();
  }

  update(card) {
    const alarms = told(card.picture.alarms);
    setAttribute(this.node, "aria-label", card.t("label.alarms", { name: card.picture.system.name }));
    const keys = new Set(alarms.map(keyOf));
    for (const [key, item] of this._shown) {
      if (keys.has(key)) continue;
      item.remove();
      this._shown.delete(key);
    }
    for (const alarm of alarms) {
      const key = keyOf(alarm);
      let item = this._shown.get(key);
      if (!item) {
        item = itemOf();
        this._shown.set(key, item);
        fillItem(item, alarm, card);
        this.node.append(item);
      } else {
        fillItem(item, alarm, card);
      }
    }
  }
}

/** A bin that is full will not soon be full as well. */
function told(alarms) {
  const full = alarms.some(({ kind }) => kind === "bin_full");
  return full ? alarms.filter(({ kind }) => kind !== "bin_nearly_full") : alarms;
}

const keyOf = (alarm) => `${alarm.kind} ${alarm.part}`;

function itemOf() {
  const shape = glyph();
  setGlyph(shape, "bad");
  return el("li.alarm", { "data-tone": "bad" }, shape, el("div", {}, el("h3"), el("p", {}, el("span.do"), " ", el("span.since"))));
}

function fillItem(item, { kind, part, at, name: companion }, card) {
  const { system, gates, machines } = card.picture;
  const name = companion ?? (gates.get(part) ?? machines.get(part) ?? system).name;
  const key = card.t(`alarm.${kind}`, { name }) ? `alarm.${kind}` : "alarm.other";
  const raised = new Date(Date.now() - (card.feed.now() - at) * 1000);
  const time = raised.toLocaleTimeString(card.hass.language, { hour: "numeric", minute: "2-digit" });
  setText(item.querySelector("h3"), card.t(key, { name }));
  setText(item.querySelector(".do"), card.t(`${key}.do`, { name }));
  setText(item.querySelector(".since"), `(${card.t("alarm.since", { time })})`);
}
