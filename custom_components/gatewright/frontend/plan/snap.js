/** What a pointer means: the grid, the angles of fittings, a duct or an item nearby. Seen from above, in m. */
import { stepOf } from "./document.js";
import { gatePoint } from "./gate-spots.js";
import { apartFlat, nearest, pointAt } from "./line.js";

const FINE = 1e-6;
/** The default directions of a duct. */
export const ANGLES = [0, 45, 90, 135, 180, 225, 270, 315];

/** A value on the grid (m), without binary rounding errors. */
export function toGrid(value, step) {
  return Number((Math.round(value / step) * step).toFixed(4));
}

/** A point on the grid. */
export const onGrid = ({ x, y }, step) => ({ x: toGrid(x, step), y: toGrid(y, step) });

/** A point in the nearest of eight directions from another, with its length on the grid. */
export function onAngle(from, target, step) {
  const [dx, dy] = [target.x - from.x, target.y - from.y];
  const eighth = Math.round(Math.atan2(dy, dx) / (Math.PI / 4));
  const along = [Math.round(Math.cos((eighth * Math.PI) / 4)), Math.round(Math.sin((eighth * Math.PI) / 4))];
  const square = along[0] ** 2 + along[1] ** 2;
  const reach = toGrid((dx * along[0] + dy * along[1]) / square, step);
  return { x: tidied(from.x + reach * along[0]), y: tidied(from.y + reach * along[1]) };
}

const tidied = (value) => Number(value.toFixed(4));

/** An item's default drawn size (m): invented, only to tell items apart. */
const SIZES = {
  collector: [0.9, 0.9],
  table_saw: [1.1, 0.8],
  band_saw: [0.7, 0.6],
  planer: [0.7, 0.9],
  jointer: [1.6, 0.5],
  miter_saw: [0.9, 0.6],
  drum_sander: [0.8, 0.6],
  router_table: [0.8, 0.6],
  lathe: [1.3, 0.5],
  drill_press: [0.5, 0.6],
  sander: [0.6, 0.5],
  floor_sweep: [0.4, 0.2],
  bench_hood: [1, 0.4],
  tool_hose: [0.3, 0.3],
};

/** The default height (m) of a port. Common practice, no source. */
export const PORT_HEIGHTS = { collector: 1.5, floor_sweep: 0.1, bench_hood: 1, tool_hose: 1, planer: 1 };

export const portHeight = (kind) => PORT_HEIGHTS[kind] ?? 0.8;

/** The width and depth (m) of an item of a kind. */
export function sizeOf(item, kind) {
  const [width, depth] = SIZES[item.type === "collector" ? "collector" : (kind ?? item.kind)] ?? [0.7, 0.6];
  return { width: item.width ?? width, depth: item.depth ?? depth };
}

/** Whether a point is on an item, or at most `reach` (m) beside it. */
export function isOn(item, point, kind, reach = 0) {
  const { width, depth } = sizeOf(item, kind);
  const angle = (-(item.turn ?? 0) * Math.PI) / 180;
  const [dx, dy] = [point.x - item.x, point.y - item.y];
  const across = dx * Math.cos(angle) - dy * Math.sin(angle);
  const along = dx * Math.sin(angle) + dy * Math.cos(angle);
  return Math.abs(across) <= width / 2 + reach && Math.abs(along) <= depth / 2 + reach;
}

/** The item at a point: the collector or a machine; `kindOf` returns the kind of a machine. */
export function itemAt(doc, point, kindOf, reach = 0) {
  const near = doc.items.filter((item) => isOn(item, point, kindOf(item), reach));
  return near.sort((one, other) => apartFlat(one, point) - apartFlat(other, point))[0] ?? null;
}

/** The nearest duct to a point, at most `reach` (m) away: `{duct, place, point, distance, leg}`. */
export function ductAt(doc, point, reach, { except } = {}) {
  let best = null;
  for (const duct of doc.ducts) {
    if (except?.has(duct.id)) continue;
    const near = nearest(duct.points, point, { flat: true });
    if (near.distance <= reach && (!best || near.distance < best.distance)) best = { duct, ...near };
  }
  return best;
}

/**
 * Where on a duct a line from `from` towards `target` ends: where one of the eight directions meets it, if that is
 * near enough (m), else on the grid along it.
 */
export function meeting({ duct, point }, from, target, { reach, step }) {
  let best = null;
  if (from) {
    for (let leg = 0; leg < duct.points.length - 1; leg += 1) {
      const [one, other] = [duct.points[leg], duct.points[leg + 1]];
      for (const angle of ANGLES) {
        const met = crossing(from, angle, one, other);
        if (!met) continue;
        const distance = apartFlat(met, target);
        // A square or straight line is meant rather than a slanting one.
        const cost = distance + (angle % 90 ? reach / 3 : 0);
        if (distance <= reach && (!best || cost < best.cost)) best = { cost, at: met };
      }
    }
  }
  const wanted = best?.at ?? onDuct(duct.points, point, step);
  const { place, leg } = nearest(duct.points, wanted, { flat: true });
  return { duct, place, leg, point: pointAt(duct.points, place) };
}

/** A point on a duct, on the grid along a straight leg, or a nearby end. */
function onDuct(points, point, step) {
  for (const end of [points[0], points.at(-1)]) if (apartFlat(end, point) <= step) return end;
  const { leg } = nearest(points, point, { flat: true });
  const [one, other] = [points[leg], points[leg + 1]];
  const grid = onGrid(point, step);
  if (Math.abs(one.y - other.y) < FINE) return within({ x: grid.x, y: one.y }, one, other);
  if (Math.abs(one.x - other.x) < FINE) return within({ x: one.x, y: grid.y }, one, other);
  return point;
}

const clamp = (value, one, other) => Math.max(Math.min(one, other), Math.min(Math.max(one, other), value));
const within = (point, one, other) => ({ x: clamp(point.x, one.x, other.x), y: clamp(point.y, one.y, other.y) });

/** Where a ray meets a stretch; null if it doesn't. */
function crossing(from, angle, one, other) {
  const ray = [Math.cos((angle * Math.PI) / 180), Math.sin((angle * Math.PI) / 180)];
  const leg = [other.x - one.x, other.y - one.y];
  const cross = ray[0] * leg[1] - ray[1] * leg[0];
  if (Math.abs(cross) < 1e-9) return null;
  const [dx, dy] = [one.x - from.x, one.y - from.y];
  const reach = (dx * leg[1] - dy * leg[0]) / cross;
  const share = (dx * ray[1] - dy * ray[0]) / cross;
  if (reach <= 0.01 || share < -1e-9 || share > 1 + 1e-9) return null;
  return { x: one.x + share * leg[0], y: one.y + share * leg[1] };
}

/**
 * What a pointer at `target` means while a duct is drawn from `from` (null at its beginning): `{point, item}`,
 * `{point, duct, place}`, or a `{point}` of the floor. `reach` in m.
 */
export function aim(doc, target, { from = null, reach, kindOf, except }) {
  const step = stepOf(doc);
  const item = itemAt(doc, target, kindOf);
  if (item && !except?.has(item.id)) return { item, point: { x: item.x, y: item.y } };
  const near = ductAt(doc, target, reach, { except });
  if (near) return meeting(near, from, target, { reach: reach * 1.5, step });
  const close = itemAt(doc, target, kindOf, reach / 2);
  if (close && !except?.has(close.id)) return { item: close, point: { x: close.x, y: close.y } };
  return { point: from ? onAngle(from, target, step) : onGrid(target, step) };
}

/** What a selecting tap at a point hits: `{kind, id}`, a gate before a duct before an item. */
export function hit(doc, point, { reach, kindOf }) {
  let best = null;
  for (const gate of doc.gates) {
    const at = gatePoint(doc, gate);
    const distance = at ? apartFlat(at, point) : Infinity;
    if (distance <= reach && (!best || distance < best.distance)) best = { kind: "gate", id: gate.id, distance };
  }
  if (best) return best;
  const on = itemAt(doc, point, kindOf);
  const near = ductAt(doc, point, on ? reach / 3 : reach);
  if (near && !(on && apartFlat(on, point) < reach)) return { kind: "duct", id: near.duct.id, leg: near.leg, place: near.place };
  return on ? { kind: "item", id: on.id } : null;
}

/** The bounding box of everything drawn: `{x, y, width, height}` in m, with a margin. */
export function extent(doc, margin = 0.6) {
  const points = [
    ...(doc.room?.outline ?? []).map(([x, y]) => ({ x, y })),
    ...doc.items,
    ...doc.ducts.flatMap((duct) => duct.points),
  ];
  if (!points.length) return { x: -margin, y: -margin, width: 8 + 2 * margin, height: 6 + 2 * margin };
  const xs = points.map(({ x }) => x);
  const ys = points.map(({ y }) => y);
  const [x, y] = [Math.min(...xs) - margin, Math.min(...ys) - margin];
  const width = Math.max(...xs) - x + margin;
  const height = Math.max(...ys) - y + margin;
  return { x, y, width: Math.max(width, 2), height: Math.max(height, 2) };
}

