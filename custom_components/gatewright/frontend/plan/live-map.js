/** The live map to scale: the drawing, its tap targets, and what runs, as text. */
import { el, setAttribute, setText } from "../dom.js";
import { onHold } from "../hold.js";
import { BASE, sheet } from "../styles.js";
import { Tile } from "../tile.js";
import { flowText, speedText } from "../units.js";
import { aloud, collectorWords, gateWords, inUse, machineWords } from "../words.js";
import { DRAWING_STYLES } from "./drawing-styles.js";
import { gateSpots } from "./gate-spots.js";
import { LiveScene, ShopNow } from "./live-scene.js";
import { extent, sizeOf } from "./snap.js";
import { turned } from "./turned.js";

/** Narrower than this (px), a drawing is read-only; a wide shop is turned upright. */
const NARROW = 600;
const FINGER = 44;
/** The size (px) of a gate's tap target, and the least beside others (WCAG 2.2, 2.5.8). */
const AT_GATE = 36;
const LEAST = 24;
/** The most pixels per meter that a drawing needs. */
const LARGE = 90;
const MARGIN = 0.5;

export class LiveMap {
  /** `card` is the map's card. */
  constructor(card) {
    this.card = card;
    this.node = el("div.live");
    this._drawing = el("div.drawing", { role: "group" });
    this._tiles = el("div.in-use");
    this._news = el("p.news", { hidden: true });
    // The drawing's classes mean something else on the card around it.
    const root = this.node.attachShadow({ mode: "open" });
    root.adoptedStyleSheets = [sheet(BASE), sheet(DRAWING_STYLES + STYLES)];
    root.append(this._drawing, this._news, this._tiles);
    this._shown = new Map();
    this.model = { figures: null, selection: new Set(), running: new Set(), problems: [], proposal: null, editable: false, tool: "look", kindOf: (item) => card.picture?.machines.get(item.bound)?.kind ?? item.kind };
  }

  /** Fetch a system's plan, and each newer one. */
  async start(entryId) {
    this.entryId = entryId;
    const { connection } = this.card.hass;
    const command = (name) => ({ type: `gatewright/plan/${name}`, entry_id: entryId });
    const fetch = async () => {
      const { document, revision, differs } = await connection.sendMessagePromise(command("get"));
      this.revision = revision;
      this._news.hidden = !differs;
      setText(this._news, this.card.t("look.differs"));
      this.take(document);
    };
    await fetch();
    this._unsubscribe = await connection.subscribeMessage(({ revision }) => revision !== this.revision && fetch(), command("subscribe"));
    if (this._stopped) this.stop();
  }

  stop() {
    this._stopped = true;
    this._unsubscribe?.().catch?.(() => {});
  }

  /** Draw a plan. */
  take(document) {
    this._plan = document;
    this.draw();
  }

  /** Redraw everything at the available width. */
  draw() {
    const width = this.card.body.clientWidth;
    if (!this._plan || !this.card.picture || !width) return;
    this._narrow = width < NARROW;
    const flat = extent(this._plan, MARGIN);
    const doc = this._narrow && flat.width > 1.2 * flat.height ? turned(this._plan) : this._plan;
    const box = extent(doc, MARGIN);
    const scale = Math.min(width / box.width, LARGE);
    const height = Math.round(box.height * scale);
    this.model.doc = doc;
    this.scene = new LiveScene(this.model, this._words());
    setAttribute(this.scene.node, "aria-hidden", "true");
    const { system } = this.card.picture;
    setAttribute(this._drawing, "aria-label", this.card.t("label.map", { name: system.name }));
    this._drawing.style.height = `${height}px`;
    this.scene.resize(width, height);
    this._place(doc);
    this._drawing.replaceChildren(this.scene.node, ...this._spots.map(({ node }) => node));
    this.update();
  }

  /** Apply what changed in the shop. */
  update() {
    const { card } = this;
    if (!this.scene || !card.picture) return;
    const now = new ShopNow(this.model.doc, card.picture, card.flows, this._told);
    this.model.now = now;
    this.model.running = now.turning ? ALL : NONE;
    this.model.figures = { available: true, ducts: Object.fromEntries(this.model.doc.ducts.map((duct) => [duct.id, now.duct(duct).rows])) };
    this.scene.draw();
    for (const { node, says } of this._spots) setAttribute(node, "aria-label", says());
    this._list();
  }

  /** Update after a second; returns whether anything is counting. */
  tick() {
    let more = collectorWords(this.card.picture.system).until !== null;
    if (more) this.update();
    for (const tile of this._shown.values()) more = tile.update() || more;
    return more;
  }

  // What is said -----------------------------------------------------------------------------

  /** The texts beside the parts of the drawing. */
  _words() {
    const { card } = this;
    const named = (parts, part) => parts.get(part.bound)?.name ?? part.name ?? "";
    return {
      name: (part) => (part.type === "collector" ? card.picture.system.name : named(card.picture.machines, part)),
      piece: ({ velocity, verdict }) => {
        const speed = speedText(card.hass, velocity);
        const key = { marginal: "duct.marginal", too_little: "duct.slow" }[verdict];
        return key ? `${speed} ${card.t(key)}` : speed;
      },
    };
  }

  get _told() {
    const { card } = this;
    return {
      machine: (machine) => machineWords(machine, card.picture),
      collector: (system) => {
        const told = collectorWords(system);
        return { tone: told.tone, text: card.say(told) };
      },
      gate: (gate) => {
        const { tone, key } = gateWords(gate);
        return { tone, text: card.t(key) };
      },
      flow: (value) => flowText(card.hass, value),
    };
  }

  // What is tapped ---------------------------------------------------------------------------

  /** Put a tap target over each machine, the collector and, with enough room, the gates. */
  _place(doc) {
    const { card, scene } = this;
    const { picture, t } = card;
    const says = (name, told) => t("label.says", { name, words: aloud(t, told) });
    this._spots = [];
    const add = (name, at, size, node, told) => {
      node.style.left = `${(at.x - scene.origin.x) * scene.scale}px`;
      node.style.top = `${(at.y - scene.origin.y) * scene.scale}px`;
      node.style.width = `${size[0]}px`;
      node.style.height = `${size[1]}px`;
      this._spots.push({ node, at, says: () => says(name(), told()) });
    };
    for (const item of doc.items) {
      const { width, depth } = sizeOf(item, this.model.kindOf(item));
      const upright = Math.round((item.turn ?? 0) / 90) % 2 === 1;
      const size = (upright ? [depth, width] : [width, depth]).map((side) => Math.max(FINGER, side * scene.scale));
      if (item.type === "collector") {
        const node = el("button.spot", { type: "button", onclick: () => card.showDetails(card.picture?.system.entity) });
        add(() => card.picture.system.name, item, size, node, () => collectorWords(card.picture.system));
      } else if (picture.machines.has(item.bound)) {
        const machine = () => card.picture.machines.get(item.bound);
        const node = el("button.spot", { type: "button", onclick: () => this._choose(item.bound) });
        node.dataset.machine = item.bound;
        add(() => machine().name, item, size, node, () => machineWords(machine(), card.picture));
      }
    }
    if (!this._narrow) {
      const spots = gateSpots(doc);
      for (const { id, bound } of doc.gates) {
        if (!spots.has(id) || !picture.gates.has(bound)) continue;
        // Gates too close to each other for a tap are moved in the schematic.
        const side = Math.min(AT_GATE, scene.scale * nearestOther(spots, id));
        if (side < LEAST) continue;
        const node = el("button.spot.gate-spot", { type: "button" });
        node.dataset.gate = bound;
        card.operates(node, bound);
        const gate = () => card.picture.gates.get(bound);
        add(() => gate().name, spots.get(id), [side, side], node, () => gateWords(gate()));
      }
    }
    // The tab key goes over the drawing in reading order.
    this._spots.sort(({ at: one }, { at: other }) => Math.round((one.y - other.y) / 1.5) || one.x - other.x);
  }

  _choose(id) {
    this._chosen = this._chosen === id ? null : id;
    this._list();
    this._shown.get(id)?.node.focus();
  }

  /** Show what goes on as text: a tile for each machine in use, and for the tapped one. */
  _list() {
    const { picture } = this.card;
    const ids = [...picture.machines.values()].filter((machine) => machine.id === this._chosen || inUse(machine, picture)).map(({ id }) => id);
    if (ids.join() !== [...this._shown.keys()].join()) {
      const kept = new Map(ids.map((id) => [id, this._shown.get(id) ?? new Tile(this.card, id)]));
      this._shown = kept;
      this._tiles.replaceChildren(...[...kept.values()].map(({ node }) => node));
    }
    for (const tile of this._shown.values()) tile.update();
  }
}

/** The distance (m) from a gate to the next one, in the direction in which they're closest. */
function nearestOther(spots, id) {
  const own = spots.get(id);
  const others = [...spots].filter(([other]) => other !== id);
  return Math.min(...others.map(([, { x, y }]) => Math.max(Math.abs(x - own.x), Math.abs(y - own.y))));
}

const ALL = new Set(["all"]);
const NONE = new Set();

const STYLES = `
@keyframes turn { to { transform: rotate(360deg); } }
.drawing { position: relative; overflow: hidden; touch-action: manipulation; }
.drawing .plan { display: block; position: absolute; inset: 0; width: 100%; height: 100%; }
.drawing .grid { display: none; }
.spot { position: absolute; transform: translate(-50%, -50%); padding: 0; border: 0; background: none; border-radius: 8px; cursor: pointer; -webkit-tap-highlight-color: transparent; }
.gate-spot { z-index: 1; touch-action: manipulation; user-select: none; -webkit-user-select: none; -webkit-touch-callout: none; }
.gate-spot.holding { background: color-mix(in srgb, var(--ask) 30%, transparent); transition: background var(--held) ease-in; }
.news { font-size: .9rem; color: var(--dim); text-align: center; }
.in-use { display: grid; gap: 6px; grid-template-columns: repeat(auto-fill, minmax(min(100%, 230px), 1fr)); margin-top: 8px; }
.in-use .tile { min-height: 48px; width: 100%; }
.in-use .tile .state { white-space: normal; }
.drawing .running .blades { animation: turn 1.6s steps(12) infinite; transform-origin: 0 0; }
`;
