/** The live map to scale: the drawing, its tap targets, and what runs, as text. */
import { el, setAttribute, setText } from "../dom.js";
import { BASE, sheet } from "../styles.js";
import { Tile } from "../tile.js";
import { flowText, speedText } from "../units.js";
import { aloud, collectorWords, gateWords, inUse, machineWords } from "../words.js";
import { DRAWING_STYLES } from "./drawing-styles.js";
import { gateSpots } from "./gate-spots.js";
import { GateTile } from "./gate-tile.js";
import { LiveScene, ShopNow } from "./live-scene.js";
import { extent, sizeOf } from "./snap.js";
import { upright } from "./turned.js";

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
    const doc = this._narrow ? upright(this._plan) : this._plan;
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
        const node = el("button.spot", { type: "button", onclick: () => this._choose(item.bound, item.bound, (machine().gates ?? []).filter((id) => this._listed.has(id))) });
        node.dataset.machine = item.bound;
        add(() => machine().name, item, size, node, () => machineWords(machine(), card.picture));
      }
    }
    this._placeGates(gateSpots(doc), doc, add);
    // The tab key goes over the drawing as it is read.
    this._spots.sort(({ at: one }, { at: other }) => Math.round((one.y - other.y) / 1.5) || one.x - other.x);
  }

  /** Put something to hold over each gate with enough room; the others, and all on a phone, are listed below by a tap. */
  _placeGates(spots, doc, add) {
    const { card, scene } = this;
    const placed = doc.gates.filter(({ id, bound }) => spots.has(id) && card.picture.gates.has(bound));
    const room = (id) => Math.min(AT_GATE, scene.scale * nearestOther(spots, id));
    this._listed = new Set();
    const crowded = [];
    for (const { id, bound } of placed) {
      if (this._narrow || room(id) < LEAST) {
        crowded.push({ bound, ...spots.get(id) });
        this._listed.add(bound);
        continue;
      }
      const node = el("button.spot.gate-spot", { type: "button" });
      node.dataset.gate = bound;
      card.operates(node, bound);
      const gate = () => card.picture.gates.get(bound);
      add(() => gate().name, spots.get(id), [room(id), room(id)], node, () => gateWords(gate()));
    }
    for (const crowd of crowds(crowded, FINGER / scene.scale)) {
      const ids = crowd.map(({ bound }) => bound);
      const node = el("button.spot.crowd", { type: "button", onclick: () => this._choose(ids.join(), null, ids) });
      const [x, y] = ["x", "y"].map((axis) => crowd.map((one) => one[axis]));
      const middle = (all) => (Math.min(...all) + Math.max(...all)) / 2;
      const size = [x, y].map((all) => FINGER + (Math.max(...all) - Math.min(...all)) * scene.scale);
      const gates = () => ids.map((id) => card.picture.gates.get(id));
      const names = () => gates().map(({ name }) => name).join(", ");
      add(names, { x: middle(x), y: middle(y) }, size, node, () => gateWords(gates()[0]));
    }
  }

  /** List what was tapped: gates, or a machine with its gates that have no room on the drawing. A second tap removes them. */
  _choose(key, machine, gates) {
    const again = this._chosen?.key === key;
    this._chosen = again ? null : { key, machine, gates };
    this._list();
    if (!again) this._shown.get(machine ?? gates[0])?.node.focus();
  }

  /** Show a tile for each machine in use, and for what was tapped. */
  _list() {
    const { picture } = this.card;
    const { machine: chosen, gates = [] } = this._chosen ?? {};
    const ids = [...picture.machines.values()].filter((machine) => machine.id === chosen || inUse(machine, picture)).map(({ id }) => id);
    ids.push(...gates.filter((id) => picture.gates.has(id)));
    if (ids.join() !== [...this._shown.keys()].join()) {
      const made = (id) => this._shown.get(id) ?? (picture.gates.has(id) ? new GateTile(this.card, id) : new Tile(this.card, id));
      this._shown = new Map(ids.map((id) => [id, made(id)]));
      this._tiles.replaceChildren(...[...this._shown.values()].map(({ node }) => node));
    }
    for (const tile of this._shown.values()) tile.update();
  }
}

/** Group gates (`{x, y}` in m) that are tapped together: those of different groups are at least `reach` apart. */
function crowds(gates, reach) {
  const found = [];
  for (const gate of gates) {
    const near = ({ x, y }) => Math.max(Math.abs(x - gate.x), Math.abs(y - gate.y)) < reach;
    const joined = found.filter((crowd) => crowd.some(near));
    for (const crowd of joined) found.splice(found.indexOf(crowd), 1);
    found.push([...joined.flat(), gate]);
  }
  return found;
}

/** How far (m) it is from a gate to the next one, in the direction in which they are closest to touching. */
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
.crowd { z-index: 0; }
.spot:not(.crowd) { z-index: 1; }
.gate-spot.gate-spot { z-index: 2; touch-action: manipulation; user-select: none; -webkit-user-select: none; -webkit-touch-callout: none; }
.gate-spot.holding { background: color-mix(in srgb, var(--ask) 30%, transparent); transition: background var(--held) ease-in; }
.news { font-size: .9rem; color: var(--dim); text-align: center; }
.in-use { display: grid; gap: 6px; grid-template-columns: repeat(auto-fill, minmax(min(100%, 230px), 1fr)); margin-top: 8px; }
.in-use .tile { min-height: 48px; width: 100%; }
.in-use .tile .state { white-space: normal; }
.drawing .running .blades { animation: turn 1.6s steps(12) infinite; transform-origin: 0 0; }
`;
