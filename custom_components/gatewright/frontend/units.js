/** Airflow figures: SI from Home Assistant, shown in the user's units. */
import { numberText, percentText } from "./figures.js";

const CFM = 60 / 0.3048 ** 3; // ft3/min in one m3/s.
const FPM = 60 / 0.3048; // ft/min in one m/s.

const inFeet = (hass) => hass.config?.unit_system?.length === "mi";

function show(hass, value, unit) {
  return `${numberText(hass.language, value, Math.abs(value) < 10 ? 1 : 0)} ${unit}`;
}

/** A flow in m3/s as text. */
export function flowText(hass, flow) {
  return inFeet(hass)
    ? show(hass, Math.round((flow * CFM) / 5) * 5, "cfm")
    : show(hass, Math.round((flow * 3600) / 10) * 10, "m³/h");
}

/** A velocity in m/s as text. */
export function speedText(hass, speed) {
  return inFeet(hass)
    ? show(hass, Math.round((speed * FPM) / 10) * 10, "ft/min")
    : show(hass, speed, "m/s");
}

/**
 * A share of time, 0 to 1, as text: to a tenth of a percent and rounded down, like our entities. Nobody should read
 * 100 % if a second was missing.
 */
export function shareText(hass, share) {
  // A share's binary rounding error is no tenth.
  const floored = Math.floor((share + 1e-9) * 1000) / 1000;
  return percentText(hass.language, floored, 1);
}
