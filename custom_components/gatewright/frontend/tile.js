/** A machine as a tile. A tap explains how to turn on dust collection; holding turns it on. */
import { ask } from "./ask.js";
import { el, setAttribute, setText } from "./dom.js";
import { onHold } from "./hold.js";
import { glyph, setGlyph } from "./shapes.js";
import { aloud, machineWords } from "./words.js";

/** How long the hint replaces the state, in ms. */
const HINTED = 3000;

export class Tile {
  /** Create a machine's tile; only a user who may control it gets a button. */
  constructor(card, id) {
    this.card = card;
    this.id = id;
    const { control, name } = card.picture.machines.get(id);
    this._shape = glyph();
    this._name = el("span.name", {}, name);
    this._state = el("span.state");
    const words = el("span.words", {}, this._name, this._state);
    if (control) {
      this.node = el("button.tile", { type: "button" }, this._shape, words);
      onHold(this.node, {
        held: () => this._toggle(),
        tapped: () => this._hint(),
        keyed: () => this._ask(),
      });
    } else {
      this.node = el("div.tile", { role: "group" }, this._shape, words);
    }
    this.node.dataset.machine = id;
  }

  /** Show the machine's state; returns whether its text counts seconds. */
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
    const hold = card.t(machine.requested ? "machine.hold_off" : "machine.hold_on");
    if (performance.now() < this._hintedUntil) setText(this._state, hold);
    else setText(this._state, figure ? `${state} · ${figure}` : state);
    if (this.node.localName === "button") {
      setAttribute(this.node, "aria-pressed", String(machine.requested));
      setAttribute(this.node, "title", hold);
    }
    const spoken = told.until === null ? state : aloud(card.t, told);
    setAttribute(this.node, "aria-label", card.t("label.says", { name: machine.name, words: spoken }));
    return told.until !== null;
  }

  _hintedUntil = 0;

  /** Briefly show what holding does. */
  _hint() {
    this._hintedUntil = performance.now() + HINTED;
    clearTimeout(this._back);
    this._back = setTimeout(() => this.card.picture?.machines.has(this.id) && this.update(), HINTED + 20);
    this.update();
  }

  /** Ask users who can't hold: by keyboard, or with a screen reader. */
  async _ask() {
    const machine = this.card.picture?.machines.get(this.id);
    if (!machine) return;
    const { t } = this.card;
    const what = machine.requested ? "off" : "on";
    const sure = await ask(this.card, {
      title: t(`machine.sure_${what}`, { name: machine.name }),
      text: t(`machine.does_${what}`),
      yes: t(`machine.do_${what}`),
      no: t("gate.cancel"),
    });
    if (sure) this._toggle();
  }

  _toggle() {
    const machine = this.card.picture?.machines.get(this.id);
    if (!machine?.entity) return;
    this._hintedUntil = 0;
    this.card.act("switch", machine.requested ? "turn_off" : "turn_on", machine.entity);
  }
}
