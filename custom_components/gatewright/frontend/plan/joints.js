/** How ducts meet: the angle at which one enters another, and typed figures that another angle makes untrue. */
import { partOf } from "./document.js";
import { angleBetween, legAt, nearest, vector } from "./line.js";

/** An angle that differs by less (degrees) is the same. */
const SAME = 1;

/** The angle (degrees) between the last leg of a duct and what it leads to; null where it meets no duct. */
export function jointAngle(doc, duct) {
  const target = duct.end?.to === "duct" ? partOf(doc, duct.end.duct) : null;
  if (!target) return null;
  const { place } = nearest(target.points, duct.points.at(-1));
  const leg = legAt(target.points, place);
  return angleBetween(vector(...duct.points.slice(-2)), vector(target.points[leg], target.points[leg + 1]));
}

/** A plan without the entry angles that somebody measured and that a turned main, or another one, makes untrue. */
export function retuned(before, after) {
  const loose = after.ducts.filter((duct) => isUntrue(before, after, duct));
  if (!loose.length) return after;
  const gone = new Set(loose);
  return { ...after, ducts: after.ducts.map((duct) => (gone.has(duct) ? withoutEntry(duct) : duct)) };
}

function isUntrue(before, after, duct) {
  const typed = duct.typed?.entry_angle;
  const was = partOf(before, duct.id);
  // What is typed just now counts, and what was typed before stays while nothing there changed.
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
