import assert from "node:assert/strict";
import { test } from "node:test";

import { kindOf, SETTINGS, shop } from "./shop.mjs";

const { addDuct, addGate, addItem, usualDiameter, way } = await import(`${process.env.FRONTEND}/plan/route.js`);
const { partOf } = await import(`${process.env.FRONTEND}/plan/document.js`);
const { aim } = await import(`${process.env.FRONTEND}/plan/snap.js`);

const look = { reach: 0.2, kindOf };
const xyz = ({ points }) => points.map(({ x, y, z }) => [x, y, z]);
const planer = (doc) => ({ item: partOf(doc, "i2"), point: { x: 6, y: 3 } });

test("from a machine to the main: a drop, a run, a branch, and the machine's gate", () => {
  const doc = shop();
  const to = aim(doc, { x: 6, y: 0.6 }, { ...look, from: { x: 6, y: 3 } });
  const { doc: next, id } = addDuct(doc, planer(doc), [], to, SETTINGS);
  const duct = partOf(next, id);
  assert.deepEqual(xyz(duct), [[6, 3, 1], [6, 3, 2.4], [6, 0.6, 2.4]]);
  assert.deepEqual(duct.end, { to: "duct", duct: "d1", wye: 45 });
  const gate = next.gates.at(-1);
  assert.deepEqual([gate.bound, gate.duct, gate.mount, gate.items, gate.seal], ["k2", id, "start", ["i2"], "usual"]);
  // Its second gate comes with a second duct, a third duct has none.
  const second = addDuct(next, planer(next), [{ x: 6.5, y: 3 }], to, SETTINGS);
  assert.equal(second.doc.gates.at(-1).bound, "k3");
  const third = addDuct(second.doc, planer(next), [{ x: 6.7, y: 3 }], to, SETTINGS);
  assert.equal(third.doc.gates.length, second.doc.gates.length);
  assert.deepEqual(partOf(third.doc, third.id).start, { item: "i2" });
});

test("air flows to the collector, whichever end was drawn first", () => {
  const doc = { ...shop(), ducts: [], gates: [] };
  const collector = { item: partOf(doc, "c"), point: { x: 0.6, y: 0.6 } };
  const { doc: next, id } = addDuct(doc, collector, [{ x: 0.6, y: 3 }], planer(doc), SETTINGS);
  assert.deepEqual(xyz(partOf(next, id)), [[6, 3, 1], [6, 3, 2.4], [0.6, 3, 2.4], [0.6, 0.6, 2.4], [0.6, 0.6, 1.5]]);
  assert.deepEqual(partOf(next, id).end, { to: "collector" });
});

test("a branch lies at the height of what it joins", () => {
  const doc = shop();
  const low = { ...doc, ducts: [{ ...doc.ducts[0], points: doc.ducts[0].points.map((point) => ({ ...point, z: 0.3 })) }] };
  const to = aim(low, { x: 6, y: 0.6 }, { ...look, from: { x: 6, y: 3 } });
  const { doc: next, id } = addDuct(low, planer(low), [], to, SETTINGS);
  assert.deepEqual(xyz(partOf(next, id)), [[6, 3, 1], [6, 3, 0.3], [6, 0.6, 0.3]]);
});

test("a slanting last leg gets a corner, a straight one or one at 45 degrees none", () => {
  const from = { point: { x: 0, y: 0 } };
  const item = { item: {}, point: { x: 5, y: 2 } };
  assert.deepEqual(way(from, [], item), [{ x: 0, y: 0 }, { x: 5, y: 0 }, { x: 5, y: 2 }]);
  assert.equal(way(from, [], { ...item, point: { x: 2, y: 2 } }).length, 2);
  assert.equal(way(from, [], { ...item, point: { x: 2, y: 0 } }).length, 2);
  // Square to the duct that it joins.
  const duct = { points: [{ x: 5, y: 5 }, { x: 5, y: 0 }] };
  assert.deepEqual(way(from, [], { duct, leg: 0, point: { x: 5, y: 2 } })[1], { x: 0, y: 2 });
});

test("a loose end is drawn on", () => {
  const doc = { ...shop(), ducts: [], gates: [] };
  const first = addDuct(doc, planer(doc), [], { point: { x: 6, y: 1 } }, SETTINGS);
  assert.equal(partOf(first.doc, first.id).end, null);
  const from = aim(first.doc, { x: 6, y: 1 }, look);
  const to = { item: partOf(doc, "c"), point: { x: 0.6, y: 0.6 } };
  const { doc: next, id } = addDuct(first.doc, from, [], to, SETTINGS);
  assert.equal(id, first.id);
  assert.deepEqual(partOf(next, id).end, { to: "collector" });
  assert.equal(next.ducts.length, 1);
});

test("a planned machine's gate is planned too", () => {
  const blank = { ...shop(), ducts: [], gates: [], items: shop().items.slice(0, 1) };
  const added = addItem(blank, { type: "machine", bound: null, name: "Lathe", kind: "lathe" }, { x: 3, y: 3 });
  const item = partOf(added.doc, added.id);
  const { doc } = addDuct(added.doc, { item, point: { x: 3, y: 3 } }, [], { item: blank.items[0], point: { x: 0.6, y: 0.6 } }, SETTINGS);
  assert.deepEqual([doc.gates[0].bound, doc.gates[0].name, doc.gates[0].kind], [null, "Lathe gate", "powered"]);
});

test("nothing is put on the plan twice", () => {
  const doc = shop();
  assert.equal(addItem(doc, { type: "machine", bound: "m1" }, { x: 1, y: 1 }).doc, doc);
  assert.equal(addItem(doc, { type: "collector" }, { x: 1, y: 1 }).doc, doc);
  const moved = addGate(doc, "d1", 2, { bound: "k1", items: ["i1"] });
  assert.equal(moved.doc.gates.length, 1);
  assert.deepEqual([moved.doc.gates[0].duct, moved.doc.gates[0].mount], ["d1", "side"]);
  assert.equal(addGate(doc, "d1", 2, { bound: "k9" }).doc.gates.at(-1).opening, null);
});

// 0.25 m3/s at 20 m/s: 0.126 m in diameter, by A = Q / v.
test("a branch is as wide as its machine's flow at 20 m/s asks for", () => {
  assert.equal(usualDiameter([0.08, 0.1, 0.125, 0.16], 0.25, 0.1), 0.125);
  assert.equal(usualDiameter([0.08, 0.1], 0.02, 0.1), 0.08);
  assert.equal(usualDiameter([0.08, 0.1, 0.125], null, 0.1), 0.1);
});
