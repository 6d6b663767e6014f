/** Texts in the user's language, from the integration's own translations. */
import { numberText, pluralOf } from "./figures.js";

const CATEGORY = "config_panel";
const START = `component.gatewright.${CATEGORY}.`;
const loaded = new Map();
const asked = new Map();

/** The language of a locale such as `de-CH`. */
export const base = (language) => (language || "en").toLowerCase().split(/[-_]/)[0];

/** Load a language over a connection; returns whether it came, so that a card draws again. */
export async function load(connection, language) {
  if (loaded.has(language)) return false;
  if (!asked.has(language)) asked.set(language, ask(connection, language).finally(() => asked.delete(language)));
  return asked.get(language);
}

/** Fetch the texts of a language; Home Assistant fills gaps with English. */
async function ask(connection, language) {
  const type = "frontend/get_translations";
  try {
    const answer = await connection.sendMessagePromise({ type, language, category: CATEGORY, integration: "gatewright" });
    loaded.set(language, answer.resources);
    return true;
  } catch {
    // Not now: the next user of the texts fetches them again.
    return false;
  }
}

/** Return the translate function of a language, `t(key, values)`; null before it's loaded. */
export function translator(language) {
  const texts = loaded.get(language) ?? loaded.get(base(language));
  if (!texts) return null;
  return (key, values = {}) => {
    const text = texts[START + key] ?? plural(texts, START + key, values.count);
    return text?.replace(/\{(\w+)\}/g, (gap, what) => {
      const value = values[what];
      return typeof value === "number" ? numberText(language, value) : (value ?? gap);
    });
  };
}

/** The text for a count, `_one` or `_other` and so on; undefined without one. */
function plural(texts, key, count) {
  const other = texts[`${key}_other`];
  // The plural follows the language of the texts, which may not be the user's.
  return other && (texts[`${key}_${pluralOf(texts[`${START}language.code`], count)}`] ?? other);
}

/** Remaining seconds as text: `12 s`, from two minutes on `2:05`. */
export function left(t, seconds) {
  const whole = Math.max(0, Math.ceil(seconds - 0.05));
  if (whole < 120) return t("time.s", { s: whole });
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/** A duration as text: `1 h 5 min`. */
export function span(t, seconds) {
  if (seconds < 60) return t("time.s", { s: Math.round(seconds) });
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return t("time.m", { m: minutes });
  return t("time.hm", { h: Math.floor(minutes / 60), m: minutes % 60 });
}
