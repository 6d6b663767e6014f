/**
 * Where everything on the map goes. Plain geometry: nothing here touches the page.
 *
 * Lengths are CSS pixels. `x` counts from the inline start, so that the same drawing serves right-to-left scripts.
 */
import { gatesOf, linesOf } from "./tree.js";

const TILE_WIDEST = 340;
const HEAD = 80;
const PIPE = 10;
const STEP = 28;
const TO_GATE = 46;
/** On a wide drawing, so that the trunk's speed and a gate's text don't meet. */
const TO_GATE_WIDE = 62;
const TO_TILE = 40;
const TWO_SIDES_FROM = 700;

// Room for a name and two lines of text, which a narrow tile may need.
const ROW = 64;
const TILE = 58;

/**
 * Lay the map out: `gates` and `machines` as `[id, part]`, `ducts` or null, the width.
 *
 * Returns `{height, trunk, pipes, gates, machines, links}`. A pipe is `{x, y, width, height, flow, duct, beyond}`:
 * `flow` is its direction (`up`, `start` or `end`), `beyond` the gates upstream of it.
 */
export function layOut({ gates, machines, ducts, width }) {
  const twoSided = width >= TWO_SIDES_FROM;
  const root = linesOf(gates.map(([id]) => id), ducts);
  const groups = groupsOf(machines, new Map(gates));
  const sides = twoSided ? split(root, groups) : [root];
  const trunk = twoSided ? width / 2 : 30;
  const drawing = { trunk, pipes: [], gates: [], machines: [], links: [] };
  const ends = sides.map((line, index) =>
    drawSide(drawing, line, groups, {
      trunk,
      toward: twoSided && index === 0 ? -1 : 1,
      width: twoSided ? width / 2 : width - trunk,
      toGate: twoSided ? TO_GATE_WIDE : TO_GATE,
    })
  );
  const orphans = machines.filter(([, machine]) => !groups.gatesOf(machine).length);
  placeOrphans(drawing, orphans, gates.length === 0, ends, { trunk, twoSided, width });
  joinTrunk(drawing, ends.flatMap((end) => end.taps));
  drawing.height = Math.max(HEAD, ...ends.map((end) => end.y)) + 4;
  return drawing;
}

/**
 * Group gates that share machines. A gate that only purges after one machine counts as one of its gates; one that
 * purges after many stands alone.
 */
function groupsOf(machines, gates) {
  const uses = new Map();
  for (const [, { gates: work, clears }] of machines) {
    for (const id of new Set([...work, ...(clears || [])])) uses.set(id, (uses.get(id) ?? 0) + 1);
  }
  const own = ({ gates: work, clears }) => [
    ...new Set([...work, ...(clears || []).filter((id) => uses.get(id) === 1)].filter((id) => gates.has(id))),
  ];
  const group = new Map();
  for (const [, machine] of machines) {
    const ids = own(machine);
    const merged = new Set(ids.flatMap((id) => [...(group.get(id) || [id])]));
    for (const id of merged) group.set(id, merged);
  }
  return { of: (id) => group.get(id) || new Set([id]), gatesOf: own, machines };
}

/** Deal the trunk's items out to both sides; gates that share machines stay together. */
function split(root, groups) {
  const clusters = [];
  for (const item of root.items) {
    const ids = new Set(gatesOf(item).flatMap((id) => [...groups.of(id)]));
    const shared = clusters.filter((cluster) => [...ids].some((id) => cluster.ids.has(id)));
    const [first] = shared.length ? shared : [{ ids: new Set(), items: [] }];
    if (!shared.length) clusters.push(first);
    for (const cluster of shared.slice(1)) {
      clusters.splice(clusters.indexOf(cluster), 1);
      first.items.push(...cluster.items);
      for (const id of cluster.ids) first.ids.add(id);
    }
    first.items.push(item);
    for (const id of ids) first.ids.add(id);
  }
  const sides = [{ items: [] }, { items: [] }];
  const filled = [0, 0];
  for (const { items } of clusters) {
    const side = Number(filled[1] < filled[0]);
    filled[side] += rowsFor(items.flatMap(gatesOf), groups);
    sides[side].items.push(...items);
  }
  return sides;
}

function rowsFor(ids, groups) {
  const there = new Set(ids);
  const served = groups.machines.filter(([, machine]) => there.has(groups.gatesOf(machine)[0]));
  return Math.max(ids.length, served.length);
}

/** Draw one side of the trunk; returns where it ends and where it joins the trunk. */
function drawSide(drawing, line, groups, { trunk, toward, width, toGate }) {
  const at = (distance) => trunk + toward * distance;
  const deepest = depthOf(line);
  const gateAt = STEP * deepest + toGate;
  const tileAt = gateAt + TO_TILE;
  const tileWidth = Math.max(96, Math.min(TILE_WIDEST, width - tileAt));
  const rows = rowsOf(keepTogether(line, groups), groups);
  const place = new Map(rows.gates.map(([id, row]) => [id, HEAD + (row + 0.5) * ROW]));
  for (const [id, row] of rows.gates) {
    drawing.gates.push({ id, x: at(gateAt), y: HEAD + (row + 0.5) * ROW });
  }
  for (const [id, row, ids] of rows.machines) {
    const y = HEAD + (row + 0.5) * ROW;
    const x = toward > 0 ? at(tileAt) : at(tileAt + tileWidth);
    drawing.machines.push({ id, x, y: y - TILE / 2, width: tileWidth, height: TILE });
    for (const gate of ids) {
      drawing.links.push({
        gate,
        machine: id,
        from: { x: at(gateAt + 14), y: place.get(gate) },
        to: { x: at(tileAt), y },
      });
    }
  }
  const taps = drawLine(drawing, line, 0, { at, place, gateAt, toward });
  return { y: HEAD + rows.count * ROW, taps, at, tileAt, tileWidth, toward };
}

const depthOf = (line) =>
  line.items.reduce((deepest, item) => Math.max(deepest, item.line ? 1 + depthOf(item.line) : 0), 0);

/** Move gates on the same line that share a machine next to each other; returns all gates. */
function keepTogether(line, groups) {
  const items = [];
  const left = new Set(line.items);
  for (const item of line.items) {
    if (!left.delete(item)) continue;
    items.push(item);
    if (item.gate === undefined) continue;
    const group = groups.of(item.gate);
    for (const other of left) {
      if (other.gate !== undefined && group.has(other.gate)) {
        left.delete(other);
        items.push(other);
      }
    }
  }
  line.items = items;
  for (const item of items) if (item.line) keepTogether(item.line, groups);
  return gatesOf(line);
}

/** Assign every gate and machine a row; groups that share machines get rows for the longer column. */
function rowsOf(ids, groups) {
  const order = new Map(ids.map((id, index) => [id, index]));
  const served = groups.machines
    .map(([id, machine]) => [id, groups.gatesOf(machine).filter((gate) => order.has(gate))])
    .filter(([, own]) => own.length);
  const result = { gates: [], machines: [], count: 0 };
  for (let first = 0; first < ids.length; ) {
    let last = first;
    for (let index = first; index <= last; index++) {
      for (const gate of groups.of(ids[index])) last = Math.max(last, order.get(gate) ?? 0);
    }
    const block = new Set(ids.slice(first, last + 1));
    const middle = (own) => own.reduce((sum, gate) => sum + order.get(gate), 0) / own.length;
    const machines = served
      .filter(([, own]) => block.has(own[0]))
      .sort(([, a], [, b]) => middle(a) - middle(b));
    const rows = Math.max(block.size, machines.length);
    const spread = (index, count) => result.count + ((index + 0.5) * rows) / count - 0.5;
    [...block].forEach((id, index) => result.gates.push([id, spread(index, block.size)]));
    machines.forEach(([id, own], index) =>
      result.machines.push([id, spread(index, machines.length), own])
    );
    result.count += rows;
    first = last + 1;
  }
  return result;
}

/** Draw the pipes of a line at its depth; returns its joints: `{y, via, beyond}`. */
function drawLine(drawing, line, depth, { at, place, gateAt, toward }) {
  const spine = STEP * depth;
  const flow = toward > 0 ? "start" : "end";
  const across = (from, to, y, duct, beyond) => {
    const [a, b] = toward > 0 ? [at(from), at(to)] : [at(to), at(from)];
    drawing.pipes.push({ x: a, y: y - PIPE / 2, width: b - a, height: PIPE, flow, duct, beyond });
  };
  const taps = [];
  for (const item of line.items) {
    if (item.gate !== undefined) {
      const y = place.get(item.gate);
      across(spine, gateAt + 16, y, item.duct ?? item.via, [item.gate]);
      taps.push({ y, via: item.via, beyond: [item.gate] });
      continue;
    }
    const below = drawLine(drawing, item.line, depth + 1, { at, place, gateAt, toward });
    const beyond = gatesOf(item);
    const y = Math.min(...below.map((tap) => tap.y));
    across(spine, STEP * (depth + 1), y, item.duct, beyond);
    drawSpine(drawing, at(STEP * (depth + 1)), y, below);
    taps.push({ y, via: item.via, beyond });
  }
  return taps;
}

/** Draw a vertical pipe from a height down through all joints; air flows up. */
function drawSpine(drawing, x, top, taps) {
  const sorted = [...taps].sort((a, b) => a.y - b.y);
  let from = top;
  sorted.forEach((tap, index) => {
    if (tap.y - from > 0.5) {
      const beyond = sorted.slice(index).flatMap((other) => other.beyond);
      drawing.pipes.push({
        x: x - PIPE / 2,
        y: from - PIPE / 2,
        width: PIPE,
        height: tap.y - from + PIPE,
        flow: "up",
        duct: tap.via,
        beyond,
      });
    }
    from = tap.y;
  });
}

function joinTrunk(drawing, taps) {
  if (taps.length) drawSpine(drawing, drawing.trunk, HEAD - 22, taps);
}

/** Machines without a gate: in a shop without gates they're connected to the collector. */
function placeOrphans(drawing, orphans, noGates, ends, { trunk, twoSided, width }) {
  for (const [id] of orphans) {
    const end = ends.reduce((least, other) => (other.y < least.y ? other : least));
    const y = end.y + ROW / 2;
    const tileAt = noGates ? TO_GATE : end.tileAt;
    const room = (twoSided ? width / 2 : width - trunk) - tileAt;
    const tileWidth = Math.max(96, Math.min(TILE_WIDEST, room));
    const x = end.toward > 0 ? end.at(tileAt) : end.at(tileAt + tileWidth);
    drawing.machines.push({ id, x, y: y - TILE / 2, width: tileWidth, height: TILE });
    if (noGates) {
      const [a, b] = end.toward > 0 ? [end.at(0), end.at(tileAt)] : [end.at(tileAt), end.at(0)];
      const flow = end.toward > 0 ? "start" : "end";
      const pipe = { x: a, y: y - PIPE / 2, width: b - a, height: PIPE, flow, duct: null };
      drawing.pipes.push({ ...pipe, beyond: [], machine: id });
      end.taps.push({ y, via: null, beyond: [] });
    }
    end.y += ROW;
  }
}
