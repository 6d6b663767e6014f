/** Puts things on the plan: machines where a pointer drops them, and the gate for a place. */
import { partOf, parts, stepOf } from "./document.js";
import { apartFlat } from "./line.js";
import { addItem } from "./route.js";
import { itemAt, onGrid } from "./snap.js";

const TRIES = 40;
const TURN = 2.4; // rad: the places tried spiral outwards, each beside the one before
const APART = 0.35; // m
const ROOM = 0.7; // m of free space around a place

export class Placing {
  constructor(editor) {
    this.editor = editor;
    this.model = editor.model;
  }

  /** A free name, with a number if it's taken. */
  free(name) {
    const taken = new Set([...parts(this.model.doc).values()].map(({ part }) => part.name));
    let [free, number] = [name, 2];
    while (taken.has(free)) free = `${name} ${number++}`;
    return free;
  }

  /** Put something on the drawing where a pointer dropped it. */
  dropAt(event, what) {
    const { scene } = this.editor;
    const box = scene.node.getBoundingClientRect();
    const inside = event.clientX >= box.left && event.clientX <= box.right && event.clientY >= box.top && event.clientY <= box.bottom;
    if (inside) this.place(what, scene.at(event));
  }

  /** Put something on the drawing; without a place, in the middle if there's room. */
  place(what, where) {
    const { model, editor } = this;
    const step = stepOf(model.doc);
    const { doc, id } = addItem(model.doc, what, where ? onGrid(where, step) : this._room(step));
    model.change(doc);
    model.choose([id]);
    editor.say(editor.t("plan.placed", { name: editor.words.name(partOf(doc, id)) }));
  }

  /** The gate for a place: the system's unplaced one whose machine is nearest, or a new one. */
  nextGate(place) {
    const { model } = this;
    const placed = new Set(model.doc.gates.filter(({ duct }) => duct).map(({ bound }) => bound));
    const served = (gate) => model.doc.items.filter((item) => model.machineOf(item)?.gates.includes(gate.id));
    const away = (gate) => Math.min(...served(gate).map((item) => apartFlat(item, place)), 1e6);
    const [next] = model.gates.filter(({ id }) => !placed.has(id)).sort((one, other) => away(one) - away(other));
    if (!next) return { bound: null, kind: "powered", name: this.free(this.editor.t("plan.new_gate")), items: [] };
    return { bound: next.id, name: next.name, items: served(next).map(({ id }) => id) };
  }

  _room(step) {
    const { model } = this;
    const middle = onGrid(this.editor.scene.middle, step);
    for (let ring = 0; ring < TRIES; ring += 1) {
      const [angle, away] = [ring * TURN, ring * APART];
      const place = onGrid({ x: middle.x + away * Math.cos(angle), y: middle.y + away * Math.sin(angle) }, step);
      if (!itemAt(model.doc, place, model.kindOf, ROOM)) return place;
    }
    return middle;
  }
}
