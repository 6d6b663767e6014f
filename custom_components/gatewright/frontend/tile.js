/** A machine as a tile: what it does, and a tap to ask for air. */
import { el, setAttribute, setText } from "./dom.js";
import { glyph, setGlyph } from "./shapes.js";
import { aloud, machineWords } from "./words.js";

export class Tile {
  /** Make the tile of a machine; only a user who may control it gets a button. */
  constructor(card, id) {
    this.card = card;
    this.id = id;
    const { control, name } = card.picture.machines.get(id);
    this._shape = glyph();
    this._name = el("span.name", {}, name);
    this._state = el("span.state");
    const words = el("span.words", {}, this._name, this._state);
    this.node = control
      ? el("button.tile", { type: "button", onclick: () => this._toggle() }, this._shape, words)
      : el("div.tile", { role: "group" }, this._shape, words);
    this.node.dataset.machine = id;
  }

  /** Show how the machine stands; returns whether its words count seconds. */
  update() {
    const { guard, t } = this.card;
    return guard.attempt(this, () => this._update(), () => {
      this.node.dataset.tone = "bad";
      setGlyph(this._shape, "bad");
      setText(this._state, t("part.broken"));
    });
  }

  _update() {
    const { card } = this;
    const machine = card.picture.machines.get(this.id);
    const told = machineWords(machine, card.picture);
    if (this.node.dataset.tone !== told.tone) this.node.dataset.tone = told.tone;
    setGlyph(this._shape, told.tone);
    let state = card.say(told);
    if (machine.requested && !told.key.startsWith("machine.ask")) {
      state += ` (${card.t("machine.also")})`;
    }
    const figure = card.figureOf?.(machine);
    setText(this._state, figure ? `${state} · ${figure}` : state);
    if (this.node.localName === "button") {
      setAttribute(this.node, "aria-pressed", String(machine.requested));
      const does = card.t(machine.requested ? "machine.withdraw" : "machine.ask");
      setAttribute(this.node, "title", card.t("label.says", { name: does, words: machine.name }));
    }
    const spoken = told.until === null ? state : aloud(card.t, told);
    setAttribute(this.node, "aria-label", card.t("label.says", { name: machine.name, words: spoken }));
    return told.until !== null;
  }

  _toggle() {
    const machine = this.card.picture?.machines.get(this.id);
    if (!machine?.entity) return;
    this.card.act("switch", machine.requested ? "turn_off" : "turn_on", machine.entity);
  }
}
