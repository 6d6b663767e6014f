/** The simulated day in monitor-only mode, drawn below the real one. */
import { both, toldOf, total, without } from "./day-data.js";
import { el, setAttribute, setText } from "./dom.js";
import { span } from "./i18n.js";

/** In monitor-only mode the simulated day is fetched again at this interval. */
const AGAIN = 300000;

export const WOULD_STYLES = `
.would .bar { height: 11px; }
.would .name { font-size: .8rem; font-weight: 400; color: var(--dim); padding-inline-start: 10px; white-space: normal; }
.ask { display: flex; flex-wrap: wrap; gap: 6px 14px; align-items: center; margin-top: 12px; font-size: .9rem; }
.ask button {
  min-height: 44px; padding: 6px 16px; border: 1.5px solid var(--ink); border-radius: 10px; background: none; cursor: pointer;
}
.ask button[aria-pressed="true"] { border-style: double; border-width: 4px; }
.ask button[aria-disabled] { cursor: progress; opacity: .7; }
`;

/** A machine's simulated day; null where nothing was recorded. */
export function wouldOf(answer, id) {
  const machine = answer?.machines[id];
  if (!machine) return null;
  const withAir = both(machine.ran, machine.aired);
  return toldOf({
    withAir,
    withoutAir: without(machine.ran, machine.aired),
    run: total(machine.ran),
    covered: total(withAir),
  });
}

export class Would {
  constructor(card) {
    this._card = card;
    this._answer = null;
    this._since = null;
    // Kept outside of what is redrawn, so that the button keeps its focus.
    this._button = el("button", { type: "button", "aria-pressed": "false", onclick: () => this._toggle() });
    this._told = el("span", { role: "status" });
    this._box = el("div.ask", { hidden: true }, this._button, this._told);
    card.body.after(this._box);
  }

  /** The card was drawn for the day since `midnight`, in s since 1970; null is no day. */
  follow(midnight) {
    if (midnight !== this._since) {
      this._since = midnight;
      this._show(null);
    }
    this._box.hidden = midnight === null;
    this._word();
    const watching = this._card.picture?.system.watching;
    const old = !this._asked || Date.now() - this._asked > AGAIN;
    if (midnight !== null && watching && old && !this._asking && !this._declined) this._ask();
  }

  /** The row of a machine's simulated day; none where it shows nothing. */
  rows(day, { from, to }) {
    const would = wouldOf(this._answer, day.id);
    // A machine that stood still and would have, needs only one row.
    if (!would || !(would.run || day.run)) return [];
    const { t } = this._card;
    const part = (kind) => ([start, end]) => {
      const bar = el(`i.${kind}`);
      bar.style.insetInlineStart = `${(100 * (start - from)) / (to - from)}%`;
      bar.style.width = `${(100 * (end - start)) / (to - from)}%`;
      return bar;
    };
    const share = this._card.share(would.run ? would.covered / would.run : 0);
    const figures = { name: day.name, run: span(t, would.run), share };
    let key = "day.would_row_none";
    if (would.run) key = day.needsAir ? "day.would_row" : "day.would_row_own";
    return [
      el(
        "div.row.would",
        { role: "listitem", "aria-label": t(key, figures) },
        el("span.name", { "aria-hidden": "true" }, t("day.would")),
        el(
          "div.bar",
          { "aria-hidden": "true" },
          ...would.withoutAir.map(part("none")),
          ...would.withAir.map(part("with"))
        ),
        ...(would.run && day.needsAir
          ? [el("span.figures", { "aria-hidden": "true" }, t("day.figures", figures))]
          : [])
      ),
    ];
  }

  _toggle() {
    if (this._asking) return;
    // Hidden by the user, it must not come back unasked.
    this._declined = this._answer !== null;
    if (this._answer) this._show(null);
    else this._ask();
  }

  async _ask() {
    const { hass, picture } = this._card;
    if (!picture) return;
    const since = this._since;
    this._asking = true;
    this._failed = false;
    this._asked = Date.now();
    this._word();
    const start = new Date(since * 1000).toISOString();
    const message = { type: "gatewright/rehearse", entry_id: picture.entry_id, start };
    const answer = await hass.callWS(message).catch(() => null);
    this._asking = false;
    if (since !== this._since) return;
    this._failed = answer === null;
    this._show(answer);
  }

  _show(answer) {
    this._answer = answer;
    this._word();
    this._card.redraw();
  }

  _word() {
    const { t } = this._card;
    setText(this._button, t("day.would_ask"));
    setAttribute(this._button, "aria-pressed", this._answer ? "true" : "false");
    // Not `disabled`, which would drop the focus.
    setAttribute(this._button, "aria-disabled", this._asking ? "true" : null);
    let words = t("day.would_hint");
    if (this._asking) words = t("day.would_wait");
    else if (this._failed) words = t("day.would_failed");
    else if (this._answer) words = this._sums();
    setText(this._told, words);
  }

  _sums() {
    const { t } = this._card;
    const { collector } = this._answer;
    return t("day.would_sums", {
      hours: span(t, total(collector)),
      starts: t("day.starts", { count: collector.length }),
    });
  }
}
