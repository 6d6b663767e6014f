import assert from "node:assert/strict";
import { test } from "node:test";

const { Measure, gridOf } = await import(`${process.env.FRONTEND}/plan/measure.js`);

const metric = new Measure("metric", "en");
const us = new Measure("us", "en");
const near = (value, wanted) => assert.ok(Math.abs(value - wanted) < 1e-9, `${value} is not ${wanted}`);

test("the grid is 10 cm or 4 in", () => {
  assert.equal(gridOf("metric"), 0.1);
  near(gridOf("us"), 0.1016);
});

test("figures are told in the user's units", () => {
  assert.equal(metric.length(3.2), "3.2 m");
  assert.equal(us.length(3.2004), "10 ft 6 in");
  assert.equal(us.length(0.3048), "1 ft");
  assert.equal(us.length(0.127), "5 in");
  // 11.96 in is a foot to a tenth of an inch.
  assert.equal(us.length(11.96 * 0.0254), "1 ft");
  assert.equal(metric.diameter(0.125), "125 mm");
  assert.equal(us.diameter(0.1016), "4 in");
  assert.equal(new Measure("metric", "de").length(3.25), "3,25 m");
});

// Worked by hand from 1 ft = 0.3048 m and 1 in. w.g. = 249.089 Pa.
test("flows, velocities and pressures are converted", () => {
  assert.equal(metric.flow(0.25), "900 m³/h");
  assert.equal(us.flow(0.25), "530 cfm");
  assert.equal(metric.speed(20.32), "20.3 m/s");
  assert.equal(us.speed(20.32), "4,000 ft/min");
  assert.equal(metric.pressure(1847), "1,850 Pa");
  assert.equal(us.pressure(1847), "7.4 in. w.g.");
  near(us.readFlow("500"), (500 * 0.3048 ** 3) / 60);
  near(metric.readFlow("900"), 0.25);
});

test("lengths are read as people write them", () => {
  near(metric.readLength("3.2"), 3.2);
  near(metric.readLength("3,2 m"), 3.2);
  near(metric.readLength("320cm"), 3.2);
  near(metric.readLength("-0.5"), -0.5);
  near(metric.readDiameter("125"), 0.125);
  near(metric.readDiameter("12.5 cm"), 0.125);
  near(metric.readDiameter("5 in"), 0.127);
  for (const text of ["10' 6\"", "10 ft 6 in", "10' 6", "126", "10.5 ft", "126\""]) near(us.readLength(text), 3.2004);
  near(us.readLength("6 1/2"), 6.5 * 0.0254);
  near(us.readDiameter("4"), 0.1016);
});

test("what is no length is not taken for one", () => {
  for (const text of ["", "wide", "3 x 4", "4 5", "3 m m", "1/0"]) assert.equal(metric.readLength(text), null, text);
});

test("what is typed back is what was read", () => {
  for (const measure of [metric, us]) {
    for (const value of [0.1, 0.1016, 2.4, 3.2004]) assert.ok(Math.abs(measure.readLength(measure.typedLength(value)) - value) < 6e-4);
    near(measure.readDiameter(measure.typedDiameter(measure.us ? 0.1016 : 0.125)), measure.us ? 0.1016 : 0.125);
  }
});
