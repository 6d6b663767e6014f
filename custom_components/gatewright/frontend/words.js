/**
 * A part's status for people: a `tone`, the `key` of its text, and `until` when.
 *
 * Tones: `good` (works as it should), `wait` (under way), `bad` (needs attention), `ask` (requested by a person),
 * `weak` (works, but not well enough), `off`. Each tone has a shape of its own, see shapes.js.
 */

const say = (tone, key, until = null) => ({ tone, key, until });

/** Keys with a different text for reading aloud. */
const SAID = { "machine.hold": "machine.hold_said" };

/**
 * Text for reading aloud: without the seconds, which would be read again and again.
 *
 * They come after a comma, and the text before it is complete.
 */
export const aloud = (t, { key, until, values }) => {
  if (until === null || until === undefined) return t(key, values);
  return SAID[key] ? t(SAID[key]) : t(key, { left: "" }).replace(/,[^,]*$/, "");
};

/** Whether a gate is moving to its target. */
export const moves = (gate) => gate.stand === "opening" || gate.stand === "shutting";

/** A gate's status. */
export function gateWords(gate) {
  if (gate.kind === "fixed") return say("off", "gate.fixed");
  if (gate.fault) return say("bad", `gate.${gate.fault}`);
  if (gate.stand === "open") return say("good", "gate.open");
  if (gate.stand === "shut") return say("off", "gate.shut");
  return say("wait", `gate.${gate.stand}`);
}

/** The collector's status. */
export function collectorWords(system) {
  if (system.fault) return say("bad", `collector.${system.fault}`);
  switch (system.phase) {
    case "opening":
      return system.waits
        ? say("wait", "collector.waits", system.until)
        : say("wait", "collector.opening");
    case "collecting":
      return system.turning ? say("good", "collector.collecting") : say("wait", "collector.starting");
    case "shutting_off":
      return say("wait", "collector.shutting_off", system.until);
    case "spinning_down":
      return system.until === null
        ? say("wait", "collector.stopping")
        : say("wait", "collector.spinning_down", system.until);
    default:
      return say("off", "collector.idle");
  }
}

/** Whether missing dust collection will come without a person. */
function airIsComing(machine, picture) {
  const { system, gates } = picture;
  if (system.emergency || system.lockout || system.held_off || system.fault) return false;
  if (!system.automatic && !machine.requested) return false;
  if (system.phase !== "opening" && system.phase !== "collecting") return false;
  const own = machine.gates.map((id) => gates.get(id)).filter(Boolean);
  if (own.some((gate) => gate.fault || (gate.kind === "hand" && gate.stand !== "open"))) return false;
  return system.phase === "opening" || !system.turning || own.some(moves);
}

/** A machine's status. */
export function machineWords(machine, picture) {
  if (machine.phase === null) return say("bad", "machine.unserved");
  if (!machine.attached) return say("off", "machine.loose");
  const figures = machine.air ? picture.flows?.machines?.[machine.id] : undefined;
  const low = figures?.low;
  // Above its need, but by less than the error of the figures.
  const marginal = figures?.marginal;
  if (machine.running || (machine.phase === "running" && !machine.requested)) {
    if (low) return say("weak", "machine.run_low");
    if (marginal) return say("good", "machine.run_marginal");
    if (machine.air) return say("good", "machine.run_air");
    if (!machine.needs_air && !machine.requested) return say("good", "machine.run_own");
    if (airIsComing(machine, picture)) return say("wait", "machine.run_soon");
    return say("bad", "machine.run_none");
  }
  if (machine.requested) {
    if (low) return say("weak", "machine.ask_low");
    if (marginal) return say("ask", "machine.ask_marginal");
    if (machine.air) {
      return machine.request_until === null
        ? say("ask", "machine.ask_air")
        : say("ask", "machine.ask_air_left", machine.request_until);
    }
    return airIsComing(machine, picture) ? say("wait", "machine.ask_soon") : say("bad", "machine.ask_none");
  }
  if (machine.phase === "holding") return say("wait", "machine.hold", machine.until);
  if (machine.phase === "purging") {
    return machine.until === null
      ? say("wait", "machine.clear_soon")
      : say("wait", "machine.clear", machine.until);
  }
  if (machine.lost) return say("bad", "machine.lost");
  if (machine.missing) return say("off", "machine.missing");
  return say("off", "machine.idle");
}

/** What is in use comes first, and problems before everything else. */
export function rank(machine, picture) {
  const { tone, key } = machineWords(machine, picture);
  if (key === "machine.run_none" || key === "machine.ask_none") return 0;
  if (key.startsWith("machine.run")) return 1;
  if (key.startsWith("machine.ask")) return 2;
  if (machine.phase === "holding") return 3;
  if (machine.phase === "purging") return 4;
  if (tone === "bad") return 5;
  return key === "machine.loose" ? 7 : 6;
}

/** Whether anything goes on at a machine. */
export const inUse = (machine, picture) => rank(machine, picture) < 5;

/** The unusual modes: `[tone, key]` each. */
export function modes(system) {
  const found = [];
  if (system.emergency) found.push(["bad", "mode.emergency"]);
  if (system.lockout) found.push(["bad", "mode.lockout"]);
  if (system.automatic === false) found.push(["wait", "mode.automatic_off"]);
  if (system.held_off) found.push(["wait", "mode.held_off"]);
  if (system.by_hand) found.push(["ask", "mode.by_hand"]);
  return found;
}

/** The shop in a sentence or two, most urgent first: `{tone, key, values}` each. */
export function headlines(picture) {
  const { system } = picture;
  const told = [...picture.machines.values()].map((machine) => [
    machine.name,
    machineWords(machine, picture),
  ]);
  const found = [];
  const add = (tone, key, ...keys) => {
    const names = told.filter(([, words]) => keys.includes(words.key)).map(([name]) => name);
    const [name, other] = names;
    if (names.length === 1) found.push({ tone, key: `head.${key}`, values: { name } });
    else if (names.length === 2) found.push({ tone, key: `head.${key}_two`, values: { name, other } });
    else if (names.length) found.push({ tone, key: `head.${key}_many`, values: { count: names.length } });
  };
  if (system.emergency) found.push({ tone: "bad", key: "head.emergency" });
  add("bad", "no_air", "machine.run_none", "machine.ask_none");
  if (system.lockout) found.push({ tone: "bad", key: "head.lockout" });
  add("wait", "soon", "machine.run_soon", "machine.ask_soon");
  add("weak", "low", "machine.run_low", "machine.ask_low");
  add("good", "run", "machine.run_air", "machine.run_marginal");
  add("ask", "ask", "machine.ask_air", "machine.ask_air_left", "machine.ask_marginal");
  add("good", "own", "machine.run_own");
  if (found.length) return found.slice(0, 2);
  if (system.by_hand) {
    return [system.turning ? { tone: "ask", key: "head.by_hand" } : { tone: "wait", key: "head.by_hand_soon" }];
  }
  if (system.phase !== "idle") return [{ tone: "wait", key: "head.winding_down" }];
  if (system.turning) return [{ tone: "wait", key: "head.turns" }];
  return [{ tone: "off", key: "head.idle" }];
}
