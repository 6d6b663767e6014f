/** The record: a day, a week or a month in figures, why air was missing, and tables to download. */
import { CardContent } from "./content.js";
import { LITTLE } from "./day-data.js";
import { el, setAttribute } from "./dom.js";
import { dayText, moneyText, numberText } from "./figures.js";
import { span } from "./i18n.js";
import { shareText } from "./units.js";

const PERIODS = ["day", "week", "month"];
const REFRESH = 60000;

const STYLES = `
.periods { display: flex; flex-wrap: wrap; gap: 6px; margin-bottom: 12px; }
.periods button, .tables button {
  padding: 6px 14px; border-radius: 999px; border: 1.5px solid var(--line); background: var(--ground);
  cursor: pointer; min-height: 44px;
}
.periods button[aria-pressed="true"] {
  border-color: var(--ask); background: color-mix(in srgb, var(--ask) 14%, var(--ground));
}
.sums { display: flex; flex-wrap: wrap; gap: 6px 22px; align-items: baseline; margin-bottom: 4px; }
.sums b { font-size: 1.4rem; font-weight: 600; }
.dim { color: var(--dim); font-size: .85rem; }
h3 { font-size: .95rem; font-weight: 600; margin: 14px 0 4px; }
table { border-collapse: collapse; width: 100%; max-width: 720px; margin-top: 8px; font-variant-numeric: tabular-nums; }
th { text-align: start; font-weight: inherit; }
thead th { font-weight: 500; color: var(--dim); font-size: .8rem; }
td, th { padding: 3px 8px 3px 0; vertical-align: baseline; }
td, thead th:not(:first-child) { white-space: nowrap; text-align: end; padding-inline-end: 0; padding-inline-start: 10px; }
.why { display: grid; grid-template-columns: 1fr auto; gap: 2px 12px; margin: 0; max-width: 720px; font-variant-numeric: tabular-nums; }
.why dd { margin: 0; text-align: end; }
.tables { display: flex; flex-wrap: wrap; gap: 6px; margin-top: 14px; }
`;

export class Content extends CardContent {
  static styles = STYLES;

  constructor(card) {
    super(card);
    this._period = "week";
    this._found = undefined;
  }

  size() {
    return 6;
  }

  disconnected() {
    clearInterval(this._refreshing);
    this._refreshing = undefined;
  }

  build() {
    this._buttons = PERIODS.map((period) =>
      el("button", { type: "button", onclick: () => this._choose(period) }, this.t(`record.${period}`))
    );
    const label = this.t("label.record", { name: this.picture.system.name });
    const waiting = el("p.dim", {}, this.t("state.connecting"));
    this._main = el("div", { role: "region", "aria-label": label }, waiting);
    this.body.replaceChildren(el("div.periods", { role: "group", "aria-label": label }, ...this._buttons), this._main);
    this._refreshing ??= setInterval(() => this.picture && document.visibilityState === "visible" && this._ask(), REFRESH);
    this._choose(this._period);
  }

  _choose(period) {
    this._period = period;
    PERIODS.forEach((other, index) => setAttribute(this._buttons[index], "aria-pressed", String(other === period)));
    this._ask();
  }

  async _ask() {
    const { entry_id } = this.picture;
    const period = this._period;
    const found = await this.hass.callWS({ type: "gatewright/record", entry_id, period }).catch(() => null);
    if (period !== this._period || this.picture?.entry_id !== entry_id) return;
    this._found = found;
    this._draw();
  }

  _draw() {
    this.guard.part(this._main, () => this._drawRecord());
  }

  _drawRecord() {
    const found = this._found;
    if (!found) {
      this._main.replaceChildren(el("p", {}, this.t("record.failed")));
      return;
    }
    this._main.replaceChildren(
      ...[
        this._sums(found),
        ...this._machines(found),
        ...this._timesToAir(found),
        ...this._reasons(found),
        ...this._dust(found),
        el(
          "div.tables",
          {},
          ...["runs", "days"]
            .filter((what) => found.downloads[what])
            .map((what) => el("button", { type: "button", onclick: () => this._download(what) }, this.t(`record.${what}`)))
        ),
      ].filter(Boolean)
    );
  }

  _sums({ shop, before, collector, alarms }) {
    const figure = (value, words) => el("span", {}, el("b", {}, value), ` ${words}`);
    const sums = el("div.sums");
    if (shop.run_time > 0) sums.append(figure(span(this.t, shop.run_time), this.t("record.ran")));
    else sums.append(el("span", {}, this.t("record.none")));
    if (shop.collected_share !== null) sums.append(figure(this._share(shop.collected_share), this.t("day.coverage")));
    const starts = this.t("day.starts", { count: collector.starts });
    sums.append(figure(span(this.t, collector.on_time), `${this.t("day.hours")}, ${starts}`));
    if (collector.measured && collector.energy_kwh >= 0.05) {
      const cost = collector.cost > 0 ? `, ${this._money(collector)}` : "";
      sums.append(figure(`${this._number(collector.energy_kwh, 1)} kWh`, `${this.t("record.energy")}${cost}`));
    }
    const told = [];
    if (before.run_time > 0) {
      const share = before.collected_share === null ? "–" : this._share(before.collected_share);
      told.push(this.t("record.before", { run: span(this.t, before.run_time), share }));
    }
    const count = alarms.reduce((sum, { times }) => sum + times, 0);
    if (count) told.push(this.t("record.alarms", { count }));
    return el("div", {}, sums, ...(told.length ? [el("p.dim", {}, told.join(" · "))] : []));
  }

  _machines({ machines }) {
    const ran = machines.filter(({ run_time }) => run_time >= LITTLE);
    if (!ran.length) return [];
    const cells = (...words) => words.map((text) => el("td", {}, text));
    const titles = ["machine", "run", "share", "starts"].map((key) => this.t(`record.head_${key}`));
    return [
      el(
        "table",
        {},
        el("thead", {}, el("tr", {}, ...titles.map((title) => el("th", { scope: "col" }, title)))),
        el(
          "tbody",
          {},
          ...ran.map(({ name, run_time, collected_share, runs }) =>
            el(
              "tr",
              {},
              el("th", { scope: "row" }, name),
              ...cells(span(this.t, run_time), collected_share === null ? "–" : this._share(collected_share), this._number(runs, 0))
            )
          )
        )
      ),
    ];
  }

  /** Each machine's time to air, and what limits it now. */
  _timesToAir({ machines }) {
    const timed = machines.filter(({ time_to_air }) => time_to_air !== null);
    if (!timed.length) return [];
    const seconds = (time) => `${this._number(time, 1)} s`;
    const about = ({ time_to_air_at_best, limited_by }) =>
      limited_by === null
        ? []
        : [el("div.dim", {}, this.t("record.at_best", { time: seconds(time_to_air_at_best), limit: this.t(`slow.${limited_by}`) }))];
    return [
      el("h3", {}, this.t("record.to_air")),
      el(
        "dl.why.times",
        {},
        ...timed.flatMap((machine) => [
          el("dt", {}, machine.name, ...about(machine)),
          el("dd", {}, seconds(machine.time_to_air)),
        ])
      ),
    ];
  }

  _reasons({ shop }) {
    // A gate moves at every start: negligible times aren't worth a line.
    const told = Object.entries(shop.not_collecting).filter(([reason, seconds]) => reason !== "not_needed" && seconds >= LITTLE);
    told.sort(([, a], [, b]) => b - a);
    if (shop.low_airflow_time >= LITTLE) told.push(["low_airflow", shop.low_airflow_time]);
    if (!told.length) return [];
    return [
      el("h3", {}, this.t("record.why")),
      el(
        "dl.why",
        {},
        ...told.flatMap(([reason, seconds]) => [el("dt", {}, this.t(`why.${reason}`)), el("dd", {}, span(this.t, seconds))])
      ),
    ];
  }

  _dust({ dust }) {
    if (!dust) return [];
    const day = dayText(this.hass.language, new Date(`${dust.day}T12:00`));
    return [
      el("h3", {}, this.t("record.dust", { day, average: this._number(dust.average, 2) })),
      el(
        "dl.why",
        {},
        ...dust.limits.flatMap(({ limit_id, limit, source }) => [
          el("dt", { title: source }, this.t(`limit.${limit_id}`)),
          el("dd", {}, `${this._number(limit, 1)} mg/m³`),
        ])
      ),
      el("p.dim", {}, this.t("record.caution")),
    ];
  }

  /** URLs are signed for an hour: fetched when one is needed. */
  async _download(what) {
    const { entry_id } = this.picture;
    const found = await this.hass.callWS({ type: "gatewright/record", entry_id, period: "day" }).catch(() => null);
    if (!found?.downloads[what]) return;
    const link = el("a", { href: found.downloads[what], download: true });
    this._main.append(link);
    link.click();
    link.remove();
  }

  _number(value, digits) {
    return numberText(this.hass.language, value, digits);
  }

  _money({ cost, currency }) {
    return moneyText(this.hass.language, cost, currency);
  }

  _share(share) {
    return shareText(this.hass, share);
  }
}
