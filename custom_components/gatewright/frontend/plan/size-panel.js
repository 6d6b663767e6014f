/** The sizing panel: a proposal on the drawing, accepted whole or piece by piece, and the fan's duty. */
import { el, setText } from "../dom.js";
import { button } from "./fields.js";
import { TONES } from "./scene-parts.js";

export class SizePanel {
  constructor(editor) {
    this.editor = editor;
    this.model = editor.model;
    const { t } = editor;
    this._go = button(t("plan.size_it"), () => editor.size(), {}, ".main");
    this._told = el("p", { role: "status" });
    this._changes = el("ul.changes");
    this._take = button(t("plan.take_all"), () => editor.takeSizes(null), {}, ".main");
    this._leave = button(t("plan.leave"), () => editor.dropProposal());
    this._duty = el("ul");
    this._sets = el("ul.sets");
    this._offer = el("section", {}, el("h4", {}, t("plan.proposal")), this._changes, el("div.deeds", {}, this._take, this._leave));
    this._more = el("section", {}, el("h4", {}, t("plan.duty")), this._duty, el("h4", {}, t("plan.each_set")), this._sets);
    this.node = el("div.size-panel", {}, el("h3", {}, t("plan.sizing")), el("p.hint", {}, t("plan.sizing_hint")), this._go, this._told, this._offer, this._more);
    this.model.on("proposal", () => this.update());
    this.update();
  }

  update() {
    const { proposal } = this.model;
    const { t, measure, words } = this.editor;
    this._go.disabled = this.model.sizing === true;
    this._offer.hidden = !proposal?.changes?.length || !this.model.editable;
    this._more.hidden = !proposal?.available;
    if (!proposal) return setText(this._told, this.model.sizing ? t("plan.sizing_now") : "");
    if (!proposal.available) return setText(this._told, proposal.text || t(`plan.why_${proposal.why}`) || t("plan.no_figures"));
    setText(this._told, proposal.changes.length ? t(`plan.sized_${proposal.verdict}`, { count: proposal.changes.length }) : t("plan.nothing_better"));
    this._changes.replaceChildren(
      ...proposal.changes.map((row) =>
        el("li", {}, button(row.name || words.describe(row.id), () => this.model.choose([row.id]), {}, ".link"), el("span", {}, words.change(row)), button(t("plan.take"), () => this.editor.takeSizes([row.key]), { "aria-label": t("plan.take_this", { name: row.name, change: words.change(row) }) }))
      )
    );
    this._duty.replaceChildren(...(proposal.duty ?? []).map(({ name, flow, pressure }) => el("li", {}, t("plan.duty_says", { name, flow: measure.flow(flow), pressure: measure.pressure(pressure) }))));
    this._sets.replaceChildren(...(proposal.sets ?? []).map(({ name, verdict, flow }) => el("li", { "data-tone": TONES[verdict] ?? "off" }, t("plan.set_says", { name, flow: measure.flow(flow), verdict: words.verdict(verdict) }))));
    return undefined;
  }
}
