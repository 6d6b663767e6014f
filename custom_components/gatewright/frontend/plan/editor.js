/** The plan's editor: drawing, tools and panels, and what they share. */
import { el, setAttribute, setText } from "../dom.js";
import { AirPanel } from "./air-panel.js";
import { Bar } from "./bar.js";
import { partOf, stepOf } from "./document.js";
import { Drafting } from "./drafting.js";
import { remove } from "./edits.js";
import { Files } from "./files.js";
import { onKey, onShortcut } from "./keys.js";
import { Measure } from "./measure.js";
import { PlanModel } from "./model.js";
import { copied } from "./part-edits.js";
import { PartPanel } from "./part-panel.js";
import { Placing } from "./placing.js";
import { Pointers } from "./pointer.js";
import { Scene } from "./scene.js";
import { Newest, Session } from "./server.js";
import { ShopPanel } from "./shop-panel.js";
import { SizePanel } from "./size-panel.js";
import { extent } from "./snap.js";
import { ChooseTool, DuctTool, GateTool, RoomTool, TryTool } from "./tools.js";
import { PlanWords } from "./words.js";

/** Narrower than this (px), the plan is read-only. */
const PHONE = 600;
const NARROW = 900;
const PANELS = ["shop", "air", "size"];

export class PlanEditor {
  /** `card` provides `hass`, `t`, and the shop's present state. */
  constructor(card, texts) {
    this.card = card;
    this.t = card.t;
    this.language = card.hass.language;
    this._texts = texts;
    this.model = new PlanModel();
    this.node = el("div.editor");
    this.live = el("p.unseen", { role: "status", "aria-live": "polite" });
    this.node.append(this.live);
  }

  /** Fetch the draft and draw it. */
  async start(entryId) {
    const { connection } = this.card.hass;
    this.entryId = entryId;
    this.session = new Session(connection, entryId, this.language);
    const got = await this.session.call("get");
    this._allowed = got.editable;
    this.measure = new Measure(got.units, this.language);
    const { machines, gates, sizes, choices, units } = got;
    Object.assign(this.model, { machines, gates, sizes, choices, units, problems: got.problems ?? [], system: this.card.picture?.system?.name, differs: got.differs, editable: got.editable });
    this.placing = new Placing(this);
    this.words = new PlanWords(this.model, this.t, this.measure, (kind, key) => this._choice(kind, key));
    this.draft = new Drafting(this);
    this._build();
    this.draft.begin(got);
    this._figures = new Newest(
      (what) => this.session.call("compute", what),
      (answer) => this._show(answer),
      () => this.model.set("figures", { figures: { available: false, why: "failed" } })
    );
    this.compute();
    this._unsubscribe = await this.session.subscribe((event) => this.draft.heard(event));
  }

  stop() {
    this._resize?.disconnect();
    this.draft?.stop();
    this._unsubscribe?.().catch?.(() => {});
    document.removeEventListener("visibilitychange", this._hidden);
  }

  get settings() {
    const { model, words, t } = this;
    return {
      height: model.newHeight,
      sizes: model.sizes,
      machines: model.machines,
      gates: model.gates,
      name: (item) => (item?.type === "machine" ? t("plan.branch_name", { name: words.name(item) }) : this.placing.free(t("plan.main_name"))),
      gateName: (item) => this.placing.free(t("plan.gate_name", { name: words.name(item) })),
    };
  }

  _choice(kind, key) {
    return this._texts[`component.gatewright.selector.${kind}.options.${key}`] ?? key;
  }

  options(kind, keys = []) {
    return keys.map((key) => [key, this._choice(kind, key)]);
  }

  // Building ---------------------------------------------------------------------------------

  _build() {
    const { t, model } = this;
    this.scene = new Scene(model, this.words);
    this.tools = { choose: new ChooseTool(this), duct: new DuctTool(this), gate: new GateTool(this), room: new RoomTool(this), try: new TryTool(this) };
    new Pointers(this.scene, () => this.tool);
    for (const [name, value] of Object.entries({ tabindex: "0", role: "application", "aria-label": t("plan.drawing"), "aria-describedby": "plan-keys", "aria-roledescription": t("plan.drawing_role") })) this.scene.node.setAttribute(name, value);
    this.scene.node.addEventListener("keydown", (event) => onKey(this, event));
    this.bar = new Bar(this);
    this.part = new PartPanel(this);
    this.panels = { shop: new ShopPanel(this), air: new AirPanel(this), size: new SizePanel(this) };
    this._tabs = el("div.tabs", { role: "tablist", "aria-label": t("plan.panels") });
    for (const name of PANELS) {
      const tab = el("button", { type: "button", role: "tab", id: `plan-tab-${name}`, "aria-controls": `plan-panel-${name}`, onclick: () => this.open(name) }, t(`plan.tab_${name}`));
      tab.dataset.panel = name;
      this._tabs.append(tab);
      const { node } = this.panels[name];
      for (const [key, value] of Object.entries({ role: "tabpanel", id: `plan-panel-${name}`, "aria-labelledby": `plan-tab-${name}`, tabindex: "-1" })) node.setAttribute(key, value);
    }
    this._tabs.addEventListener("keydown", (event) => this._walkTabs(event));
    this._note = el("p.phone", {}, t("plan.phone"));
    this._keys = el("p.unseen", { id: "plan-keys" }, t("plan.keys"));
    this._wait = el("p.begin", {});
    this._stage = el("div.stage", {}, this.scene.node, this._wait, this.bar.zoom);
    const aside = el("aside", { "aria-label": t("plan.beside") }, this._tabs, this.part.node, ...PANELS.map((name) => this.panels[name].node));
    this.node.replaceChildren(this.bar.node, this._note, el("div.desk", {}, this._stage, aside), this._keys, this.live);
    model.on("doc", () => this._changed());
    model.on("trial figures problems proposal running selection", () => this._soon());
    model.on("tool", () => this._toolChanged());
    model.on("running", () => this.compute());
    this.node.addEventListener("keydown", (event) => onShortcut(this, event));
    this._resize = new ResizeObserver(() => this._measure());
    this._resize.observe(this._stage);
    this._resize.observe(this.node);
    this._hidden = () => document.visibilityState === "hidden" && this.draft.save();
    document.addEventListener("visibilitychange", this._hidden);
    this.open("shop");
    this._measure();
  }

  _measure() {
    const phone = this.node.clientWidth > 0 && this.node.clientWidth < PHONE;
    const editable = this._allowed && !phone;
    const narrow = this.node.clientWidth < NARROW;
    this.node.classList.toggle("narrow", narrow);
    // On an upright tablet the drawing gets the whole width, with the panels below it.
    this.node.classList.toggle("tall", narrow && !phone && this.node.clientHeight > this.node.clientWidth);
    this._note.hidden = !(phone && this._allowed);
    if (this.model.editable !== editable || this._phone === undefined) {
      this._phone = phone;
      this.model.editable = editable;
      this.model.upright = phone;
      // On a small drawing the buttons would cover parts.
      if (phone) this.bar.node.prepend(this.bar.zoom);
      else this._stage.append(this.bar.zoom);
      this.node.classList.toggle("viewing", !editable);
      setText(this._note, this.t("plan.phone"));
      if (!editable) this.open("air");
      this.model.tell("selection");
      this.model.tell("doc");
      this._toolChanged();
    }
    this._stretch();
    this.scene.resize(this._stage.clientWidth, this._stage.clientHeight);
  }

  /** On a phone, make the drawing as high as it is at full width, up to 70 % of the screen. */
  _stretch() {
    const { width, height } = extent(this.model.doc);
    const share = Math.round((100 * height) / width);
    this._stage.style.height = this._phone ? `clamp(36vh, ${share}vw, 70vh)` : "";
  }

  /** Open a panel; it decides what a tap on the drawing means. */
  open(name) {
    const shown = name === "shop" && !this.model.editable ? "air" : name;
    this.panel = shown;
    for (const tab of this._tabs.children) {
      const on = tab.dataset.panel === shown;
      tab.setAttribute("aria-selected", String(on));
      tab.tabIndex = on ? 0 : -1;
      tab.hidden = !this.model.editable && tab.dataset.panel === "shop";
    }
    for (const one of PANELS) this.panels[one].node.hidden = one !== shown;
    this.part.show(shown === "shop");
    this.model.use(shown === "air" ? "try" : "choose");
    this.panels[shown].update();
  }

  _walkTabs(event) {
    const way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!way) return;
    const tabs = [...this._tabs.children].filter(({ hidden }) => !hidden);
    const next = tabs[(tabs.indexOf(event.target) + way + tabs.length) % tabs.length];
    this.open(next.dataset.panel);
    next.focus();
  }

  get tool() {
    return this.tools[this.model.editable || this.model.tool === "try" ? this.model.tool : "try"];
  }

  _toolChanged() {
    for (const tool of Object.values(this.tools)) if (tool !== this.tool) tool.cancel();
    this.scene.node.dataset.tool = this.model.tool;
    this.bar.update();
    this._begin();
    this._soon();
  }

  /** A first hint, over a drawing without any connected duct. */
  _begin() {
    const { doc, tool, editable } = this.model;
    let key = null;
    if (tool === "duct") key = "plan.hint_duct";
    else if (tool === "gate") key = "plan.hint_gate";
    else if (tool === "room") key = "plan.hint_room";
    // On a phone the panel says this, and the hint would cover half of the drawing.
    else if (tool === "try" && !this.model.running.size && !this._phone) key = "plan.hint_try";
    else if (editable && !doc.items.length) key = "plan.hint_items";
    else if (editable && !doc.ducts.length) key = "plan.hint_first";
    this._wait.hidden = !key;
    if (key) setText(this._wait, this.t(key));
  }

  // What changed -----------------------------------------------------------------------------

  _changed() {
    const { model } = this;
    this._begin();
    this._stretch();
    this._soon();
    if (model.ours) {
      this.draft.changed();
      if (model.proposal) this.dropProposal();
      model.alone = null;
    }
    this.compute();
    this.bar.update();
  }

  /** Draw once per frame, whatever changed. */
  _soon() {
    this._frame ??= requestAnimationFrame(() => {
      this._frame = undefined;
      this.frames = (this.frames ?? 0) + 1;
      this.card.guard.attempt(this, () => this.scene.draw());
    });
  }

  compute() {
    if (!this._figures) return;
    this._figures.ask({ document: this.model.history.settled, running: [...this.model.running] });
  }

  _show(answer) {
    this.model.set("figures", { figures: answer });
    if (answer.problems) this.model.set("problems", { problems: answer.problems });
    this._begin();
  }

  async askAll() {
    const answer = await this.session.call("compute", { document: this.model.history.settled, running: [...this.model.running], all: true });
    this.model.alone = answer.alone ?? [];
    this._show(answer);
    const worst = this.model.alone[0];
    if (worst) this.say(this.t("plan.worst", { name: this.words.name(partOf(this.model.doc, worst.item)) }));
  }

  get canRunAsInShop() {
    return Boolean(this.card.picture?.machines?.size);
  }

  /** Turn a machine on or off in the trial, which no longer follows the shop then. */
  toggle(id) {
    this.following = false;
    this.model.run(id);
  }

  /** Show what runs in the shop, live. */
  followShop(on) {
    this.following = on;
    if (on) this.runAsInShop();
    this.model.tell("figures");
  }

  runAsInShop() {
    const bound = new Map(this.model.doc.items.map((item) => [item.bound, item.id]));
    const ids = [...this.card.picture.machines].filter(([, machine]) => machine.air || machine.running).map(([id]) => bound.get(id));
    const now = ids.filter(Boolean);
    if (now.length !== this.model.running.size || now.some((id) => !this.model.running.has(id))) this.model.runOnly(now);
  }

  get files() {
    this._files ??= new Files(this);
    return this._files;
  }

  // Sizing -----------------------------------------------------------------------------------

  async size() {
    this.model.set("proposal", { sizing: true, proposal: null });
    let answer = null;
    try {
      const running = [...this.model.running];
      answer = await this.session.call("size", { document: this.model.history.settled, ...(running.length > 1 ? { together: [running] } : {}) });
    } finally {
      this.model.set("proposal", { sizing: false, proposal: answer });
    }
    return answer;
  }

  /** Apply the proposed sizes, or some of them, to the plan. */
  async takeSizes(keys) {
    const { proposal } = this.model;
    let { document } = proposal;
    let rest = null;
    if (keys) {
      ({ document } = await this.session.call("size", { document: this.model.history.settled, take: keys }));
      rest = { ...proposal, changes: proposal.changes.filter(({ key }) => !keys.includes(key)) };
    }
    this.dropProposal();
    this.model.change(document);
    if (rest?.changes.length) this.model.set("proposal", { proposal: rest });
    this.say(this.t("plan.sizes_taken", { count: keys?.length ?? proposal.changes.length }));
  }

  dropProposal() {
    this.model.set("proposal", { proposal: null });
  }

  // Deeds ------------------------------------------------------------------------------------

  remove() {
    const { model } = this;
    const names = [...model.selection].map((id) => this.words.name(partOf(model.doc, id)));
    if (!names.length) return;
    model.change(remove(model.doc, model.selection));
    this.say(this.t("plan.removed", { name: names.join(", ") }));
  }

  copy() {
    const { model } = this;
    const { doc, ids } = copied(model, 10 * stepOf(model.doc));
    if (!ids.length) return;
    model.change(doc);
    model.choose(ids);
    this.say(this.t("plan.copied", { count: ids.length }));
  }

  say(text) {
    // A repeated text has to be read aloud again.
    this.live.textContent = "";
    requestAnimationFrame(() => (this.live.textContent = text ?? ""));
  }

  /** A problem, with a link to its part. */
  problemRow({ at, severity, text }) {
    const tone = severity === "error" || severity === "refused" ? "bad" : "weak";
    const go = () => {
      this.model.choose([at.id]);
      this.say(text);
    };
    const known = at?.id && partOf(this.model.doc, at.id);
    const content = known ? el("button.link", { type: "button", onclick: go }, text) : el("span", {}, text);
    return el("li.problem", { "data-tone": tone }, el("span.mark", { "aria-hidden": "true" }, tone === "bad" ? "✕" : "!"), content);
  }

  /** Apply what changed in the shop. */
  update() {
    setAttribute(this.node, "data-system", this.card.picture?.entry_id);
    if (this.following) this.runAsInShop();
    if (this.model.system !== this.card.picture?.system?.name) this.model.system = this.card.picture?.system?.name;
  }
}
