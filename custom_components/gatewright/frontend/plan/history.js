/** The steps that led to a document: undo, redo, and what is being tried while a finger is still down. */

const STEPS = 200;

export class History {
  /** Begin with a document. */
  constructor(doc) {
    this._past = [];
    this._future = [];
    this._now = doc;
    this._trial = null;
  }

  /** The document as it is shown: with what is being tried. */
  get doc() {
    return this._trial ?? this._now;
  }

  /** The document without what is being tried. */
  get settled() {
    return this._now;
  }

  get canUndo() {
    return this._past.length > 0;
  }

  get canRedo() {
    return this._future.length > 0;
  }

  /** Show another document until `settle` or `drop`. */
  attempt(doc) {
    this._trial = doc === this._now ? null : doc;
  }

  /** Take what was tried as one step; returns whether there was something. */
  settle() {
    const trial = this._trial;
    this._trial = null;
    return trial ? this.push(trial) : false;
  }

  /** Forget what was tried. */
  drop() {
    this._trial = null;
  }

  /** Take a step; a row of steps with one `row` (a field that somebody types in) counts as one. */
  push(doc, row) {
    this._trial = null;
    if (doc === this._now) return false;
    if (!row || row !== this._row || !this._past.length) this._past.push(this._now);
    if (this._past.length > STEPS) this._past.shift();
    this._row = row;
    this._future = [];
    this._now = doc;
    return true;
  }

  undo() {
    return this._go(this._past, this._future);
  }

  redo() {
    return this._go(this._future, this._past);
  }

  /** Exchange the document for what the server made of it, as a step of its own or in place of the last one. */
  replace(doc, { step = true } = {}) {
    if (step) return this.push(doc);
    this._trial = null;
    this._now = doc;
    return true;
  }

  _go(from, to) {
    this._trial = null;
    this._row = undefined;
    if (!from.length) return false;
    to.push(this._now);
    this._now = from.pop();
    return true;
  }
}
