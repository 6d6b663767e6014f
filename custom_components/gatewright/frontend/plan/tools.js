/** The tools: select and move, duct, gate, room, and trying what runs. Each works on the editor's model. */
import { svg } from "../dom.js";
import { collectorOf, partOf, stepOf } from "./document.js";
import { moveAll, roomBox, setRoom } from "./edits.js";
import { apartFlat } from "./line.js";
import { addDuct, addGate, way } from "./route.js";
import { moveLeg, movePoint } from "./shaping.js";
import { pathOf, UNIT } from "./scene-parts.js";
import { aim, ductAt, hit, itemAt, onAngle, onGrid, toGrid } from "./snap.js";

class Tool {
  constructor(editor) {
    this.editor = editor;
    this.model = editor.model;
    this.scene = editor.scene;
  }

  get sketch() {
    return this.scene.sketch;
  }

  look(place) {
    return { reach: place.reach, kindOf: this.model.kindOf };
  }
}

/** Tap to select; drag to move what is under the finger; on empty floor, drag the drawing. */
export class ChooseTool extends Tool {
  down(place) {
    const { model } = this;
    this._from = place;
    this._drag = null;
    const found = this._found(place);
    if (!found || !model.editable) return found && model.editable ? undefined : "pan";
    this._drag = found;
    return undefined;
  }

  _found(place) {
    const { doc, selection } = this.model;
    const [id, more] = selection;
    const duct = more ? null : doc.ducts.find((one) => one.id === id);
    if (duct) {
      const at = duct.points.findIndex((point) => apartFlat(point, place) <= place.reach * 1.2);
      // The end at a machine moves with the machine.
      if (at >= 0 && !itemAt(doc, duct.points[at], this.model.kindOf)) return { kind: "point", id: duct.id, at };
    }
    return hit(doc, place, this.look(place));
  }

  move(place) {
    const { model } = this;
    if (!this._drag) return;
    const { settled } = model.history;
    const step = stepOf(settled);
    const [dx, dy] = [toGrid(place.x - this._from.x, step), toGrid(place.y - this._from.y, step)];
    model.attempt(this._moved(settled, place, dx, dy));
  }

  _moved(doc, place, dx, dy) {
    const { kind, id, at, leg } = this._drag;
    const { machines, selection } = this.model;
    if (selection.has(id) && selection.size > 1) return moveAll(doc, [...selection], dx, dy, machines);
    if (kind === "point") return movePoint(doc, id, at, this._corner(doc, id, at, place));
    if (kind === "duct") return moveLeg(doc, id, leg, dx, dy);
    if (kind === "gate") return this._slid(doc, id, place);
    const item = partOf(doc, id);
    const to = onGrid({ x: item.x + dx, y: item.y + dy }, stepOf(doc));
    return moveAll(doc, [id], to.x - item.x, to.y - item.y, machines);
  }

  /** A corner snaps to the grid, or to where its neighbors are square to it; an end slides along its target. */
  _corner(doc, id, at, place) {
    const duct = partOf(doc, id);
    if (at === duct.points.length - 1 && duct.end?.to === "duct") {
      const target = partOf(doc, duct.end.duct);
      const near = target && ductAt({ ducts: [target] }, place, Infinity);
      if (near) return aim({ ...doc, items: [], ducts: [target] }, near.point, { ...this.look(place), from: duct.points[at - 1] }).point;
    }
    const beside = duct.points[at - 1] ?? duct.points[at + 1];
    return apartFlat(beside, duct.points[at]) > 0.02 ? onAngle(beside, place, stepOf(doc)) : onGrid(place, stepOf(doc));
  }

  _slid(doc, id, place) {
    const gate = partOf(doc, id);
    const near = ductAt(doc, place, place.reach * 3) ?? null;
    if (!near) return doc;
    if (near.duct.id === gate.duct) {
      const at = gate.mount === "start" ? 0 : toGrid(near.place, stepOf(doc) / 2);
      return { ...doc, gates: doc.gates.map((one) => (one.id === id ? { ...one, at } : one)) };
    }
    const moved = { ...gate, duct: near.duct.id, at: toGrid(near.place, stepOf(doc) / 2) };
    return { ...doc, gates: doc.gates.map((one) => (one.id === id ? moved : one)) };
  }

  up() {
    const id = this._drag?.id;
    if (this.model.settle() && id && !this.model.selection.has(id)) this.model.choose([id]);
    this._drag = null;
  }

  tap(place) {
    const found = hit(this.model.doc, place, this.look(place));
    this.model.spot = found?.kind === "duct" ? found : null;
    this.model.choose(found ? [found.id] : [], { add: place.add || this.model.several });
    this.editor.say(found ? this.editor.words.describe(found.id) : this.editor.t("plan.nothing_chosen"));
  }

  cancel() {
    this._drag = null;
    this.model.drop();
  }
}

/** Draw a duct: tap where it begins, at each corner, and where it ends. */
export class DuctTool extends Tool {
  tap(place) {
    const { doc } = this.model;
    if (!this._from) {
      this._from = aim(doc, place, this.look(place));
      this._corners = [];
      this.editor.say(this.editor.t("plan.duct_begun"));
      this._show(place);
      return;
    }
    const at = this._aim(place);
    const goal = at.item || at.duct;
    const last = this._corners.at(-1) ?? this._from.point;
    if (apartFlat(last, at.point) < 0.02) {
      if (this._corners.length || !goal) this._end(this._corners.length ? { point: this._corners.pop() } : null);
      return;
    }
    if (goal) this._end(at);
    else {
      this._corners.push(at.point);
      this._show(place);
    }
  }

  // A finger that draws in one stroke begins and ends a duct too.
  down(place) {
    if (this._from) return undefined;
    const begun = aim(this.model.doc, place, this.look(place));
    if (!begun.item && !begun.duct) return "pan";
    this._stroke = begun;
    return undefined;
  }

  move(place) {
    if (this._stroke && !this._from) {
      this._from = this._stroke;
      this._corners = [];
    }
    this._show(place);
  }

  up(place) {
    const stroke = this._stroke;
    this._stroke = null;
    if (!this._from) return;
    const at = this._aim(place);
    if ((at.item && at.item.id !== this._from.item?.id) || at.duct) this._end(at);
    else if (stroke || at.point) {
      this._corners.push(at.point);
      this._show(place);
    }
  }

  double() {
    if (this._from && this._corners.length) this._end({ point: this._corners.pop() });
  }

  hover(place) {
    this._show(place);
  }

  /** End at the last corner, or remove that corner. */
  key(key) {
    if (!this._from) return false;
    if (key === "Enter" && this._corners.length) this._end({ point: this._corners.pop() });
    else if (key === "Escape" || key === "Backspace") {
      if (this._corners.length) this._corners.pop();
      else this.cancel();
      this.sketch.replaceChildren();
    } else return false;
    return true;
  }

  cancel() {
    this._from = null;
    this._stroke = null;
    this._corners = [];
    this.sketch.replaceChildren();
  }

  leave() {
    if (!this._from) this.sketch.replaceChildren();
  }

  _aim(place) {
    const from = this._corners.at(-1) ?? this._from.point;
    const except = new Set([this._from.item?.id, this._from.duct?.id].filter(Boolean));
    return aim(this.model.doc, place, { ...this.look(place), from, except });
  }

  _end(to) {
    const [from, corners] = [this._from, this._corners];
    this.cancel();
    if (!to) return;
    const { doc, id } = addDuct(this.model.doc, from, corners, to, this.editor.settings);
    if (!id) return;
    this.model.change(doc);
    this.model.choose([id]);
    this.editor.say(this.editor.t("plan.duct_drawn", { what: this.editor.words.describe(id) }));
  }

  _show(place) {
    const { doc } = this.model;
    const at = this._from ? this._aim(place) : aim(doc, place, this.look(place));
    const nodes = [];
    if (this._from) {
      const path = way(this._from, this._corners, at);
      nodes.push(svg("path.sketched", { d: pathOf(path) }));
      const length = path.reduce((sum, point, index) => sum + (index ? apartFlat(point, path[index - 1]) : 0), 0);
      if (length > 0.05) {
        const text = svg("text.label", { x: at.point.x * UNIT, y: at.point.y * UNIT, "data-tone": "sketch" }, this.editor.measure.length(length));
        text.classList.add("above");
        nodes.push(text);
      }
    }
    const joins = Boolean(at.item || at.duct);
    nodes.push(svg(`circle.aim${joins ? ".joins" : ""}`, { cx: at.point.x * UNIT, cy: at.point.y * UNIT }));
    this.sketch.replaceChildren(...nodes);
  }
}

/** Put a gate on a duct by a tap. */
export class GateTool extends Tool {
  down() {
    return "pan";
  }

  tap(place) {
    const near = ductAt(this.model.doc, place, place.reach * 1.5);
    if (!near) return;
    const { doc, id } = addGate(this.model.doc, near.duct.id, near.place, this.editor.placing.nextGate(near.point));
    this.model.change(doc);
    this.model.choose([id]);
    this.editor.say(this.editor.words.describe(id));
  }

  hover(place) {
    const near = ductAt(this.model.doc, place, place.reach * 1.5);
    this.sketch.replaceChildren(...(near ? [svg("circle.aim.joins", { cx: near.point.x * UNIT, cy: near.point.y * UNIT })] : []));
  }

  cancel() {
    this.sketch.replaceChildren();
  }
}

/** Draw the room by dragging from corner to corner. */
export class RoomTool extends Tool {
  down(place) {
    this._from = onGrid(place, stepOf(this.model.doc));
  }

  move(place) {
    if (!this._from) return;
    const to = onGrid(place, stepOf(this.model.doc));
    const box = { x: Math.min(to.x, this._from.x), y: Math.min(to.y, this._from.y), width: Math.abs(to.x - this._from.x), depth: Math.abs(to.y - this._from.y) };
    if (box.width && box.depth) this.model.attempt(setRoom(this.model.history.settled, box));
  }

  up() {
    this._from = null;
    if (!this.model.settle()) return;
    const { width, depth } = roomBox(this.model.doc);
    this.model.use("choose");
    this.editor.say(this.editor.t("plan.room_drawn", { width: this.editor.measure.length(width), depth: this.editor.measure.length(depth) }));
  }

  cancel() {
    this._from = null;
    this.model.drop();
  }
}

/** Tap machines to see what they would get; nothing on the plan changes. */
export class TryTool extends Tool {
  down() {
    return "pan";
  }

  tap(place) {
    const { doc } = this.model;
    const found = hit(doc, place, this.look(place));
    let item = itemAt(doc, place, this.model.kindOf, place.reach / 2);
    if (found?.kind === "gate") item = doc.items.find(({ id }) => partOf(doc, found.id).items?.includes(id)) ?? item;
    if (!item || item === collectorOf(doc)) {
      this.model.choose(found ? [found.id] : []);
      return;
    }
    this.editor.toggle(item.id);
  }

  cancel() {}
}
