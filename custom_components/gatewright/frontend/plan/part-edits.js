/** Edits by the panel's fields, beyond setting a figure. */
import { edit, partOf, set } from "./document.js";
import { besides, copy } from "./edits.js";
import { CLOSE, lengthOf, nearest, pointAt } from "./line.js";
import { addPoint, movePoint, reshape } from "./shaping.js";

/** Give a duct one diameter, also where parts of it had others. */
export function wider(doc, id, diameter) {
  return edit(doc, id, (duct) => ({
    ...duct,
    diameter,
    points: duct.points.map(({ pipe, ...point }) => {
      const { diameter: old, ...rest } = pipe ?? {};
      return Object.keys(rest).length ? { ...point, pipe: rest } : point;
    }),
  }));
}

/** Give a duct one material, also where parts of it had others. */
export function ofMaterial(doc, id, material) {
  return edit(doc, id, (duct) => ({ ...duct, material, points: duct.points.map((point) => withPipe(point, { material: undefined })) }));
}

/** Make all elbows of a duct alike; `make` has a construction or a radius. */
export function ofMake(doc, id, make) {
  return edit(doc, id, (duct) => ({ ...duct, elbow: { ...duct.elbow, ...make }, points: duct.points.map(({ elbow, ...point }) => point) }));
}

/** Give the leg after a point its own diameter or material; undefined restores the duct's. */
export function setLeg(doc, id, leg, fields) {
  return edit(doc, id, (duct) => ({ ...duct, points: duct.points.map((point, at) => (at === leg ? withPipe(point, fields) : point)) }));
}

function withPipe({ pipe, ...point }, fields) {
  const own = Object.entries({ ...pipe, ...fields }).filter(([, value]) => value !== undefined);
  return own.length ? { ...point, pipe: Object.fromEntries(own) } : point;
}

/** Give the elbow at a point its own construction; undefined restores the duct's. */
export function setElbow(doc, id, at, construction) {
  return edit(doc, id, (duct) => {
    const points = duct.points.map(({ elbow, ...point }, index) => {
      if (index !== at) return elbow ? { ...point, elbow } : point;
      return construction === undefined ? point : { ...point, elbow: { construction, radius: elbow?.radius ?? duct.elbow?.radius ?? 1.5 } };
    });
    return { ...duct, points };
  });
}

/** The height of a port; the duct's drop begins or ends at it. */
export function raisePort(doc, id, z, machines) {
  const item = partOf(doc, id);
  const old = item.z ?? 0;
  let next = set(doc, id, { z });
  for (const duct of doc.ducts) {
    const ends = item.type === "collector" ? (duct.end?.to === "collector" ? [duct.points.length - 1] : []) : [0];
    for (const at of ends) {
      const point = duct.points[at];
      const here = Math.hypot(point.x - item.x, point.y - item.y) < CLOSE && Math.abs((point.z ?? 0) - old) < CLOSE;
      if (!here) continue;
      const points = duct.points.map((one, index) => (index === at ? { ...one, z } : one));
      next = reshape(next, duct.id, points);
    }
  }
  return next;
}

/** Move a duct's joint on its target to another place (m). */
export function meetAt(doc, id, place) {
  const duct = partOf(doc, id);
  const target = partOf(doc, duct.end.duct);
  const to = pointAt(target.points, Math.max(0, Math.min(place, lengthOf(target.points))));
  return movePoint(doc, id, duct.points.length - 1, to);
}

/** Give a duct another target: `collector`, `duct` and an id, or none; a leg is drawn to it. */
export function leadTo(doc, id, value) {
  const duct = partOf(doc, id);
  if (!value) return set(doc, id, { end: null });
  const [to, target] = value.split(" ");
  const last = duct.points.length - 1;
  if (to === "collector") {
    const collector = doc.items.find(({ type }) => type === "collector");
    const next = set(doc, id, { end: { to: "collector" } });
    if (!collector) return next;
    const points = [...duct.points, { ...duct.points[last], x: collector.x, y: collector.y }, { x: collector.x, y: collector.y, z: collector.z ?? 0 }];
    return reshape(next, id, points);
  }
  const next = set(doc, id, { end: { to: "duct", duct: target, wye: 45 } });
  const { point } = nearest(partOf(doc, target).points, duct.points[last]);
  return reshape(next, id, [...duct.points, { x: point.x, y: point.y, z: point.z }]);
}

/** Set one coordinate of a duct's point. */
export function pointTo(doc, id, at, axis, value) {
  const { points } = partOf(doc, id);
  if (axis === "z") return reshape(doc, id, points.map((point, index) => (index === at ? { ...point, z: value } : point)));
  return movePoint(doc, id, at, { x: points[at].x, y: points[at].y, [axis]: value });
}

/** Add a corner in the middle of the longest leg. */
export function addCorner(doc, id) {
  const { points } = partOf(doc, id);
  let [best, mark, place] = [0, 0, 0];
  for (let leg = 0; leg < points.length - 1; leg += 1) {
    const length = lengthOf(points.slice(leg, leg + 2));
    if (length > best) [best, place] = [length, mark + length / 2];
    mark += length;
  }
  return addPoint(doc, id, place);
}

/** Copy the selection: returns the plan and the ids of the copies. */
export function copied(model, distance) {
  const ids = [...model.selection];
  const { dx, dy } = besides(model.doc, ids, distance);
  return copy(model.doc, ids, dx, dy);
}

/** Set figures that override the drawing; undefined removes them. */
export function setMeasured(doc, id, fields) {
  return edit(doc, id, (duct) => {
    const { typed, ...rest } = duct;
    const next = Object.fromEntries(Object.entries({ ...typed, ...fields }).filter(([, value]) => value !== undefined));
    return Object.keys(next).length ? { ...rest, typed: next } : rest;
  });
}

/** The typed number of elbows of an angle (degrees); undefined if the drawing counts. */
export function measuredElbows({ typed }, angle) {
  return typed?.elbows && (typed.elbows.find((row) => row.angle === angle)?.count ?? 0);
}

/** Set the number of elbows of an angle; the other angle has none, unless that is set too. */
export function setElbows(doc, id, angle, count) {
  const duct = partOf(doc, id);
  if (count === undefined) return setMeasured(doc, id, { elbows: undefined });
  const make = { radius: duct.elbow?.radius ?? 1.5, construction: duct.elbow?.construction ?? "stamped" };
  const others = (duct.typed?.elbows ?? []).filter((row) => row.angle !== angle);
  return setMeasured(doc, id, { elbows: count > 0 ? [...others, { count: Math.round(count), angle, ...make }] : others });
}
