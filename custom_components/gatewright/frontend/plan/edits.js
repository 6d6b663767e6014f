/** Edits of a plan: move, split, join, copy, remove, turn, set the room. */
import { edit, freshId, gatesOf, gatesOn, inflows, kindOf, partOf, parts, set, withPart } from "./document.js";
import { apart, apartFlat, CLOSE, lengthOf, marks, nearest, pointAt, vector } from "./line.js";
import { legOf, moveColumn, moveEnd, reshape, untyped } from "./shaping.js";

const fine = (value) => Number(value.toFixed(4));

/** Move an item; its ducts follow. */
export function moveItem(doc, id, to, machines = []) {
  const item = partOf(doc, id);
  const [dx, dy] = [to.x - item.x, to.y - item.y];
  if (!dx && !dy) return doc;
  let next = set(doc, id, { x: fine(to.x), y: fine(to.y) });
  for (const { duct, at } of endsAt(doc, item, machines)) {
    if (at > 0) next = moveEnd(next, duct.id, { ...duct.points.at(-1), x: to.x, y: to.y });
    else next = moveStart(next, duct.id, dx, dy);
  }
  return next;
}

/** The duct ends at an item: `[{duct, at}]`. */
function endsAt(doc, item, machines) {
  if (item.type === "collector") {
    return doc.ducts
      .filter(({ end }) => end?.to === "collector")
      .filter(({ points }) => apartFlat(points.at(-1), item) < 0.6)
      .map((duct) => ({ duct, at: duct.points.length - 1 }));
  }
  const gates = new Set(gatesOf(doc, item, machines).filter(({ mount }) => mount !== "inline").map(({ duct }) => duct));
  return doc.ducts
    .filter(({ id, start, points }) => start?.item === item.id || (gates.has(id) && apartFlat(points[0], item) < 0.6))
    .map((duct) => ({ duct, at: 0 }));
}

/** Move a duct's upstream end; an end beyond it slides along what it's connected to. */
function moveStart(doc, id, dx, dy) {
  const duct = partOf(doc, id);
  const target = duct.end?.to === "duct" ? partOf(doc, duct.end.duct) : null;
  const flat = duct.points.filter((point, at) => at === 0 || apartFlat(point, duct.points[at - 1]) >= CLOSE);
  if (target && flat.length === 2) {
    // A straight run stays straight if its end can slide along.
    const all = duct.points.map((point) => ({ ...point, x: fine(point.x + dx), y: fine(point.y + dy) }));
    const upright = Math.abs(flat[0].x - flat[1].x) < CLOSE;
    const end = upright ? { ...all.at(-1), y: duct.points.at(-1).y } : { ...all.at(-1), x: duct.points.at(-1).x };
    if (nearest(target.points, end).distance < CLOSE) {
      const first = duct.points[0];
      const points = duct.points.map((point, at) => (apartFlat(point, first) < CLOSE ? all[at] : { ...point, x: end.x, y: end.y }));
      return reshape(doc, id, points);
    }
  }
  return reshape(doc, id, moveColumn(duct.points, 0, dx, dy));
}

/** Move the selection by a vector; connected parts follow. */
export function moveAll(doc, ids, dx, dy, machines = []) {
  if (!dx && !dy) return doc;
  const chosen = new Set(ids);
  let next = doc;
  const whole = doc.ducts.filter((duct) => chosen.has(duct.id) && free(doc, duct, chosen, machines));
  for (const { id } of whole) {
    const points = partOf(doc, id).points.map((point) => ({ ...point, x: fine(point.x + dx), y: fine(point.y + dy) }));
    next = edit(next, id, (duct) => ({ ...duct, points }));
  }
  const carried = new Set(whole.map(({ id }) => id));
  for (const id of ids) {
    if (kindOf(doc, id) !== "item") continue;
    const item = partOf(doc, id);
    const to = { x: fine(item.x + dx), y: fine(item.y + dy) };
    const stay = next;
    next = set(next, id, to);
    for (const { duct, at } of endsAt(stay, item, machines)) {
      if (carried.has(duct.id)) continue;
      next = at > 0 ? moveEnd(next, duct.id, { ...duct.points.at(-1), ...to }) : moveStart(next, duct.id, dx, dy);
    }
  }
  for (const { id, points } of whole) {
    for (const branch of inflows(doc, id)) {
      if (carried.has(branch.id)) continue;
      const { place } = nearest(points, branch.points.at(-1));
      next = moveEnd(next, branch.id, pointAt(partOf(next, id).points, place));
    }
  }
  return next;
}

/** Whether a duct can be moved as a whole: everything at its ends moves too. */
function free(doc, duct, chosen, machines) {
  const starts = doc.items.filter((item) => endsAt(doc, item, machines).some((end) => end.duct.id === duct.id));
  if (starts.some(({ id }) => !chosen.has(id))) return false;
  return duct.end?.to !== "duct" || chosen.has(duct.end.duct);
}

/** Split a duct at a place (m): the upstream part keeps its name and identity. */
export function split(doc, id, place) {
  const duct = partOf(doc, id);
  const length = lengthOf(duct.points);
  if (place < 3 * CLOSE || place > length - 3 * CLOSE) return doc;
  const found = marks(duct.points);
  const at = { ...pointAt(duct.points, place) };
  const cut = { x: fine(at.x), y: fine(at.y), z: fine(at.z) };
  const leg = legOf(duct.points, place);
  const pipe = duct.points[leg].pipe;
  const other = freshId(doc, "d");
  const first = duct.points.filter((_, index) => found[index] < place - CLOSE);
  const rest = duct.points.filter((_, index) => found[index] > place + CLOSE);
  const upper = { ...untyped(duct), points: [...first, cut], end: { to: "duct", duct: other, as: "run" } };
  const { start, ...base } = untyped(duct);
  const lower = { ...base, id: other, bound: null, name: numbered(doc, duct.name), points: [{ ...cut, ...(pipe ? { pipe } : {}) }, ...rest] };
  const ducts = doc.ducts.flatMap((one) => {
    if (one.id === id) return [upper, lower];
    const onLower = one.end?.to === "duct" && one.end.duct === id && nearest(duct.points, one.points.at(-1)).place > place - CLOSE;
    return [onLower ? { ...one, end: { ...one.end, duct: other } } : one];
  });
  const gates = doc.gates.map((gate) => {
    if (gate.duct !== id || gate.mount === "start" || (gate.at ?? 0) <= place) return gate;
    return { ...gate, duct: other, at: fine(gate.at - place) };
  });
  return { ...doc, ducts, gates };
}

/** A name with the next free number: `Main`, `Main 2`. */
export function numbered(doc, name) {
  if (!name) return name;
  const stem = name.replace(/ \d+$/, "");
  const taken = new Set([...doc.ducts, ...doc.items, ...doc.gates].map((part) => part.name));
  let number = 2;
  while (taken.has(`${stem} ${number}`)) number += 1;
  return `${stem} ${number}`;
}

/** The duct that continues a duct straight and could be merged with it; null without one. */
export function follower(doc, id) {
  const duct = partOf(doc, id);
  const target = duct?.end?.to === "duct" ? partOf(doc, duct.end.duct) : null;
  if (!target || target.id === id || apart(duct.points.at(-1), target.points[0]) > CLOSE) return null;
  const alone = inflows(doc, target.id).every((one) => one.id === id || nearest(target.points, one.points.at(-1)).place > CLOSE);
  const gated = gatesOn(doc, target.id).some(({ mount }) => mount === "start");
  return alone && !gated && !target.start ? target : null;
}

/** Merge a duct with the one that continues it; differing properties are kept. */
export function join(doc, id) {
  const target = follower(doc, id);
  if (!target) return doc;
  const duct = partOf(doc, id);
  const length = lengthOf(duct.points);
  const differs = {};
  if (target.diameter !== duct.diameter) differs.diameter = target.diameter;
  if (target.material !== duct.material) differs.material = target.material;
  const differing = Object.keys(differs).length > 0;
  const rest = target.points.map((point, at) => {
    const leads = at < target.points.length - 1;
    return differing && leads ? { ...point, pipe: { ...differs, ...point.pipe } } : point;
  });
  const points = [...duct.points.slice(0, -1), rest[0], ...rest.slice(1)];
  const straight = points.filter((point, at) => at === 0 || at === points.length - 1 || !isSeam(points, at, duct.points.length - 1));
  const ducts = doc.ducts.flatMap((one) => {
    if (one.id === target.id) return [];
    if (one.id === id) return [{ ...untyped(duct), points: straight, end: target.end }];
    return [one.end?.duct === target.id ? { ...one, end: { ...one.end, duct: id } } : one];
  });
  const gates = doc.gates.map((gate) => (gate.duct === target.id ? { ...gate, duct: id, at: fine((gate.at ?? 0) + length) } : gate));
  return { ...doc, ducts, gates };
}

/** Whether a point is no corner, but only where two ducts met. */
function isSeam(points, at, seam) {
  if (at !== seam || points[at].pipe || points[at].elbow) return false;
  const [one, other] = [vector(points[at - 1], points[at]), vector(points[at], points[at + 1])];
  const cross = Math.hypot(one[1] * other[2] - one[2] * other[1], one[2] * other[0] - one[0] * other[2], one[0] * other[1] - one[1] * other[0]);
  const dot = one.reduce((sum, value, axis) => sum + value * other[axis], 0);
  return cross < 1e-6 && dot > 0;
}

/** Remove parts; what they carried stays, unconnected. */
export function remove(doc, ids) {
  const gone = new Set(ids);
  const gates = doc.gates
    .filter((gate) => !gone.has(gate.id) && !gone.has(gate.duct))
    .map((gate) => (gate.items?.some((id) => gone.has(id)) ? { ...gate, items: gate.items.filter((id) => !gone.has(id)) } : gate));
  const ducts = doc.ducts
    .filter(({ id }) => !gone.has(id))
    .map((duct) => {
      const loose = (duct.end?.to === "duct" && gone.has(duct.end.duct)) || (duct.end?.to === "collector" && goneCollector(doc, gone));
      const { start, ...rest } = duct;
      const next = start && gone.has(start.item) ? rest : duct;
      return loose ? { ...next, end: null } : next;
    });
  const items = doc.items.filter(({ id }) => !gone.has(id));
  return { ...doc, items, ducts, gates };
}

const goneCollector = (doc, gone) => doc.items.some(({ id, type }) => type === "collector" && gone.has(id));

/** Copy the selection, shifted by `dx`, `dy` (m); copies aren't bound to anything yet. Returns `{doc, ids}`. */
export function copy(doc, ids, dx, dy) {
  const chosen = new Set(ids);
  for (const gate of doc.gates) if (chosen.has(gate.duct)) chosen.add(gate.id);
  const names = new Map();
  let next = doc;
  const letter = { items: "i", ducts: "d", gates: "g" };
  for (const id of chosen) {
    const { list, part } = parts(doc).get(id) ?? {};
    if (!part || part.type === "collector") continue;
    const fresh = freshId(next, letter[list]);
    names.set(id, fresh);
    next = withPart(next, list, { ...part, id: fresh, bound: null });
  }
  for (const [id, fresh] of names) next = edit(next, fresh, (part) => placed(doc, next, id, part, names, dx, dy));
  return { doc: next, ids: [...names.values()] };
}

function placed(doc, next, id, part, names, dx, dy) {
  const name = part.name ? numbered(next, part.name) : part.name;
  const kind = kindOf(doc, id);
  if (kind === "item") return { ...part, name, x: fine(part.x + dx), y: fine(part.y + dy) };
  if (kind === "gate") {
    const items = (part.items ?? []).map((item) => names.get(item)).filter(Boolean);
    return { ...part, name, duct: names.get(part.duct) ?? part.duct, items, kind: part.kind ?? "powered" };
  }
  const points = part.points.map((point) => ({ ...point, x: fine(point.x + dx), y: fine(point.y + dy) }));
  const start = part.start && names.get(part.start.item) ? { start: { item: names.get(part.start.item) } } : {};
  const { start: old, ...rest } = part;
  return { ...rest, ...start, name, points, end: endOf(next, part, points, names) };
}

/** Where a copied duct leads: like the original, if it reaches that far. */
function endOf(doc, { end }, points, names) {
  if (!end) return null;
  if (end.to === "collector") return { ...end };
  if (names.has(end.duct)) return { ...end, duct: names.get(end.duct) };
  const target = partOf(doc, end.duct);
  return target && nearest(target.points, points.at(-1)).distance < CLOSE ? { ...end } : null;
}

/** How far (m) beside a run its copy goes: along the target, so that it still reaches it. */
export function besides(doc, ids, distance) {
  const chosen = new Set(ids);
  const duct = doc.ducts.find(({ id, end }) => chosen.has(id) && end?.to === "duct" && !chosen.has(end.duct));
  const target = duct && partOf(doc, duct.end.duct);
  if (!target) return { dx: distance, dy: distance };
  const { place } = nearest(target.points, duct.points.at(-1));
  const leg = legOf(target.points, place);
  const [x, y] = vector(target.points[leg], target.points[leg + 1]);
  const length = Math.hypot(x, y) || 1;
  const [start] = marks(target.points).slice(leg);
  // Upstream, unless the target begins before that.
  const way = place - start >= distance ? -1 : 1;
  return { dx: fine((way * distance * x) / length), dy: fine((way * distance * y) / length) };
}

/** Make the room a rectangle (m). */
export function setRoom(doc, { x, y, width, depth }) {
  const [right, bottom] = [fine(x + width), fine(y + depth)];
  const outline = [[fine(x), fine(y)], [right, fine(y)], [right, bottom], [fine(x), bottom]];
  return { ...doc, room: { ...doc.room, outline } };
}

/** The room's box `{x, y, width, depth}` (m); null without one. */
export function roomBox(doc) {
  const outline = doc.room?.outline ?? [];
  if (outline.length < 3) return null;
  const [xs, ys] = [outline.map(([x]) => x), outline.map(([, y]) => y)];
  const [x, y] = [Math.min(...xs), Math.min(...ys)];
  return { x, y, width: fine(Math.max(...xs) - x), depth: fine(Math.max(...ys) - y) };
}
