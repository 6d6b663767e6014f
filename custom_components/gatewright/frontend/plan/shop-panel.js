/** The shop's panel: parts to place, the room, everything drawn, and the problems. */
import { el, setAttribute, setText } from "../dom.js";
import { collectorOf } from "./document.js";
import { roomBox, setRoom } from "./edits.js";
import { button, choice, typed } from "./fields.js";
import { addDuct, addItem } from "./route.js";
import { nearest } from "./line.js";

const PULLED = 14; // px until a press on a list becomes a drag

export class ShopPanel {
  constructor(editor) {
    this.editor = editor;
    this.model = editor.model;
    const { t } = editor;
    this._place = el("ul.place");
    this._planned = button(t("plan.new_machine"), () => editor.placing.place(this._new()), {}, ".new");
    this._pull(this._planned, () => this._new());
    this._placing = el("section", {}, el("h3", {}, t("plan.to_place")), el("p.hint", {}, t("plan.to_place_hint")), this._place, this._planned);
    this._problems = el("ul.problems");
    this._wrong = el("section", {}, el("h3", {}, t("plan.to_mend")), this._problems);
    this._pieces = el("ul.pieces", { "aria-label": t("plan.pieces") });
    this._head = el("h3", {}, t("plan.pieces"));
    this._fields = [];
    this.room = el("details.room", {}, el("summary", {}, t("plan.room")), ...this._roomFields());
    this.keys = el("details.keys", {}, el("summary", {}, t("plan.draw_by_list")), ...this._drawFields());
    // Content that changes with every answer is below the buttons.
    this.node = el("div.shop", {}, this._placing, this._wrong, el("section", {}, this._head, this._pieces), this.keys, this.room);
    this._pieces.addEventListener("keydown", (event) => this._walk(event));
    this.model.on("doc selection problems", () => this.update());
  }

  _new() {
    return { type: "machine", bound: null, kind: "other", name: this.editor.placing.free(this.editor.t("plan.new_name")) };
  }

  update() {
    const { model, editor } = this;
    const { doc } = model;
    const drawn = new Set(doc.items.map(({ bound }) => bound));
    const left = model.machines.filter(({ id }) => !drawn.has(id)).map((machine) => ({ type: "machine", bound: machine.id, kind: machine.kind, name: machine.name }));
    if (!collectorOf(doc)) left.unshift({ type: "collector", name: editor.words.name({ type: "collector" }) });
    this._placing.hidden = !model.editable;
    this.keys.hidden = this.room.hidden = !model.editable;
    this._rows(this._place, left, (one) => one.bound ?? one.type, (one) => {
      const node = button(one.name, () => editor.placing.place(one), {}, ".placeable");
      this._pull(node, () => one);
      return el("li", {}, node);
    });
    this._wrong.hidden = !model.problems.length;
    this._problems.replaceChildren(...model.problems.slice(0, 30).map((problem) => editor.problemRow(problem)));
    const all = [...doc.items, ...doc.ducts, ...doc.gates];
    const focused = this._pieces.getRootNode().activeElement?.dataset?.id;
    this._rows(this._pieces, all, ({ id }) => id, ({ id }) => {
      const pick = (event) => model.choose([id], { add: event.shiftKey || event.ctrlKey || event.metaKey || model.several });
      return el("li", {}, button("", pick, { "data-id": id }, ".piece"));
    });
    const wrong = new Set(model.problems.map(({ at }) => at?.id));
    const stop = focused ?? [...model.selection][0] ?? all[0]?.id;
    for (const { firstChild } of this._pieces.children) {
      const { id } = firstChild.dataset;
      setText(firstChild, editor.words.describe(id));
      setAttribute(firstChild, "aria-pressed", String(model.selection.has(id)));
      // One stop for the tab key; the arrows move within the list.
      setAttribute(firstChild, "tabindex", id === stop ? "0" : "-1");
      firstChild.classList.toggle("wrong", wrong.has(id));
    }
    setText(this._head, editor.t("plan.pieces_count", { count: all.length }));
    for (const field of this._fields) field.update();
  }

  _rows(list, all, keyOf, make) {
    const nodes = new Map([...list.children].map((node) => [node.dataset.key, node]));
    const next = all.map((one) => {
      const key = keyOf(one);
      const node = nodes.get(key) ?? make(one);
      node.dataset.key = key;
      return node;
    });
    if (next.length === list.children.length && next.every((node, at) => node === list.children[at])) return;
    const focused = list.getRootNode().activeElement;
    list.replaceChildren(...next);
    if (focused && list.contains(focused)) focused.focus();
  }

  _walk(event) {
    const { target, key } = event;
    if (!target.dataset?.id) return;
    const nodes = [...this._pieces.querySelectorAll(".piece")];
    const at = nodes.indexOf(target);
    const to = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: nodes.length - 1 }[key];
    if (to !== undefined && nodes[to]) {
      for (const node of nodes) node.tabIndex = -1;
      nodes[to].tabIndex = 0;
      nodes[to].focus();
      event.preventDefault();
    } else if (key === "Delete") {
      this.model.choose([target.dataset.id]);
      this.editor.remove();
    }
  }

  /** A sideways drag of a list entry moves it onto the drawing. */
  _pull(node, what) {
    let from = null;
    let ghost = null;
    const end = () => {
      ghost?.remove();
      from = ghost = null;
    };
    node.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      from = event;
      node.setPointerCapture(event.pointerId);
    });
    node.addEventListener("pointermove", (event) => {
      if (!from) return;
      if (!ghost && Math.hypot(event.clientX - from.clientX, event.clientY - from.clientY) < PULLED) return;
      if (!ghost) {
        ghost = el("div.ghost", { "aria-hidden": "true" }, what().name);
        this.editor.node.append(ghost);
      }
      const box = this.editor.node.getBoundingClientRect();
      ghost.style.transform = `translate(${event.clientX - box.left}px, ${event.clientY - box.top}px)`;
    });
    node.addEventListener("pointerup", (event) => {
      const pulled = Boolean(ghost);
      end();
      if (!pulled) return;
      // A dragged button wasn't pressed.
      node.addEventListener("click", (click) => click.stopImmediatePropagation(), { capture: true, once: true });
      this.editor.placing.dropAt(event, what());
    });
    node.addEventListener("pointercancel", end);
  }

  _roomFields() {
    const { editor, model } = this;
    const { t, measure } = editor;
    const field = (label, get, put) =>
      typed({
        label: t(label),
        unit: measure.lengthUnit,
        get,
        put: (value) => model.change(put(value)),
        read: (text) => {
          const value = measure.readLength(text);
          return value !== null && value > 0.2 && value < 200 ? value : null;
        },
        show: (value) => measure.typedLength(value),
        wrong: t("plan.wrong_length"),
      });
    const box = () => roomBox(model.doc) ?? { x: 0, y: 0, width: undefined, depth: undefined };
    const sized = (more) => {
      const now = box();
      return setRoom(model.doc, { width: 6, depth: 5, ...Object.fromEntries(Object.entries(now).filter(([, value]) => value !== undefined)), ...more });
    };
    this._fields.push(
      field("plan.room_width", () => box().width, (width) => sized({ width })),
      field("plan.room_depth", () => box().depth, (depth) => sized({ depth })),
      field("plan.room_height", () => model.doc.room?.height, (height) => ({ ...model.doc, room: { outline: [], ...model.doc.room, height } })),
      field("plan.new_height", () => model.newHeight, (height) => {
        model.height = height;
        return model.doc;
      })
    );
    return this._fields.map(({ node }) => node);
  }

  /** A duct from lists: from where to where, for use without a pointer. */
  _drawFields() {
    const { editor, model } = this;
    const { t, words } = editor;
    const ends = { from: "", to: "collector" };
    const from = choice({
      label: t("plan.from"),
      options: () => model.doc.items.filter(({ type }) => type === "machine").map((item) => [item.id, words.name(item)]),
      get: () => ends.from,
      put: (value) => (ends.from = value),
    });
    const to = choice({
      label: t("plan.to"),
      options: () => [["collector", words.leadsTo({ end: { to: "collector" } })], ...model.doc.ducts.map((duct) => [duct.id, words.name(duct)])],
      get: () => ends.to,
      put: (value) => (ends.to = value),
    });
    const draw = () => {
      const item = model.doc.items.find(({ id }) => id === ends.from);
      const collector = collectorOf(model.doc);
      const duct = model.doc.ducts.find(({ id }) => id === ends.to);
      if (!item || (!duct && !collector)) return editor.say(t("plan.choose_ends"));
      const begin = { item, point: { x: item.x, y: item.y } };
      const end = duct ? { duct, ...nearest(duct.points, { ...begin.point }, { flat: true }) } : { item: collector, point: { x: collector.x, y: collector.y } };
      const { doc, id } = addDuct(model.doc, begin, [], end, editor.settings);
      if (!id) return undefined;
      model.change(doc);
      model.choose([id]);
      return editor.say(t("plan.duct_drawn", { what: words.describe(id) }));
    };
    this._fields.push(from, to);
    return [from.node, to.node, button(t("plan.draw_it"), draw)];
  }
}
