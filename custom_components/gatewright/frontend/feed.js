/**
 * One system's data from Home Assistant: a complete snapshot once, then changes.
 *
 * All cards of a page that show the same system share one subscription. Cards without an id show the first system: once
 * it is known, they may have to change to its feed (`moved`). Instants in the snapshot are seconds on Home Assistant's
 * monotonic clock; `now()` is that clock, read through the `now` of the messages, so that no wall clock has to be right.
 *
 * `status` is `connecting`, `live`, `lost` (no connection to Home Assistant), `absent` (Gatewright isn't loaded, or
 * not yet) or `unknown` (no such system for this user).
 */

const RETRIES = [250, 500, 1000, 2000, 5000];
const ALL = Object.freeze({ all: true });
const MOVED = Object.freeze({ moved: true });

// A change of these changes the drawing, not only what it shows.
const ANEW = ["name", "gates", "clears", "kind", "control"];

// The placeholder for a missing name.
const UNNAMED = "?";

const shared = new WeakMap();

/** The feeds of one connection by their systems' ids; the first system's has no id until it is known. */
class Feeds {
  _known = new Map();
  _first = "";

  constructor(connection) {
    this._connection = connection;
  }

  of(entryId) {
    const key = entryId || this._first;
    let feed = this._known.get(key);
    if (!feed) this._known.set(key, (feed = new Feed(this._connection, key, this)));
    return feed;
  }

  /** Store which system is the first; returns whether it already has another feed. */
  learn(entryId, feed) {
    this._first = entryId;
    this._known.delete("");
    if (this._known.has(entryId)) return true;
    this._known.set(entryId, feed);
    return false;
  }

  /** Store that a system doesn't exist; returns whether it was the first. */
  lose(entryId) {
    if (!entryId || this._first !== entryId) return false;
    this._first = "";
    return true;
  }
}

/** Return the feed of a system, the first one without an id, through a connection. */
export function feedOf(connection, entryId) {
  let feeds = shared.get(connection);
  if (!feeds) shared.set(connection, (feeds = new Feeds(connection)));
  return feeds.of(entryId);
}

/** The version that this page loaded: the folder of its modules. */
export const VERSION = new URL(".", import.meta.url).pathname.split("/").at(-2);

export class Feed {
  status = "connecting";
  picture = null;

  constructor(connection, entryId, feeds) {
    this._connection = connection;
    this._entryId = entryId;
    this._feeds = feeds;
    this._listeners = new Set();
    this._ahead = -Infinity;
    this._attempt = 0;
    this._retries = 0;
    this._onReady = () => this._start();
    this._onLost = () => this._lose();
  }

  /** Call a listener with what changed, or with `moved` when it should ask for its feed anew; returns how to stop that. */
  listen(listener) {
    this._listeners.add(listener);
    if (this._listeners.size === 1) {
      this._connection.addEventListener("ready", this._onReady);
      this._connection.addEventListener("disconnected", this._onLost);
      if (this._connection.connected) this._start();
      else this._set("lost");
    }
    return () => {
      this._listeners.delete(listener);
      if (this._listeners.size === 0) this._stop();
    };
  }

  /** Home Assistant's clock now, in seconds. */
  now() {
    return performance.now() / 1000 + this._ahead;
  }

  /** Whether Home Assistant runs another version of Gatewright than this page loaded. */
  get outdated() {
    const version = this.picture?.version;
    return Boolean(version) && version !== VERSION;
  }

  async _start() {
    clearTimeout(this._timer);
    const attempt = ++this._attempt;
    // After a restart, Home Assistant has another clock.
    this._ahead = -Infinity;
    try {
      if (!this._entryId && !(await this._findFirst(attempt))) return;
      // After a restart the hub takes connections before it knows our command: the
      // library would give up there, so renewing is done here.
      const end = await this._connection.subscribeMessage(
        (sent) => attempt === this._attempt && this._take(sent),
        { type: "gatewright/subscribe", entry_id: this._entryId },
        { resubscribe: false }
      );
      if (attempt === this._attempt) this._end = end;
      else end().catch(() => {});
      this._retries = 0;
    } catch (error) {
      if (attempt !== this._attempt) return;
      const unknown = error?.code === "not_found";
      // There may be another first system now.
      if (unknown && this._feeds.lose(this._entryId)) this._tell(MOVED);
      if (attempt !== this._attempt) return;
      this._set(unknown ? "unknown" : "absent");
      const wait = RETRIES[Math.min(this._retries++, RETRIES.length - 1)];
      this._timer = setTimeout(() => this._connection.connected && this._start(), wait);
    }
  }

  /** Find out which system is the first; returns whether this feed is its feed. */
  async _findFirst(attempt) {
    const [first] = await this._connection.sendMessagePromise({ type: "gatewright/systems" });
    if (attempt !== this._attempt) return false;
    if (!first) throw Object.assign(new Error("There is no system"), { code: "not_found" });
    const entryId = first.entry_id;
    if (this._feeds.learn(entryId, this)) {
      this._tell(MOVED);
      return false;
    }
    this._entryId = entryId;
    return true;
  }

  _stop() {
    clearTimeout(this._timer);
    this._attempt++;
    this._connection.removeEventListener("ready", this._onReady);
    this._connection.removeEventListener("disconnected", this._onLost);
    this._end?.().catch(() => {});
    this._end = undefined;
    this.status = "connecting";
    this.picture = null;
  }

  _lose() {
    clearTimeout(this._timer);
    this._attempt++;
    this._retries = 0;
    // Home Assistant forgot the subscription with the connection.
    this._end = undefined;
    this._set("lost");
  }

  _set(status) {
    if (this.status === status) return;
    this.status = status;
    this._tell(ALL);
  }

  _take(sent) {
    // The fastest message shows best how the clocks differ.
    this._ahead = Math.max(this._ahead, sent.now - performance.now() / 1000);
    const changes = "state" in sent ? this._begin(sent) : this._merge(sent);
    if (this.status !== "live") {
      this.status = "live";
      this._tell(ALL);
    } else {
      this._tell(changes);
    }
  }

  _begin(sent) {
    this.picture = {
      ...sent,
      system: { name: sent.name ?? UNNAMED, ...sent.system },
      gates: partsOf(sent.gates),
      machines: partsOf(sent.machines),
      alarms: sent.alarms || [],
    };
    return ALL;
  }

  _merge(sent) {
    const changes = { system: false, alarms: false, gates: [], machines: [], flows: false };
    let all = false;
    for (const [key, value] of Object.entries(sent)) {
      if (key === "gates" || key === "machines") {
        if (this._parts(this.picture[key], value)) all = true;
        changes[key] = Object.keys(value);
      } else if (key === "system") {
        Object.assign(this.picture.system, value);
        changes.system = true;
        if ("name" in value) all = true;
      } else {
        this.picture[key] = value;
        if (key in changes) changes[key] = true;
        else if (key !== "now") all = true;
      }
    }
    return all ? ALL : changes;
  }

  /** Apply changed parts; returns whether the map has to be drawn anew. */
  _parts(parts, changed) {
    let anew = false;
    for (const [id, fields] of Object.entries(changed)) {
      const part = parts.get(id);
      if (fields === null) {
        parts.delete(id);
        anew = true;
      } else if (!part) {
        parts.set(id, { ...fields, id });
        anew = true;
      } else {
        Object.assign(part, fields);
        anew ||= ANEW.some((field) => field in fields);
      }
    }
    return anew;
  }

  _tell(changes) {
    for (const listener of [...this._listeners]) listener(changes);
  }
}

/** Parts by their id, which each of them also contains. */
function partsOf(sent) {
  return new Map(Object.entries(sent || {}).map(([id, part]) => [id, { name: UNNAMED, ...part, id }]));
}
