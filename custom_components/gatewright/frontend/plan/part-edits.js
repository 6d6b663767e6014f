/** What the fields of the panel do to a plan, beyond setting a figure. */
import { edit, partOf, set } from "./document.js";
import { besides, copy } from "./edits.js";
import { CLOSE, lengthOf, nearest, pointAt } from "./line.js";
import { addPoint, movePoint, reshape } from "./shaping.js";

/** A duct of one diameter, also where parts of it had others. */
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

/** A duct of one material, also where parts of it had others. */
export function ofMaterial(doc, id, material) {
  return edit(doc, id, (duct) => ({ ...duct, material, points: duct.points.map((point) => withPipe(point, { material: undefined })) }));
}

/** A duct whose elbows are all made alike; `make` has a construction or a radius. */
export function ofMake(doc, id, make) {
  return edit(doc, id, (duct) => ({ ...duct, elbow: { ...duct.elbow, ...make }, points: duct.points.map(({ elbow, ...point }) => point) }));
}

/** Give the leg after a point a diameter or material of its own; undefined has it as the duct is. */
export function setLeg(doc, id, leg, fields) {
  return edit(doc, id, (duct) => ({ ...duct, points: duct.points.map((point, at) => (at === leg ? withPipe(point, fields) : point)) }));
}

function withPipe({ pipe, ...point }, fields) {
  const own = Object.entries({ ...pipe, ...fields }).filter(([, value]) => value !== undefined);
  return own.length ? { ...point, pipe: Object.fromEntries(own) } : point;
}

/** Have the elbow at a point be made otherwise than the duct's; undefined has it as they are. */
export function setElbow(doc, id, at, construction) {
  return edit(doc, id, (duct) => {
    const points = duct.points.map(({ elbow, ...point }, index) => {
      if (index !== at) return elbow ? { ...point, elbow } : point;
      return construction === undefined ? point : { ...point, elbow: { construction, radius: elbow?.radius ?? duct.elbow?.radius ?? 1.5 } };
    });
    return { ...duct, points };
  });
}

/** The height of a port; the drop of the duct there begins or ends at it. */
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

/** Have a duct meet the one that it leads to at another place (m). */
export function meetAt(doc, id, place) {
  const duct = partOf(doc, id);
  const target = partOf(doc, duct.end.duct);
  const to = pointAt(target.points, Math.max(0, Math.min(place, lengthOf(target.points))));
  return movePoint(doc, id, duct.points.length - 1, to);
}

/** Have a duct lead elsewhere: `collector`, `duct` and an id, or nothing; a leg is drawn there. */
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

/** Set one coordinate of a point of a duct. */
export function pointTo(doc, id, at, axis, value) {
  const { points } = partOf(doc, id);
  if (axis === "z") return reshape(doc, id, points.map((point, index) => (index === at ? { ...point, z: value } : point)));
  return movePoint(doc, id, at, { x: points[at].x, y: points[at].y, [axis]: value });
}

/** Put a corner into the middle of the longest leg. */
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

/** Copy what is chosen: returns the plan and the ids of the copies. */
export function copied(model, distance) {
  const ids = [...model.selection];
  const { dx, dy } = besides(model.doc, ids, distance);
  return copy(model.doc, ids, dx, dy);
}

/** Set figures that count instead of what is drawn; undefined has the drawing count again. */
export function setMeasured(doc, id, fields) {
  return edit(doc, id, (duct) => {
    const { typed, ...rest } = duct;
    const next = Object.fromEntries(Object.entries({ ...typed, ...fields }).filter(([, value]) => value !== undefined));
    return Object.keys(next).length ? { ...rest, typed: next } : rest;
  });
}

/** How many elbows of an angle (degrees) were counted; undefined where the drawing counts. */
export function measuredElbows({ typed }, angle) {
  return typed?.elbows && (typed.elbows.find((row) => row.angle === angle)?.count ?? 0);
}

/** Set how many elbows of an angle there are; of the other angle there are none, unless that is set too. */
export function setElbows(doc, id, angle, count) {
  const duct = partOf(doc, id);
  if (count === undefined) return setMeasured(doc, id, { elbows: undefined });
  const make = { radius: duct.elbow?.radius ?? 1.5, construction: duct.elbow?.construction ?? "stamped" };
  const others = (duct.typed?.elbows ?? []).filter((row) => row.angle !== angle);
  return setMeasured(doc, id, { elbows: count > 0 ? [...others, { count: Math.round(count), angle, ...make }] : others });
}
