/** Fingers, pens and mice on the drawing: one uses the tool, two move and zoom, a wheel zooms. */

const SLIP = 6; // px of movement within a tap
const FINGER = 22; // px around a finger that count as touched
const MOUSE = 9;

/**
 * Sends `scene`'s pointer events to `tool()`: `down`, `move`, `up`, `tap`, `hover`, `cancel`, each with a place in m.
 */
export class Pointers {
  constructor(scene, tool) {
    this._scene = scene;
    this._tool = tool;
    this._held = new Map();
    const { node } = scene;
    node.addEventListener("pointerdown", (event) => this._down(event));
    node.addEventListener("pointermove", (event) => this._move(event));
    node.addEventListener("pointerup", (event) => this._up(event));
    node.addEventListener("pointercancel", (event) => this._cancel(event));
    node.addEventListener("pointerleave", () => this._held.size || this._tool().leave?.());
    node.addEventListener("dblclick", (event) => this._tool().double?.(scene.at(event)));
    node.addEventListener("wheel", (event) => this._wheel(event), { passive: false });
    node.addEventListener("contextmenu", (event) => event.preventDefault());
  }

  /** The distance (m) that counts as a hit. */
  static reach(scene, event) {
    return scene.reach(event.pointerType === "touch" ? FINGER : MOUSE);
  }

  _where(event) {
    const place = this._scene.at(event);
    return { ...place, reach: Pointers.reach(this._scene, event), add: event.shiftKey || event.ctrlKey || event.metaKey };
  }

  _down(event) {
    if (event.button > 1) return;
    this._held.set(event.pointerId, { clientX: event.clientX, clientY: event.clientY });
    try {
      this._scene.node.setPointerCapture(event.pointerId);
    } catch {
      // The pointer is already gone.
    }
    if (this._held.size === 2) {
      this._pinched = true;
      this._tool().cancel?.();
      return;
    }
    if (this._held.size > 2) return;
    this._start = event;
    this._moved = false;
    this._pinched = false;
    // The middle button pans, whatever the tool.
    this._panning = event.button === 1;
    if (!this._panning) this._panning = this._tool().down?.(this._where(event)) === "pan";
  }

  _move(event) {
    const held = this._held.get(event.pointerId);
    if (!held) {
      if (!this._held.size) this._tool().hover?.(this._where(event));
      return;
    }
    const before = { ...held };
    Object.assign(held, { clientX: event.clientX, clientY: event.clientY });
    if (this._held.size >= 2) return this._pinch(before, held);
    if (this._pinched) return;
    if (!this._moved && Math.hypot(event.clientX - this._start.clientX, event.clientY - this._start.clientY) < SLIP) return;
    this._moved = true;
    if (this._panning) this._scene.pan(held.clientX - before.clientX, held.clientY - before.clientY);
    else this._soon(event);
  }

  /** A tool works once per frame, however many events come. */
  _soon(event) {
    this._late = event;
    this._frame ??= requestAnimationFrame(() => {
      this._frame = undefined;
      const late = this._late;
      this._late = null;
      if (late) this._tool().move?.(this._where(late));
    });
  }

  _pinch(before, held) {
    const [one, other] = [...this._held.values()];
    const still = held === one ? other : one;
    const old = Math.hypot(before.clientX - still.clientX, before.clientY - still.clientY);
    const now = Math.hypot(held.clientX - still.clientX, held.clientY - still.clientY);
    const middle = { clientX: (held.clientX + still.clientX) / 2, clientY: (held.clientY + still.clientY) / 2 };
    if (old > 10) this._scene.zoom(now / old, middle);
    this._scene.pan((held.clientX - before.clientX) / 2, (held.clientY - before.clientY) / 2);
  }

  _up(event) {
    if (!this._held.delete(event.pointerId)) return;
    if (this._pinched || this._held.size) return;
    const late = this._late;
    this._late = null;
    if (late) this._tool().move?.(this._where(late));
    if (this._moved) {
      if (!this._panning) this._tool().up?.(this._where(event));
    } else {
      this._tool().tap?.(this._where(event));
    }
    this._panning = false;
  }

  _cancel(event) {
    this._held.delete(event.pointerId);
    this._late = null;
    this._tool().cancel?.();
  }

  _wheel(event) {
    event.preventDefault();
    this._scene.zoom(Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : 0.0015)), event);
  }
}
