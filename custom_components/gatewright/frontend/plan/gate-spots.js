/** Where gates are drawn: on their ducts, far enough apart to be seen and tapped. */
import { apartFlat, lengthOf, pointAt } from "./line.js";

/** The drawn distance (m) of an opening's gate from the beginning of its duct: beside its machine. */
const BESIDE = 0.75;
/** The least drawn distance (m) between gates of one duct. */
const APART = 0.4;

const known = new WeakMap();
const begins = new WeakMap();

/** The drawn places of a plan's gates: `Map(id -> {x, y, z, duct})`, without gates on no duct. */
export function gateSpots(doc) {
  let spots = known.get(doc);
  if (spots) return spots;
  spots = new Map();
  const ducts = new Map(doc.ducts.map((duct) => [duct.id, duct]));
  const rows = new Map();
  for (const gate of doc.gates) {
    const duct = ducts.get(gate.duct);
    if (!duct) continue;
    if (!rows.has(duct)) rows.set(duct, []);
    rows.get(duct).push({ id: gate.id, place: placeOf(gate, duct) });
  }
  for (const [duct, row] of rows) {
    for (const { id, place } of spread(row, duct)) spots.set(id, { ...pointAt(duct.points, place), duct });
  }
  known.set(doc, spots);
  return spots;
}

/** Where a gate is drawn; null if it's on no duct. */
export const gatePoint = (doc, gate) => gateSpots(doc).get(gate.id) ?? null;

/** The place (m) along its duct where a gate would be drawn alone. */
function placeOf(gate, duct) {
  if (gate.mount !== "start") return gate.at ?? 0;
  const { length, beside } = beginOf(duct);
  return Math.min(Math.max(gate.at ?? 0, beside), length);
}

/** A duct's length, and where it comes out from under its first machine. */
function beginOf(duct) {
  let found = begins.get(duct);
  if (found) return found;
  const { points } = duct;
  const [start] = points;
  const length = lengthOf(points);
  const reach = Math.min(BESIDE, 0.6 * Math.max(...points.map((point) => apartFlat(point, start))));
  let beside = 0;
  while (beside < length && apartFlat(pointAt(points, beside), start) < reach) beside += 0.05;
  found = { length, beside: Math.min(beside, length) };
  begins.set(duct, found);
  return found;
}

/** Gates in one place are spread along the flow, closer together where the duct is short. */
function spread(row, duct) {
  if (row.length < 2) return row;
  const { length } = beginOf(duct);
  const sorted = [...row].sort((one, other) => one.place - other.place);
  const gap = Math.min(APART, Math.max(0, length - sorted[0].place) / row.length);
  let last = -Infinity;
  const forward = sorted.map(({ id, place }) => ({ id, place: (last = Math.max(place, last + gap)) }));
  // A gate pushed over the end comes back, and pushes those before it.
  let next = length;
  for (const one of forward.reverse()) {
    if (one.place > next) one.place = next;
    next = one.place - gap;
  }
  return forward;
}
