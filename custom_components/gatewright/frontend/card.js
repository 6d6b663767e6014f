/** The base of all Gatewright cards. */
import { el, fire, setAttribute, setText } from "./dom.js";
import { feedOf } from "./feed.js";
import { onWhole } from "./figures.js";
import { Guard } from "./guard.js";
import { left, load, translator } from "./i18n.js";
import { noteHere } from "./seen.js";
import { glyph, setGlyph } from "./shapes.js";
import { BASE, sheet } from "./styles.js";

const RETRIES = [1000, 2000, 5000];

/**
 * A card: it keeps its feed, its language and its clock. Nothing is drawn before its texts and its content are loaded.
 *
 * A subclass has `content(again)`, which imports the module with its `Content` (content.js); a retry passes a different
 * `again`, so that the address differs. It may have `options` (its form's fields besides those of every card) and `size`
 * (its height in rows of the page before it is drawn).
 */
export class GatewrightCard extends HTMLElement {
  static options = [];
  static size = 6;
  static content = null;

  constructor() {
    super();
    this.attachShadow({ mode: "open" });
    this.adopt(BASE);
    this._note = el("div.note", { hidden: true });
    this._title = el("h2.title", { hidden: true });
    this.body = el("div.body");
    this.shadowRoot.append(el("ha-card", {}, this._title, this._note, this.body));
    this.t = null;
    this.guard = new Guard(() => this.t("state.broken"));
  }

  static getStubConfig() {
    return {};
  }

  static getConfigForm() {
    return formOf("entry_id", "title", ...this.options);
  }

  getCardSize() {
    return this._content?.size?.() ?? this.constructor.size;
  }

  getGridOptions() {
    return { columns: 12, min_columns: 6, rows: "auto" };
  }

  setConfig(config) {
    check(config);
    this.config = config;
    setText(this._title, config.title || "");
    this._title.hidden = !config.title;
    this._fetch();
    this._connect();
  }

  set hass(hass) {
    const before = this._hass;
    this._hass = hass;
    if (this._spoken !== hass.language) this._speak(hass);
    if (before?.connection !== hass.connection) this._connect();
  }

  get hass() {
    return this._hass;
  }

  connectedCallback() {
    this._content?.connected?.();
    this._connect();
    this._unwhole ??= onWhole(() => this._redraw());
    this._watch ??= () => document.visibilityState === "visible" && this._beat();
    document.addEventListener("visibilitychange", this._watch);
  }

  disconnectedCallback() {
    document.removeEventListener("visibilitychange", this._watch);
    this._unwhole?.();
    this._unwhole = undefined;
    this._content?.disconnected?.();
    this._disconnect();
  }

  /** The system's snapshot while it's loaded. */
  get picture() {
    const picture = this.feed?.picture;
    return picture?.state === "running" ? picture : null;
  }

  /** Add a style sheet. */
  adopt(styles) {
    const made = sheet(styles);
    const { adoptedStyleSheets: used } = this.shadowRoot;
    if (!used.includes(made)) this.shadowRoot.adoptedStyleSheets = [...used, made];
  }

  /** The words of `{key, until}`, with the seconds left. */
  say({ key, until, values }) {
    if (until === null || until === undefined) return this.t(key, { left: "–", ...values });
    return this.t(key, { left: left(this.t, until - this.feed.now()) });
  }

  /** Update the card every second, until `tick` has nothing more to count. */
  wind() {
    if (this._timer === undefined) this._beat();
  }

  /** Call an action; Home Assistant itself shows a refusal. */
  async act(domain, action, entityId) {
    try {
      await this.hass.callService(domain, action, {}, { entity_id: entityId });
    } catch {
      // The page already shows it.
    }
  }

  showDetails(entityId) {
    if (entityId) fire(this, "hass-more-info", { entityId });
  }

  build() {
    this._content.build?.();
  }

  update(changes) {
    this._content.update?.(changes);
  }

  tick() {
    return this._content?.tick?.();
  }

  lost() {
    this._content?.lost?.();
  }

  get _hasContent() {
    return Boolean(this._content) || !this.constructor.content;
  }

  /** Fetch the card's content and retry until it's there: Home Assistant may be offline. */
  async _fetch(attempt = 0) {
    if (this._hasContent || (this._fetching && !attempt)) return;
    this._fetching = true;
    try {
      const { Content } = await this.constructor.content(attempt ? `?${attempt}` : "");
      this.adopt(Content.styles);
      this._content = new Content(this);
      noteHere(this.localName);
      this._awaits = false;
      if (this.isConnected) this._content.connected?.();
      this._redraw();
    } catch (error) {
      console.warn("Gatewright: a card cannot be fetched yet.", error);
      this._awaits = true;
      this._redraw();
      setTimeout(() => this._fetch(attempt + 1), RETRIES[Math.min(attempt, RETRIES.length - 1)]);
    }
  }

  _connect() {
    const connection = this.isConnected && this.config ? this._hass?.connection : undefined;
    const feed = connection ? feedOf(connection, this.config.entry_id) : undefined;
    if (feed === this.feed) return;
    this._disconnect();
    this.feed = feed;
    this._unlisten = feed?.listen((changes) => this._changed(changes));
    if (feed) this._changed({ all: true });
  }

  _disconnect() {
    clearTimeout(this._timer);
    this._timer = undefined;
    this._unlisten?.();
    this._unlisten = undefined;
    this.feed = undefined;
    this._built = null;
  }

  async _speak({ connection, language }) {
    if (this._awaited === language) return;
    this._awaited = language;
    await load(connection, language);
    this._awaited = undefined;
    const t = translator(this._hass.language);
    if (!t || this._spoken === this._hass.language) return;
    this.t = t;
    this._spoken = this._hass.language;
    this._redraw();
  }

  _redraw() {
    this._built = null;
    if (this.feed) this._changed({ all: true });
  }

  _changed(changes) {
    if (changes.moved) return this._connect();
    if (!this.feed || !this.t) return undefined;
    if (changes.all) this._tellStatus();
    const picture = this.picture;
    if (!picture || !this._hasContent) return undefined;
    if (changes.all) {
      this._built = picture;
      this.guard.part(this.body, () => this.build());
    }
    this.guard.part(this.body, () => this.update(changes));
    this.wind();
    return undefined;
  }

  _clear() {
    this._built = null;
    this.body.replaceChildren();
  }

  /** Show a notice if the snapshot is missing or old. */
  _tellStatus() {
    const { status, picture, outdated } = this.feed;
    let key = null;
    if (status !== "live") key = `state.${status}`;
    else if (picture.state !== "running") key = `state.${picture.state}`;
    else if (outdated) key = "state.updated";
    else if (this._awaits) key = "state.connecting";
    else if (picture.system.watching) key = "state.watching";
    // A reload takes a moment: only a lasting one is worth a notice.
    clearTimeout(this._noteTimer);
    const absent = status === "live" && !this.picture;
    const brief = absent && this._built;
    const show = () => {
      this._showNote(key, picture);
      if (absent) this._clear();
    };
    if (brief) this._noteTimer = setTimeout(show, 1500);
    else show();
    if (status !== "live") this.lost();
    const stale = status !== "live" || absent;
    this.body.classList.toggle("stale", stale);
    setAttribute(this.body, "inert", stale);
  }

  _showNote(key, picture) {
    this._note.hidden = key === null;
    if (key === null) {
      this._note.replaceChildren();
      return;
    }
    const tone = ["state.connecting", "state.updated", "state.watching"].includes(key) ? "wait" : "bad";
    const shape = glyph();
    setGlyph(shape, tone);
    this._note.dataset.tone = tone;
    this._note.setAttribute("role", "status");
    const name = picture?.system?.name ?? "Gatewright";
    const text = this.t(key, { name }) ?? this.t("state.not_loaded", { name });
    this._note.replaceChildren(shape, el("span", {}, text));
    if (key === "state.updated") {
      const reload = () => location.reload();
      this._note.append(el("button", { onclick: reload }, this.t("state.reload")));
    }
  }

  _beat() {
    clearTimeout(this._timer);
    this._timer = undefined;
    if (!this.picture || document.visibilityState !== "visible") return;
    if (!this.guard.attempt(this, () => this.tick())) return;
    // Just after the hub's clock shows another second.
    const wait = 1000 - ((this.feed.now() * 1000) % 1000) + 20;
    this._timer = setTimeout(() => this._beat(), Number.isFinite(wait) ? wait : 1000);
  }
}

/** Reject a configuration that no card can use. */
function check(config) {
  if (config.entry_id !== undefined && typeof config.entry_id !== "string") {
    throw new Error("entry_id must be the id of a Gatewright system");
  }
}

/** The form of a card with these fields. */
function formOf(...fields) {
  const all = {
    entry_id: { selector: { config_entry: { integration: "gatewright" } } },
    title: { selector: { text: {} } },
    figures: { default: true, selector: { boolean: {} } },
    hide_idle: { selector: { boolean: {} } },
    hide_unused: { selector: { boolean: {} } },
  };
  const t = (key) => translator(document.querySelector("home-assistant")?.hass?.language)?.(key);
  return {
    schema: fields.map((name) => ({ name, ...all[name] })),
    computeLabel: (field) => t(`form.${field.name}`),
    computeHelper: (field) => t(`form.${field.name}_help`),
    assertConfig: check,
  };
}
