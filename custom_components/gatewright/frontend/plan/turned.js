/** A plan turned by a quarter, for a portrait screen. */

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
