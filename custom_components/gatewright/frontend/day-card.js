/** Today per machine: when it ran, whether it had air; the collector's hours and starts. */
import { CardContent } from "./content.js";
import { el } from "./dom.js";
import { axisOf, dayOf, recordedOf, spansOf, startsOf, toldOf, total } from "./day-data.js";
import { Would, WOULD_STYLES } from "./day-would.js";
import { timeText } from "./figures.js";
import { span } from "./i18n.js";
import { shareText } from "./units.js";

const REFRESH = 30000;
const SOON = 1000;

const STYLES = `
.sums { display: flex; flex-wrap: wrap; gap: 6px 22px; margin-bottom: 12px; align-items: baseline; }
.sums b { font-size: 1.4rem; font-weight: 600; }
.body { container-type: inline-size; }
.row { display: grid; grid-template-columns: minmax(84px, 26%) 1fr; gap: 2px 10px; align-items: center; padding: 4px 0; }
.row .name { font-weight: 500; line-height: 1.2; overflow-wrap: anywhere; }
.row .figures { grid-column: 2; font-size: .8rem; color: var(--dim); line-height: 1.2; }
.bar, .axis { position: relative; }
.bar { height: 20px; border-radius: 5px; background: var(--line); overflow: hidden; }
.bar i { position: absolute; inset-block: 0; }
.bar .with, .bar .only { min-width: 2px; }
.with { background: var(--good); }
.none { background: repeating-linear-gradient(45deg, var(--bad) 0 4px, var(--ground) 4px 7px); }
.key .none { border: 1.5px solid var(--bad); }
.bar .only { inset-block: 7px; background: var(--ask); }
.axis { height: 1.2em; font-size: .8rem; color: var(--dim); }
.axis span { position: absolute; translate: -50% 0; white-space: nowrap; }
.axis span:first-child { translate: 0 0; }
.axis span:last-child { translate: -100% 0; }
@container (max-width: 420px) { .axis span:nth-child(even):not(:last-child) { display: none; } }
:host(:dir(rtl)) .axis span { translate: 50% 0; }
:host(:dir(rtl)) .axis span:first-child { translate: 0 0; }
:host(:dir(rtl)) .axis span:last-child { translate: 100% 0; }
.key { display: flex; flex-wrap: wrap; gap: 4px 16px; margin-top: 10px; font-size: .85rem; }
.key span { display: inline-flex; align-items: center; gap: 6px; }
.key i { width: 22px; height: 14px; border-radius: 3px; }
.key .only { height: 5px; background: var(--ask); }
${WOULD_STYLES}`;

export class Content extends CardContent {
  static styles = STYLES;

  constructor(card) {
    super(card);
    this._history = new Map();
    this._record = null;
    this._would = new Would(this);
  }

  size() {
    return 3 + (this.picture?.machines.size ?? 4);
  }

  disconnected() {
    this._close();
  }

  /** Home Assistant forgot the subscription with the connection. */
  lost() {
    this._end = undefined;
    this._close();
  }

  build() {
    this.body.replaceChildren();
    this._open();
    this._draw();
  }

  /** The entities whose history is needed: `[running, collecting]` of each machine, the collector. */
  _entities() {
    const { machines, system } = this.picture;
    const rows = [...machines].map(([id, { name, entity, entities, sensed, needs_air }]) => ({
      id,
      name,
      needsAir: needs_air !== false,
      // A pickup without a motor is at work while it's requested.
      running: sensed ? entities?.running : entity,
      air: entities?.collecting,
    }));
    // Its switch is on for the same time if the impeller's own entity isn't enabled.
    return { rows, turning: system.entities?.turning ?? system.entity };
  }

  async _open() {
    const { rows, turning } = this._entities();
    const ids = [...rows.flatMap(({ running, air }) => [running, air]), turning].filter(Boolean);
    const midnight = new Date();
    midnight.setHours(0, 0, 0, 0);
    const key = `${midnight.getTime()} ${ids.join()}`;
    if (key === this._key) return;
    this._close();
    this._key = key;
    this._ask(key);
    this._midnight = midnight.getTime() / 1000;
    this._refreshing = setInterval(() => this._refresh(), REFRESH);
    if (!ids.length) return;
    try {
      const end = await this.hass.connection.subscribeMessage(
        (sent) => key === this._key && this._take(sent),
        {
          type: "history/stream",
          start_time: midnight.toISOString(),
          entity_ids: ids,
          minimal_response: true,
          no_attributes: true,
          significant_changes_only: false,
        },
        { resubscribe: false }
      );
      if (key === this._key) this._end = end;
      else end().catch(() => {});
    } catch {
      if (key !== this._key) return;
      this._missing = true;
      this._draw();
    }
  }

  /** Fetch today's figures from the statistics; without them the history has to do. */
  async _ask(key) {
    clearTimeout(this._asking);
    this._asking = undefined;
    const { entry_id } = this.picture;
    const record = await this.hass.callWS({ type: "gatewright/record", entry_id, period: "day" }).catch(() => null);
    if (key !== this._key) return;
    this._record = record;
    this._draw();
  }

  /** Fetch the statistics again soon: they add up what the history has just reported. */
  _askSoon() {
    const key = this._key;
    this._asking ??= setTimeout(() => key === this._key && this.picture && this._ask(key), SOON);
  }

  _close() {
    clearInterval(this._refreshing);
    clearTimeout(this._asking);
    this._asking = undefined;
    this._record = null;
    this._end?.().catch(() => {});
    this._end = undefined;
    this._key = null;
    this._missing = false;
    // The last drawing stays until the new history comes.
    this._anew = true;
  }

  /** Update now and then: running bars grow, and a new day begins. */
  _refresh() {
    if (!this.picture || document.visibilityState !== "visible") return;
    this._open();
    this._askSoon();
    this._draw();
  }

  _take({ states }) {
    if (this._anew) this._history.clear();
    this._anew = false;
    for (const [id, changes] of Object.entries(states || {})) {
      const known = this._history.get(id) ?? [];
      known.push(...changes.map(({ s, lc, lu }) => ({ at: lc ?? lu, on: s === "on", known: s === "on" || s === "off" })));
      this._history.set(id, known.sort((a, b) => a.at - b.at));
    }
    this._askSoon();
    this._draw();
  }

  _draw() {
    this.guard.part(this.body, () => this._drawDay());
  }

  _drawDay() {
    if (!this.picture) return;
    this._would.follow(this._missing ? null : this._midnight);
    if (this._missing) {
      this.body.replaceChildren(el("p", {}, this.t("day.missing")));
      return;
    }
    const now = Date.now() / 1000;
    const { rows, turning } = this._entities();
    const of = (id) => (this._history.get(id) ?? []).map((change) => ({ ...change, at: Math.max(change.at, this._midnight) }));
    const recorded = new Map(this._record?.machines.map((spent) => [spent.machine_id, spent]));
    const days = rows.map((row) =>
      toldOf({
        ...row,
        ...dayOf(of(row.running), of(row.air), now),
        ...recordedOf(recorded.get(row.id)),
      })
    );
    const shown = days.filter((day) => !this.config.hide_unused || day.run || day.onlyAir.length);
    const axis = axisOf(days, this._midnight, now);
    const none = el("p", {}, this.t("day.nothing"));
    this.body.replaceChildren(
      this._sums(days, {
        on_time: total(spansOf(of(turning), now)),
        starts: startsOf(of(turning), this._midnight),
        ...this._record?.collector,
      }),
      el(
        "div",
        { role: "list", "aria-label": this.t("label.day", { name: this.picture.system.name }) },
        ...shown.flatMap((day) => [this._row(day, axis), ...this._would.rows(day, axis)])
      ),
      ...(shown.length ? [this._axis(axis), this._legend()] : [none])
    );
  }

  _sums(days, collector) {
    const measured = days.filter((day) => day.needsAir);
    const run = measured.reduce((sum, day) => sum + day.run, 0);
    const covered = measured.reduce((sum, day) => sum + day.covered, 0);
    const starts = this.t("day.starts", { count: collector.starts });
    const hours = el("span", {}, el("b", {}, span(this.t, collector.on_time)), ` ${this.t("day.hours")}, ${starts}`);
    if (!run) return el("div.sums", {}, hours);
    return el("div.sums", {}, el("span", {}, el("b", {}, this.share(covered / run)), ` ${this.t("day.coverage")}`), hours);
  }

  /** Redraw what is on the card, if anything is. */
  redraw() {
    if (this._key) this._draw();
  }

  share(share) {
    return shareText(this.hass, share);
  }

  _row(day, { from, to }) {
    const part = (kind) => ([start, end]) => {
      const bar = el(`i.${kind}`);
      bar.style.insetInlineStart = `${(100 * (start - from)) / (to - from)}%`;
      bar.style.width = `${(100 * (end - start)) / (to - from)}%`;
      return bar;
    };
    const figures = { name: day.name, run: span(this.t, day.run), share: this.share(day.run ? day.covered / day.run : 0) };
    let key = "day.row_none";
    if (day.run) key = day.needsAir ? "day.row" : "day.row_own";
    const words = day.run && day.needsAir ? this.t("day.figures", figures) : day.run ? figures.run : "";
    return el(
      "div.row",
      { role: "listitem", "aria-label": this.t(key, figures) },
      el("span.name", { "aria-hidden": "true" }, day.name),
      el(
        "div.bar",
        { "aria-hidden": "true" },
        // The second that a gate needs at every start is in the figure, but isn't drawn.
        ...day.withoutAir.map(part("none")),
        ...day.onlyAir.map(part("only")),
        ...day.withAir.map(part("with"))
      ),
      ...(words ? [el("span.figures", { "aria-hidden": "true" }, words)] : [])
    );
  }

  _axis({ from, to, ticks, whole }) {
    const minute = whole ? {} : { minute: "2-digit" };
    const clock = (at) => timeText(this.hass.language, new Date(at * 1000), { hour: "numeric", ...minute });
    const marks = ticks.map((at) => {
      const mark = el("span", {}, clock(at));
      mark.style.insetInlineStart = `${(100 * (at - from)) / (to - from)}%`;
      return mark;
    });
    return el("div.row", { "aria-hidden": "true" }, el("span"), el("div.axis", {}, ...marks));
  }

  _legend() {
    const of = (kind, key) => el("span", {}, el(`i.${kind}`), this.t(key));
    return el(
      "div.key",
      { "aria-hidden": "true" },
      of("with", "day.with_air"),
      of("none", "day.without_air"),
      of("only", "day.only_air")
    );
  }
}
