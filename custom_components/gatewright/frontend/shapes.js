/**
 * The glyphs. A gate is drawn as two flanges on the duct and a plate between them: in the way, out of it, or halfway.
 * The collector is a circle with blades. Every tone has a shape of its own, so that none depends on color.
 */
import { svg } from "./dom.js";

const GLYPHS = {
  // A disc with a check mark: works as it should.
  good: ["M12 2a10 10 0 1 0 0 20 10 10 0 0 0 0-20z", "M7 12.4l3.4 3.4 6.8-7.4"],
  // An hourglass: under way.
  wait: ["M5 3h14v3.6L13.8 12 19 17.4V21H5v-3.6L10.2 12 5 6.6z", ""],
  // A triangle with a mark: needs attention.
  bad: ["M12 2.2 22.8 21H1.2z", "M12 9v5.4M12 17.4v.4"],
  // The same, hollow: works, but not well enough.
  weak: ["M12 3.6 21.4 19.8H2.6z", "M12 9.4v4.4M12 16.8v.2"],
  // A square with an arrow into it: requested by a person.
  ask: ["M5 2.5h14A2.5 2.5 0 0 1 21.5 5v14a2.5 2.5 0 0 1-2.5 2.5H5A2.5 2.5 0 0 1 2.5 19V5A2.5 2.5 0 0 1 5 2.5z", "M12 6.5v9M7.8 11.6l4.2 4.2 4.2-4.2"],
  // A ring: nothing.
  off: ["M12 4.5a7.5 7.5 0 1 0 0 15 7.5 7.5 0 0 0 0-15z", ""],
};

/** The shape of a tone. */
export function glyph() {
  return svg(
    "svg.glyph",
    { viewBox: "0 0 24 24", "aria-hidden": "true" },
    svg("path.body"),
    svg("path.mark")
  );
}

/** Set a glyph's tone. */
export function setGlyph(node, tone) {
  if (node.dataset.tone === tone) return;
  node.dataset.tone = tone;
  const [body, mark] = GLYPHS[tone];
  node.firstChild.setAttribute("d", body);
  node.lastChild.setAttribute("d", mark);
}

/** A gate across a horizontal duct; its `data-stand` moves the plate. */
export function gateSymbol() {
  return svg(
    "svg.symbol",
    { viewBox: "0 0 36 40", "aria-hidden": "true" },
    svg("path.bore", { d: "M10 15h16v10H10z" }),
    svg("path.plate", { d: "M15 8h6v24h-6z" }),
    svg("path.flange", { d: "M8.5 8v24M27.5 8v24" }),
    svg("path.badge", { d: "" }),
    svg("path.mark", { d: "" })
  );
}

// A moving plate has an arrow over it, a faulty one a badge at its corner.
const MARKS = {
  opening: "M18 3.5V-4M14.5 0 18-3.8 21.5 0",
  shutting: "M18-4V3.5M14.5.2 18 4 21.5.2",
  failed: "M32-1.4V3.4M32 6.5v.2",
  away: "M29.3-.2c.2-3.4 5.4-3.2 5.3.1-.1 2.2-2.6 2-2.6 4M32 6.7v.2",
};
const BADGES = {
  failed: "M32-7 41.5 9.5h-19z",
  away: "M32-6.5a9 9 0 1 1 0 18 9 9 0 0 1 0-18z",
};

/** Show a gate's position, or its problem. */
export function setGate(node, gate) {
  const stand = gate.kind === "fixed" ? "fixed" : gate.stand;
  const fault = gate.fault ?? "";
  if (node.dataset.stand === stand && node.dataset.fault === fault) return;
  node.dataset.stand = stand;
  node.dataset.fault = fault;
  node.lastChild.setAttribute("d", MARKS[fault] ?? MARKS[stand] ?? "");
  node.lastChild.previousSibling.setAttribute("d", BADGES[fault] ?? "");
}

const BLADE = "M20 20c-2.6-4.6-2.4-9.6.6-14.2 3.4 2.6 4 8.2-.6 14.2z";

/** The collector's fan. */
export function fanSymbol() {
  const blades = [0, 72, 144, 216, 288].map((turn) =>
    svg("path", { d: BLADE, transform: `rotate(${turn} 20 20)` })
  );
  return svg(
    "svg.fan",
    { viewBox: "0 0 40 40", "aria-hidden": "true" },
    svg("circle.housing", { cx: 20, cy: 20, r: 18 }),
    svg("g.blades", {}, ...blades, svg("circle", { cx: 20, cy: 20, r: 2.6 }))
  );
}
