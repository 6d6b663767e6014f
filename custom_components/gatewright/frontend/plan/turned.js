/** A plan turned by a quarter, for a screen that is higher than it is wide. */
import { extent } from "./snap.js";

/** The ratio of width to height from which a plan is turned. */
const WIDE = 1.2;

const known = new WeakMap();

/** A plan with its left side at the top. */
export function turned(doc) {
  const at = (point) => ({ ...point, x: -point.y, y: point.x });
  return {
    ...doc,
    room: doc.room && { ...doc.room, outline: (doc.room.outline ?? []).map(([x, y]) => [-y, x]) },
    items: doc.items.map((item) => ({ ...at(item), turn: ((item.turn ?? 0) + 90) % 360 })),
    ducts: doc.ducts.map((duct) => ({ ...duct, points: duct.points.map(at) })),
  };
}

/** A plan as an upright phone shows it: turned if it is wide. The same plan gives the same object. */
export function upright(doc) {
  let shown = known.get(doc);
  if (!shown) {
    const { width, height } = extent(doc);
    shown = width > WIDE * height ? turned(doc) : doc;
    known.set(doc, shown);
  }
  return shown;
}
