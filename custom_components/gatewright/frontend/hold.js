/** Tells a long press from a tap, and from a key press. */

const HELD = 600;
const SLIPPED = 12;

/**
 * Call `held` after a long press, `tapped` after a short one, and `keyed` for the keyboard or a screen reader. While
 * the button is held it has the class `holding`.
 */
export function onHold(button, { held, tapped, keyed }) {
  let timer;
  let from;
  let done = false;
  const end = () => {
    clearTimeout(timer);
    button.classList.remove("holding");
  };
  button.style.setProperty("--held", `${HELD}ms`);
  button.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    done = false;
    from = event;
    button.classList.add("holding");
    timer = setTimeout(() => {
      done = true;
      end();
      navigator.vibrate?.(20);
      held();
    }, HELD);
  });
  button.addEventListener("pointermove", (event) => {
    if (from && Math.hypot(event.x - from.x, event.y - from.y) > SLIPPED) end();
  });
  for (const type of ["pointerup", "pointercancel", "pointerleave"]) button.addEventListener(type, end);
  button.addEventListener("contextmenu", (event) => event.preventDefault());
  button.addEventListener("click", (event) => {
    // A click without a pointer has no detail.
    if (event.detail === 0) keyed();
    else if (!done) tapped();
    done = false;
  });
}
