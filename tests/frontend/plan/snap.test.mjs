import assert from "node:assert/strict";
import { test } from "node:test";

import { kindOf, shop } from "./shop.mjs";

const { aim, hit, onAngle, onGrid, toGrid, isOn, extent } = await import(`${process.env.FRONTEND}/plan/snap.js`);
const { gatePoint } = await import(`${process.env.FRONTEND}/plan/gate-spots.js`);

test("a point goes to the grid", () => {
  assert.deepEqual(onGrid({ x: 1.2345, y: -0.06 }, 0.1), { x: 1.2, y: -0.1 });
  assert.equal(toGrid(0.25, 0.1016), 0.2032);
});

test("a leg goes to 45 and 90 degrees", () => {
  assert.deepEqual(onAngle({ x: 0, y: 0 }, { x: 3.04, y: 0.2 }, 0.1), { x: 3, y: 0 });
  assert.deepEqual(onAngle({ x: 0, y: 0 }, { x: 2.1, y: 1.9 }, 0.1), { x: 2, y: 2 });
  assert.deepEqual(onAngle({ x: 1, y: 1 }, { x: 1.1, y: -2 }, 0.1), { x: 1, y: -2 });
});

test("a machine is met over its whole box, also when it is turned", () => {
  const jointer = { id: "j", type: "machine", kind: "jointer", x: 0, y: 0, width: 2, depth: 0.5 };
  assert.ok(isOn(jointer, { x: 0.9, y: 0.2 }));
  assert.ok(!isOn(jointer, { x: 0.2, y: 0.9 }));
  assert.ok(isOn({ ...jointer, turn: 90 }, { x: 0.2, y: 0.9 }));
});

test("a duct that is drawn to another meets it squarely where it is near", () => {
  const from = { x: 6, y: 3 };
  const near = aim(shop(), { x: 5.9, y: 0.68 }, { from, reach: 0.2, kindOf });
  assert.equal(near.duct.id, "d1");
  assert.deepEqual([near.point.x, near.point.y], [6, 0.6]);
  assert.ok(Math.abs(near.place - 1) < 1e-9);
  // Some way off it is meant to go there, on the grid.
  const far = aim(shop(), { x: 5.13, y: 0.6 }, { from, reach: 0.2, kindOf });
  assert.deepEqual([far.point.x, far.point.y], [5.1, 0.6]);
});

test("over a machine it is the machine that is meant, else the floor", () => {
  assert.equal(aim(shop(), { x: 4.1, y: 3.1 }, { reach: 0.2, kindOf }).item.id, "i1");
  assert.deepEqual(aim(shop(), { x: 2.04, y: 4.96 }, { reach: 0.2, kindOf }), { point: { x: 2, y: 5 } });
  assert.deepEqual(aim(shop(), { x: 3.96, y: 4.46 }, { from: { x: 4, y: 3 }, reach: 0.2, kindOf }), { point: { x: 4, y: 4.5 } });
});

test("what is under a finger is found: a gate before a duct before an item", () => {
  const doc = shop();
  const how = { reach: 0.15, kindOf };
  const gate = gatePoint(doc, doc.gates[0]);
  assert.ok(gate.y < 3 - 0.4, "a gate is shown beside its machine");
  assert.equal(hit(doc, gate, how).id, "g1");
  assert.equal(hit(doc, { x: 5, y: 0.7 }, how).id, "d1");
  assert.equal(hit(doc, { x: 4.2, y: 3.1 }, how).id, "i1");
  assert.equal(hit(doc, { x: 8, y: 5 }, how), null);
});

test("the drawing is as large as what is on it", () => {
  const box = extent(shop(), 0.5);
  assert.deepEqual(box, { x: -0.5, y: -0.5, width: 10, height: 7 });
  assert.ok(extent({ items: [], ducts: [], gates: [] }).width > 2);
});
