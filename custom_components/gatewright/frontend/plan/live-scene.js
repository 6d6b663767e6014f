/** The live drawing of the shop: what runs, gate positions, and flows. */
import { moves } from "../words.js";
import { Scene } from "./scene.js";

/** The drawn velocity of an unknown flow (m/s). */
const SOME = 15;

/** Draws a plan; its model's `now` has the state: `{item(part), gate(part), duct(part), turning}`. */
export class LiveScene extends Scene {
  _tell() {
    const { now } = this.model;
    for (const [, held] of this._nodes) {
      if (held.kind === "items") held.drawing.tell(now.item(held.part));
      else if (held.kind === "gates") held.drawing.tell(now.gate(held.part));
      else held.drawing.tell({ ...now.duct(held.part), streams: now.turning });
    }
    this._drawLabels();
  }

  _drawHandles() {
    // Nothing can be moved here.
  }
}

/** Reads the shop's state, part by part, from a card's snapshot. */
export class ShopNow {
  /**
   * `words` has the texts: `machine(machine)`, `collector(system)`, `gate(gate)`, each `{tone, text}`, and
   * `flow(value)`.
   */
  constructor(doc, picture, flows, words) {
    this.picture = picture;
    this.flows = flows;
    this.words = words;
    this.turning = Boolean(picture.system.turning);
    this._open = openDucts(doc, picture.gates);
  }

  /** An item's display. */
  item(part) {
    const { picture, words } = this;
    if (part.type === "collector") {
      const { tone, text } = words.collector(picture.system);
      return { running: this.turning, wrong: shape(tone), figure: text };
    }
    const machine = picture.machines.get(part.bound);
    if (!machine) return {};
    const { tone } = words.machine(machine);
    const flow = machine.air ? this.flows?.machines?.[machine.id]?.flow : undefined;
    return { running: Boolean(machine.running || machine.air), wrong: shape(tone), figure: flow ? words.flow(flow) : "" };
  }

  /** A gate's display: a text only while it moves or if something is wrong. */
  gate(part) {
    const gate = this.picture.gates.get(part.bound);
    if (!gate) return {};
    const { tone, text } = this.words.gate(gate);
    const moving = moves(gate) || gate.stand === "between";
    const wrong = gate.fault ? "bad" : null;
    return { open: gate.stand === "open", moving, wrong, figure: moving || wrong ? text : "", tone };
  }

  /** A duct's flow. */
  duct(part) {
    const figure = this.flows?.ducts?.[part.bound];
    if (!this.turning || !this._open.has(part.id)) return { rows: null };
    const verdict = figure && (figure.slow ? "too_little" : figure.marginal ? "marginal" : "enough");
    return { rows: [{ from: 0, to: Infinity, velocity: figure?.speed ?? SOME, verdict: verdict ?? null, diameter: part.diameter }] };
  }
}

/** No text for a part at rest. */
const shape = (tone) => (tone === "off" ? null : tone);

/** The ducts between an open gate and the collector. */
function openDucts(doc, gates) {
  const ducts = new Map(doc.ducts.map((duct) => [duct.id, duct]));
  const found = new Set();
  for (const gate of doc.gates) {
    const { stand, kind } = gates.get(gate.bound) ?? {};
    if (stand !== "open" && kind !== "fixed") continue;
    let duct = ducts.get(gate.duct);
    while (duct && !found.has(duct.id)) {
      found.add(duct.id);
      duct = duct.end?.to === "duct" ? ducts.get(duct.end.duct) : null;
    }
  }
  return found;
}
