/**
 * Lengths, diameters, flows, velocities and pressures as the user reads and types them.
 *
 * SI inside: m, m3/s, m/s, Pa. The inch is 0.0254 m exactly (international yard and pound agreement of 1959); an
 * inch of water is 249.089 Pa (NIST SP 811, appendix B.8, conventional).
 */
import { numberText } from "../figures.js";

const INCH = 0.0254;
const FOOT = 12 * INCH;
const WATER = 249.089;
const SIXTEENTHS = 16;

/** The grid's step (m) in a system of units: 10 cm, or 4 in. */
export const gridOf = (units) => (units === "us" ? 4 * INCH : 0.1);

/** Formats and parses figures in one language and one system of units, `metric` or `us`. */
export class Measure {
  constructor(units, language) {
    this.us = units === "us";
    this._language = language;
  }

  _number(value, digits) {
    return numberText(this._language, value, digits);
  }

  /** A length in m: `3.2 m`, or `10 ft 6 in`. */
  length(value) {
    if (!this.us) return `${this._number(round(value, 2), 2)} m`;
    const sign = value < 0 ? "-" : "";
    const inches = round(Math.abs(value) / INCH, 1);
    const feet = Math.floor(inches / 12 + 1e-9);
    const rest = round(inches - 12 * feet, 1);
    if (!feet) return `${sign}${this._number(rest, 1)} in`;
    return rest ? `${sign}${feet} ft ${this._number(rest, 1)} in` : `${sign}${feet} ft`;
  }

  /** A diameter in m: `125 mm`, or `5 in`. */
  diameter(value) {
    if (!this.us) return `${this._number(round(value * 1000, 0), 0)} mm`;
    return `${this._number(Math.round((value / INCH) * SIXTEENTHS) / SIXTEENTHS, 3)} in`;
  }

  /** A flow in m3/s: `850 m³/h`, or `500 cfm`. */
  flow(value) {
    if (!this.us) return `${this._number(Math.round((value * 3600) / 10) * 10, 0)} m³/h`;
    return `${this._number(Math.round((value * 60) / FOOT ** 3 / 5) * 5, 0)} cfm`;
  }

  /** A velocity in m/s: `19.5 m/s`, or `3,840 ft/min`. */
  speed(value) {
    if (!this.us) return `${this._number(round(value, 1), 1)} m/s`;
    return `${this._number(Math.round((value * 60) / FOOT / 10) * 10, 0)} ft/min`;
  }

  /** A pressure in Pa: `1,850 Pa`, or `7.4 in. w.g.`. */
  pressure(value) {
    if (!this.us) return `${this._number(Math.round(value / 10) * 10, 0)} Pa`;
    return `${this._number(round(value / WATER, 1), 1)} in. w.g.`;
  }

  /** The unit of a typed length without one. */
  get lengthUnit() {
    return this.us ? "in" : "m";
  }

  get diameterUnit() {
    return this.us ? "in" : "mm";
  }

  get flowUnit() {
    return this.us ? "cfm" : "m³/h";
  }

  /** A flow in m3/s for a field, without its unit. */
  typedFlow(value) {
    return String(this.us ? round((value * 60) / FOOT ** 3, 1) : round(value * 3600, 1));
  }

  /** Parse a typed flow in m3/s; null if it's invalid. */
  readFlow(text) {
    const value = numeral(text);
    if (value === null) return null;
    return this.us ? (value * FOOT ** 3) / 60 : value / 3600;
  }

  /** A length in m for a field, without its unit. */
  typedLength(value) {
    return String(this.us ? round(value / INCH, 2) : round(value, 3));
  }

  typedDiameter(value) {
    return String(this.us ? round(value / INCH, 3) : round(value * 1000, 1));
  }

  /** Parse a typed length in m: `3.2`, `3,2 m`, `320 cm`, `10' 6"`, `10 ft 6 1/2 in`; null if it's invalid. */
  readLength(text) {
    return read(text, this.us ? INCH : 1);
  }

  /** Parse a typed diameter in m: `125`, `12.5 cm`, `5 in`, `6"`; null if it's invalid. */
  readDiameter(text) {
    return read(text, this.us ? INCH : 0.001);
  }
}

const UNITS = { mm: 0.001, cm: 0.01, m: 1, in: INCH, '"': INCH, "″": INCH, ft: FOOT, "'": FOOT, "′": FOOT };

/** Parse a number with a point or a comma, and an optional fraction; null if it's invalid. */
function numeral(text) {
  const match = /^\s*(-?\d*[.,]?\d+|-?\d+[.,]?)(?:\s+(\d+)\/(\d+))?\s*$/.exec(text);
  if (match) {
    const whole = Number(match[1].replace(",", "."));
    const part = match[2] ? Number(match[2]) / Number(match[3]) : 0;
    const value = whole < 0 ? whole - part : whole + part;
    return Number.isFinite(value) ? value : null;
  }
  const fraction = /^\s*(\d+)\/(\d+)\s*$/.exec(text);
  if (!fraction) return null;
  const value = Number(fraction[1]) / Number(fraction[2]);
  return Number.isFinite(value) ? value : null;
}

/** Parse a length; a figure without a unit is in `unit` (m), one after feet in inches. */
function read(text, unit) {
  const clean = String(text).trim().toLowerCase();
  if (!clean) return null;
  const negative = clean.startsWith("-");
  let rest = negative ? clean.slice(1) : clean;
  let sum = 0;
  let usual = unit;
  while (rest.trim()) {
    const match = /^\s*(\d[\d.,]*(?:\s+\d+\/\d+)?|[.,]\d+|\d+\/\d+)\s*(mm|cm|m|in|ft|"|″|'|′)?/.exec(rest);
    const value = match && numeral(match[1]);
    if (value === null || value === undefined) return null;
    const factor = match[2] ? UNITS[match[2]] : usual;
    if (factor === undefined) return null;
    if (!match[2] && match[0].length < rest.trimEnd().length) return null;
    sum += value * factor;
    usual = factor === FOOT ? INCH : undefined;
    rest = rest.slice(match[0].length);
  }
  return negative ? -sum : sum;
}

function round(value, digits) {
  return Number(value.toFixed(digits));
}
