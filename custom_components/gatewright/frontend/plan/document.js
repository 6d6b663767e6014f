/**
 * The plan as data: its parts by id, and how to replace one.
 *
 * `docs/plan-file.md` describes it. Documents are immutable: every edit returns a new one, which shares the unchanged
 * parts with the old one. So object identity shows what has to be redrawn.
 */

/** The lists of a document, and the name of a part in each of them. */
export const LISTS = { items: "item", ducts: "duct", gates: "gate" };

/** An empty plan. */
export const blank = (step = 0.1) => ({
  format: "gatewright-plan",
  version: 1,
  grid: { step },
  room: { outline: [], height: 2.7 },
  items: [],
  ducts: [],
  gates: [],
});

const found = new WeakMap();

/** All parts by their id: `Map(id -> {kind, list, part})`. */
export function parts(doc) {
  let all = found.get(doc);
  if (all) return all;
  all = new Map();
  for (const [list, kind] of Object.entries(LISTS)) {
    for (const part of doc[list]) all.set(part.id, { kind, list, part });
  }
  found.set(doc, all);
  return all;
}

export const partOf = (doc, id) => parts(doc).get(id)?.part;
export const kindOf = (doc, id) => parts(doc).get(id)?.kind;
export const collectorOf = (doc) => doc.items.find(({ type }) => type === "collector");

/** The grid's step (m). */
export const stepOf = (doc) => doc.grid?.step || 0.1;

/** A free id, from a letter and a number. */
export function freshId(doc, letter) {
  const all = parts(doc);
  let number = all.size + 1;
  while (all.has(`${letter}${number}`)) number += 1;
  return `${letter}${number}`;
}

/** Put a part into a list. */
export const withPart = (doc, list, part) => ({ ...doc, [list]: [...doc[list], part] });

/** Change a part: `change(part)` returns the new one, null removes it. */
export function edit(doc, id, change) {
  const entry = parts(doc).get(id);
  if (!entry) return doc;
  const next = change(entry.part);
  if (next === entry.part) return doc;
  const list = doc[entry.list].flatMap((part) => (part === entry.part ? (next ? [next] : []) : [part]));
  return { ...doc, [entry.list]: list };
}

/** Set fields of a part; undefined removes one. */
export const set = (doc, id, fields) => edit(doc, id, (part) => merged(part, fields));

function merged(part, fields) {
  const next = { ...part };
  for (const [key, value] of Object.entries(fields)) {
    if (value === undefined) delete next[key];
    else next[key] = value;
  }
  return next;
}

/** Set fields of several parts. */
export const setAll = (doc, ids, fields) => [...ids].reduce((now, id) => set(now, id, fields), doc);

/** Set fields of a part's `group`, such as the `hose` of an `opening`, given as `path`. */
export function setWithin(doc, id, path, fields) {
  const within = (part, [first, ...rest]) =>
    first === undefined ? merged(part ?? {}, fields) : { ...part, [first]: within(part?.[first], rest) };
  return edit(doc, id, (part) => within(part, path));
}

/** The ducts that end on a duct. */
export const inflows = (doc, id) => doc.ducts.filter(({ end }) => end?.to === "duct" && end.duct === id);

/** The gates on a duct. */
export const gatesOn = (doc, id) => doc.gates.filter(({ duct }) => duct === id);

/** An item's drawn gates: by the plan, and for existing ones by the system's list `machines`. */
export function gatesOf(doc, item, machines = []) {
  const own = machines.find(({ id }) => id === item.bound)?.gates;
  return doc.gates.filter((gate) => (own && gate.bound ? own.includes(gate.bound) : gate.items?.includes(item.id)));
}

/** The ducts that begin at an item: through one of its gates, or explicitly. */
export function ductsFrom(doc, item, machines = []) {
  const through = new Set(gatesOf(doc, item, machines).filter(({ mount }) => mount !== "inline").map(({ duct }) => duct));
  return doc.ducts.filter(({ id, start }) => start?.item === item.id || through.has(id));
}

/** Whether two documents have the same content. */
export const same = (one, other) => one === other || JSON.stringify(one) === JSON.stringify(other);
