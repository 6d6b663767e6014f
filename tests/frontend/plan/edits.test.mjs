import assert from "node:assert/strict";
import { test } from "node:test";

import { kindOf, MACHINES, SETTINGS, shop } from "./shop.mjs";

const edits = await import(`${process.env.FRONTEND}/plan/edits.js`);
const shaping = await import(`${process.env.FRONTEND}/plan/shaping.js`);
const { inflows, partOf } = await import(`${process.env.FRONTEND}/plan/document.js`);
const { lengthOf, nearest, turnAt } = await import(`${process.env.FRONTEND}/plan/line.js`);
const { addDuct } = await import(`${process.env.FRONTEND}/plan/route.js`);
const { aim } = await import(`${process.env.FRONTEND}/plan/snap.js`);

const xyz = (doc, id) => partOf(doc, id).points.map(({ x, y, z }) => [x, y, z]);

/** Every end that leads to a duct lies on it, every one that begins at a machine begins there. */
function joined(doc) {
  for (const { id, points, end } of doc.ducts) {
    if (end?.to === "duct") assert.ok(nearest(partOf(doc, end.duct).points, points.at(-1)).distance < 0.02, `${id} ends beside ${end.duct}`);
  }
  for (const { duct, items, mount } of doc.gates) {
    if (mount !== "start" || !duct || !items.length) continue;
    const item = partOf(doc, items[0]);
    const [first] = partOf(doc, duct).points;
    assert.ok(Math.hypot(first.x - item.x, first.y - item.y) < 0.02, `${duct} begins beside ${item.id}`);
  }
}

function withPlaner() {
  const doc = shop();
  const to = aim(doc, { x: 6, y: 0.6 }, { reach: 0.2, kindOf, from: { x: 6, y: 3 } });
  return addDuct(doc, { item: partOf(doc, "i2"), point: { x: 6, y: 3 } }, [], to, SETTINGS).doc;
}

test("a machine that is moved takes its duct along, which stays straight", () => {
  const doc = edits.moveItem(shop(), "i1", { x: 5, y: 3.5 }, MACHINES);
  assert.deepEqual(xyz(doc, "d2"), [[5, 3.5, 1], [5, 3.5, 2.4], [5, 0.6, 2.4]]);
  joined(doc);
});

test("a machine that goes beyond the main keeps its duct, with a corner", () => {
  const doc = edits.moveItem(shop(), "i1", { x: 8, y: 3 }, MACHINES);
  joined(doc);
  const { points } = partOf(doc, "d2");
  for (let at = 1; at < points.length - 1; at += 1) assert.ok([0, 90].includes(Math.round(turnAt(points, at))));
});

test("the collector takes the main along, and the branches stay on it", () => {
  const doc = edits.moveItem(withPlaner(), "c", { x: 0.6, y: 1.6 });
  joined(doc);
  assert.deepEqual(xyz(doc, "d1").at(-1), [0.6, 1.6, 1.5]);
});

test("a leg that is pushed sideways takes the branches with it", () => {
  const doc = shaping.moveLeg(withPlaner(), "d1", 0, 0, -0.3);
  joined(doc);
  assert.equal(partOf(doc, "d1").points[0].y, 0.3);
  assert.deepEqual(xyz(doc, "d2").at(-1), [4, 0.3, 2.4]);
  assert.deepEqual(xyz(doc, "d1").at(-1), [0.6, 0.6, 1.5]);
});

test("a main of several ducts in a row is pushed as one", () => {
  const split = edits.split(edits.split(withPlaner(), "d1", 2), "d1", 0.5);
  assert.equal(split.ducts.length, 5);
  const doc = shaping.moveLeg(split, split.ducts[1].id, 0, 0, 0.4);
  joined(doc);
  const level = doc.ducts.filter(({ points }) => points.slice(0, 2).every(({ y }) => y === 1));
  assert.equal(level.length, 3);
  assert.deepEqual(xyz(doc, doc.ducts[1].id), [[6.5, 1, 2.4], [5, 1, 2.4]]);
  assert.equal(doc.ducts.reduce((sum, { points }) => sum + points.length, 0), split.ducts.reduce((sum, { points }) => sum + points.length, 0) + 1);
});

test("how a branch meets the main counts while its last leg keeps its way", () => {
  const doc = shop();
  doc.ducts[1].typed = { length: 9, entry_angle: 30 };
  assert.deepEqual(partOf(edits.moveItem(doc, "i1", { x: 4.2, y: 3 }, MACHINES), "d2").typed, { entry_angle: 30 });
});

test("a leg at a machine that is pushed gets a corner there", () => {
  const doc = shaping.moveLeg(shop(), "d2", 1, 0.5, 0);
  joined(doc);
  assert.deepEqual(xyz(doc, "d2"), [[4, 3, 1], [4, 3, 2.4], [4.5, 3, 2.4], [4.5, 0.6, 2.4]]);
});

test("a corner that is dragged carries what ends on it", () => {
  const doc = shaping.movePoint(withPlaner(), "d1", 0, { x: 8, y: 0.6 });
  joined(doc);
  assert.equal(partOf(doc, "d1").points[0].x, 8);
});

test("a duct of another height takes its branches up, and drops to what it joins", () => {
  const doc = shaping.setHeight(withPlaner(), "d1", 2.2);
  joined(doc);
  assert.deepEqual(xyz(doc, "d1"), [[7, 0.6, 2.2], [0.6, 0.6, 2.2], [0.6, 0.6, 1.5]]);
  assert.deepEqual(xyz(doc, "d2"), [[4, 3, 1], [4, 3, 2.2], [4, 0.6, 2.2]]);
  const branch = shaping.setHeight(shop(), "d2", 2);
  joined(branch);
  assert.deepEqual(xyz(branch, "d2"), [[4, 3, 1], [4, 3, 2], [4, 0.6, 2], [4, 0.6, 2.4]]);
  assert.equal(shaping.runHeight(partOf(branch, "d2")), 2);
});

test("a typed length is forgotten once the duct is dragged, and kept until then", () => {
  const doc = shop();
  doc.ducts[1].typed = { length: 9 };
  assert.deepEqual(partOf(edits.moveItem(doc, "i1", { x: 4.2, y: 3 }, MACHINES), "d2").typed, undefined);
  assert.equal(partOf(edits.moveItem(doc, "i2", { x: 7, y: 3 }), "d2").typed.length, 9);
});

test("a duct that is split is two, and one again when they are joined", () => {
  const before = withPlaner();
  before.gates.push({ id: "g9", bound: null, duct: "d1", mount: "inline", at: 4, items: [], opening: null });
  const doc = edits.split(before, "d1", 2);
  const [upper, lower] = [partOf(doc, "d1"), doc.ducts[1]];
  assert.equal(upper.bound, "b1");
  assert.equal(lower.bound, null);
  assert.deepEqual(upper.end, { to: "duct", duct: lower.id, as: "run" });
  assert.deepEqual(lower.end, { to: "collector" });
  assert.equal(lengthOf(upper.points) + lengthOf(lower.points), lengthOf(partOf(before, "d1").points));
  joined(doc);
  // The band saw's branch meets the main beyond the cut, the planer's before it.
  assert.deepEqual([inflows(doc, lower.id).map(({ id }) => id), inflows(doc, "d1").length], [["d1", "d2"], 1]);
  assert.deepEqual([partOf(doc, "g9").duct, partOf(doc, "g9").at], [lower.id, 2]);
  const again = edits.join(doc, "d1");
  assert.deepEqual(partOf(again, "d1"), partOf(before, "d1"));
  assert.deepEqual([partOf(again, "g9").duct, partOf(again, "g9").at], ["d1", 4]);
  joined(again);
});

test("what is joined stays as wide as it was", () => {
  const doc = edits.split(withPlaner(), "d1", 2);
  const lower = partOf(doc, "d1").end.duct;
  const wider = { ...doc, ducts: doc.ducts.map((duct) => (duct.id === lower ? { ...duct, diameter: 0.2 } : duct)) };
  const { points, diameter } = partOf(edits.join(wider, "d1"), "d1");
  assert.equal(diameter, 0.16);
  assert.deepEqual(points.map(({ pipe }) => pipe?.diameter ?? null), [null, 0.2, 0.2, null]);
});

test("what hung on a removed part says that it leads nowhere", () => {
  const doc = edits.remove(shop(), ["d1", "i1"]);
  assert.equal(partOf(doc, "d2").end, null);
  assert.deepEqual(partOf(doc, "g1").items, []);
  assert.equal(edits.remove(shop(), ["d2"]).gates.length, 0);
  assert.equal(edits.remove(shop(), ["c"]).ducts[0].end, null);
});

test("a copied run has its machine, its gate, and ends beside the first", () => {
  const { dx, dy } = edits.besides(shop(), ["i1", "d2"], 1);
  const { doc, ids } = edits.copy(shop(), ["i1", "d2"], dx, dy);
  joined(doc);
  assert.equal(ids.length, 3);
  const duct = partOf(doc, ids[1]);
  assert.deepEqual([duct.bound, duct.name, duct.end.duct], [null, "Band saw branch 2", "d1"]);
  assert.equal(duct.points[0].x, 5);
  assert.deepEqual(partOf(doc, ids[2]).items, [ids[0]]);
});

test("what is chosen moves together, and what is joined to it follows", () => {
  const doc = edits.moveAll(withPlaner(), ["c", "d1", "i1", "i2"], 0, 0.2, MACHINES);
  joined(doc);
  assert.equal(partOf(doc, "d1").points[0].y, 0.8);
  assert.equal(partOf(doc, "i2").y, 3.2);
  const alone = edits.moveAll(withPlaner(), ["i1"], 0.3, 0, MACHINES);
  joined(alone);
});

test("the room is a rectangle of typed or dragged sizes", () => {
  const doc = edits.setRoom(shop(), { x: 1, y: 1, width: 5, depth: 4 });
  assert.deepEqual(edits.roomBox(doc), { x: 1, y: 1, width: 5, depth: 4 });
  assert.equal(doc.room.height, 2.7);
  assert.equal(edits.roomBox({ room: { outline: [] } }), null);
});
