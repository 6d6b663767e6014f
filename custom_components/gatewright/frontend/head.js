/** The shop in a sentence, and its unusual modes. */
import { el, setText } from "./dom.js";
import { glyph, setGlyph } from "./shapes.js";
import { headlines, modes } from "./words.js";

export class Headline {
  constructor() {
    this.node = el("div.headline", { role: "status", "aria-live": "polite" });
  }

  update(card) {
    const told = headlines(card.picture);
    while (this.node.children.length > told.length) this.node.lastChild.remove();
    while (this.node.children.length < told.length) this.node.append(el("p", {}, glyph(), el("span")));
    told.forEach(({ tone, key, values }, index) => {
      const line = this.node.children[index];
      if (line.dataset.tone !== tone) line.dataset.tone = tone;
      setGlyph(line.firstChild, tone);
      setText(line.lastChild, card.t(key, values));
    });
  }
}

export class Modes {
  constructor() {
    this.node = el("div.modes");
    this._shown = "";
  }

  update(card) {
    const { system, gates, machines } = card.picture;
    const told = modes(system);
    const parts = [...gates.values(), ...machines.values()];
    if (parts.length && !parts.some((part) => part.control)) told.push(["off", "mode.view_only"]);
    const words = told.map(([tone, key]) => [tone, card.t(key)]);
    const shown = JSON.stringify(words);
    if (shown === this._shown) return;
    this._shown = shown;
    this.node.replaceChildren(
      ...words.map(([tone, text]) => {
        const shape = glyph();
        setGlyph(shape, tone);
        return el("span.chip", { "data-tone": tone }, shape, text);
      })
    );
  }
}
