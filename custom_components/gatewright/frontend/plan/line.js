/**
 * Lines through points `{x, y, z}` in m: lengths, places along them, corners.
 *
 * A place is the distance (m) along the line from its first point. "Flat" means seen from above.
 */

/** Places closer than this (m) are the same, as on the server. */
export const CLOSE = 0.02;

const high = (point) => point.z ?? 0;

/** The distance between two points (m). */
export const apart = (one, other) => Math.hypot(one.x - other.x, one.y - other.y, high(one) - high(other));

/** The distance of two points seen from above (m). */
export const apartFlat = (one, other) => Math.hypot(one.x - other.x, one.y - other.y);

/** The place of each point. */
export function marks(points) {
  const found = [0];
  for (let at = 1; at < points.length; at += 1) found.push(found[at - 1] + apart(points[at - 1], points[at]));
  return found;
}

/** The sum of the legs (m). */
export const lengthOf = (points) => marks(points).at(-1);

const between = (one, other, share) => ({
  x: one.x + share * (other.x - one.x),
  y: one.y + share * (other.y - one.y),
  z: high(one) + share * (high(other) - high(one)),
});

/** The leg that continues from a place; at the end the last one. */
export function legAt(points, place) {
  const found = marks(points);
  for (let leg = 0; leg < points.length - 2; leg += 1) if (place < found[leg + 1] - CLOSE) return leg;
  return points.length - 2;
}

/** The point at a place; outside the line its first or last point. */
export function pointAt(points, place) {
  const found = marks(points);
  for (let leg = 0; leg < points.length - 1; leg += 1) {
    const [start, end] = [found[leg], found[leg + 1]];
    if (place > end && leg < points.length - 2) continue;
    const share = end > start ? (place - start) / (end - start) : 0;
    return between(points[leg], points[leg + 1], Math.max(0, Math.min(1, share)));
  }
  return { ...points[0] };
}

/** The points of the stretch between two places. */
export function stretch(points, start, end) {
  const found = marks(points);
  const inner = points.filter((_, at) => found[at] > start + CLOSE && found[at] < end - CLOSE);
  return [pointAt(points, start), ...inner, pointAt(points, end)];
}

/** A line's nearest place to a point: `{place, distance, leg, point}`; `flat` ignores heights. */
export function nearest(points, target, { flat = false } = {}) {
  const found = marks(points);
  const rise = (one, other) => (flat ? 0 : high(one) - high(other));
  let best = null;
  for (let leg = 0; leg < points.length - 1; leg += 1) {
    const [one, other] = [points[leg], points[leg + 1]];
    const along = [other.x - one.x, other.y - one.y, rise(other, one)];
    const to = [target.x - one.x, target.y - one.y, rise(target, one)];
    const square = along[0] ** 2 + along[1] ** 2 + along[2] ** 2;
    const dot = along[0] * to[0] + along[1] * to[1] + along[2] * to[2];
    const share = square > 0 ? Math.max(0, Math.min(1, dot / square)) : 0;
    const point = between(one, other, share);
    const distance = (flat ? apartFlat : apart)(point, target);
    if (best && distance >= best.distance - 1e-9) continue;
    best = { distance, leg, point, place: found[leg] + share * (found[leg + 1] - found[leg]) };
  }
  return best;
}

/** The angle (degrees) by which a line turns at one of its points; 0 at its ends. */
export function turnAt(points, at) {
  if (at <= 0 || at >= points.length - 1) return 0;
  return angleBetween(vector(points[at - 1], points[at]), vector(points[at], points[at + 1]));
}

/** The vector from one point to another. */
export const vector = (one, other) => [other.x - one.x, other.y - one.y, high(other) - high(one)];

/** The angle between two vectors (degrees); 0 if one of them has no length. */
export function angleBetween(one, other) {
  const lengths = Math.hypot(...one) * Math.hypot(...other);
  if (lengths === 0) return 0;
  const cosine = one.reduce((sum, value, axis) => sum + value * other[axis], 0) / lengths;
  return (Math.acos(Math.max(-1, Math.min(1, cosine))) * 180) / Math.PI;
}

/** A line's corners that need an elbow: `[{at, angle}]`, from 3 degrees on, as on the server. */
export function corners(points) {
  return points.map((_, at) => ({ at, angle: turnAt(points, at) })).filter(({ angle }) => angle >= 3);
}

/** Points without consecutive duplicates. */
export const tidy = (points) => points.filter((point, at) => at === 0 || apart(point, points[at - 1]) > 1e-6);
