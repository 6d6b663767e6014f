/** The editor's connection to the server: the draft, saved while drawing, and the figures. */

/** The commands about one system's plan, in one language. */
export class Session {
  constructor(connection, entryId, language) {
    this._connection = connection;
    this._base = { entry_id: entryId, language };
  }

  /** Send a command; returns its result. */
  call(name, fields = {}) {
    return this._connection.sendMessagePromise({ type: `gatewright/plan/${name}`, ...this._base, ...fields });
  }

  /** Subscribe to revisions; returns a function that unsubscribes. */
  subscribe(listener) {
    return this._connection.subscribeMessage(listener, { type: "gatewright/plan/subscribe", ...this._base });
  }
}

/**
 * Sends only the newest request: of all requests during a pending one, only the last is sent. `send(what)` returns a
 * promise; `take(answer, what)` gets each answer that is still the newest.
 */
export class Newest {
  constructor(send, take, fail = () => {}) {
    this._send = send;
    this._take = take;
    this._fail = fail;
    this._busy = false;
  }

  ask(what) {
    this._next = { what };
    if (!this._busy) this._work();
  }

  async _work() {
    this._busy = true;
    while (this._next) {
      const { what } = this._next;
      this._next = null;
      try {
        const answer = await this._send(what);
        if (!this._next) this._take(answer, what);
      } catch (error) {
        if (!this._next) this._fail(error);
      }
    }
    this._busy = false;
  }
}

const PAUSE = 600; // ms after the last stroke until a draft is saved.
const AGAIN = 3000; // ms until saving is retried.

/**
 * Saves a plan while it's drawn. `status` is `saved`, `waiting`, `saving`, `offline`, `refused` or `conflict`.
 *
 * Nothing is lost: unsaved changes are also kept in the browser, and if somebody else was faster, both drawings exist
 * until `keepMine` or `takeTheirs`.
 */
export class Draft {
  constructor(session, { key, told, stored, conflict, storage }) {
    this._session = session;
    this._key = `gatewright-plan-${key}`;
    this._told = told;
    this._stored = stored;
    this._conflict = conflict;
    this._storage = storage;
    this.revision = 0;
    this.status = "saved";
  }

  /** Start with a revision of the server. */
  begin(revision, doc) {
    this.revision = revision;
    this._doc = doc;
    this._dirty = false;
    this._say("saved");
    this._forget();
  }

  /** What an earlier page of this browser hadn't saved: `{revision, document}`, or null. */
  left() {
    try {
      return JSON.parse(this._storage?.getItem(this._key) ?? "null");
    } catch {
      return null;
    }
  }

  get dirty() {
    return this._dirty || this.status === "conflict";
  }

  /** The plan was changed here. */
  changed(doc) {
    this._doc = doc;
    this._dirty = true;
    if (this.status === "conflict") return;
    this._keep();
    this._say("waiting");
    clearTimeout(this._timer);
    this._timer = setTimeout(() => this.save(), PAUSE);
  }

  /** Save unsaved changes now; returns whether everything is saved. */
  async save() {
    clearTimeout(this._timer);
    if (this._saving) {
      await this._saving;
      return this.save();
    }
    if (!this._dirty) return this.status === "saved";
    if (this.status === "conflict") return false;
    this._saving = this._store();
    await this._saving;
    this._saving = null;
    if (this._dirty && this.status === "waiting") return this.save();
    return this.status === "saved";
  }

  async _store() {
    const doc = this._doc;
    this._dirty = false;
    this._say("saving");
    try {
      const answer = await this._session.call("save", { revision: this.revision, document: doc });
      if (answer.saved) {
        this.revision = answer.revision;
        if (!this._dirty) this._forget();
        this._say(this._dirty ? "waiting" : "saved");
        this._stored(answer);
        return;
      }
      this._dirty = true;
      if (answer.reason === "stale") this._clash(answer);
      else {
        this._refusal = answer.problems;
        this._say("refused");
        this._stored(answer);
      }
    } catch (error) {
      this._dirty = true;
      this._say(error?.code === "unauthorized" ? "refused" : "offline");
      if (this.status === "offline") this._timer = setTimeout(() => this.save(), AGAIN);
    }
  }

  /** Another browser saved a revision; returns whether the newest has to be fetched. */
  heard({ revision, mine }) {
    if (mine || revision === this.revision || this._saving || this.status === "conflict") return false;
    if (!this._dirty) return true;
    // This drawing is saved against the older revision, so that the server reports the conflict.
    this.save();
    return false;
  }

  _clash(theirs) {
    this._theirs = theirs;
    this._say("conflict");
    this._conflict(theirs);
  }

  /** Save this drawing in place of the other browser's. */
  keepMine() {
    this.revision = this._theirs.revision;
    this._theirs = null;
    this._say("waiting");
    this._dirty = true;
    return this.save();
  }

  /** Take the other browser's drawing; returns it. */
  takeTheirs() {
    const { revision, document } = this._theirs;
    this._theirs = null;
    this.begin(revision, document);
    return document;
  }

  stop() {
    clearTimeout(this._timer);
  }

  _say(status) {
    this.status = status;
    this._told(status);
  }

  _keep() {
    try {
      this._storage?.setItem(this._key, JSON.stringify({ revision: this.revision, document: this._doc }));
    } catch {
      // Storage is full: the server's copy has to do.
    }
  }

  _forget() {
    try {
      this._storage?.removeItem(this._key);
    } catch {
      // As above.
    }
  }
}
