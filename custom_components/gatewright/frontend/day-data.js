/**
 * Today, from the recorder's history of our entities, and from Gatewright's own statistics.
 *
 * The history has the times; the statistics have the better totals: they continue across a restart of Home Assistant,
 * where the history has a gap. Plain calculation.
 */

const HOUR = 3600;

/** Shorter times, in s, are shown as none. */
export const LITTLE = 0.5;

/** Turn a history (`[{at, on}]`, in order) into the spans `[from, to]` in which it was on. */
export function spansOf(history, now) {
  const spans = [];
  let since = null;
  for (const { at, on } of history) {
    if (on && since === null) since = at;
    else if (!on && since !== null) {
      if (at > since) spans.push([since, at]);
      since = null;
    }
  }
  if (since !== null && now > since) spans.push([since, now]);
  return spans;
}

/** The spans in both lists. */
export function both(left, right) {
  const found = [];
  for (let a = 0, b = 0; a < left.length && b < right.length; ) {
    const from = Math.max(left[a][0], right[b][0]);
    const to = Math.min(left[a][1], right[b][1]);
    if (to > from) found.push([from, to]);
    if (left[a][1] < right[b][1]) a++;
    else b++;
  }
  return found;
}

/** The spans of the first list without the second. */
export function without(left, right) {
  const found = [];
  for (const [from, to] of left) {
    let at = from;
    for (const [start, end] of right) {
      if (end <= at || start >= to) continue;
      if (start > at) found.push([at, start]);
      at = Math.max(at, end);
    }
    if (at < to) found.push([at, to]);
  }
  return found;
}

export const total = (spans) => spans.reduce((sum, [from, to]) => sum + to - from, 0);

/** A machine's day: when it ran with and without dust collection, and had collection without running. */
export function dayOf(running, air, now) {
  const ran = spansOf(running, now);
  const had = spansOf(air, now);
  const withAir = both(ran, had);
  return {
    withAir,
    withoutAir: without(ran, had),
    onlyAir: without(had, ran),
    run: total(ran),
    covered: total(withAir),
  };
}

/** How often it turned on after an instant; unknown time is no stop. */
export function startsOf(history, after) {
  let starts = 0;
  let off = false;
  for (const { at, on, known = true } of history) {
    if (on && off && at > after) starts++;
    if (on || known) off = !on;
  }
  return starts;
}

/** A machine's or the whole shop's statistics: running time, and the part with dust collection. */
export function recordedOf(spent) {
  return spent ? { run: spent.run_time, covered: spent.collecting_time } : {};
}

/** A day's figures as they are shown: a negligible run is none. */
export const toldOf = (day) => (day.run < LITTLE ? { ...day, run: 0, covered: 0 } : day);

/** The part of the day to show: whole hours around the activity, with a few marks. */
export function axisOf(days, midnight, now) {
  const first = Math.min(
    now,
    ...days.flatMap((day) => [...day.withAir, ...day.withoutAir, ...day.onlyAir].map(([from]) => from))
  );
  const toHour = (at, round) => midnight + round((at - midnight) / HOUR) * HOUR;
  const from = Math.max(midnight, toHour(first, Math.floor));
  const to = Math.max(toHour(now, Math.ceil), from + HOUR);
  const step = HOUR * ([0.25, 0.5, 1, 2, 3, 4].find((every) => to - from <= 6 * every * HOUR) ?? 6);
  const ticks = [];
  for (let at = from; at <= to + 1; at += step) ticks.push(at);
  return { from, to, ticks, whole: step >= HOUR };
}
