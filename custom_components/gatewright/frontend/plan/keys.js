/** Keyboard shortcuts, on the drawing and everywhere in the editor. */
import { kindOf, partOf, stepOf } from "./document.js";
import { moveAll } from "./edits.js";

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const PANNED = 60; // px

/** Undo and redo, wherever the focus is except in a text field. */
export function onShortcut({ model }, event) {
  if (!(event.ctrlKey || event.metaKey) || event.composedPath()[0].localName === "input") return;
  const key = event.key.toLowerCase();
  if (key === "z" && !event.shiftKey) model.undo();
  else if (key === "y" || key === "z") model.redo();
  else return;
  event.preventDefault();
}

/** A key on the drawing. */
export function onKey(editor, event) {
  const { model, scene } = editor;
  if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "a") {
    model.choose([...model.doc.items, ...model.doc.ducts, ...model.doc.gates].map(({ id }) => id));
    editor.say(editor.t("plan.several_chosen", { count: model.selection.size }));
    event.preventDefault();
  }
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const { key } = event;
  const deeds = {
    "[": () => step(editor, -1),
    "]": () => step(editor, 1),
    Enter: () => run(model),
    " ": () => run(model),
    Delete: () => model.editable && editor.remove(),
    Backspace: () => model.editable && editor.remove(),
    Escape: () => (["choose", "try"].includes(model.tool) ? model.choose([]) : model.use("choose")),
    "+": () => scene.zoom(1.25),
    "=": () => scene.zoom(1.25),
    "-": () => scene.zoom(0.8),
    0: () => scene.fit(),
  };
  if (editor.tool.key?.(key)) event.preventDefault();
  else if (ARROWS[key]) {
    arrow(editor, ARROWS[key], event.shiftKey);
    event.preventDefault();
  } else if (deeds[key]) {
    deeds[key]();
    event.preventDefault();
  }
}

/** Move the selection by one grid step, ten with the shift key; the view without a selection. */
function arrow(editor, [x, y], far) {
  const { model, scene } = editor;
  const ids = [...model.selection];
  const movable = model.editable && model.tool === "choose" && ids.some((id) => kindOf(model.doc, id) !== "gate");
  if (!movable) return scene.pan(-PANNED * x, -PANNED * y);
  const by = stepOf(model.doc) * (far ? 10 : 1);
  model.change(moveAll(model.doc, ids, x * by, y * by, model.machines), `move ${ids}`);
  const part = partOf(model.doc, ids[0]);
  const at = part.points?.[0] ?? part;
  return editor.say(editor.t("plan.moved_to", { x: editor.measure.length(at.x), y: editor.measure.length(at.y) }));
}

/** Select the next part of the plan, or the previous one. */
function step(editor, way) {
  const { model } = editor;
  const all = [...model.doc.items, ...model.doc.ducts, ...model.doc.gates].map(({ id }) => id);
  if (!all.length) return;
  const at = all.indexOf([...model.selection].at(-1));
  const next = all[at < 0 ? (way > 0 ? 0 : all.length - 1) : (at + way + all.length) % all.length];
  model.choose([next]);
  editor.say(editor.words.describe(next));
}

function run(model) {
  for (const id of model.selection) if (partOf(model.doc, id)?.type === "machine") model.run(id);
}
