/** Words in the language of the hub's user; English stands in for what is missing. */
import { numberText, pluralOf } from "./figures.js";
import en from "./i18n/en.js";

const OTHERS = { de: () => import("./i18n/de.js"), fr: () => import("./i18n/fr.js") };
const loaded = new Map([["en", en]]);

/** The language to use for a hub language such as `de-CH`. */
function base(language) {
  return (language || "en").toLowerCase().split(/[-_]/)[0];
}

/** Load a language; returns whether words changed, so that a card draws again. */
export async function load(language) {
  const name = base(language);
  if (loaded.has(name) || !(name in OTHERS)) return false;
  try {
    loaded.set(name, (await OTHERS[name]()).default);
    return true;
  } catch {
    // The file went with an update of the hub: English it is, until the page is loaded again.
    return false;
  }
}

/** Return how to translate into a language: `t(key, values)`. */
export function translator(language) {
  const name = base(language);
  const texts = loaded.get(name) || en;
  // The plural follows the language of the words, which may not be that of the hub.
  const plural = (count) => pluralOf(loaded.has(name) ? name : "en", count);
  return (key, values = {}) => {
    let text = texts[key] ?? en[key];
    if (text === undefined) return undefined;
    if (typeof text === "object") text = text[plural(values.count)] ?? text.other;
    return text.replace(/\{(\w+)\}/g, (gap, what) => {
      const value = values[what];
      return typeof value === "number" ? numberText(language, value) : (value ?? gap);
    });
  };
}

/** Seconds left as a person reads them: `12 s`, from two minutes on `2:05`. */
export function left(t, seconds) {
  const whole = Math.max(0, Math.ceil(seconds - 0.05));
  if (whole < 120) return t("time.s", { s: whole });
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/** A length of time in words: `1 h 5 min`. */
export function span(t, seconds) {
  if (seconds < 60) return t("time.s", { s: Math.round(seconds) });
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return t("time.m", { m: minutes });
  return t("time.hm", { h: Math.floor(minutes / 60), m: minutes % 60 });
}
