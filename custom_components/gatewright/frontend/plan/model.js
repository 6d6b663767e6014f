/** The editor's model: the plan with its history, the selection, the tool, what runs, the figures. */
import { blank, kindOf, partOf } from "./document.js";
import { History } from "./history.js";
import { retuned } from "./joints.js";
import { runHeight } from "./shaping.js";
import { upright } from "./turned.js";

/** Notifies a topic's listeners: `doc`, `selection`, `tool`, `running`, `figures`, `status`, `problems`. */
export class PlanModel {
  constructor() {
    this.history = new History(blank());
    this.selection = new Set();
    this.tool = "choose";
    this.several = false;
    this.running = new Set();
    this.figures = null;
    this.proposal = null;
    this.problems = [];
    this.machines = [];
    this.gates = [];
    this.sizes = [];
    this.choices = {};
    this.units = "metric";
    this.editable = false;
    this.upright = false;
    this.height = null;
    this._listeners = new Map();
  }

  /** The plan as it is shown; where nobody can draw it may be turned. What is sent is `history.settled`. */
  get doc() {
    return this.upright && !this.editable ? upright(this.history.doc) : this.history.doc;
  }

  /** The height (m) of new ducts: as chosen, else that of existing ducts, else below the ceiling. */
  get newHeight() {
    if (this.height !== null) return this.height;
    const last = this.doc.ducts.at(-1);
    return last ? runHeight(last) : (this.doc.room?.height ?? 2.7) - 0.3;
  }

  on(topics, listener) {
    for (const topic of topics.split(" ")) {
      if (!this._listeners.has(topic)) this._listeners.set(topic, new Set());
      this._listeners.get(topic).add(listener);
    }
  }

  tell(topic) {
    for (const listener of this._listeners.get(topic) ?? []) listener(topic);
  }

  /** Add a step; `row` names the field being typed in. */
  change(doc, row) {
    if (!this.editable) return false;
    const changed = this.history.push(retuned(this.history.settled, doc), row);
    this._changed();
    return changed;
  }

  /** Preview a step while the finger is still down. */
  attempt(doc) {
    if (!this.editable) return;
    this.history.attempt(retuned(this.history.settled, doc));
    this.tell("trial");
  }

  /** Turn the preview into a step; returns whether there was one. */
  settle() {
    const changed = this.history.settle();
    if (changed) this._changed();
    else this.tell("trial");
    return changed;
  }

  drop() {
    this.history.drop();
    this.tell("trial");
  }

  undo() {
    if (this.editable && this.history.undo()) this._changed();
  }

  redo() {
    if (this.editable && this.history.redo()) this._changed();
  }

  /** Apply what came from the server. */
  take(doc, { step = false } = {}) {
    this.history.replace(doc, { step });
    for (const id of this.running) if (!partOf(doc, id)) this.running.delete(id);
    this._changed({ ours: false });
  }

  choose(ids, { add = false } = {}) {
    const next = add ? new Set(this.selection) : new Set();
    for (const id of ids) {
      if (add && next.has(id)) next.delete(id);
      else next.add(id);
    }
    this.selection = next;
    this.tell("selection");
  }

  use(tool) {
    this.tool = tool;
    this.tell("tool");
  }

  run(id, on = !this.running.has(id)) {
    if (on) this.running.add(id);
    else this.running.delete(id);
    this.tell("running");
  }

  runOnly(ids) {
    this.running = new Set(ids);
    this.tell("running");
  }

  set(topic, fields) {
    Object.assign(this, fields);
    this.tell(topic);
  }

  /** The selected parts of one kind. */
  chosen(kind) {
    return [...this.selection].filter((id) => kindOf(this.doc, id) === kind);
  }

  machineOf(item) {
    return this.machines.find(({ id }) => id === item.bound) ?? null;
  }

  gateOf(gate) {
    return this.gates.find(({ id }) => id === gate.bound) ?? null;
  }

  /** The kind of a machine on the plan. */
  kindOf = (item) => this.machineOf(item)?.kind ?? item.kind;

  /** A part's name; `t` for an unnamed one. */
  nameOf(part, t) {
    if (!part) return "";
    if (part.type === "collector") return part.name || this.system || t("plan.collector");
    if (part.type) return this.machineOf(part)?.name || part.name || t("plan.unnamed_item");
    if ("points" in part) return part.name || t("plan.unnamed_duct");
    return this.gateOf(part)?.name || part.name || t("plan.unnamed_gate");
  }

  _changed({ ours = true } = {}) {
    const gone = [...this.selection].filter((id) => !partOf(this.doc, id));
    for (const id of gone) this.selection.delete(id);
    this.ours = ours;
    this.tell("doc");
    if (gone.length) this.tell("selection");
  }
}
