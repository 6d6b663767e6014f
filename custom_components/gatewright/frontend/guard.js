/** Keeps an error in one part of a card from taking the others away. */
import { el } from "./dom.js";
import { glyph, setGlyph } from "./shapes.js";

/** The parts of one card, each drawn by itself; `words` returns what is said in place of one. */
export class Guard {
  constructor(words) {
    this._words = words;
    this._notes = new Map();
    this._told = new WeakSet();
  }

  /** Draw a part that has its own place on the card: where it fails, the place says so. */
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

  /** Draw a part of a drawing; where it fails, `otherwise` shows so. */
  attempt(owner, draw, otherwise) {
    try {
      return draw();
    } catch (error) {
      // Once for each part: a card is drawn anew at every change.
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
