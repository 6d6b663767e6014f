/** The drawing: everything on the plan to scale, overlaid with selection, preview and flow. */
import { setAttribute, svg } from "../dom.js";
import { stepOf } from "./document.js";
import { gateSpots } from "./gate-spots.js";
import { apartFlat, pointAt } from "./line.js";
import { DuctNode, GateNode, hosesOf, ItemNode, pathOf, UNIT } from "./scene-parts.js";
import { boxOf, LINE, Room } from "./room.js";
import { extent } from "./snap.js";

const LEAST = 12; // px per m
const MOST = 500;
const ROOMY = 54; // px that a level piece of a duct needs for its figure,
const TALL = 34; // and an upright one.

/** Draws a model into an SVG; `words` formats figures. */
export class Scene {
  constructor(model, words) {
    this.model = model;
    this.words = words;
    this.scale = 60;
    this.origin = { x: 0, y: 0 };
    this._nodes = new Map();
    this._grid = svg("path.grid");
    this._bold = svg("path.grid.bold");
    this._room = svg("path.room");
    this._hoses = svg("path.hoses");
    this._layers = { items: svg("g.items"), ducts: svg("g.ducts"), gates: svg("g.gates") };
    this._words = svg("g.names");
    this._labels = svg("g.labels");
    this._handles = svg("g.handles");
    this.sketch = svg("g.sketch");
    this._world = svg(
      "g.world",
      {},
      this._grid,
      this._bold,
      this._room,
      this._hoses,
      this._layers.items,
      this._layers.ducts,
      this._layers.gates,
      this._words,
      this._labels,
      this._handles,
      this.sketch
    );
    this.node = svg("svg.plan", {}, this._world);
    this._size = { width: 600, height: 400 };
  }

  /** The place (m) under a position on the page. */
  at({ clientX, clientY }) {
    const box = this.node.getBoundingClientRect();
    return { x: this.origin.x + (clientX - box.left) / this.scale, y: this.origin.y + (clientY - box.top) / this.scale };
  }

  /** Meters in this many pixels. */
  reach(pixels) {
    return pixels / this.scale;
  }

  resize(width, height) {
    if (!width || !height) return;
    const fits = !this._sized || this._fits;
    this._size = { width, height };
    this._sized = true;
    // Until the first zoom, everything is in view.
    if (fits) this.fit();
    else this._look();
  }

  /** Zoom to everything drawn. */
  fit() {
    this._fits = true;
    const box = extent(this.model.doc);
    const { width, height } = this._size;
    this.scale = Math.max(LEAST, Math.min(MOST, width / box.width, height / box.height));
    this.origin = { x: box.x + box.width / 2 - width / this.scale / 2, y: box.y + box.height / 2 - height / this.scale / 2 };
    this._look();
  }

  pan(dx, dy) {
    this._fits = false;
    this.origin = { x: this.origin.x - dx / this.scale, y: this.origin.y - dy / this.scale };
    this._look();
  }

  /** Zoom by a factor around a position on the page, or around the middle. */
  zoom(factor, where) {
    this._fits = false;
    const box = this.node.getBoundingClientRect();
    const center = where ?? { clientX: box.left + box.width / 2, clientY: box.top + box.height / 2 };
    const before = this.at(center);
    this.scale = Math.max(LEAST, Math.min(MOST, this.scale * factor));
    const after = this.at(center);
    this.origin = { x: this.origin.x + before.x - after.x, y: this.origin.y + before.y - after.y };
    this._look();
  }

  /** The middle of the view (m). */
  get middle() {
    return { x: this.origin.x + this._size.width / this.scale / 2, y: this.origin.y + this._size.height / this.scale / 2 };
  }

  _look() {
    const k = this.scale / UNIT;
    setAttribute(this._world, "transform", `scale(${k}) translate(${-this.origin.x * UNIT} ${-this.origin.y * UNIT})`);
    this.node.style.setProperty("--px", 1 / k);
    this._drawGrid();
    if (this._labelled !== k) this._drawLabels();
    this._labelled = k;
  }

  _drawGrid() {
    const step = stepOf(this.model.doc);
    const { width, height } = this._size;
    const [w, h] = [width / this.scale, height / this.scale];
    const fine = step * this.scale >= 9 ? step : step * this.scale >= 2.5 ? 5 * step : 10 * step;
    const lines = (every) => {
      const found = [];
      for (let at = Math.ceil(this.origin.x / every); at * every <= this.origin.x + w; at += 1) {
        found.push(`M${(at * every * UNIT).toFixed(1)} ${(this.origin.y * UNIT).toFixed(1)}v${(h * UNIT).toFixed(1)}`);
      }
      for (let at = Math.ceil(this.origin.y / every); at * every <= this.origin.y + h; at += 1) {
        found.push(`M${(this.origin.x * UNIT).toFixed(1)} ${(at * every * UNIT).toFixed(1)}h${(w * UNIT).toFixed(1)}`);
      }
      return found.join("");
    };
    setAttribute(this._grid, "d", lines(fine));
    setAttribute(this._bold, "d", lines(fine * 10));
  }

  /** Draw what changed; an identical object is left alone. */
  draw() {
    const { doc } = this.model;
    const shown = this._shown;
    if (shown !== doc) {
      if (shown?.room !== doc.room) {
        const outline = doc.room?.outline ?? [];
        setAttribute(this._room, "d", outline.length ? `${pathOf(outline.map(([x, y]) => ({ x, y })))}Z` : "");
      }
      const spots = this._placed(gateSpots(doc));
      setAttribute(this._hoses, "d", hosesOf(doc, spots, this.model.kindOf));
      this._list("items", doc.items, (item) => new ItemNode(item), (node, item) => {
        node.update(item, this.model.kindOf(item), this.words.name(item));
      });
      this._list("ducts", doc.ducts, (duct) => new DuctNode(duct), (node, duct) => node.update(duct));
      this._list("gates", doc.gates, (gate) => new GateNode(gate), (node, gate) => node.update(gate, spots.get(gate.id)), (gate) => spots.get(gate.id));
      this._shown = doc;
    }
    this._tell();
    this._drawHandles();
  }

  /** The places of gates; an unchanged one is the same object. */
  _placed(spots) {
    const placed = new Map();
    for (const [id, spot] of spots) {
      const was = this._spots?.get(id);
      const stays = was?.duct === spot.duct && was.x === spot.x && was.y === spot.y;
      placed.set(id, stays ? was : spot);
    }
    this._spots = placed;
    return placed;
  }

  _list(kind, parts, make, update, beside = () => null) {
    const layer = this._layers[kind];
    const seen = new Set();
    for (const part of parts) {
      seen.add(part.id);
      let held = this._nodes.get(part.id);
      if (!held || held.kind !== kind) {
        held = { kind, drawing: make(part) };
        this._nodes.set(part.id, held);
        layer.append(held.drawing.node);
        if (held.drawing.over) this._words.append(held.drawing.over);
      }
      const other = beside(part);
      if (held.part === part && held.other === other) continue;
      Object.assign(held, { part, other, told: null });
      update(held.drawing, part);
    }
    for (const [id, held] of this._nodes) {
      if (held.kind !== kind || seen.has(id)) continue;
      held.drawing.node.remove();
      held.drawing.over?.remove();
      this._nodes.delete(id);
    }
  }

  /** Update every part's selection, flow and problems. */
  _tell() {
    const { model } = this;
    const { figures, selection, running, proposal } = model;
    const wrong = new Map();
    for (const { at, severity } of model.problems) {
      // An empty floor needs no warnings.
      if (severity !== "error" && !model.doc.ducts.length) continue;
      if (at?.id && wrong.get(at.id) !== "bad") wrong.set(at.id, severity === "error" ? "bad" : "weak");
    }
    const changes = new Map();
    for (const row of proposal?.changes ?? []) changes.set(row.id, [...(changes.get(row.id) ?? []), row]);
    const tell = (held, values) => {
      // Setting the same value again would cost a layout in each frame of a drag.
      const key = Object.values(values);
      if (held.told && key.every((value, at) => value === held.told[at])) return;
      held.told = key;
      held.drawing.tell(values);
    };
    // With nothing running, leakage past closed gates isn't interesting.
    const live = figures?.available && running.size ? figures : null;
    for (const [id, held] of this._nodes) {
      const selected = selection.has(id);
      if (held.kind === "items") {
        const own = live?.machines?.[id];
        const runs = running.has(id);
        tell(held, {
          selected,
          running: runs || (held.part.type === "collector" && running.size > 0),
          verdict: runs ? own?.verdict : held.part.type === "collector" && running.size ? live?.collector?.verdict : null,
          figure: runs && own ? this.words.flow(own.flow) : "",
          wrong: wrong.get(id) ?? null,
        });
      } else if (held.kind === "ducts") {
        tell(held, { rows: proposal ? null : (live?.ducts?.[id] ?? null), selected, wrong: wrong.get(id) ?? null, changes: changes.get(id) ?? null });
      } else {
        const own = live?.gates?.[id];
        tell(held, {
          open: own?.open ?? false,
          verdict: own?.open && own.required ? own.verdict : null,
          figure: "",
          selected,
          wrong: wrong.get(id) ?? null,
        });
      }
    }
    this._drawLabels();
  }

  /** A figure on each duct with enough room. */
  _drawLabels() {
    const { model } = this;
    const live = model.figures?.available && model.running.size ? model.figures : null;
    const labels = [];
    for (const duct of model.doc.ducts) {
      const rows = live?.ducts?.[duct.id];
      const chosen = model.selection.has(duct.id);
      // Leakage through a closed gate has no verdict, and needs no figure.
      const pieces = rows?.filter(({ verdict }) => verdict) ?? [];
      if (pieces.length && !model.proposal) {
        for (const row of pieces) this._label(labels, duct, row.from, row.to, this.words.piece(row), row.verdict);
      } else if (chosen || model.proposal) {
        const changes = model.proposal?.changes.filter(({ id }) => id === duct.id) ?? [];
        for (const row of changes) this._label(labels, duct, row.from, row.to, this.words.change(row), "proposal");
        if (!changes.length && chosen) this._label(labels, duct, 0, Infinity, this.words.duct(duct), "");
      }
    }
    this._thin(labels);
    const key = labels.map(({ text, x, y, tone }) => `${text}${x.toFixed(2)}${y.toFixed(2)}${tone}`).join("|");
    if (key === this._labelKey) return;
    this._labelKey = key;
    this._labels.replaceChildren(
      ...labels.map(({ text, x, y, tone, side }) => svg(`text.label${side ? ".side" : ""}`, { x: x * UNIT, y: y * UNIT, "data-tone": tone }, text))
    );
  }

  /** Hide overlapping texts: names win over figures, problems over good values. */
  _thin(labels) {
    const { scale, model } = this;
    const items = [...this._nodes.values()].filter(({ kind }) => kind === "items");
    const { x, y, width, height } = extent(model.doc);
    const bounds = [x, y, x + width, y + height].map((side) => side * scale);
    const room = new Room(items.map(({ part, drawing }) => ({ part, box: boxOf(part, drawing, scale) })), bounds);
    const ranked = (all, rank) => [...all].sort((one, other) => rank(other) - rank(one));
    const matters = ({ part }) => (part.type === "collector" ? 3 : 0) + (model.selection.has(part.id) ? 4 : 0) + (model.running.has(part.id) ? 2 : 0);
    for (const { part, drawing } of ranked(items, matters)) {
      const side = room.sideFor(part, drawing, scale);
      drawing.over.classList.toggle("crowded", !side);
      drawing.over.dataset.side = side ?? "below";
      const rows = side === "below" ? 2 : 1;
      if (drawing.figure.textContent) room.take(drawing.figure.textContent, part.x * scale, (part.y + drawing.low / UNIT) * scale + rows * LINE);
      // A badge is no larger than what it is about.
      drawing.over.style.setProperty("--badge", Math.max(0.6, Math.min(1, (drawing.low * scale) / UNIT / 14)).toFixed(2));
    }
    const urgent = ({ tone }) => ({ too_little: 3, proposal: 2, marginal: 2, enough: 1 })[tone] ?? 4;
    const fits = ({ text, x, y, side }) => room.take(text, x * scale, y * scale, side ? "start" : "middle");
    const kept = new Set(ranked(labels, urgent).filter(fits));
    labels.splice(0, labels.length, ...labels.filter((label) => kept.has(label)));
  }

  /** Put a text at the middle of a stretch's longest leg, if it's long enough. */
  _label(labels, duct, from, to, text, tone) {
    const { points } = duct;
    let best = null;
    let mark = 0;
    for (let leg = 0; leg < points.length - 1; leg += 1) {
      const [one, other] = [points[leg], points[leg + 1]];
      const length = Math.hypot(other.x - one.x, other.y - one.y, (other.z ?? 0) - (one.z ?? 0));
      const [start, end] = [Math.max(mark, from), Math.min(mark + length, to)];
      if (end > start) {
        const [a, b] = [pointAt(points, start), pointAt(points, end)];
        const flat = apartFlat(a, b);
        if (!best || flat > best.flat) best = { flat, x: (a.x + b.x) / 2, y: (a.y + b.y) / 2, level: Math.abs(a.y - b.y) < Math.abs(a.x - b.x) };
      }
      mark += length;
    }
    if (!best || best.flat * this.scale < (best.level ? ROOMY : TALL)) return;
    // Above a level leg, beside an upright one: the flow stays visible.
    const beside = duct.diameter / 2 + 6 / this.scale;
    const at = best.level ? { x: best.x, y: best.y - beside } : { x: best.x + beside, y: best.y };
    labels.push({ text, ...at, tone: tone ?? "", side: !best.level });
  }

  /** The draggable points of a selected duct. */
  _drawHandles() {
    const { model } = this;
    const [id, more] = model.selection;
    const duct = !more && model.editable && model.tool === "choose" ? model.doc.ducts.find((one) => one.id === id) : null;
    if (this._handled === duct) return;
    this._handled = duct;
    const points = duct?.points ?? [];
    const spots = points.filter((point, at) => at === 0 || apartFlat(point, points[at - 1]) > 0.02);
    this._handles.replaceChildren(...spots.map(({ x, y }) => svg("circle.handle", { cx: x * UNIT, cy: y * UNIT })));
  }
}
