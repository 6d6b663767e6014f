/** The plan's texts: figures in the user's units, and one sentence for each part. */
import { collectorOf, gatesOf, partOf } from "./document.js";
import { corners, lengthOf } from "./line.js";
import { runHeight } from "./shaping.js";

const VERDICTS = { enough: "plan.enough", marginal: "plan.marginal", too_little: "plan.too_little" };

export class PlanWords {
  /** `t` translates, `measure` formats figures. */
  constructor(model, t, measure, choices) {
    this._model = model;
    this.t = t;
    this.measure = measure;
    this.choice = choices;
  }

  name(part) {
    return this._model.nameOf(part, this.t);
  }

  verdict(verdict) {
    return verdict ? this.t(VERDICTS[verdict]) : "";
  }

  flow(value) {
    return this.measure.flow(value);
  }

  duct(duct) {
    return `${this.measure.diameter(duct.diameter)} · ${this.measure.length(lengthOf(duct.points))}`;
  }

  /** The velocity in a piece of a duct, and its problem. */
  piece({ velocity, verdict }) {
    const speed = this.measure.speed(velocity);
    return verdict && verdict !== "enough" ? `${speed} ${this.t(verdict === "marginal" ? "plan.marginal" : "plan.too_slow")}` : speed;
  }

  change({ before, after }) {
    const was = before?.diameter ? `${this.measure.diameter(before.diameter)} → ` : "";
    return `${was}${this.measure.diameter(after.diameter)}`;
  }

  /** A part in one sentence, for a list and for a screen reader. */
  describe(id) {
    const { doc } = this._model;
    const part = partOf(doc, id);
    if (!part) return "";
    const name = this.name(part);
    if (part.type === "collector") return name;
    if (part.type) {
      const gates = gatesOf(doc, part, this._model.machines).length;
      const planned = part.bound ? "" : `${this.t("plan.planned")}, `;
      return this.t("label.says", { name, words: `${planned}${this.t("plan.with_gates", { count: gates })}` });
    }
    if (part.points) {
      const facts = {
        name,
        size: this.measure.diameter(part.diameter),
        length: this.measure.length(lengthOf(part.points)),
        height: this.measure.length(runHeight(part)),
        elbows: this.t("plan.elbows", { count: corners(part.points).length }),
        end: this.leadsTo(part),
      };
      return this.t("plan.duct_says", facts);
    }
    const duct = partOf(doc, part.duct);
    return duct ? this.t("plan.gate_says", { name, duct: this.name(duct) }) : this.t("plan.gate_nowhere", { name });
  }

  leadsTo({ end }) {
    const { doc } = this._model;
    if (end?.to === "collector") return this.name(collectorOf(doc) ?? { type: "collector" });
    const duct = end?.to === "duct" && partOf(doc, end.duct);
    return duct ? this.name(duct) : this.t("plan.nowhere");
  }
}
