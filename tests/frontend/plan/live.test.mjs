import assert from "node:assert/strict";
import { test } from "node:test";

import { kindOf, shop } from "./shop.mjs";

const { gateSpots } = await import(`${process.env.FRONTEND}/plan/gate-spots.js`);
const { apartFlat, lengthOf } = await import(`${process.env.FRONTEND}/plan/line.js`);
const { turned } = await import(`${process.env.FRONTEND}/plan/turned.js`);
const { hosesOf } = await import(`${process.env.FRONTEND}/plan/scene-parts.js`);
const { ShopNow } = await import(`${process.env.FRONTEND}/plan/live-scene.js`);

const gate = (id, more = {}) => ({ id, bound: `k${id}`, duct: "d1", mount: "start", at: 0, items: [], opening: {}, ...more });

/** The shop with more gates on its main. */
const crowded = (...gates) => ({ ...shop(), gates: [...shop().gates, ...gates] });

test("gates that have one place are drawn apart, in their order, on their duct", () => {
  const doc = crowded(gate("a"), gate("b"), gate("e", { mount: "inline", at: 0.2 }), gate("f"));
  const spots = gateSpots(doc);
  assert.deepEqual([...spots.keys()].sort(), ["a", "b", "e", "f", "g1"]);
  const own = ["a", "b", "e", "f"].map((id) => spots.get(id));
  own.forEach((one, at) => own.slice(at + 1).forEach((other) => assert.ok(apartFlat(one, other) > 0.39)));
  for (const { y } of own) assert.equal(y, 0.6);
  // What is across the duct near its beginning comes before what was moved on.
  assert.ok(spots.get("e").x > spots.get("a").x);
  assert.equal(gateSpots(doc), spots, "nothing is worked out twice");
});

test("on a short duct they are closer, and none lies beyond its end", () => {
  const duct = { ...shop().ducts[0], id: "s", points: [{ x: 0, y: 0 }, { x: 1, y: 0 }] };
  const gates = ["a", "b", "e", "f", "h"].map((id) => gate(id, { duct: "s" }));
  const spots = [...gateSpots({ ...shop(), ducts: [duct], gates }).values()];
  const places = spots.map(({ x }) => x).sort((one, other) => one - other);
  assert.ok(places[0] > 0 && places.at(-1) <= lengthOf(duct.points));
  places.slice(1).forEach((x, at) => assert.ok(x - places[at] > 0.05));
});

test("gates with places of their own stay there", () => {
  const doc = crowded(gate("a", { mount: "inline", at: 1 }), gate("b", { mount: "inline", at: 2.5 }), gate("e", { duct: "nothing" }));
  const spots = gateSpots(doc);
  assert.ok(Math.abs(spots.get("a").x - 6) < 1e-9);
  assert.ok(Math.abs(spots.get("b").x - 4.5) < 1e-9);
  assert.equal(spots.has("e"), false);
});

test("a hose is drawn to a machine that no duct begins at", () => {
  const doc = crowded(gate("a", { items: ["i2"], mount: "side", at: 1 }));
  const hoses = hosesOf(doc, gateSpots(doc), kindOf);
  assert.equal(hoses.match(/M/g).length, 1, "the band saw has a duct of its own");
  const [x, y, toX, toY] = hoses.match(/-?[\d.]+/g).map(Number);
  assert.deepEqual([x, y, toX], [600, 60, 600]);
  assert.ok(toY > 240 && toY < 300, "it ends at the machine's edge");
});

test("a turned plan has the same lengths and angles", () => {
  const doc = shop();
  const other = turned(doc);
  doc.ducts.forEach(({ points }, at) => assert.ok(Math.abs(lengthOf(points) - lengthOf(other.ducts[at].points)) < 1e-9));
  assert.deepEqual([other.items[1].x, other.items[1].y, other.items[1].turn], [-3, 4, 90]);
  assert.deepEqual(other.room.outline[1], [-0, 9]);
  assert.equal(turned(turned(turned(other))).items[1].x, 4);
});

const picture = (more = {}) => ({
  system: { turning: true, name: "Collector" },
  machines: new Map([["m1", { id: "m1", running: true, air: true }]]),
  gates: new Map([["k1", { stand: "open" }], ["ka", { stand: "opening" }], ["kb", { stand: "shut", fault: "failed" }]]),
  ...more,
});
const WORDS = {
  machine: ({ air }) => ({ tone: air ? "good" : "bad" }),
  collector: () => ({ tone: "off", text: "resting" }),
  gate: ({ stand, fault }) => ({ tone: "off", text: fault ?? stand }),
  flow: (value) => `${value} flow`,
};
const FLOWS = { ducts: { b1: { speed: 12, slow: true } }, machines: { m1: { flow: 0.2 } } };

test("what runs and flows is shown as Home Assistant sees it", () => {
  const doc = crowded(gate("a"), gate("b"));
  const now = new ShopNow(doc, picture(), FLOWS, WORDS);
  assert.deepEqual(now.item(doc.items[1]), { running: true, wrong: "good", figure: "0.2 flow" });
  assert.deepEqual(now.item(doc.items[0]), { running: true, wrong: null, figure: "resting" });
  assert.deepEqual(now.item(doc.items[2]), {}, "a machine that nobody may see");
  assert.equal(now.duct(doc.ducts[0]).rows[0].verdict, "too_little");
  // Nothing is known of the branch, but its gate is open.
  assert.equal(now.duct(doc.ducts[1]).rows[0].verdict, null);
  const still = new ShopNow(doc, picture({ system: { turning: false } }), FLOWS, WORDS);
  assert.equal(still.duct(doc.ducts[0]).rows, null);
  const shut = new ShopNow(doc, picture({ gates: new Map([["k1", { stand: "shut" }]]) }), null, WORDS);
  assert.deepEqual(doc.ducts.map((duct) => shut.duct(duct).rows), [null, null]);
});

test("a gate that moves or fails says so in words", () => {
  const doc = crowded(gate("a"), gate("b"));
  const now = new ShopNow(doc, picture(), FLOWS, WORDS);
  const [open, moving, failed] = doc.gates.map((one) => now.gate(one));
  assert.deepEqual([open.open, open.moving, open.figure], [true, false, ""]);
  assert.deepEqual([moving.open, moving.moving, moving.figure], [false, true, "opening"]);
  assert.deepEqual([failed.wrong, failed.figure], ["bad", "failed"]);
});
