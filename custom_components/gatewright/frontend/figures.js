/**
 * Numbers, days and times of day in the language of the hub's user.
 *
 * A page of the hub may put an `Intl` of its own in the place of the browser's. Its data come later, and until then
 * it throws at whoever builds a format. So every format is built when it is first used; while one cannot be built the
 * figure is plain, and `onWhole` tells when to draw again.
 */
const kept = new Map();
const AGAIN = 500; // ms until what could not be built is tried again.
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

/** Wait until a format can be built, and have all drawn again; one that never can is waited for once. */
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

/** Use a format, or say it plainly while there is none. */
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
    // What was to be told is no figure: to wait and to draw again would change nothing.
    return plainly();
  }
}

/** Call back when figures that had to be plain can be drawn as they should be; returns how to stop that. */
export function onWhole(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** A number with at most so many digits after the point. */
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

/** Which plural a count takes in a language: `one`, `other` and so on. */
export function pluralOf(language, count) {
  return use("PluralRules", language, {}, (it) => it.select(count), () => (count === 1 ? "one" : "other"));
}
