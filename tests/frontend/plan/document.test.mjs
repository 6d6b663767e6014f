import assert from "node:assert/strict";
import { test } from "node:test";

import { shop } from "./shop.mjs";

const { edit, freshId, partOf, set, setWithin, gatesOf, ductsFrom } = await import(`${process.env.FRONTEND}/plan/document.js`);
const { History } = await import(`${process.env.FRONTEND}/plan/history.js`);

/** Freeze a document all through, so that whoever changes it fails. */
function frozen(value) {
  if (value && typeof value === "object") Object.values(Object.freeze(value)).forEach(frozen);
  return value;
}

test("an edit changes one part and shares the others", () => {
  const before = frozen(shop());
  const after = set(before, "d2", { diameter: 0.1 });
  assert.equal(partOf(before, "d2").diameter, 0.125);
  assert.equal(partOf(after, "d2").diameter, 0.1);
  assert.equal(partOf(after, "d1"), partOf(before, "d1"));
  assert.equal(after.items, before.items);
  assert.equal(set(before, "nothing", { diameter: 1 }), before);
  const within = setWithin(before, "g1", ["opening", "hose"], { length: 1.2 });
  assert.deepEqual(partOf(within, "g1").opening, { hood: "machine_port", hose: { length: 1.2 } });
  assert.deepEqual(partOf(setWithin(within, "g1", ["opening", "hose"], { length: undefined }), "g1").opening.hose, {});
  assert.equal(partOf(edit(before, "g1", () => null), "g1"), undefined);
});

test("keys that nobody knows are kept", () => {
  const before = frozen({ ...shop(), later: { a: 1 } });
  assert.deepEqual(set(before, "d2", { name: "x" }).later, { a: 1 });
});

test("a fresh id is nobody's", () => {
  const doc = { ...shop(), items: [{ id: "d7", type: "machine" }] };
  assert.notEqual(freshId(doc, "d"), "d7");
});

test("of what exists the system's own list of gates counts", () => {
  const doc = shop();
  const [saw] = doc.items.filter(({ id }) => id === "i1");
  assert.deepEqual(gatesOf(doc, saw, [{ id: "m1", gates: [] }]), []);
  assert.deepEqual(gatesOf(doc, saw, [{ id: "m1", gates: ["k1"] }]).map(({ id }) => id), ["g1"]);
  assert.deepEqual(ductsFrom(doc, saw, [{ id: "m1", gates: ["k1"] }]).map(({ id }) => id), ["d2"]);
});

test("at least 50 steps can be undone and done again", () => {
  const history = new History(frozen(shop()));
  for (let step = 1; step <= 60; step += 1) history.push(set(history.doc, "d1", { name: `Step ${step}` }));
  for (let step = 0; step < 60; step += 1) assert.ok(history.undo());
  assert.equal(history.canUndo, false);
  assert.equal(partOf(history.doc, "d1").name, "Main");
  for (let step = 0; step < 60; step += 1) assert.ok(history.redo());
  assert.equal(partOf(history.doc, "d1").name, "Step 60");
  history.undo();
  history.push(set(history.doc, "d1", { name: "Other" }));
  assert.equal(history.canRedo, false);
});

test("what is tried is shown, and counts once it is settled", () => {
  const history = new History(shop());
  for (const x of [1, 2, 3]) history.attempt(set(history.settled, "i1", { x }));
  assert.equal(partOf(history.doc, "i1").x, 3);
  history.drop();
  assert.equal(partOf(history.doc, "i1").x, 4);
  history.attempt(set(history.settled, "i1", { x: 5 }));
  assert.ok(history.settle());
  assert.equal(history.settle(), false);
  history.undo();
  assert.equal(partOf(history.doc, "i1").x, 4);
});

test("what is typed into one field is one step", () => {
  const history = new History(shop());
  for (const name of ["M", "Ma", "Mai"]) history.push(set(history.doc, "d1", { name }), "d1.name");
  history.push(set(history.doc, "d1", { diameter: 0.2 }), "d1.diameter");
  history.undo();
  assert.equal(partOf(history.doc, "d1").name, "Mai");
  history.undo();
  assert.equal(partOf(history.doc, "d1").name, "Main");
});
