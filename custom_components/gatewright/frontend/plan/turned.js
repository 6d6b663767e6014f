/** A plan turned by a quarter, for a screen that is higher than it is wide. */

/** A plan in which what was on the left is at the top. */
export function turned(doc) {
  const at = (point) => ({ ...point, x: -point.y, y: point.x });
  return {
    ...doc,
    room: doc.room && { ...doc.room, outline: (doc.room.outline ?? []).map(([x, y]) => [-y, x]) },
    items: doc.items.map((item) => ({ ...at(item), turn: ((item.turn ?? 0) + 90) % 360 })),
    ducts: doc.ducts.map((duct) => ({ ...duct, points: duct.points.map(at) })),
  };
}
