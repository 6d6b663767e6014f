/**
 * Numbers, days and times of day in the user's language.
 *
 * Home Assistant's page may replace the browser's `Intl` by its own. Its data arrives later, and until then creating
 * a format throws. So every format is created at its first use; until that works the figure is plain, and `onWhole`
 * says when to draw again.
 */
const kept = new Map();
const AGAIN = 500; // ms until a failed format is tried again.
const TRIES = 40;
const hopeless = new Set();
const listeners = new Set();
let waiting = false;

const wait = (time) => new Promise((resolve) => setTimeout(resolve, time));

const keyOf = (kind, language, options) => `${kind} ${language} ${JSON.stringify(options)}`;

function format(kind, language, options) {
  const key = keyOf(kind, language, options);
  if (!kept.has(key)) kept.set(key, new Intl[kind](language || "en", options));
  return kept.get(key);
}

/** Wait until a format can be created, and redraw everything then; a hopeless one is waited for once. */
async function untilBuilt(kind, language, options) {
  const key = keyOf(kind, language, options);
  if (waiting || hopeless.has(key)) return;
  waiting = true;
  for (let tried = 0; tried < TRIES && !kept.has(key); tried += 1) {
    await wait(AGAIN);
    try {
      format(kind, language, options);
    } catch {
      // Not yet.
    }
  }
  waiting = false;
  if (kept.has(key)) for (const listener of listeners) listener();
  else hopeless.add(key);
}

/** Use a format, or write the figure plainly without it. */
function use(kind, language, options, how, plainly) {
  let built;
  try {
    built = format(kind, language, options);
  } catch {
    untilBuilt(kind, language, options);
    return plainly();
  }
  try {
    return how(built);
  } catch {
    // The value is no number: waiting and drawing again would change nothing.
    return plainly();
  }
}

/** Call back when plain figures can be formatted properly; returns a function that removes it. */
export function onWhole(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** A number with at most this many digits after the point. */
export function numberText(language, value, digits = 3) {
  const options = { maximumFractionDigits: digits };
  return use("NumberFormat", language, options, (it) => it.format(value), () => String(Number(value.toFixed(digits))));
}

/** A share of 0 to 1 as a percentage. */
export function percentText(language, share, digits = 0) {
  const options = { style: "percent", maximumFractionDigits: digits };
  return use("NumberFormat", language, options, (it) => it.format(share), () => `${+(share * 100).toFixed(digits)}%`);
}

/** An amount of money in a currency such as `USD`. */
export function moneyText(language, value, currency) {
  const options = { style: "currency", currency };
  return use("NumberFormat", language, options, (it) => it.format(value), () => `${value.toFixed(2)} ${currency}`);
}

const clock = (date) => [date.getHours(), date.getMinutes()].map((part) => String(part).padStart(2, "0")).join(":");

/** A time of day; `options` as for `Intl.DateTimeFormat`. */
export function timeText(language, date, options = { hour: "numeric", minute: "2-digit" }) {
  return use("DateTimeFormat", language, options, (it) => it.format(date), () => clock(date));
}

/** A day without its year. */
export function dayText(language, date) {
  const options = { month: "long", day: "numeric" };
  const plainly = () => `${date.getMonth() + 1}/${date.getDate()}`;
  return use("DateTimeFormat", language, options, (it) => it.format(date), plainly);
}

/** A count's plural category in a language: `one`, `other` and so on. */
export function pluralOf(language, count) {
  return use("PluralRules", language, {}, (it) => it.select(count), () => (count === 1 ? "one" : "other"));
}
