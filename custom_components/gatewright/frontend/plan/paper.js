/** The plan on paper: one sheet, the drawing to a usual scale, and the material lists beside it. */
import { timeText } from "../figures.js";
import { gateSpots } from "./gate-spots.js";
import { lengthOf } from "./line.js";
import { DuctNode, GateNode, hosesOf, ItemNode, pathOf, UNIT } from "./scene-parts.js";
import { extent } from "./snap.js";

const SVG = "http://www.w3.org/2000/svg";
/** The room for the drawing on a landscape A4 or letter sheet (mm), beside a column of tables. */
const ROOM = { width: 197, height: 170 };
/** The same over the whole width, with the tables below. */
const BELOW = { width: 255, height: 105 };
/** The height of the sheet, and of a table row (mm). */
const HIGH = 184;
const ROW = 3.4;
const METRIC = [10, 20, 25, 50, 75, 100, 150, 200, 250, 500];
/** From 1 in to the foot (1:12) up; 1/4 in to the foot is 1:48. */
const US = [12, 16, 24, 32, 48, 64, 96, 128, 192, 384];

/** The usual scale (drawn : real, as the second figure) at which this many meters fit on the sheet. */
export function scaleFor({ width, height }, us = false, room = ROOM) {
  const least = Math.max((width * 1000) / room.width, (height * 1000) / room.height);
  const usual = us ? US : METRIC;
  return usual.find((scale) => scale >= least) ?? Math.ceil(least / 100) * 100;
}

const STYLES = `
@page { size: landscape; margin: 10mm; }
* { box-sizing: border-box; }
body { margin: 0; font: 8.5pt/1.3 system-ui, sans-serif; color: #000; }
.sheet { display: grid; grid-template-columns: ${ROOM.width}mm 1fr; gap: 4mm; }
.sheet.low { display: block; }
.sheet.low .side { columns: 4; column-gap: 5mm; column-fill: auto; height: calc(${HIGH}mm - var(--drawn)); margin-top: 3mm; }
h1 { font-size: 13pt; margin: 0 0 1mm; } h2 { font-size: 9.5pt; margin: 3mm 0 1mm; }
p { margin: 0 0 1mm; }
table { border-collapse: collapse; width: 100%; line-height: 1.15; font-size: calc(6.5pt * var(--fit, 1)); }
th, td { text-align: start; padding: .3mm 1mm; border-bottom: .2mm solid #999; }
td:not(:first-child), th:not(:first-child) { text-align: end; }
svg { display: block; border: .3mm solid #000; }
.room { fill: none; stroke: #000; stroke-width: 5; }
.pipe { fill: none; stroke: #000; stroke-width: calc(var(--wide) * 1px); stroke-linejoin: round; }
.inner { fill: none; stroke: #fff; stroke-linejoin: round; }
.hoses { fill: none; stroke: #000; stroke-width: 3; stroke-dasharray: 8 6; }
.halo, .badge, .air, .figure { display: none; }
.box { fill: #fff; stroke: #000; stroke-width: 2; } .planned .box { stroke-dasharray: 8 5; }
.front { stroke: #000; stroke-width: 2; } .wheel { fill: none; stroke: #000; stroke-width: 2; } .blades path { fill: none; stroke: #000; stroke-width: 4; }
.flange, .plate { stroke: #000; stroke-width: 3; fill: none; }
.drop circle { fill: #fff; stroke: #000; stroke-width: 2; } .drop path { fill: none; stroke: #000; stroke-width: 3; stroke-linecap: round; }
text { font: var(--text) system-ui, sans-serif; text-anchor: middle; paint-order: stroke; stroke: #fff; stroke-width: 4px; }
.bar { fill: none; stroke: #000; stroke-width: 3; }
`;

/** Fill an empty page with the sheet. */
export function paper(page, editor, sized) {
  const { model, words, measure, t, language } = editor;
  const { doc } = model;
  const box = extent(doc, 0.4);
  // Tables beside the drawing or, if the drawing stays as large, below it.
  const [beside, below] = [scaleFor(box, measure.us), scaleFor(box, measure.us, BELOW)];
  const low = below <= beside;
  const scale = Math.min(beside, below);
  page.title = t("plan.paper_title", { name: words.name({ type: "collector" }) });
  const style = page.createElement("style");
  style.textContent = STYLES;
  page.head.append(style);
  const node = (name, text, ...children) => {
    const one = page.createElement(name);
    if (text) one.textContent = text;
    one.append(...children);
    return one;
  };
  const table = (head, rows) => {
    const line = (cells, kind) => node("tr", "", ...cells.map((cell) => node(kind, cell)));
    return node("table", "", node("thead", "", line(head, "th")), node("tbody", "", ...rows.map((row) => line(row, "td"))));
  };
  const side = node("div", "");
  side.append(node("h1", page.title), node("p", t("plan.paper_scale", { scale: `1:${scale}` })), node("p", timeText(language, new Date(), { dateStyle: "medium" })));
  const ducts = doc.ducts.map((duct) => [words.name(duct), measure.diameter(duct.diameter), measure.length(lengthOf(duct.points))]);
  if (ducts.length) side.append(node("h2", t("plan.ducts")), table([t("plan.name"), t("plan.diameter"), t("plan.length")], ducts));
  const sets = sized?.available ? (sized.sets ?? []).map((set) => [set.name, measure.flow(set.flow), words.verdict(set.verdict)]) : [];
  if (sets.length) side.append(node("h2", t("plan.each_alone")), table([t("plan.name"), t("plan.flow"), t("plan.result")], sets));
  side.append(...sizing(sized, node, table, editor));
  const materials = sized?.available ? (sized.materials ?? []).map((row) => material(row, editor)) : [];
  if (materials.length) side.append(node("h2", t("plan.materials")), table([t("plan.name"), t("plan.amount")], materials));
  side.className = "side";
  const height = (box.height * 1000) / scale;
  const sheet = node("div", "", drawing(page, editor, box, scale), side);
  sheet.className = low ? "sheet low" : "sheet";
  sheet.style.setProperty("--drawn", `${height.toFixed(1)}mm`);
  // Long lists are set smaller, so that everything is on one sheet.
  const rows = side.querySelectorAll("tr").length * (low ? 1.15 : 1.5) + side.querySelectorAll("h2").length * 2;
  const room = (low ? 4 * (HIGH - height - 14) : HIGH - 22) / ROW;
  sheet.style.setProperty("--fit", Math.max(0.5, Math.min(1, room / rows)).toFixed(2));
  page.body.append(sheet);
}

/** The sizing table of the worst path for the fan: every piece, with its loss. */
function sizing(sized, node, table, { t, measure }) {
  const most = sized?.available && sized.duty?.find(({ governs }) => governs)?.name;
  const set = most && sized.sets.find(({ name }) => name === most);
  if (!set?.table?.length) return [];
  const rows = set.table.map(({ segment, diameter, velocity, loss, static: suction }) => [segment, diameter ? measure.diameter(diameter) : "", velocity ? measure.speed(velocity) : "", measure.pressure(loss), measure.pressure(suction)]);
  return [node("h2", t("plan.sizing_table", { name: most })), table([t("plan.name"), t("plan.diameter"), t("plan.velocity"), t("plan.loss"), t("plan.suction")], rows)];
}

/** A row of the material list: what, and how many or how long. */
function material({ item, diameter, other, angle, radius, count, length }, { words, measure }) {
  const facts = {
    width: measure.diameter(diameter),
    other: other ? measure.diameter(other) : "",
    angle: String(Math.round(angle ?? 0)),
    radius: String(radius ?? ""),
  };
  const what = words.choice("sizing_item", item).replace(/\{(\w+)\}/g, (gap, key) => facts[key] ?? gap);
  return [what, length ? measure.length(length) : String(count ?? "")];
}

function drawing(page, { model, words, measure }, box, scale) {
  const { doc } = model;
  const make = (name, attributes, ...children) => {
    const one = page.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) one.setAttribute(key, value);
    one.append(...children);
    return one;
  };
  const [width, height] = [(box.width * 1000) / scale, (box.height * 1000) / scale];
  const view = [box.x, box.y, box.width, box.height].map((value) => (value * UNIT).toFixed(1)).join(" ");
  const root = make("svg", { width: `${width.toFixed(2)}mm`, height: `${height.toFixed(2)}mm`, viewBox: view });
  // 2.4 mm on paper, in centimeters of the shop.
  const text = (0.24 * scale).toFixed(1);
  root.style.setProperty("--text", `${text}px`);
  const outline = doc.room?.outline ?? [];
  if (outline.length) root.append(make("path", { class: "room", d: `${pathOf(outline.map(([x, y]) => ({ x, y })))}Z` }));
  const names = [];
  for (const item of doc.items) {
    const drawn = new ItemNode(item);
    drawn.update(item, model.kindOf(item), words.name(item));
    drawn.name.setAttribute("dy", ".35em");
    names.push(page.adoptNode(drawn.over));
    root.append(page.adoptNode(drawn.node));
  }
  for (const duct of doc.ducts) {
    const drawn = new DuctNode(duct);
    drawn.update(duct);
    root.append(page.adoptNode(drawn.node));
    const inner = make("path", { class: "inner", d: pathOf(duct.points) });
    inner.style.strokeWidth = `${Math.max(1, duct.diameter * UNIT - 3)}px`;
    drawn.casing.append(inner);
    const middle = duct.points[Math.max(0, Math.floor((duct.points.length - 1) / 2))];
    const after = duct.points[Math.floor((duct.points.length - 1) / 2) + 1] ?? middle;
    const label = make("text", { x: ((middle.x + after.x) / 2) * UNIT, y: ((middle.y + after.y) / 2) * UNIT - duct.diameter * 60 });
    label.textContent = words.duct(duct);
    root.append(label);
  }
  const spots = gateSpots(doc);
  root.append(make("path", { class: "hoses", d: hosesOf(doc, spots, model.kindOf) }));
  for (const gate of doc.gates) {
    const drawn = new GateNode(gate);
    drawn.update(gate, spots.get(gate.id));
    if (gate.duct) root.append(page.adoptNode(drawn.node));
  }
  root.append(...names);
  // A bar to check the print with a ruler.
  const unit = measure.us ? 0.3048 * 3 : 1;
  const [x, y] = [(box.x + 0.15) * UNIT, (box.y + box.height - 0.15) * UNIT];
  root.append(make("path", { class: "bar", d: `M${x} ${y - 8}v8h${unit * UNIT}v-8` }));
  const label = make("text", { x: x + (unit * UNIT) / 2, y: y - 10 });
  label.textContent = measure.length(unit);
  root.append(label);
  return root;
}
