/** Big tiles for a phone or a wall tablet: one per machine or pickup, those in use first. */
import { AlarmList } from "./alarms.js";
import { ASK_STYLES } from "./ask.js";
import { CardContent } from "./content.js";
import { el, setAttribute, setText } from "./dom.js";
import { Headline, Modes } from "./head.js";
import { glyph, setGlyph } from "./shapes.js";
import { Tile } from "./tile.js";
import { collectorWords, inUse, rank } from "./words.js";

const SETTLED = 1500;

const STYLES = `
${ASK_STYLES}
.tiles { display: grid; grid-template-columns: repeat(auto-fill, minmax(min(100%, 210px), 1fr)); gap: 10px; }
.tiles .tile { min-height: 84px; padding: 10px 14px; gap: 14px; width: 100%; border-radius: 14px; }
.tiles .tile[data-tone="bad"] { padding: 8.5px 12.5px; }
.tiles .tile[aria-pressed="true"] { padding: 6.5px 10.5px; }
.tiles .glyph { width: 34px; height: 34px; }
.tiles .name { font-size: 1.15rem; white-space: normal; overflow-wrap: anywhere; }
.tiles .state { font-size: 1rem; white-space: normal; }
@media (max-width: 500px) { .tiles .tile { min-height: 68px; } }
.air { display: flex; align-items: center; gap: 10px; margin-bottom: 10px; font-variant-numeric: tabular-nums; }
.air .glyph { width: 18px; height: 18px; margin-inline: 3px; }
`;

export class Content extends CardContent {
  static styles = STYLES;

  constructor(card) {
    super(card);
    this._headline = new Headline();
    this._modes = new Modes();
    this._alarms = new AlarmList();
    this._shape = glyph();
    this._phase = el("span");
    this._list = el("ul.tiles", { role: "list" });
    // A tile that jumps from under a finger is worse than one in the wrong place.
    this._touched = -Infinity;
    const touch = () => (this._touched = performance.now());
    for (const type of ["pointerdown", "pointerup"]) this._list.addEventListener(type, touch);
  }

  size() {
    return 2 + Math.ceil((this.picture?.machines.size ?? 4) / 2) * 2;
  }

  build() {
    const { machines, system } = this.picture;
    const focused = this.shadowRoot.activeElement?.dataset.machine;
    setAttribute(this._list, "aria-label", this.t("label.machines", { name: system.name }));
    this._items = [...machines.keys()].map((id) => {
      const tile = new Tile(this, id);
      return { id, tile, node: el("li", {}, tile.node) };
    });
    this._list.replaceChildren(...this._items.map(({ node }) => node));
    const none = machines.size ? null : el("p", {}, this.t("label.none"));
    this.body.replaceChildren(
      this._headline.node,
      el("div.air", {}, this._shape, this._phase),
      this._modes.node,
      this._alarms.node,
      this._list,
      ...(none ? [none] : [])
    );
    this._order = "";
    this._touched = -Infinity;
    this._sort();
    if (focused) this._items.find(({ id }) => id === focused)?.tile.node.focus();
  }

  update() {
    this.guard.part(this._headline.node, () => this._headline.update(this));
    this.guard.part(this._modes.node, () => this._modes.update(this));
    this.guard.part(this._alarms.node, () => this._alarms.update(this));
    this._updateCollector();
    for (const { tile } of this._items) tile.update();
    this._sort();
  }

  tick() {
    let more = this._updateCollector();
    for (const { tile } of this._items) more = tile.update() || more;
    return more;
  }

  _updateCollector() {
    return this.guard.part(this._shape.parentNode, () => this._tellCollector());
  }

  _tellCollector() {
    const { system } = this.picture;
    const told = collectorWords(system);
    this._shape.parentNode.dataset.tone = told.tone;
    setGlyph(this._shape, told.tone);
    setText(this._phase, this.t("label.says", { name: system.name, words: this.say(told) }));
    return told.until !== null;
  }

  /** Put what is in use first, once nobody is touching the tiles. */
  _sort() {
    clearTimeout(this._later);
    const wait = this._touched + SETTLED - performance.now();
    if (wait > 0) {
      this._later = setTimeout(() => this.picture && this._sort(), wait);
      return;
    }
    const { picture } = this;
    const { machines } = picture;
    const ranked = this._items
      // If the rank can't be computed, the tile comes first.
      .map((item) => [this.guard.attempt(item, () => rank(machines.get(item.id), picture)) ?? 0, item])
      .sort(([a], [b]) => a - b);
    for (const [, { id, node }] of ranked) {
      const used = () => inUse(machines.get(id), picture);
      node.hidden = Boolean(this.config.hide_idle) && !(this.guard.attempt(node, used) ?? true);
    }
    const order = ranked.map(([, { id }]) => id).join();
    if (order === this._order) return;
    this._order = order;
    const focused = this.shadowRoot.activeElement;
    this._list.append(...ranked.map(([, { node }]) => node));
    // Moving an element removes its focus.
    if (focused && this._list.contains(focused)) focused.focus();
  }
}
