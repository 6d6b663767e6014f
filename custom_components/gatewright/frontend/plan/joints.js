/** How ducts meet: entry angles, and typed figures that a new angle invalidates. */
import { partOf } from "./document.js";
import { angleBetween, legAt, nearest, vector } from "./line.js";

/** Angles that differ by less (degrees) are the same. */
const SAME = 1;

/** The angle (degrees) between a duct's last leg and its target; null where it meets no duct. */
export function jointAngle(doc, duct) {
  const target = duct.end?.to === "duct" ? partOf(doc, duct.end.duct) : null;
  if (!target) return null;
  const { place } = nearest(target.points, duct.points.at(-1));
  const leg = legAt(target.points, place);
  return angleBetween(vector(...duct.points.slice(-2)), vector(target.points[leg], target.points[leg + 1]));
}

/** A plan without typed entry angles that a turned or different main invalidates. */
export function retuned(before, after) {
  const loose = after.ducts.filter((duct) => isUntrue(before, after, duct));
  if (!loose.length) return after;
  const gone = new Set(loose);
  return { ...after, ducts: after.ducts.map((duct) => (gone.has(duct) ? withoutEntry(duct) : duct)) };
}

function isUntrue(before, after, duct) {
  const typed = duct.typed?.entry_angle;
  const was = partOf(before, duct.id);
  // A figure that is being typed counts, and an earlier one stays while its joint is unchanged.
  if (typed === undefined || was?.typed?.entry_angle !== typed) return false;
  const same = was === duct && partOf(before, duct.end?.duct) === partOf(after, duct.end?.duct);
  if (same) return false;
  const [one, other] = [jointAngle(before, was), jointAngle(after, duct)];
  return one === null || other === null || Math.abs(one - other) >= SAME;
}

function withoutEntry({ typed, ...duct }) {
  const { entry_angle: gone, ...rest } = typed;
  return Object.keys(rest).length ? { ...duct, typed: rest } : duct;
}
