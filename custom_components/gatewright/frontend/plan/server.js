/** The server's side of the editor: the draft, which is stored as it is drawn, and the figures of the drawing. */

/** The commands about one system's plan, in one language. */
export class Session {
  constructor(connection, entryId, language) {
    this._connection = connection;
    this._base = { entry_id: entryId, language };
  }

  /** Send a command; returns its answer. */
  call(name, fields = {}) {
    return this._connection.sendMessagePromise({ type: `gatewright/plan/${name}`, ...this._base, ...fields });
  }

  /** Be told of every revision; returns how to stop that. */
  subscribe(listener) {
    return this._connection.subscribeMessage(listener, { type: "gatewright/plan/subscribe", ...this._base });
  }
}

/**
 * Asks for the newest only: while an answer is awaited, of all that is asked for meanwhile just the last is sent.
 * `send(what)` returns a promise; `take(answer, what)` is given each answer that is still the newest.
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

const PAUSE = 600; // ms after the last stroke until a draft is stored.
const AGAIN = 3000; // ms until storing is tried again.

/**
 * Stores a plan as it is drawn. `status` is `saved`, `waiting`, `saving`, `offline`, `refused` or `conflict`.
 *
 * Nothing is lost: what is not stored yet is kept in the browser too, and where somebody else was faster both
 * drawings are there until `keepMine` or `takeTheirs`.
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

  /** Begin with a revision that the server has. */
  begin(revision, doc) {
    this.revision = revision;
    this._doc = doc;
    this._dirty = false;
    this._say("saved");
    this._forget();
  }

  /** What an earlier page of this browser had not stored yet: `{revision, document}`, or null. */
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

  /** Store now what is not stored yet; returns whether all is. */
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

  /** Another browser stored a revision; returns whether the newest has to be fetched. */
  heard({ revision, mine }) {
    if (mine || revision === this.revision || this._saving || this.status === "conflict") return false;
    if (!this._dirty) return true;
    // What is drawn here is stored against the older revision, so that the server tells.
    this.save();
    return false;
  }

  _clash(theirs) {
    this._theirs = theirs;
    this._say("conflict");
    this._conflict(theirs);
  }

  /** Store what is drawn here in the place of what the other browser stored. */
  keepMine() {
    this.revision = this._theirs.revision;
    this._theirs = null;
    this._say("waiting");
    this._dirty = true;
    return this.save();
  }

  /** Take what the other browser stored; returns it. */
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
      // No room: the server's copy has to do.
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
