/** Keeps an error in one part of a card from blanking the others. */
import { el } from "./dom.js";
import { glyph, setGlyph } from "./shapes.js";

/** The parts of one card, drawn separately; `words` returns the text in place of a failed one. */
export class Guard {
  constructor(words) {
    this._words = words;
    this._notes = new Map();
    this._told = new WeakSet();
  }

  /** Draw a part with its own place on the card; on an error, that place shows a text. */
  part(node, draw) {
    let failed = false;
    const result = this.attempt(node, draw, () => (failed = true));
    const note = this._notes.get(node);
    if (!failed) {
      note?.remove();
      this._notes.delete(node);
      if (note) node.style.removeProperty("display");
      return result;
    }
    const shown = note ?? noteOf();
    this._notes.set(node, shown);
    shown.lastChild.textContent = this._words();
    node.style.display = "none";
    if (shown.previousSibling !== node) node.after(shown);
    return undefined;
  }

  /** Draw a part of a drawing; on an error, `otherwise` draws a substitute. */
  attempt(owner, draw, otherwise) {
    try {
      return draw();
    } catch (error) {
      // Once for each part: a card is redrawn at every change.
      if (!this._told.has(owner)) console.error("Gatewright: a part of a card cannot be shown.", error);
      this._told.add(owner);
      otherwise?.();
      return undefined;
    }
  }
}

function noteOf() {
  const shape = glyph();
  setGlyph(shape, "bad");
  return el("div.note.broken", { role: "status", "data-tone": "bad" }, shape, el("span"));
}
