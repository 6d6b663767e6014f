/** A gate as a tile with its position. A tap says how to move it, holding moves it. */
import { el, setAttribute, setText } from "../dom.js";
import { glyph, setGlyph } from "../shapes.js";
import { gateWords } from "../words.js";

export class GateTile {
  /** `card` is a map's card; it has `operates(node, id)`. */
  constructor(card, id) {
    this.card = card;
    this.id = id;
    this._shape = glyph();
    this._name = el("span.name");
    this._state = el("span.state");
    this.node = el("button.tile", { type: "button" }, this._shape, el("span.words", {}, this._name, this._state));
    this.node.dataset.gate = id;
    card.operates(this.node, id);
  }

  /** Show the gate's position; returns false, because it shows no seconds. */
  update() {
    const { card } = this;
    const gate = card.picture.gates.get(this.id);
    if (!gate) return false;
    const { tone, key } = gateWords(gate);
    const words = card.t(key);
    this.node.dataset.tone = tone;
    setGlyph(this._shape, tone);
    setText(this._name, gate.name);
    setText(this._state, words);
    setAttribute(this.node, "aria-label", card.t("label.says", { name: gate.name, words }));
    return false;
  }
}
