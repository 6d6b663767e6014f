/** The history of a document: undo, redo, and a preview while a finger is down. */

const STEPS = 200;

export class History {
  /** Start with a document. */
  constructor(doc) {
    this._past = [];
    this._future = [];
    this._now = doc;
    this._trial = null;
  }

  /** The displayed document, with the preview. */
  get doc() {
    return this._trial ?? this._now;
  }

  /** The document without the preview. */
  get settled() {
    return this._now;
  }

  get canUndo() {
    return this._past.length > 0;
  }

  get canRedo() {
    return this._future.length > 0;
  }

  /** Preview another document until `settle` or `drop`. */
  attempt(doc) {
    this._trial = doc === this._now ? null : doc;
  }

  /** Turn the preview into a step; returns whether there was one. */
  settle() {
    const trial = this._trial;
    this._trial = null;
    return trial ? this.push(trial) : false;
  }

  /** Drop the preview. */
  drop() {
    this._trial = null;
  }

  /** Add a step; consecutive steps with one `row` (typing in a field) count as one. */
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

  /** Replace the document by the server's version, as a step of its own or in place of the last one. */
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
