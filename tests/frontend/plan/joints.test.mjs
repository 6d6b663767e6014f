import assert from "node:assert/strict";
import { test } from "node:test";

import { MACHINES, shop } from "./shop.mjs";

const { partOf, set } = await import(`${process.env.FRONTEND}/plan/document.js`);
const { jointAngle, retuned } = await import(`${process.env.FRONTEND}/plan/joints.js`);
const { PlanModel } = await import(`${process.env.FRONTEND}/plan/model.js`);
const { moveItem } = await import(`${process.env.FRONTEND}/plan/edits.js`);
const { movePoint } = await import(`${process.env.FRONTEND}/plan/shaping.js`);
const { leadTo, ofMake, ofMaterial, setElbow, setLeg, setMeasured } = await import(`${process.env.FRONTEND}/plan/part-edits.js`);

const measured = () => set(shop(), "d2", { typed: { entry_angle: 30, length: 4 } });
const typedOf = (doc) => partOf(doc, "d2").typed;

test("the angle is that between the last leg and what it joins", () => {
  assert.equal(jointAngle(shop(), partOf(shop(), "d2")), 90);
  assert.equal(jointAngle(shop(), partOf(shop(), "d1")), null);
});

test("a main that turns makes a measured entry untrue, one that is only drawn anew does not", () => {
  const before = measured();
  const turned = movePoint(before, "d1", 0, { x: 7, y: 2 });
  assert.equal(typedOf(retuned(before, turned))?.entry_angle, undefined);
  const aside = { ...before, ducts: before.ducts.map((duct) => (duct.id === "d1" ? { ...duct, points: duct.points.map((point) => ({ ...point })) } : duct)) };
  assert.deepEqual(typedOf(retuned(before, aside)), { entry_angle: 30, length: 4 });
});

test("what moves along and what is typed just now stays", () => {
  const before = measured();
  const along = moveItem(before, "i1", { x: 4.5, y: 3 }, MACHINES);
  assert.equal(typedOf(retuned(before, along)).entry_angle, 30);
  const typed = setMeasured(before, "d2", { entry_angle: 45 });
  assert.equal(typedOf(retuned(before, typed)).entry_angle, 45);
  assert.equal(retuned(before, before), before);
});

test("a branch that leads elsewhere has another entry", () => {
  const before = measured();
  const other = leadTo(before, "d2", "collector");
  assert.equal(partOf(retuned(before, other), "d2").typed?.entry_angle, undefined);
});

test("the model takes it out while dragging and when a step is taken", () => {
  const model = new PlanModel();
  model.editable = true;
  model.take(measured());
  model.attempt(movePoint(measured(), "d1", 0, { x: 7, y: 2 }));
  assert.equal(typedOf(model.doc)?.entry_angle, undefined);
  model.drop();
  assert.equal(typedOf(model.doc).entry_angle, 30);
  model.change(movePoint(model.doc, "d1", 0, { x: 7, y: 2 }));
  assert.equal(typedOf(model.doc)?.entry_angle, undefined);
  model.undo();
  assert.equal(typedOf(model.doc).entry_angle, 30);
});

test("one leg and one elbow are made otherwise, and the whole duct again", () => {
  let doc = setLeg(shop(), "d1", 0, { material: "flexible" });
  doc = setLeg(doc, "d1", 0, { diameter: 0.2 });
  doc = setElbow(doc, "d1", 1, "mitered");
  assert.deepEqual(partOf(doc, "d1").points[0].pipe, { material: "flexible", diameter: 0.2 });
  assert.deepEqual(partOf(doc, "d1").points[1].elbow, { construction: "mitered", radius: 1.5 });
  assert.deepEqual(partOf(ofMaterial(doc, "d1", "spiral"), "d1").points[0].pipe, { diameter: 0.2 });
  assert.equal(partOf(ofMake(doc, "d1", { construction: "five_piece" }), "d1").points[1].elbow, undefined);
  const back = setElbow(setLeg(doc, "d1", 0, { material: undefined, diameter: undefined }), "d1", 1, undefined);
  assert.deepEqual(back, shop());
});
