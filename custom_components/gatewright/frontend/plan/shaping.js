/**
 * Moving drawn parts so that connections stay connected and square stays square.
 *
 * Points above each other (a drop to a machine) are one column: they move together.
 */
import { edit, gatesOn, inflows, partOf } from "./document.js";
import { angleBetween, apart, apartFlat, CLOSE, lengthOf, marks, nearest, pointAt, tidy, vector } from "./line.js";

const high = (point) => point.z ?? 0;
const shifted = (point, dx, dy, dz = 0) => ({
  ...point,
  x: fine(point.x + dx),
  y: fine(point.y + dy),
  ...(dz || point.z !== undefined ? { z: fine(high(point) + dz) } : {}),
});
const fine = (value) => Number(value.toFixed(4));

/** The first and last index of the points above each other at an index. */
export function column(points, at) {
  let [first, last] = [at, at];
  while (first > 0 && apartFlat(points[first - 1], points[at]) < CLOSE) first -= 1;
  while (last < points.length - 1 && apartFlat(points[last + 1], points[at]) < CLOSE) last += 1;
  return [first, last];
}

/** A line's columns, from its first point: `[{first, last, x, y}]`. */
export function columns(points) {
  const found = [];
  for (let at = 0; at < points.length; at = found.at(-1).last + 1) {
    const [first, last] = column(points, at);
    found.push({ first, last, x: points[at].x, y: points[at].y });
  }
  return found;
}

/** Replace a duct's points, and move everything that ends on it along; `typed` has the former figures. */
export function reshape(doc, id, points, seen = new Set()) {
  const before = partOf(doc, id);
  const line = tidy(points);
  if (!before || line.length < 2 || seen.has(id)) return doc;
  seen.add(id);
  let next = edit(doc, id, (duct) => ({ ...untyped(duct, line), points: line }));
  for (const gate of gatesOn(doc, id)) {
    const most = lengthOf(line);
    if ((gate.at ?? 0) > most) next = edit(next, gate.id, (one) => ({ ...one, at: fine(most) }));
  }
  for (const branch of inflows(doc, id)) {
    const end = branch.points.at(-1);
    if (nearest(line, end).distance < CLOSE) continue;
    next = moveEnd(next, branch.id, landing(before.points, line, end), seen);
  }
  return next;
}

/**
 * A duct without typed figures that new points invalidate: an entry angle stays while the last leg keeps its
 * direction.
 */
export function untyped(duct, points = null) {
  if (!duct.typed) return duct;
  const { typed, ...rest } = duct;
  const way = (line) => vector(...line.slice(-2));
  const kept = points && typed.entry_angle !== undefined && angleBetween(way(duct.points), way(points)) < 1;
  return kept ? { ...rest, typed: { entry_angle: typed.entry_angle } } : rest;
}

/** Where an end goes that was at a point of a line which became another one. */
function landing(before, after, end) {
  const { leg, place } = nearest(before, end);
  if (before.length !== after.length) return nearest(after, end).point;
  const [start, stop] = marks(before).slice(leg, leg + 2);
  const share = stop > start ? (place - start) / (stop - start) : 0;
  const [from, to] = marks(after).slice(leg, leg + 2);
  return pointAt(after, from + share * (to - from));
}

/** Move a duct's downstream end to another point. */
export function moveEnd(doc, id, to, seen) {
  const duct = partOf(doc, id);
  const end = duct.points.at(-1);
  const dz = high(to) - high(end);
  let points = duct.points;
  if (Math.abs(dz) > 1e-6) {
    // The run before it is at its end's height: it moves up or down as a whole.
    let from = points.length - 1;
    while (from > 0 && Math.abs(high(points[from - 1]) - high(end)) < CLOSE) from -= 1;
    points = points.map((point, at) => (at >= Math.max(from, 1) ? shifted(point, 0, 0, dz) : point));
    if (from === 0 && points.length > 1) points = lifted(points, duct, dz);
  }
  points = moveColumn(points, points.length - 1, to.x - end.x, to.y - end.y);
  return reshape(doc, id, points, seen);
}

/** A run that begins in midair is lifted with its beginning; from a machine a drop is inserted. */
function lifted(points, duct, dz) {
  const [first] = points;
  return duct.start ? [first, shifted(first, 0, 0, dz), ...points.slice(1)] : [shifted(first, 0, 0, dz), ...points.slice(1)];
}

/** Move the column at an index; the legs beside it stay square as far as possible. */
export function moveColumn(points, at, dx, dy) {
  if (!dx && !dy) return points;
  const all = columns(points);
  const own = all.findIndex(({ first, last }) => first <= at && at <= last);
  const shift = all.map(() => [0, 0]);
  shift[own] = [dx, dy];
  for (const way of [-1, 1]) {
    const beside = all[own + way];
    const beyond = all[own + 2 * way];
    // A column at an end is fixed there: only a corner gives way.
    if (!beside || !beyond) continue;
    const [x, y] = [Math.abs(beside.x - all[own].x) < CLOSE ? dx : 0, Math.abs(beside.y - all[own].y) < CLOSE ? dy : 0];
    const next = [Math.abs(beyond.x - beside.x) < CLOSE, Math.abs(beyond.y - beside.y) < CLOSE];
    // The corner slides along the next leg.
    if ((x && next[1]) || (y && next[0])) shift[own + way] = [next[1] ? x : 0, next[0] ? y : 0];
  }
  const moved = points.map((point, index) => {
    const [x, y] = shift[all.findIndex(({ first, last }) => first <= index && index <= last)];
    return x || y ? shifted(point, x, y) : point;
  });
  return squared(moved, all[own], own, all);
}

/** Add a corner to a formerly square leg that a moved end made slanting. */
function squared(points, { first, last }, own, before) {
  const there = own === 0 ? before[1] : own === before.length - 1 ? before[own - 1] : null;
  if (!there) return points;
  const was = [Math.abs(there.x - before[own].x) < CLOSE, Math.abs(there.y - before[own].y) < CLOSE];
  if (!was[0] && !was[1]) return points;
  const [one, other] = own === 0 ? [points[last], points[there.first]] : [points[there.last], points[first]];
  if (Math.abs(one.x - other.x) < CLOSE || Math.abs(one.y - other.y) < CLOSE) return points;
  const machine = own === 0 ? one : other;
  const fixed = own === 0 ? other : one;
  // It starts from the unmoved end.
  const corner = was[0] ? { x: fixed.x, y: machine.y } : { x: machine.x, y: fixed.y };
  const at = own === 0 ? last + 1 : there.last + 1;
  return [...points.slice(0, at), { ...corner, z: high(one) }, ...points.slice(at)];
}

/** Drag a corner to a point; the whole column moves. */
export function movePoint(doc, id, at, to) {
  const { points } = partOf(doc, id);
  const [first, last] = column(points, at);
  const [dx, dy] = [to.x - points[at].x, to.y - points[at].y];
  return reshape(doc, id, points.map((point, index) => (index >= first && index <= last ? shifted(point, dx, dy) : point)));
}

/**
 * Push a leg sideways by a vector; connected ends get a corner. A main of several ducts in a row, as after applying,
 * is pushed as one.
 */
export function moveLeg(doc, id, leg, dx, dy) {
  const { points } = partOf(doc, id);
  const [a, b] = [points[leg], points[leg + 1]];
  const length = apartFlat(a, b);
  if (length < CLOSE) return doc;
  const normal = [-(b.y - a.y) / length, (b.x - a.x) / length];
  const push = dx * normal[0] + dy * normal[1];
  if (Math.abs(push) < 1e-6) return doc;
  const by = [push * normal[0], push * normal[1]];
  const run = runOf(doc, id, leg);
  let next = doc;
  for (const [one, at] of run) {
    const moved = pushed(doc, partOf(doc, one), at, by, run);
    next = edit(next, one, (duct) => ({ ...untyped(duct, moved), points: moved }));
  }
  for (const one of run.keys()) {
    const [before, after] = [partOf(doc, one).points, partOf(next, one).points];
    for (const branch of inflows(doc, one)) {
      const end = branch.points.at(-1);
      if (run.has(branch.id) || nearest(after, end).distance < CLOSE) continue;
      next = moveEnd(next, branch.id, landing(before, after, end));
    }
  }
  return next;
}

/** The ducts in one straight row with a leg: `Map(id -> leg)`. */
function runOf(doc, id, leg) {
  const run = new Map([[id, leg]]);
  const straight = (one, other) => angleBetween(vector(...one), vector(...other)) < 1;
  const follow = (duct, at) => {
    const ends = column(duct.points, at + 1)[1] === duct.points.length - 1;
    const target = ends && duct.end?.to === "duct" ? partOf(doc, duct.end.duct) : null;
    if (target && !run.has(target.id) && apart(duct.points.at(-1), target.points[0]) < CLOSE) {
      if (straight(duct.points.slice(at, at + 2), target.points.slice(0, 2))) {
        run.set(target.id, 0);
        follow(target, 0);
      }
    }
    if (column(duct.points, at)[0] !== 0) return;
    for (const other of inflows(doc, duct.id)) {
      const last = other.points.length - 2;
      if (run.has(other.id) || apart(other.points.at(-1), duct.points[0]) > CLOSE) continue;
      if (!straight(other.points.slice(last), duct.points.slice(at, at + 2))) continue;
      run.set(other.id, last);
      follow(other, last);
    }
  };
  follow(partOf(doc, id), leg);
  return run;
}

/** A duct's points with one leg pushed; a connection to something unpushed gets a corner. */
function pushed(doc, duct, leg, by, run) {
  const { points } = duct;
  const [one, other] = [column(points, leg), column(points, leg + 1)];
  const next = points.map((point, at) => (at >= one[0] && at <= other[1] ? shifted(point, ...by) : point));
  const head = one[0] === 0 && (duct.start || gatesOn(doc, duct.id).some(({ mount, items }) => mount === "start" && items?.length));
  const last = other[1] === points.length - 1;
  const tail = last && duct.end && !run.has(duct.end.duct) && !stays(doc, duct, next.at(-1));
  const start = head ? [...points.slice(0, one[1] + 1), ...next.slice(one[1])] : next;
  return tidy(tail ? [...start.slice(0, start.length - (other[1] - other[0])), ...points.slice(other[0])] : start);
}

/** Whether a moved end is still on its target. */
function stays(doc, duct, end) {
  if (duct.end.to !== "duct") return false;
  const target = partOf(doc, duct.end.duct);
  return Boolean(target) && nearest(target.points, end).distance < CLOSE;
}

/** Add a corner to a duct at a place. */
export function addPoint(doc, id, place) {
  const { points } = partOf(doc, id);
  const { leg, distance } = { leg: legOf(points, place), distance: 0 };
  const point = pointAt(points, place);
  if (distance > CLOSE || points.some((one) => apart(one, point) < CLOSE)) return doc;
  return edit(doc, id, (duct) => ({ ...duct, points: [...points.slice(0, leg + 1), rounded(point), ...points.slice(leg + 1)] }));
}

const rounded = ({ x, y, z }) => ({ x: fine(x), y: fine(y), z: fine(z) });

/** The leg at a place. */
export function legOf(points, place) {
  const found = marks(points);
  const leg = found.findIndex((mark) => mark > place + 1e-9) - 1;
  return leg < 0 ? points.length - 2 : leg;
}

/** Remove a corner. */
export function dropPoint(doc, id, at) {
  const { points } = partOf(doc, id);
  if (points.length <= 2 || at <= 0 || at >= points.length - 1) return doc;
  const kept = points[at].pipe && !points[at - 1].pipe ? points : points;
  return reshape(doc, id, kept.filter((_, index) => index !== at));
}

/** The height (m) of a duct's run: that of its longest level stretch, or of its end. */
export function runHeight({ points }) {
  let best = { length: -1, z: high(points.at(-1)) };
  for (let leg = 0; leg < points.length - 1; leg += 1) {
    const length = apartFlat(points[leg], points[leg + 1]);
    if (Math.abs(high(points[leg]) - high(points[leg + 1])) > CLOSE || length <= best.length) continue;
    best = { length, z: high(points[leg]) };
  }
  return best.z;
}

/** Move a duct's run to another height (m); its branches follow, and its target stays. */
export function setHeight(doc, id, height) {
  const duct = partOf(doc, id);
  const old = runHeight(duct);
  if (Math.abs(old - height) < 1e-6) return doc;
  const points = duct.points.map((point) => (Math.abs(high(point) - old) < CLOSE ? { ...point, z: fine(height) } : point));
  const end = duct.points.at(-1);
  // Its target keeps its height: a drop or rise leads there.
  if (duct.end && Math.abs(high(points.at(-1)) - high(end)) > CLOSE) points.push({ ...end });
  const [first] = duct.points;
  if (duct.start && Math.abs(high(points[0]) - high(first)) > CLOSE) points.unshift({ ...first });
  return reshape(doc, id, points);
}
