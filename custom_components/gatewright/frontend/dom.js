/** Small helpers that build and update the page without touching what stays the same. */

const SVG = "http://www.w3.org/2000/svg";

/** Create an element: `el("button.tile", {onclick, "aria-label": …}, child, …)`. */
export function el(what, attributes = {}, ...children) {
  const [name, ...classes] = what.split(".");
  const node = document.createElement(name);
  if (classes.length) node.className = classes.join(" ");
  return fill(node, attributes, children);
}

/** Create an SVG element the same way. */
export function svg(what, attributes = {}, ...children) {
  const [name, ...classes] = what.split(".");
  const node = document.createElementNS(SVG, name);
  if (classes.length) node.setAttribute("class", classes.join(" "));
  return fill(node, attributes, children);
}

function fill(node, attributes, children) {
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else setAttribute(node, key, value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined));
  return node;
}

/** Set an attribute where it differs; null, undefined and false remove it. */
export function setAttribute(node, name, value) {
  if (value === null || value === undefined || value === false) {
    if (node.hasAttribute(name)) node.removeAttribute(name);
    return;
  }
  const text = value === true ? "" : String(value);
  if (node.getAttribute(name) !== text) node.setAttribute(name, text);
}

/** Set a node's text where it differs. */
export function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/** Place an element by its corner, counted from the inline start. */
export function place(node, { x, y, width, height }) {
  node.style.insetInlineStart = `${x}px`;
  node.style.top = `${y}px`;
  if (width !== undefined) node.style.width = `${width}px`;
  if (height !== undefined) node.style.height = `${height}px`;
  return node;
}

/** Fire an event that Home Assistant's frontend listens to. */
export function fire(node, type, detail) {
  node.dispatchEvent(new CustomEvent(type, { detail, bubbles: true, composed: true }));
}
