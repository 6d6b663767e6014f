/** The plan's card: it fetches the editor when it's shown, so that every other page stays light. */
import { GatewrightCard } from "./card.js";
import { el } from "./dom.js";
import { load, PLAN } from "./i18n.js";
import { glyph, setGlyph } from "./shapes.js";

export class PlanCard extends GatewrightCard {
  static size = 12;

  getGridOptions() {
    return { columns: "full", min_columns: 12, rows: "auto" };
  }

  build() {
    const { entry_id: entryId } = this.picture;
    const known = this._editor?.entryId === entryId && this._language === this.hass.language;
    if (known) {
      if (this.body.firstChild !== this._editor.node) this.body.replaceChildren(this._editor.node);
      return;
    }
    if (this._starting === entryId) return;
    this._starting = entryId;
    this._begin(entryId).finally(() => (this._starting = null));
  }

  update() {
    this._editor?.update();
  }

  disconnectedCallback() {
    super.disconnectedCallback();
    this._editor?.stop();
    this._editor = null;
  }

  async _begin(entryId) {
    this._editor?.stop();
    this._editor = null;
    try {
      const { connection, language } = this.hass;
      const [{ PlanEditor }, { PLAN_STYLES }, texts] = await Promise.all([
        import("./plan/editor.js"),
        import("./plan/styles.js"),
        choices(this.hass),
        load(connection, language, PLAN),
      ]);
      this.adopt(PLAN_STYLES);
      const editor = new PlanEditor(this, texts);
      this.body.replaceChildren(editor.node);
      await editor.start(entryId);
      this._editor = editor;
      this._language = this.hass.language;
      if (!this.isConnected) this.disconnectedCallback();
    } catch (error) {
      console.error("Gatewright: the plan cannot be shown.", error);
      const shape = glyph();
      setGlyph(shape, "bad");
      this.body.replaceChildren(el("div.note.broken", { role: "status", "data-tone": "bad" }, shape, el("span", {}, this.t("state.broken"))));
    }
  }
}

/** The words for materials, hoods and so on, which the forms already have. */
async function choices({ connection, language }) {
  const type = "frontend/get_translations";
  const answer = await connection.sendMessagePromise({ type, language, category: "selector", integration: "gatewright" });
  return answer.resources;
}
