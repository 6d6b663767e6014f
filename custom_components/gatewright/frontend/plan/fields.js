/** The panel's fields: each shows a value of one or several parts and writes it back. */
import { el, setAttribute, setText } from "../dom.js";

let count = 0;

function row(label, control, note) {
  const id = `plan-field-${(count += 1)}`;
  control.id = id;
  return el("div.field", {}, el("label", { for: id }, label), el("div.with-unit", {}, control, note ?? null));
}

/** A text field: `read(text)` returns a value, null for an invalid text; `show(value)` its text. */
export function typed({ label, unit, get, put, read, show, wrong, optional = false }) {
  const input = el("input", { type: "text", autocomplete: "off", spellcheck: "false" });
  if (unit) input.setAttribute("inputmode", "decimal");
  const told = el("span.unit", { "aria-hidden": "true" }, unit ?? "");
  const fault = el("p.fault", { role: "alert", hidden: true });
  const node = el("div", {}, row(unit ? `${label} (${unit})` : label, input, null), fault);
  const commit = () => {
    const text = input.value.trim();
    const value = text === "" && optional ? undefined : read(text);
    const bad = value === null;
    fault.hidden = !bad;
    setAttribute(input, "aria-invalid", bad ? "true" : null);
    setText(fault, bad ? wrong : "");
    if (!bad && (text !== "" || optional) && text !== input.dataset.shown) put(value);
  };
  input.addEventListener("change", commit);
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") commit();
    if (event.key === "Escape") {
      input.value = input.dataset.shown ?? "";
      fault.hidden = true;
    }
    event.stopPropagation();
  });
  const update = () => {
    const value = get();
    const text = value === undefined || value === null ? "" : show(value);
    if (input.dataset.shown === text && fault.hidden) return;
    input.dataset.shown = text;
    // Typing isn't disturbed.
    if (input.getRootNode().activeElement !== input || input.value === "") input.value = text;
    else if (fault.hidden) input.value = text;
  };
  update();
  told.remove();
  return { node, update, input };
}

/** A drop-down field: `options()` returns `[[value, text]]`. */
export function choice({ label, options, get, put }) {
  const select = el("select");
  const node = row(label, select);
  select.addEventListener("change", () => put(select.value));
  const update = () => {
    const list = options();
    const value = get();
    const known = list.some(([key]) => key === value);
    const all = known ? list : [["", "–"], ...list];
    const key = JSON.stringify(all);
    if (select.dataset.key !== key) {
      select.dataset.key = key;
      select.replaceChildren(...all.map(([one, text]) => el("option", { value: one }, text)));
    }
    select.value = known ? value : "";
  };
  update();
  return { node, update, input: select };
}

/** A checkbox. */
export function ticked({ label, get, put }) {
  const input = el("input", { type: "checkbox", id: `plan-field-${(count += 1)}` });
  const node = el("label", { class: "tick", for: input.id }, input, el("span", {}, label));
  input.addEventListener("change", () => put(input.checked));
  const update = () => {
    input.checked = Boolean(get());
  };
  update();
  return { node, update, input };
}

/** The value that all of them share; undefined if they differ. */
export function common(parts, get) {
  const [first, ...rest] = parts.map(get);
  return rest.every((value) => value === first) ? first : undefined;
}

/** A button with a text. */
export const button = (text, onclick, more = {}, kind = "") => el(`button${kind}`, { type: "button", onclick, ...more }, text);
