/** The bar above the drawing: tools, undo and redo, save state, apply and the rest. */
import { el, setAttribute, setText, svg } from "../dom.js";

const ICONS = {
  choose: "M6 3l13 8-6 1.4L10 19z",
  duct: "M4 18V9h10V4M4 21h0M17 4h-6",
  gate: "M2 12h6M16 12h6M8 5v14M16 5v14M12 3v18",
  room: "M4 5h16v14H4z",
  undo: "M9 6L4 11l5 5M4 11h10a6 6 0 0 1 0 8h-3",
  redo: "M15 6l5 5-5 5M20 11H10a6 6 0 0 0 0 8h3",
  several: "M4 4h8v8H4zM14 14h6v6h-6zM14 8l2 2 4-4",
  in: "M12 5v14M5 12h14",
  out: "M5 12h14",
  fit: "M4 9V4h5M15 4h5v5M20 15v5h-5M9 20H4v-5",
};

const icon = (name) => svg("svg.icon", { viewBox: "0 0 24 24", "aria-hidden": "true" }, svg("path", { d: ICONS[name] }));

export class Bar {
  constructor(editor) {
    this.editor = editor;
    const { t, model } = editor;
    const tool = (name) => {
      const node = el("button.tool", { type: "button", onclick: () => this._use(name), "data-tool": name }, icon(name), el("span", {}, t(`plan.tool_${name}`)));
      return node;
    };
    this._tools = ["choose", "duct", "gate", "room"].map(tool);
    const plain = (name, deed) => el("button.tool", { type: "button", onclick: deed, title: t(`plan.${name}`), "aria-label": t(`plan.${name}`) }, icon(name));
    this._undo = plain("undo", () => model.undo());
    this._redo = plain("redo", () => model.redo());
    this._several = el("button.tool", { type: "button", title: t("plan.several"), onclick: () => this._toggle() }, icon("several"), el("span.wide", {}, t("plan.several")));
    this._status = el("p.status", { role: "status" });
    this._apply = el("button.apply", { type: "button", onclick: () => editor.draft.apply() }, t("plan.apply"));
    this._menu = el("details.menu", {}, el("summary", { "aria-label": t("plan.more") }, "⋯"), this._deeds());
    this._menu.addEventListener("focusout", (event) => this._menu.contains(event.relatedTarget) || (this._menu.open = false));
    this._menu.addEventListener("keydown", (event) => event.key === "Escape" && (this._menu.open = false));
    this._drawing = el("div.tools", { role: "group", "aria-label": t("plan.tools") }, ...this._tools, this._several, this._undo, this._redo);
    this.node = el("div.bar", { role: "group", "aria-label": t("plan.bar") }, this._drawing, el("div.right", {}, this._status, this._apply, this._menu));
    const look = (name, deed) => el("button", { type: "button", onclick: deed, "aria-label": t(`plan.zoom_${name}`), title: t(`plan.zoom_${name}`) }, icon(name));
    this.zoom = el("div.zoom", { role: "group", "aria-label": t("plan.zoom") }, look("in", () => editor.scene.zoom(1.3)), look("out", () => editor.scene.zoom(1 / 1.3)), look("fit", () => editor.scene.fit()));
  }

  _deeds() {
    const { editor } = this;
    const { t } = editor;
    const deed = (key, does, admin = false) => {
      const node = el("button", { type: "button", onclick: () => ((this._menu.open = false), does()) }, t(key));
      if (admin) node.dataset.admin = "";
      return node;
    };
    const print = () => editor.files.print();
    return el(
      "div.deeds",
      {},
      deed("plan.print", print),
      deed("plan.export", () => editor.files.download()),
      deed("plan.import", () => editor.files.upload(), true),
      deed("plan.discard", () => editor.draft.discard(), true)
    );
  }

  _use(name) {
    const { editor } = this;
    if (editor.panel !== "shop") editor.open("shop");
    editor.model.use(name);
  }

  _toggle() {
    const { model } = this.editor;
    model.several = !model.several;
    this.update();
  }

  update() {
    const { model, t } = this.editor;
    const { status } = this.editor.draft;
    for (const node of this._tools) setAttribute(node, "aria-pressed", String(node.dataset.tool === model.tool));
    setAttribute(this._several, "aria-pressed", String(model.several));
    this._undo.disabled = !model.history.canUndo;
    this._redo.disabled = !model.history.canRedo;
    this._drawing.hidden = this._apply.hidden = this._status.hidden = !model.editable;
    for (const node of this._menu.querySelectorAll("[data-admin]")) node.hidden = !model.editable;
    const differs = model.differs || (status && status !== "saved");
    setText(this._status, status === "saved" && !differs ? t("plan.status_equal") : t(`plan.status_${status ?? "saved"}`));
    this._status.dataset.status = status ?? "";
    setAttribute(this._apply, "disabled", !differs);
  }
}
