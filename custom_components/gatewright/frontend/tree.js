/**
 * The duct tree as the map draws it: lines from the collector outward.
 *
 * A line follows the main course of the ducts: at each junction it continues into the branch with the most gates, and
 * the others leave it sideways. So a main with ten branches is one line with ten things on it, however many ducts it
 * was entered as.
 *
 * Ducts are `{id, into, gates}`: their target (null is the collector) and the gates on them. A line is `{items}`, an
 * item `{duct, gate}` or `{duct, line}`, each with `via`, the line's duct downstream of it.
 */
export function linesOf(gateIds, ducts) {
  const known = new Set(gateIds);
  const nodes = new Map();
  for (const duct of ducts || []) {
    nodes.set(duct.id, {
      id: duct.id,
      into: duct.into,
      gates: (duct.gates || []).filter((id) => known.delete(id)),
      below: [],
    });
  }
  const roots = [];
  for (const node of nodes.values()) {
    const parent = nodes.get(node.into);
    if (parent && !leadsTo(parent, node, nodes)) parent.below.push(node);
    else roots.push(node);
  }
  // What is on no duct is connected to the collector itself.
  const trunk = { id: null, gates: [...known], below: roots };
  weigh(trunk);
  return lineOf(trunk);
}

/** Whether two nodes are in a circle; a circle is drawn as two trees. */
function leadsTo(node, other, nodes) {
  const seen = new Set();
  for (let at = node; at && !seen.has(at); at = nodes.get(at.into)) {
    if (at === other) return true;
    seen.add(at);
  }
  return false;
}

function weigh(node) {
  node.weight = node.gates.length;
  for (const child of node.below) node.weight += weigh(child);
  return node.weight;
}

/** A duct with only one gate is drawn as the way to that gate. */
const isDrop = (node) => node.below.length === 0 && node.gates.length === 1;

function lineOf(start) {
  const items = [];
  for (let node = start; node; ) {
    const onward = node.below
      .filter((child) => child.weight && !isDrop(child))
      .reduce((best, child) => (best && best.weight >= child.weight ? best : child), null);
    for (const gate of node.gates) items.push({ duct: null, gate, via: node.id });
    for (const child of node.below) {
      if (child === onward || !child.weight) continue;
      if (isDrop(child)) items.push({ duct: child.id, gate: child.gates[0], via: node.id });
      else items.push({ duct: child.id, line: lineOf(child), via: node.id });
    }
    node = onward;
  }
  return { items };
}

/** The gates on a line or an item, in drawing order. */
export function gatesOf(drawn) {
  if (drawn.gate !== undefined) return [drawn.gate];
  return (drawn.line || drawn).items.flatMap(gatesOf);
}
