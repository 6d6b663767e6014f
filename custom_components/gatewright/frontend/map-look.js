/** The chosen look of the live map, schematic or to scale, and the offer to draw a plan. */
import { el, fire, setAttribute, setText } from "./dom.js";
import { percentText } from "./figures.js";

const KEY = "gatewright-map-look";
const LOOKS = ["plan", "schematic"];

export class MapLook {
  /** `card` is the map's card. */
  constructor(card) {
    this._card = card;
    this._stores = el("span.stores");
    this._choice = el("div.choice", { role: "group" });
    this._offer = el("button.draw", { type: "button", onclick: () => this._draw() });
    this.node = el("div.looks", {}, this._stores, this._choice, this._offer);
    this.stage = el("div.stage", { hidden: true });
  }

  /** The look: as chosen in this browser, else the plan if one was drawn. */
  get look() {
    const { picture } = this._card;
    if (!picture.ducts?.length) return "schematic";
    const chosen = remembered();
    return LOOKS.includes(chosen) ? chosen : picture.drawn ? "plan" : "schematic";
  }

  /** Whether the map is shown to scale. */
  get toScale() {
    return this.look === "plan";
  }

  /** Draw the look's parts; returns whether it's the plan. */
  build() {
    const { picture, t, hass } = this._card;
    const ducts = Boolean(picture.ducts?.length);
    const { toScale } = this;
    setAttribute(this._choice, "aria-label", t("look.choose"));
    // The buttons stay, so that the pressed one is still under the finger.
    if (!this._choice.children.length) this._choice.append(...LOOKS.map((name) => el("button", { type: "button", onclick: () => this._choose(name) })));
    LOOKS.forEach((name, at) => {
      const button = this._choice.children[at];
      setAttribute(button, "aria-pressed", String(name === this.look));
      setText(button, t(`look.${name}`));
    });
    this._choice.hidden = !ducts;
    setText(this._offer, t("look.draw"));
    this._offer.hidden = ducts || !hass.user?.is_admin || !this._planView;
    this.stage.hidden = !toScale;
    if (toScale) this._show();
    else this.stop();
    return toScale;
  }

  update() {
    const { picture, t, hass } = this._card;
    const words = ["bin", "filter"]
      .filter((store) => typeof picture.upkeep?.[store] === "number")
      .map((store) => `${t(`label.${store}`)} ${percentText(hass.language, picture.upkeep[store])}`);
    setText(this._stores, this.toScale ? words.join(" · ") : "");
    this._live?.update();
  }

  tick() {
    return this._live?.scene ? this._live.tick() : false;
  }

  resize() {
    this._live?.draw();
  }

  stop() {
    this._live?.stop();
    this._live = this._starting = null;
    this.stage.replaceChildren();
  }

  async _show() {
    const { picture } = this._card;
    const entryId = picture.entry_id;
    if (this._live?.entryId === entryId) {
      this._live.draw();
      return;
    }
    if (this._starting === entryId) return;
    this.stop();
    this._starting = entryId;
    try {
      const { LiveMap } = await import("./plan/live-map.js");
      if (this._starting !== entryId) return;
      const live = new LiveMap(this._card);
      this._live = live;
      await live.start(entryId);
      if (this._live !== live) return;
      this.stage.replaceChildren(live.node);
      live.draw();
    } catch (error) {
      console.error("Gatewright: the plan cannot be shown.", error);
      this.stop();
      setText(this.stage, this._card.t("state.broken"));
    }
  }

  _choose(name) {
    remember(name);
    this._card.lookChanged();
  }

  /** The URL of the dashboard's plan view. */
  get _planView() {
    const view = this._card.config.plan_view;
    return view ? `/${location.pathname.split("/")[1]}/${view}` : null;
  }

  _draw() {
    history.pushState(null, "", this._planView);
    fire(window, "location-changed", { replace: false });
  }
}

function remembered() {
  try {
    return localStorage.getItem(KEY);
  } catch {
    // A browser without storage shows the default look.
    return null;
  }
}

function remember(name) {
  try {
    localStorage.setItem(KEY, name);
  } catch {
    // As above.
  }
}
