/** Finds room for text on a drawing. All in px, from the drawing's origin. */
import { UNIT } from "./scene-parts.js";

const LETTER = 6.6;
/** The height of a line of text. */
export const LINE = 15;
const BESIDE = 5;

/** The box `[left, top, right, bottom]` of an item at a scale (px per m). */
export function boxOf(part, { half, low }, scale) {
  const [x, y, w, h] = [part.x * scale, part.y * scale, (half / UNIT) * scale, (low / UNIT) * scale];
  return [x - w, y - h, x + w, y + h];
}

const apart = (one, other) => one[0] >= other[2] || one[2] <= other[0] || one[1] >= other[3] || one[3] <= other[1];

export class Room {
  /** `items` should stay visible: `{part, box}` each; `bounds` is the box of the drawing. */
  constructor(items, bounds) {
    this._items = items;
    this._bounds = bounds;
    this._taken = [];
  }

  /** Take the room of a text at a place if it is free; returns whether it was. */
  take(text, x, y, anchor = "middle") {
    const box = wordsBox(text, x, y, anchor);
    const free = this._taken.every((other) => apart(box, other));
    if (free) this._taken.push(box);
    return free;
  }

  /**
   * Take room for the name of an item and return the side: below if it hides no other item, else beside or above; null
   * if there is none. Above is not used where the badge is.
   */
  sideFor(part, { name, half, low, badge }, scale) {
    const text = name.textContent;
    const [left, top, right, bottom] = boxOf(part, { half, low }, scale);
    const [x, y] = [(left + right) / 2, (top + bottom) / 2];
    const sides = [
      ["below", x, bottom + LINE, "middle"],
      ["right", right + BESIDE, y, "start"],
      ["left", left - BESIDE, y, "end"],
      ...(badge.dataset.tone ? [] : [["above", x, top - LINE / 2, "middle"]]),
    ];
    const inside = sides.filter(([, ...spot]) => {
      const [from, , to] = wordsBox(text, ...spot);
      return from >= this._bounds[0] && to <= this._bounds[2];
    });
    const clear = ([, ...spot]) => this._items.every((other) => other.part === part || apart(wordsBox(text, ...spot), other.box));
    const take = ([, ...spot]) => this.take(text, ...spot);
    const [side] = inside.find((one) => clear(one) && take(one)) ?? inside.find(take) ?? [null];
    return side;
  }
}

function wordsBox(text, x, y, anchor) {
  const width = text.length * LETTER;
  const left = x - { start: 0, middle: width / 2, end: width }[anchor];
  return [left, y - LINE / 2, left + width, y + LINE / 2];
}
