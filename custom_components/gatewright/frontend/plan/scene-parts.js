/** How each part of a plan is drawn. Drawing units are centimeters, for browser-friendly text sizes. */
import { setAttribute, setText, svg } from "../dom.js";
import { apartFlat, CLOSE, pointAt, stretch } from "./line.js";
import { sizeOf } from "./snap.js";

/** Drawing units in one meter. */
export const UNIT = 100;

const cm = (value) => Number((value * UNIT).toFixed(1));

/** The path through points. */
export const pathOf = (points) => points.map(({ x, y }, at) => `${at ? "L" : "M"}${cm(x)} ${cm(y)}`).join("");

/** A verdict's tone and shape. */
export const TONES = { enough: "good", marginal: "weak", too_little: "bad" };

const MARKS = {
  good: "M-5 .5l3.4 3.4L5.2-4",
  weak: "M0-5.5v6.5M0 4.4v.3",
  bad: "M0-5.5v6.5M0 4.4v.3",
  ask: "M0-5V3.6M-3.8-.2L0 3.8 3.8-.2",
};
const SHAPES = {
  good: "M0-9a9 9 0 1 0 0 18a9 9 0 0 0 0-18z",
  weak: "M0-10.5L11 8.5H-11z",
  bad: "M0-11.5L12.5 10H-12.5z",
  wait: "M-7-9H7V-5.6L1.8 0 7 5.6V9H-7V5.6L-1.8 0-7-5.6z",
  ask: "M-7-9H7A2 2 0 0 1 9-7V7A2 2 0 0 1 7 9H-7A2 2 0 0 1-9 7V-7A2 2 0 0 1-7-9z",
};

/** A badge of constant size under zoom: a disc, a hollow or a full triangle, as on the cards. */
export function badge() {
  return svg("g.badge", {}, svg("path.shape"), svg("path.sign"));
}

export function setBadge(node, tone) {
  if (node.dataset.tone === (tone ?? "")) return;
  node.dataset.tone = tone ?? "";
  setAttribute(node.firstChild, "d", SHAPES[tone] ?? "");
  setAttribute(node.lastChild, "d", MARKS[tone] ?? "");
}

const LEAKING = 3; // m/s

const BLADE = "M0 0C-13-23-12-48 3-71 20-58 23-30 0 0z";

/** An item: a box with its name, or the collector's wheel. */
export class ItemNode {
  constructor(item) {
    this.halo = svg("rect.halo", { rx: 8 });
    this.box = svg("rect.box", { rx: 6 });
    this.front = svg("path.front");
    this.shape = svg("g.turned", {}, this.halo, this.box, this.front);
    this.name = svg("text.name");
    this.figure = svg("text.figure");
    this.badge = badge();
    this.node = svg(`g.item.${item.type}`, { "data-id": item.id }, this.shape);
    // Texts lie over the ducts.
    this.over = svg(`g.words.${item.type}`, {}, this.name, this.figure, this.badge);
    if (item.type === "collector") {
      const blades = [0, 72, 144, 216, 288].map((turn) => svg("path", { d: BLADE, transform: `rotate(${turn}) scale(.5)` }));
      this.shape.append(svg("circle.wheel", { r: 40 }), svg("g.blades", {}, ...blades));
    }
  }

  update(item, kind, name) {
    const { width, depth } = sizeOf(item, kind);
    const [w, h] = [cm(width), cm(depth)];
    for (const node of [this.node, this.over]) setAttribute(node, "transform", `translate(${cm(item.x)} ${cm(item.y)})`);
    setAttribute(this.shape, "transform", item.turn ? `rotate(${item.turn})` : null);
    for (const [key, value] of Object.entries({ x: -w / 2, y: -h / 2, width: w, height: h })) setAttribute(this.box, key, value);
    for (const [key, value] of Object.entries({ x: -w / 2 - 8, y: -h / 2 - 8, width: w + 16, height: h + 16 })) setAttribute(this.halo, key, value);
    setAttribute(this.front, "d", item.type === "collector" ? "" : `M${-w / 2 + 8} ${h / 2 - 8}H${w / 2 - 8}`);
    this.node.classList.toggle("planned", item.type === "machine" && !item.bound);
    // Machines are in front of their names.
    const upright = Math.abs(Math.round((item.turn ?? 0) / 90) % 2) === 1;
    this.low = (upright ? w : h) / 2;
    this.half = (upright ? h : w) / 2;
    this.over.style.setProperty("--low", this.low);
    this.over.style.setProperty("--half", this.half);
    setText(this.name, name);
  }

  tell({ running, verdict, figure, selected, wrong }) {
    this.node.classList.toggle("running", Boolean(running));
    this.node.classList.toggle("selected", Boolean(selected));
    const tone = wrong ?? (verdict ? TONES[verdict] : null);
    this.node.dataset.tone = tone ?? "";
    setBadge(this.badge, tone);
    setText(this.figure, figure ?? "");
  }
}

/** A duct: its casing, the flow in each piece, and drops or rises. */
export class DuctNode {
  constructor(duct) {
    this.halo = svg("path.halo");
    this.casing = svg("g.casing");
    this.air = svg("g.air", { "aria-hidden": "true" });
    this.drops = svg("g.drops");
    this.node = svg("g.duct", { "data-id": duct.id }, this.halo, this.casing, this.air, this.drops);
    this._pieces = [];
  }

  update(duct) {
    const path = pathOf(duct.points);
    const width = cm(duct.diameter);
    setAttribute(this.halo, "d", path);
    this.halo.style.setProperty("--wide", width);
    this.node.classList.toggle("loose", !duct.end);
    this.node.classList.toggle("hose", duct.material === "flexible");
    const runs = runsOf(duct);
    while (this.casing.childNodes.length > runs.length) this.casing.lastChild.remove();
    runs.forEach((run, at) => {
      const node = this.casing.childNodes[at] ?? this.casing.appendChild(svg("path.pipe"));
      setAttribute(node, "d", pathOf(run.points));
      node.style.setProperty("--wide", cm(run.diameter));
    });
    const drops = dropsOf(duct.points);
    while (this.drops.childNodes.length > drops.length) this.drops.lastChild.remove();
    drops.forEach((drop, at) => {
      const node = this.drops.childNodes[at] ?? this.drops.appendChild(svg("g.drop", {}, svg("circle"), svg("path")));
      const r = width / 2 + 2;
      setAttribute(node, "transform", `translate(${cm(drop.x)} ${cm(drop.y)})`);
      setAttribute(node.firstChild, "r", r);
      const arm = r * 0.6;
      setAttribute(node.lastChild, "d", drop.down ? `M${-arm} ${-arm}L${arm} ${arm}M${arm} ${-arm}L${-arm} ${arm}` : `M0 0h.1`);
    });
    this._duct = duct;
  }

  /** Show the flow: `rows` as from the server, none if unknown; `changes` by piece. */
  tell({ rows, selected, wrong, changes, streams }) {
    this.node.classList.toggle("selected", Boolean(selected));
    this.node.classList.toggle("wrong", wrong === "bad");
    this.node.dataset.tone = wrong ?? "";
    // Leakage through closed gates isn't shown as flow.
    const shown = (rows ?? []).filter(({ velocity, verdict }) => velocity > LEAKING || verdict);
    const marked = changes ?? [];
    const nodes = [
      ...shown.map((row) => ({ ...row, tone: row.verdict ? TONES[row.verdict] : "off", kind: "flow" })),
      ...(streams ? shown.map((row) => ({ ...row, kind: "stream" })) : []),
      ...marked.map((row) => ({ ...row, kind: "proposal" })),
    ];
    while (this.air.childNodes.length > nodes.length) this.air.lastChild.remove();
    nodes.forEach((row, at) => {
      const node = this.air.childNodes[at] ?? this.air.appendChild(svg("path"));
      setAttribute(node, "class", row.kind);
      node.dataset.tone = row.tone ?? "";
      setAttribute(node, "d", pathOf(stretch(this._duct.points, row.from ?? 0, row.to ?? 0)));
      node.style.setProperty("--wide", cm(row.diameter ?? row.after?.diameter ?? this._duct.diameter));
      if (row.kind === "stream") node.style.setProperty("--pace", `${paceOf(row.velocity)}s`);
    });
  }
}

/** Seconds in which a flow mark reaches the next one's place, at a velocity in m/s. */
const paceOf = (velocity) => Math.min(2.4, Math.max(0.6, 20 / velocity)).toFixed(2);

/** The stretches of a duct with one diameter. */
function runsOf(duct) {
  const widths = duct.points.slice(0, -1).map((point) => point.pipe?.diameter ?? duct.diameter);
  const runs = [];
  widths.forEach((diameter, leg) => {
    const last = runs.at(-1);
    if (last && last.diameter === diameter) last.points.push(duct.points[leg + 1]);
    else runs.push({ diameter, points: [duct.points[leg], duct.points[leg + 1]] });
  });
  return runs;
}

/** Where a duct goes up or down: `{x, y, down}` in the direction of the flow. */
function dropsOf(points) {
  const found = [];
  for (let leg = 0; leg < points.length - 1; leg += 1) {
    const [one, other] = [points[leg], points[leg + 1]];
    const rise = (other.z ?? 0) - (one.z ?? 0);
    if (Math.abs(rise) < CLOSE || apartFlat(one, other) > Math.abs(rise)) continue;
    found.push({ x: one.x, y: one.y, down: rise < 0 });
  }
  return found;
}

/** A gate: two flanges across the duct, and a plate in it or beside it. */
export class GateNode {
  constructor(gate) {
    this.flanges = svg("path.flange");
    this.plate = svg("path.plate");
    this.halo = svg("circle.halo");
    this.turned = svg("g", {}, this.plate, this.flanges);
    this.figure = svg("text.figure");
    this.badge = badge();
    this.node = svg("g.gate", { "data-id": gate.id }, this.halo, this.turned, this.figure, this.badge);
  }

  /** `at` is its drawn place and its duct. */
  update(gate, at) {
    this.node.style.display = at ? "" : "none";
    if (!at) return;
    const { duct } = at;
    const half = cm(duct.diameter) / 2 + 6;
    this.node.style.setProperty("--half", half);
    const ahead = pointAhead(duct.points, at);
    const angle = (Math.atan2(ahead.y - at.y, ahead.x - at.x) * 180) / Math.PI;
    setAttribute(this.node, "transform", `translate(${cm(at.x)} ${cm(at.y)})`);
    setAttribute(this.turned, "transform", `rotate(${angle.toFixed(1)})`);
    setAttribute(this.flanges, "d", `M-5 ${-half}V${half}M5 ${-half}V${half}`);
    this._half = half;
    this.halo.setAttribute("r", half + 10);
    this.node.classList.toggle("planned", !gate.bound);
    this._plate();
  }

  tell({ open, moving, verdict, figure, selected, wrong }) {
    this.node.classList.toggle("open", Boolean(open));
    this.node.classList.toggle("moving", Boolean(moving));
    this.node.classList.toggle("selected", Boolean(selected));
    const tone = wrong ?? (verdict ? TONES[verdict] : null);
    this.node.dataset.tone = tone ?? "";
    setBadge(this.badge, tone === "good" ? null : tone);
    setText(this.figure, figure ?? "");
    // An open gate's plate is out of the duct, a moving one halfway.
    this._out = moving ? 0.8 : open ? 1.6 : 0;
    this._plate();
  }

  _plate() {
    const half = this._half ?? 10;
    setAttribute(this.plate, "d", `M0 ${-half - 3}V${half + 3}`);
    this.plate.style.transform = `translateY(${(-(this._out ?? 0) * half).toFixed(1)}px)`;
  }
}

/** The hoses between gates and machines that aren't part of a duct's line, as one path. */
export function hosesOf(doc, spots, kindOf) {
  const items = new Map(doc.items.map((item) => [item.id, item]));
  const found = [];
  for (const gate of doc.gates) {
    const at = spots.get(gate.id);
    if (!at || gate.mount === "inline") continue;
    for (const id of gate.items ?? []) {
      const item = items.get(id);
      if (!item) continue;
      const { width, depth } = sizeOf(item, kindOf(item));
      const reach = Math.max(width, depth) / 2;
      // A duct that begins at the machine needs no hose.
      if (gate.mount === "start" && apartFlat(at.duct.points[0], item) < reach + NEAR) continue;
      const length = apartFlat(at, item);
      const least = Math.min(width, depth) / 2;
      if (length <= least + CLOSE) continue;
      const share = 1 - least / length;
      found.push(`M${cm(at.x)} ${cm(at.y)}L${cm(at.x + share * (item.x - at.x))} ${cm(at.y + share * (item.y - at.y))}`);
    }
  }
  return found.join("");
}

/** The farthest (m) from its machine that a duct may begin. */
const NEAR = 0.35;

/** A point a little further along a line, seen from above. */
function pointAhead(points, at) {
  for (let leg = 0; leg < points.length - 1; leg += 1) {
    const [one, other] = [points[leg], points[leg + 1]];
    const length = apartFlat(one, other);
    if (length < CLOSE) continue;
    const share = ((at.x - one.x) * (other.x - one.x) + (at.y - one.y) * (other.y - one.y)) / length ** 2;
    if (share >= -0.001 && share < 0.999) return other;
  }
  return points.at(-1) === at ? pointAt(points, 0) : points.at(-1);
}
