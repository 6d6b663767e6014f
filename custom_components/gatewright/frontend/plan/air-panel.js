/** The airflow panel: what runs, what each machine gets, its limits, and each machine alone. */
import { el, setAttribute, setText, svg } from "../dom.js";
import { percentText } from "../figures.js";
import { glyph, setGlyph } from "../shapes.js";
import { partOf } from "./document.js";
import { button } from "./fields.js";
import { TONES } from "./scene-parts.js";

const WIDE = 260;
const HIGH = 120;

export class AirPanel {
  constructor(editor) {
    this.editor = editor;
    this.model = editor.model;
    const { t } = editor;
    this._why = el("p.hint");
    this._machines = el("ul.toggles");
    this._shop = button(t("plan.as_in_shop"), () => editor.followShop(!editor.following));
    this._none = button(t("plan.run_none"), () => {
      editor.followShop(false);
      this.model.runOnly([]);
    });
    this._verdict = el("p.verdict");
    this._point = el("p");
    this._limits = el("ol.limits");
    this._chart = el("div.chart");
    this._limitHead = el("h4", {}, t("plan.limits"));
    // Visible however far the list is scrolled.
    this._now = el("div.now", {}, this._verdict, this._point);
    this._result = el("section", { "aria-label": t("plan.result") }, this._chart, this._limitHead, this._limits);
    this._ask = button(t("plan.all_at_once"), () => editor.askAll());
    this._all = el("ol.alone");
    this.node = el(
      "div.air-panel",
      {},
      el("h3", {}, t("plan.what_runs")),
      el("p.hint", {}, t("plan.tap_machines")),
      el("div.deeds", {}, this._shop, this._none),
      this._why,
      this._machines,
      this._now,
      this._result,
      el("section", {}, el("h3", {}, t("plan.each_alone")), this._ask, this._all)
    );
    this.model.on("doc running figures", () => this.update());
  }

  update() {
    const { model, editor } = this;
    const { t, words, measure } = editor;
    const { figures } = model;
    const live = figures?.available ? figures : null;
    const machines = model.doc.items.filter(({ type }) => type === "machine");
    const known = new Map([...this._machines.children].map((node) => [node.dataset.key, node]));
    const rows = machines.map((item) => known.get(item.id) ?? this._row(item.id));
    if (rows.length !== this._machines.children.length || rows.some((node, at) => node !== this._machines.children[at])) this._machines.replaceChildren(...rows);
    for (const item of machines) {
      const { node, mark, name, state } = this._machines.querySelector(`[data-key="${item.id}"]`).parts;
      const runs = model.running.has(item.id);
      const own = runs ? live?.machines?.[item.id] : null;
      setAttribute(node, "aria-pressed", String(runs));
      setGlyph(mark, own?.verdict ? TONES[own.verdict] : "off");
      node.dataset.tone = own?.verdict ? TONES[own.verdict] : "off";
      setText(name, words.name(item));
      setText(state, own ? this._gets(own) : runs ? t("plan.no_figures") : t("plan.off"));
    }
    const why = figures && !figures.available ? (figures.text || t(`plan.why_${figures.why}`) || t("plan.no_figures")) : "";
    setText(this._why, why);
    this._why.hidden = !why;
    this._result.hidden = this._now.hidden = !live || !model.running.size;
    this._shop.hidden = !editor.canRunAsInShop;
    setAttribute(this._shop, "aria-pressed", String(Boolean(editor.following)));
    if (live && model.running.size) {
      const { collector } = live;
      setText(this._verdict, t(collector.stalled ? "plan.stalled" : `plan.all_${collector.verdict ?? "enough"}`));
      this._verdict.dataset.tone = TONES[collector.verdict] ?? "off";
      const facts = { flow: measure.flow(collector.flow), pressure: measure.pressure(collector.fan_pressure), speed: measure.speed(collector.main_velocity), needed: measure.speed(collector.main_needed) };
      setText(this._point, t(collector.main_needed > 0 ? "plan.point_main" : "plan.point", facts));
      this._limits.replaceChildren(...(live.limits ?? []).slice(0, 5).map((limit) => this._limit(limit)));
      this._limitHead.hidden = !live.limits?.length;
      this._chart.replaceChildren(chart(live.fan, measure, t));
    }
    this._drawAlone();
  }

  /** A machine's flow as text. */
  _gets({ flow, required, verdict }) {
    const { t, measure, words } = this.editor;
    if (!required || !verdict) return measure.flow(flow);
    return t("plan.gets", { flow: measure.flow(flow), required: measure.flow(required), verdict: words.verdict(verdict) });
  }

  _row(id) {
    const { editor } = this;
    const mark = glyph();
    setGlyph(mark, "off");
    const name = el("span.name");
    const state = el("span.state");
    const node = el("button.tile", { type: "button", onclick: () => editor.toggle(id) }, mark, el("span.words", {}, name, state));
    const row = el("li", { "data-key": id }, node);
    row.parts = { node, mark, name, state };
    return row;
  }

  _limit({ kind, element, share, pressure }) {
    const { t, words, measure } = this.editor;
    const part = partOf(this.model.doc, element?.id);
    const where = part ? words.name(part) : words.name({ type: "collector" });
    const text = t("plan.limit", { what: words.choice("report_loss", kind), where, share: percentText(this.editor.language, share), pressure: measure.pressure(pressure) });
    const choose = () => part && this.model.choose([part.id]);
    return el("li", {}, part ? button(text, choose, {}, ".link") : el("span", {}, text));
  }

  _drawAlone() {
    const { model, editor } = this;
    const { t, words } = editor;
    const rows = model.alone ?? [];
    this._all.hidden = !rows.length;
    this._all.replaceChildren(
      ...rows.map((row) => {
        const item = partOf(model.doc, row.item);
        const tone = TONES[row.set_verdict ?? row.verdict] ?? "off";
        const mark = glyph();
        setGlyph(mark, tone);
        const facts = [this._gets(row)];
        if (!row.main_ok) facts.push(t("plan.main_slow"));
        const node = el("button.tile", { type: "button", "data-tone": tone, onclick: () => model.runOnly([row.item]) }, mark, el("span.words", {}, el("span.name", {}, words.name(item)), el("span.state", {}, facts.join(" · "))));
        return el("li", {}, node);
      })
    );
  }
}

/** The fan's curve, and its operating point. */
export function chart(fan, measure, t) {
  const most = { flow: Math.max(...fan.curve.map(([flow]) => flow), fan.point[0]) || 1, pressure: Math.max(...fan.curve.map(([, pressure]) => pressure), fan.point[1]) || 1 };
  const at = ([flow, pressure]) => [34 + ((WIDE - 44) * flow) / most.flow, HIGH - 22 - ((HIGH - 34) * pressure) / most.pressure];
  const path = fan.curve.map((one, index) => `${index ? "L" : "M"}${at(one).map((value) => value.toFixed(1)).join(" ")}`).join("");
  const [x, y] = at(fan.point);
  const label = t("plan.chart", { flow: measure.flow(fan.point[0]), pressure: measure.pressure(fan.point[1]) });
  const surge = fan.surge_below > 0 ? at([fan.surge_below, 0])[0] : 34;
  return svg(
    "svg.fan-curve",
    { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": label },
    svg("rect.surge", { x: 34, y: 10, width: Math.max(0, surge - 34), height: HIGH - 32 }),
    svg("path.axis", { d: `M34 10V${HIGH - 22}H${WIDE - 8}` }),
    svg("path.curve", { d: path }),
    svg("path.lead", { d: `M34 ${y}H${x}V${HIGH - 22}` }),
    svg("circle.point", { cx: x, cy: y, r: 6 }),
    svg("text", { x: Math.min(x, WIDE - 60), y: HIGH - 7 }, measure.flow(fan.point[0])),
    svg("text", { x: 36, y: y - 5 }, measure.pressure(fan.point[1]))
  );
}
