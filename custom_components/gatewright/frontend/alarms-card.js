/** A card with only the alarms, for a page about problems. */
import { AlarmList } from "./alarms.js";
import { CardContent } from "./content.js";
import { el } from "./dom.js";
import { Headline } from "./head.js";
import { glyph, setGlyph } from "./shapes.js";

const STYLES = `
.none { display: flex; gap: 10px; align-items: center; font-size: 1.1rem; }
`;

export class Content extends CardContent {
  static styles = STYLES;

  constructor(card) {
    super(card);
    this._headline = new Headline();
    this._alarms = new AlarmList();
    const shape = glyph();
    setGlyph(shape, "good");
    this._words = el("span");
    this._none = el("p.none", { "data-tone": "good" }, shape, this._words);
  }

  size() {
    return 2 + 2 * (this.picture?.alarms.length ?? 0);
  }

  build() {
    this._words.textContent = this.t("alarm.none");
    this.body.replaceChildren(this._headline.node, this._none, this._alarms.node);
  }

  update() {
    this.guard.part(this._headline.node, () => this._headline.update(this));
    this.guard.part(this._alarms.node, () => this._alarms.update(this));
    this._none.hidden = this.picture.alarms.length > 0;
  }
}
