/** Texts in the user's language, from the integration's own translations. */
import { numberText, pluralOf } from "./figures.js";

/** The categories of texts, each sent whole: those of all cards, of the plan's editor, and of the repairs with the alarms. */
export const CARDS = "config_panel";
export const PLAN = "common";
export const ISSUES = "issues";

const START = "component.gatewright.";
const loaded = new Map();
const asked = new Map();

/** The language of a locale such as `de-CH`. */
export const base = (language) => (language || "en").toLowerCase().split(/[-_]/)[0];

const keyOf = (language, category) => `${category} ${language}`;

/** Load texts over a connection; returns whether they came, so that a card draws again. */
export async function load(connection, language, category = CARDS) {
  const key = keyOf(language, category);
  if (loaded.has(key)) return false;
  if (!asked.has(key)) asked.set(key, ask(connection, language, category).finally(() => asked.delete(key)));
  return asked.get(key);
}

/** Ask for texts; Home Assistant puts English in the place of what is missing. */
async function ask(connection, language, category) {
  const type = "frontend/get_translations";
  try {
    const answer = await connection.sendMessagePromise({ type, language, category, integration: "gatewright" });
    loaded.set(keyOf(language, category), answer.resources);
    return true;
  } catch {
    // Not now: the next user of the texts fetches them again.
    return false;
  }
}

/** The texts of a category by their keys; undefined before they are loaded. */
const textsOf = (language, category) => loaded.get(keyOf(language, category)) ?? loaded.get(keyOf(base(language), category));

/** Whether the texts of a category are there. */
export const isLoaded = (language, category) => Boolean(textsOf(language, category));

/** Return how to translate into a language, `t(key, values)`; null before it is loaded. */
export function translator(language) {
  const texts = textsOf(language, CARDS);
  if (!texts) return null;
  return (key, values = {}) => {
    const find = (ending) => texts[`${START}${CARDS}.${key}${ending}`] ?? textsOf(language, PLAN)?.[`${START}${PLAN}.${key.replace(".", "_")}${ending}`];
    // The plural follows the language of the texts, which may not be the user's.
    const plural = () => find(`_${pluralOf(texts[`${START}${CARDS}.language.code`], values.count)}`) ?? find("_other");
    return filled(find("") ?? plural(), values, language);
  };
}

/**
 * An alarm's texts, `{title, advice}`: those of its repair, without the paragraph about Submit.
 * Undefined if they are not loaded or the kind is unknown.
 */
export function alarmWords(language, kind, values) {
  const texts = textsOf(language, ISSUES);
  const find = (key) => texts?.[`${START}${ISSUES}.alarm_${kind}.${key}`];
  const title = find("title");
  if (!title) return undefined;
  const described = find("description") ?? find("fix_flow.step.confirm.description") ?? "";
  // The paragraph after the bold "What to do".
  const [, advice = ""] = /\*\*.+?\*\*\s*(.*)/.exec(described) ?? [];
  return { title: filled(title, values, language), advice: filled(advice, values, language) };
}

function filled(text, values, language) {
  return text?.replace(/\{(\w+)\}/g, (gap, what) => {
    const value = values[what];
    return typeof value === "number" ? numberText(language, value) : (value ?? gap);
  });
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
