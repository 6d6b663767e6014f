/** New parts of a plan: items from the list, ducts with their gates, gates. */
import { collectorOf, freshId, gatesOf, partOf, parts, withPart } from "./document.js";
import { apartFlat, CLOSE, lengthOf, pointAt, tidy } from "./line.js";
import { portHeight } from "./snap.js";

const fine = (value) => Number(value.toFixed(4));
/** The design velocity (m/s) of a new branch: that of wood chips. Common practice, no source. */
const USUAL_SPEED = 20;

/** Add an item to the plan: `what` is `{type, bound, name, kind}`. Returns `{doc, id}`. */
export function addItem(doc, what, { x, y }) {
  const collector = what.type === "collector";
  const known = what.bound && doc.items.find(({ bound }) => bound === what.bound);
  if (known) return { doc, id: known.id };
  if (collector && collectorOf(doc)) return { doc, id: collectorOf(doc).id };
  const id = freshId(doc, collector ? "c" : "i");
  const z = portHeight(collector ? "collector" : what.kind);
  // The name is stored too, so that a file of the plan can be bound again elsewhere.
  const own = what.bound ? { name: what.name } : { name: what.name, kind: what.kind };
  const item = { id, type: what.type, ...(collector ? {} : { bound: what.bound ?? null, ...own }), x: fine(x), y: fine(y), z };
  return { doc: withPart(doc, "items", item), id };
}

/** The diameter (m) of a new branch, of those on offer: the widest that keeps its velocity. */
export function usualDiameter(sizes, flow, otherwise) {
  const wide = flow ? Math.sqrt((4 * flow) / (Math.PI * USUAL_SPEED)) : otherwise;
  const fitting = sizes.filter((size) => size <= wide * 1.02);
  if (!sizes.length) return fine(wide);
  return fitting.length ? Math.max(...fitting) : Math.min(...sizes);
}

/**
 * The path over the floor from one aim to another through given corners; a corner squares a slanting last leg. Each
 * is `{x, y}`.
 */
export function way(from, corners, to) {
  const path = [from.point, ...corners];
  const [last, end] = [path.at(-1), to.point];
  const [dx, dy] = [Math.abs(end.x - last.x), Math.abs(end.y - last.y)];
  const even = dx < CLOSE || dy < CLOSE || Math.abs(dx - dy) < CLOSE;
  if (!even && (to.item || to.duct)) path.push(cornerBetween(path, to));
  return [...path, end].filter((point, at, all) => at === 0 || apartFlat(point, all[at - 1]) > CLOSE);
}

function cornerBetween(path, to) {
  const [before, last] = [path.at(-2), path.at(-1)];
  const end = to.point;
  const over = { x: end.x, y: last.y };
  const along = { x: last.x, y: end.y };
  if (to.duct) {
    // Square to what it joins.
    const [one, other] = [to.duct.points[to.leg], to.duct.points[to.leg + 1]];
    return Math.abs(one.y - other.y) <= Math.abs(one.x - other.x) ? over : along;
  }
  // Straight on first, else the longer leg first.
  if (before && Math.abs(before.x - last.x) < CLOSE) return along;
  if (before && Math.abs(before.y - last.y) < CLOSE) return over;
  return Math.abs(end.x - last.x) >= Math.abs(end.y - last.y) ? over : along;
}

/**
 * Draw a duct between two aims (see `aim` in snap.js), whichever end was drawn first.
 *
 * `settings`: `height` (m) of new ducts, `sizes` on offer, `machines` of the system, `name(part)`. Returns `{doc,
 * id}`; `{doc}` alone if nothing was drawn.
 */
export function addDuct(doc, from, corners, to, settings) {
  if (leads(from, doc) && !leads(to, doc)) return addDuct(doc, to, [...corners].reverse(), from, settings);
  const grown = continued(doc, from, corners, to, settings);
  if (grown) return grown;
  const path = way(from, corners, to);
  if (path.length < 2) return { doc };
  const machine = from.item?.type === "machine" ? from.item : null;
  const points = heights(path, machine, to, settings.height);
  if (points.length < 2) return { doc };
  const id = freshId(doc, "d");
  const known = machine && settings.machines.find((one) => one.id === machine.bound);
  const collects = to.item?.type === "collector";
  const otherwise = to.duct ? Math.min(to.duct.diameter, 0.127) : collects ? 0.16 : 0.127;
  const flow = known?.required_flow ?? machine?.required_flow;
  const name = settings.name(collects ? to.item : machine, doc);
  const duct = {
    id,
    bound: null,
    name,
    points,
    diameter: usualDiameter(settings.sizes, collects ? null : flow, otherwise),
    material: "galvanized",
    end: endAt(to),
  };
  return { doc: gated(withPart(doc, "ducts", duct), duct, machine, settings), id };
}

/** Whether an aim is a duct's target: the collector, or another duct rather than its open end. */
function leads(aim) {
  if (aim.item) return aim.item.type === "collector";
  return Boolean(aim.duct) && !isLooseEnd(aim);
}

const isLooseEnd = ({ duct, place }) => Boolean(duct) && !duct.end && place > lengthOf(duct.points) - CLOSE;

const endAt = (to) => {
  if (to.item?.type === "collector") return { to: "collector" };
  return to.duct ? { to: "duct", duct: to.duct.id, wye: 45 } : null;
};

/** The points in space: at the machine's port, along at the height of its target, down to the collector. */
function heights(path, machine, to, usual) {
  const z = to.duct ? (to.point.z ?? pointAt(to.duct.points, to.place).z) : usual;
  const points = path.map(({ x, y }) => ({ x: fine(x), y: fine(y), z: fine(z) }));
  if (machine) points.unshift({ ...points[0], z: machine.z ?? 0 });
  if (to.item?.type === "collector") points.push({ ...points.at(-1), z: to.item.z ?? 0 });
  return tidy(points);
}

/** Continue a duct's loose end; null if none is meant. */
function continued(doc, from, corners, to, settings) {
  if (!isLooseEnd(from) || to.duct?.id === from.duct.id) return null;
  const { duct } = from;
  const z = duct.points.at(-1).z ?? 0;
  const path = way({ point: duct.points.at(-1) }, corners, to);
  const points = heights(path, null, to, to.duct ? settings.height : z);
  const whole = tidy([...duct.points, ...points]);
  const ducts = doc.ducts.map((one) => (one.id === duct.id ? { ...one, points: whole, end: endAt(to) } : one));
  return { doc: { ...doc, ducts }, id: duct.id };
}

/** Put the machine's next gate at the beginning of its new duct. */
function gated(doc, duct, machine, { machines, gates = [], gateName }) {
  if (!machine) return doc;
  const known = machines.find(({ id }) => id === machine.bound);
  const all = parts(doc);
  const loose = doc.gates.find((gate) => !all.has(gate.duct ?? "") && servesIt(doc, gate, machine, machines));
  if (loose) {
    const gates = doc.gates.map((gate) => (gate === loose ? { ...gate, duct: duct.id, mount: "start", at: 0, opening: gate.opening ?? OPENING } : gate));
    return { ...doc, gates };
  }
  if (known) {
    const drawn = new Set(doc.gates.map(({ bound }) => bound));
    const next = known.gates.find((gate) => !drawn.has(gate));
    if (next) return withPart(doc, "gates", newGate(doc, { bound: next, ...named(gates, next), duct: duct.id, items: [machine.id] }));
    if (known.gates.length) return begins(doc, duct, machine);
  }
  const gate = { bound: null, name: gateName(machine), kind: "powered", duct: duct.id, items: [machine.id] };
  return gatesOf(doc, machine, machines).length ? begins(doc, duct, machine) : withPart(doc, "gates", newGate(doc, gate));
}

const named = (gates, id) => {
  const name = gates.find((gate) => gate.id === id)?.name;
  return name ? { name } : {};
};

const servesIt = (doc, gate, machine, machines) => gatesOf({ ...doc, gates: [gate] }, machine, machines).length > 0;

const begins = (doc, duct, machine) => ({
  ...doc,
  ducts: doc.ducts.map((one) => (one.id === duct.id ? { ...one, start: { item: machine.id } } : one)),
});

/** A hose's default path; its length isn't known yet. */
const OPENING = { hood: "machine_port", hose: { state: "relaxed" } };

/** A new gate's defaults. */
export function newGate(doc, fields) {
  const gate = { id: freshId(doc, "g"), bound: null, mount: "start", at: 0, items: [], seal: "usual", ...fields };
  return { ...gate, opening: gate.mount === "inline" ? null : { ...OPENING, ...fields.opening } };
}

/** Put a gate on a duct at a place (m): at its beginning, at its side if it serves something, else across it. */
export function addGate(doc, ductId, place, fields) {
  const duct = partOf(doc, ductId);
  const at = fine(Math.max(0, Math.min(place, lengthOf(duct.points))));
  const mount = fields.items?.length ? (at < 0.3 ? "start" : "side") : "inline";
  const drawn = fields.bound && doc.gates.find(({ bound }) => bound === fields.bound);
  if (drawn) {
    const opening = mount === "inline" ? null : (drawn.opening ?? OPENING);
    const gates = doc.gates.map((gate) => (gate === drawn ? { ...gate, duct: ductId, at, mount, opening } : gate));
    return { doc: { ...doc, gates }, id: drawn.id };
  }
  const gate = newGate(doc, { duct: ductId, at, mount, ...fields });
  return { doc: withPart(doc, "gates", gate), id: gate.id };
}
