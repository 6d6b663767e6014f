import assert from "node:assert/strict";
import { test } from "node:test";

const line = await import(`${process.env.FRONTEND}/plan/line.js`);

const bend = [
  { x: 0, y: 0, z: 1 },
  { x: 0, y: 0, z: 2 },
  { x: 3, y: 0, z: 2 },
  { x: 3, y: 4, z: 2 },
];

test("a length is the sum of the legs, drops and rises counted", () => {
  assert.equal(line.lengthOf(bend), 8);
  assert.deepEqual(line.marks(bend), [0, 1, 4, 8]);
});

test("a place is told by its distance along the line", () => {
  assert.deepEqual(line.pointAt(bend, 2.5), { x: 1.5, y: 0, z: 2 });
  assert.deepEqual(line.pointAt(bend, 99), { x: 3, y: 4, z: 2 });
  assert.equal(line.legAt(bend, 4), 2);
  const near = line.nearest(bend, { x: 2, y: 0.5, z: 2 });
  assert.deepEqual([near.place, near.distance, near.leg], [3, 0.5, 1]);
  // From above, the height makes no difference.
  assert.equal(line.nearest(bend, { x: 2, y: 0.5, z: 0 }, { flat: true }).distance, 0.5);
});

test("a stretch has the corners that lie within it", () => {
  assert.deepEqual(line.stretch(bend, 0.5, 5).map(({ x, y, z }) => [x, y, z]), [[0, 0, 1.5], [0, 0, 2], [3, 0, 2], [3, 1, 2]]);
});

test("corners are elbows from 3 degrees on", () => {
  assert.deepEqual(line.corners(bend), [{ at: 1, angle: 90 }, { at: 2, angle: 90 }]);
  const slight = (degrees) => [{ x: 0, y: 0 }, { x: 1, y: 0 }, { x: 1 + Math.cos((degrees * Math.PI) / 180), y: Math.sin((degrees * Math.PI) / 180) }];
  assert.equal(line.corners(slight(2)).length, 0);
  const [corner] = line.corners(slight(45));
  assert.ok(Math.abs(corner.angle - 45) < 1e-9);
});
