/** The panel of the selection: its figures, for one part or many of a kind, and its actions. */
import { el, setText } from "../dom.js";
import { edit, kindOf, partOf, set, setAll, setWithin } from "./document.js";
import { follower, join, moveAll, split } from "./edits.js";
import { button, choice, common, ticked, typed } from "./fields.js";
import { corners, lengthOf, nearest } from "./line.js";
import { addCorner, leadTo, measuredElbows, meetAt, ofMake, ofMaterial, pointTo, raisePort, setElbow, setElbows, setLeg, setMeasured, wider } from "./part-edits.js";
import { dropPoint, runHeight, setHeight } from "./shaping.js";

/** Shows and edits the selection. */
export class PartPanel {
  constructor(editor) {
    this.editor = editor;
    this.model = editor.model;
    this.node = el("section.part", { "aria-label": editor.t("plan.chosen"), hidden: true });
    this._fields = [];
    this.model.on("selection", () => this.build());
    this.model.on("doc problems", () => this.update());
    this.model.on("trial", () => this.update());
  }

  /** Whether the panel is in place now. */
  show(on) {
    this._shown = on;
    this.node.hidden = !on || !this.ids.length;
  }

  get ids() {
    return [...this.model.selection];
  }

  /** Build the fields for another selection. */
  build() {
    const { editor, ids } = this;
    this._fields = [];
    this._shape = this._shapeNow();
    this.node.hidden = !ids.length || !this._shown;
    if (!ids.length) {
      this.node.replaceChildren();
      return;
    }
    this._head = el("h3");
    this._problems = el("ul.problems");
    const done = button(editor.t("plan.done"), () => this.model.choose([]), {}, ".quiet");
    const body = el("div.fields");
    const groups = { item: this.model.chosen("item"), duct: this.model.chosen("duct"), gate: this.model.chosen("gate") };
    if (this.model.editable) {
      const several = Object.values(groups).filter(({ length }) => length).length > 1;
      const build = { item: () => this._items(groups.item), duct: () => this._ducts(groups.duct), gate: () => this._gates(groups.gate) };
      for (const kind of Object.keys(groups)) {
        if (!groups[kind].length) continue;
        const fields = build[kind]();
        this._fields.push(...fields);
        if (several) body.append(el("h4", {}, editor.t(`plan.${kind}s`)));
        body.append(...fields.map(({ node }) => node));
      }
      body.append(this._deeds());
    }
    this.node.replaceChildren(el("div.head", {}, this._head, done), this._problems, body);
    this.update();
  }

  /** What decides which fields exist. */
  _shapeNow() {
    return this.ids.map((id) => {
      const part = partOf(this.model.doc, id);
      const turns = part?.points ? `${part.points.length}.${corners(part.points).map(({ at }) => at)}` : "";
      return `${id}${turns}${part?.mount ?? ""}${part?.end?.to ?? ""}${this.model.editable}${part?.bound ?? ""}`;
    }).join();
  }

  update() {
    if (!this.ids.length) return;
    if (this._shape !== this._shapeNow()) {
      const label = this.node.getRootNode().activeElement?.labels?.[0]?.textContent;
      this.build();
      // Typing continues in the same field.
      if (label) [...this.node.querySelectorAll("input,select")].find((one) => one.labels?.[0]?.textContent === label)?.focus();
      return;
    }
    const { editor, ids } = this;
    setText(this._head, ids.length === 1 ? editor.words.name(partOf(this.model.doc, ids[0])) : editor.t("plan.several_chosen", { count: ids.length }));
    const told = this.model.problems.filter(({ at }) => ids.includes(at?.id));
    this._problems.replaceChildren(...told.map((problem) => editor.problemRow(problem)));
    for (const field of this._fields) field.update();
  }

  // Building blocks -----------------------------------------------------------------------

  _parts(ids) {
    return ids.map((id) => partOf(this.model.doc, id)).filter(Boolean);
  }

  _put(change, row) {
    this.model.change(change(this.model.doc), row);
  }

  _length(label, ids, get, put, { size = false, optional = false, values = {} } = {}) {
    const { measure, t } = this.editor;
    return typed({
      label: t(label, values),
      unit: size ? measure.diameterUnit : measure.lengthUnit,
      get: () => common(this._parts(ids), get),
      put: (value) => this._put((doc) => put(doc, value)),
      read: (text) => (size ? measure.readDiameter(text) : measure.readLength(text)),
      show: (value) => (size ? measure.typedDiameter(value) : measure.typedLength(value)),
      wrong: t(size ? "plan.wrong_size" : "plan.wrong_length"),
      optional,
    });
  }

  _number(label, ids, get, put, optional = true) {
    const { t } = this.editor;
    return typed({
      label: t(label),
      get: () => common(this._parts(ids), get),
      put: (value) => this._put((doc) => put(doc, value)),
      read: (text) => {
        const value = Number(text.replace(",", "."));
        return Number.isFinite(value) ? value : null;
      },
      show: String,
      wrong: t("plan.wrong_number"),
      optional,
    });
  }

  _choice(label, ids, get, put, options, values = {}) {
    return choice({
      label: this.editor.t(label, values),
      options,
      get: () => common(this._parts(ids), get),
      put: (value) => this._put((doc) => put(doc, value)),
    });
  }

  _name(id) {
    const { t } = this.editor;
    return typed({
      label: t("plan.name"),
      get: () => partOf(this.model.doc, id)?.name,
      put: (value) => this._put((doc) => set(doc, id, { name: value ?? "" })),
      read: (text) => text,
      show: String,
      wrong: "",
      optional: true,
    });
  }

  // Items ------------------------------------------------------------------------------------

  _items(ids) {
    const { editor, model } = this;
    const [id, more] = ids;
    const fields = [];
    const one = partOf(model.doc, id);
    if (!more && one.type === "machine" && !one.bound) {
      fields.push(this._name(id));
      fields.push(this._choice("plan.kind", ids, (item) => item.kind, (doc, kind) => set(doc, id, { kind }), () => editor.options("kind", model.choices.kinds)));
      fields.push(typed({
        label: editor.t("plan.required_flow"),
        unit: editor.measure.flowUnit,
        get: () => partOf(model.doc, id)?.required_flow,
        put: (value) => this._put((doc) => set(doc, id, { required_flow: value })),
        read: (text) => editor.measure.readFlow(text),
        show: (value) => editor.measure.typedFlow(value),
        wrong: editor.t("plan.wrong_number"),
        optional: true,
      }));
    }
    if (!more) {
      const place = (axis) => (doc, value) => moveAll(doc, [id], axis === "x" ? value - partOf(doc, id).x : 0, axis === "y" ? value - partOf(doc, id).y : 0, model.machines);
      fields.push(this._length("plan.from_left", ids, ({ x }) => x, place("x")));
      fields.push(this._length("plan.from_top", ids, ({ y }) => y, place("y")));
    }
    fields.push(this._length("plan.port_height", ids, ({ z }) => z ?? 0, (doc, z) => ids.reduce((now, item) => raisePort(now, item, z, model.machines), doc)));
    fields.push(this._length("plan.width", ids, ({ width }) => width, (doc, width) => setAll(doc, ids, { width }), { optional: true }));
    fields.push(this._length("plan.depth", ids, ({ depth }) => depth, (doc, depth) => setAll(doc, ids, { depth }), { optional: true }));
    fields.push(this._number("plan.turn", ids, ({ turn }) => turn ?? 0, (doc, turn) => setAll(doc, ids, { turn })));
    return fields;
  }

  // Ducts ------------------------------------------------------------------------------------

  _ducts(ids) {
    const { editor, model } = this;
    const [id, more] = ids;
    const fields = [];
    if (!more) fields.push(this._name(id));
    fields.push(this._size(ids));
    fields.push(this._choice("plan.material", ids, ({ material }) => material ?? "galvanized", (doc, material) => ids.reduce((now, duct) => ofMaterial(now, duct, material), doc), () => editor.options("duct_material", model.choices.materials)));
    fields.push(this._length("plan.height", ids, runHeight, (doc, height) => ids.reduce((now, duct) => setHeight(now, duct, height), doc)));
    fields.push(this._choice("plan.elbows_made", ids, ({ elbow }) => elbow?.construction ?? "stamped", (doc, construction) => ids.reduce((now, duct) => ofMake(now, duct, { construction }), doc), () => editor.options("elbow_construction", model.choices.constructions)));
    fields.push(this._number("plan.elbow_radius", ids, ({ elbow }) => elbow?.radius ?? 1.5, (doc, radius) => ids.reduce((now, duct) => ofMake(now, duct, { radius }), doc), false));
    if (more) return fields;
    fields.push(this._leads(id));
    const { end } = partOf(model.doc, id);
    if (end?.to === "duct") {
      fields.push(this._length("plan.meets_at", ids, (duct) => this._meets(duct), (doc, place) => meetAt(doc, id, place)));
      const wye = (value) => (value === "drawn" ? null : Number(value));
      fields.push(this._choice("plan.fitting", ids, (duct) => (duct.end?.wye === null ? "drawn" : String(duct.end?.wye ?? 45)), (doc, value) => setWithin(doc, id, ["end"], { wye: wye(value) }), () => [
        ["30", editor.t("plan.wye", { angle: 30 })],
        ["45", editor.t("plan.wye", { angle: 45 })],
        ["drawn", editor.t("plan.as_drawn")],
      ]));
    }
    fields.push(this._points(id), this._pieces(id), this._measured(id));
    return fields;
  }

  /** Figures that override the drawing: measured in the shop. */
  _measured(id) {
    const { editor, model } = this;
    const { t } = editor;
    const typedOf = (field) => (duct) => duct.typed?.[field];
    const put = (field) => (doc, value) => setMeasured(doc, id, { [field]: value });
    const elbows = (angle) => this._number(`plan.elbows_${angle}`, [id], (duct) => measuredElbows(duct, angle), (doc, count) => setElbows(doc, id, angle, count));
    const fields = [
      this._length("plan.typed_length", [id], typedOf("length"), put("length"), { optional: true }),
      elbows(90),
      elbows(45),
      this._number("plan.entry_angle", [id], typedOf("entry_angle"), put("entry_angle")),
    ];
    const open = Boolean(partOf(model.doc, id).typed);
    const node = el("details.points", { open }, el("summary", {}, t("plan.measured")), el("p.hint", {}, t("plan.measured_hint")), ...fields.map((field) => field.node));
    return { node, update: () => fields.forEach((field) => field.update()) };
  }

  /** The diameter: those on offer, or any other. */
  _size(ids) {
    const { editor, model } = this;
    const field = this._length("plan.diameter", ids, ({ diameter }) => diameter, (doc, diameter) => ids.reduce((now, id) => wider(now, id, diameter), doc), { size: true });
    const offers = el("div.offers", { role: "group", "aria-label": editor.t("plan.sizes") });
    for (const size of model.sizes) {
      const put = () => this._put((doc) => ids.reduce((now, id) => wider(now, id, size), doc));
      offers.append(button(editor.measure.typedDiameter(size), put, { "aria-label": editor.measure.diameter(size), "data-size": size }));
    }
    const update = () => {
      field.update();
      const now = common(this._parts(ids), ({ diameter }) => diameter);
      for (const one of offers.children) one.setAttribute("aria-pressed", String(Math.abs(Number(one.dataset.size) - now) < 1e-4));
    };
    return { node: el("div", {}, field.node, offers), update };
  }

  _meets(duct) {
    const target = duct.end?.to === "duct" && partOf(this.model.doc, duct.end.duct);
    return target ? Number(nearest(target.points, duct.points.at(-1)).place.toFixed(3)) : undefined;
  }

  _leads(id) {
    const { editor, model } = this;
    return choice({
      label: editor.t("plan.leads_to"),
      options: () => [
        ["", editor.t("plan.nowhere")],
        ["collector", editor.words.leadsTo({ end: { to: "collector" } })],
        ...model.doc.ducts.filter((duct) => duct.id !== id).map((duct) => [`duct ${duct.id}`, editor.words.name(duct)]),
      ],
      get: () => {
        const end = partOf(model.doc, id)?.end;
        return end?.to === "duct" ? `duct ${end.duct}` : (end?.to ?? "");
      },
      put: (value) => this._put((doc) => leadTo(doc, id, value)),
    });
  }

  /** The corners, one by one: drawing a duct without a pointer. */
  _points(id) {
    const { editor, model } = this;
    const { t } = editor;
    const { points } = partOf(model.doc, id);
    const fields = [];
    const rows = points.map((_, at) => {
      const inputs = ["x", "y", "z"].map((axis) => {
        const field = this._length("plan.name", [id], (duct) => duct.points[at]?.[axis] ?? 0, (doc, value) => pointTo(doc, id, at, axis, value));
        const label = t("plan.point_axis", { number: at + 1, axis: t(`plan.axis_${axis}`) });
        field.input.setAttribute("aria-label", label);
        field.node.querySelector("label").remove();
        fields.push(field);
        return field.node;
      });
      const inner = at > 0 && at < points.length - 1;
      const drop = inner ? button("×", () => this._put((doc) => dropPoint(doc, id, at)), { "aria-label": t("plan.remove_corner", { number: at + 1 }) }, ".small") : el("span");
      return el("div.point", {}, el("span.number", { "aria-hidden": "true" }, String(at + 1)), ...inputs, drop);
    });
    const add = button(t("plan.add_corner"), () => this._put((doc) => addCorner(doc, id)));
    const heads = ["x", "y", "z"].map((axis) => el("span", {}, t(`plan.axis_${axis}`)));
    const node = el(
      "details.points",
      {},
      el("summary", {}, t("plan.corners")),
      el("div.point.heads", { "aria-hidden": "true" }, el("span"), ...heads, el("span")),
      ...rows,
      add
    );
    return { node, update: () => fields.forEach((field) => field.update()) };
  }

  /** Each leg and each elbow alone, if one of them differs from the duct. */
  _pieces(id) {
    const { editor, model } = this;
    const { t } = editor;
    const { points, end } = partOf(model.doc, id);
    const asDuct = ["", t("plan.as_duct")];
    const fields = [];
    for (let leg = 0; leg < points.length - 1; leg += 1) {
      const number = leg + 1;
      const own = (key) => (duct) => duct.points[leg]?.pipe?.[key];
      fields.push(
        this._length("plan.leg_diameter", [id], own("diameter"), (doc, diameter) => setLeg(doc, id, leg, { diameter }), { size: true, optional: true, values: { number } }),
        this._choice("plan.leg_material", [id], (duct) => own("material")(duct) ?? "", (doc, value) => setLeg(doc, id, leg, { material: value || undefined }), () => [asDuct, ...editor.options("duct_material", model.choices.materials)], { number })
      );
    }
    const turning = corners(points).map(({ at }) => at);
    if (end?.to === "duct") turning.push(points.length - 1);
    for (const at of turning) {
      const label = at === points.length - 1 ? "plan.elbow_end" : "plan.elbow_at";
      fields.push(this._choice(label, [id], (duct) => duct.points[at]?.elbow?.construction ?? "", (doc, value) => setElbow(doc, id, at, value || undefined), () => [asDuct, ...editor.options("elbow_construction", model.choices.constructions)], { number: at + 1 }));
    }
    const open = points.some(({ pipe, elbow }) => pipe || elbow);
    const node = el("details.points", { open }, el("summary", {}, t("plan.single")), el("div.fields", {}, ...fields.map((field) => field.node)));
    return { node, update: () => fields.forEach((field) => field.update()) };
  }

  // Gates ------------------------------------------------------------------------------------

  _gates(ids) {
    const { editor, model } = this;
    const [id, more] = ids;
    const fields = [];
    const one = partOf(model.doc, id);
    const opening = (field) => (gate) => gate.opening?.[field];
    const put = (path) => (field) => (doc, value) => ids.reduce((now, gate) => (partOf(now, gate).mount === "inline" ? now : setWithin(now, gate, path, { [field]: value })), doc);
    if (!more && !one.bound) {
      fields.push(this._name(id));
      fields.push(this._choice("plan.gate_kind", ids, ({ kind }) => kind ?? "powered", (doc, kind) => set(doc, id, { kind }), () => editor.options("gate_kind", ["powered", "hand", "fixed"])));
    }
    if (!more) {
      fields.push(this._choice("plan.mount", ids, ({ mount }) => mount, (doc, mount) => edit(doc, id, (gate) => ({ ...gate, mount, opening: mount === "inline" ? null : (gate.opening ?? { hood: "machine_port" }) })), () => ["start", "side", "inline"].map((mount) => [mount, editor.t(`plan.mount_${mount}`)])));
      fields.push(this._choice("plan.on_duct", ids, ({ duct }) => duct ?? "", (doc, duct) => set(doc, id, { duct: duct || null, at: 0 }), () => [["", editor.t("plan.nowhere")], ...model.doc.ducts.map((duct) => [duct.id, editor.words.name(duct)])]));
      fields.push(this._length("plan.at", ids, ({ at }) => at ?? 0, (doc, at) => set(doc, id, { at: Math.max(0, at) })));
      if (!one.bound) fields.push(...this._serves(id));
    }
    fields.push(this._choice("plan.seal", ids, ({ seal }) => seal ?? "airtight", (doc, seal) => setAll(doc, ids, { seal }), () => editor.options("seal", model.choices.seals)));
    if (this._parts(ids).every(({ mount }) => mount === "inline")) return fields;
    const within = put(["opening"]);
    const hose = put(["opening", "hose"]);
    const drop = put(["opening", "drop"]);
    fields.push(this._choice("plan.hood", ids, (gate) => gate.opening?.hood ?? "machine_port", within("hood"), () => editor.options("hood", model.choices.hoods)));
    fields.push(this._length("plan.port", ids, opening("port"), within("port"), { size: true, optional: true }));
    fields.push(this._length("plan.hose_length", ids, (gate) => gate.opening?.hose?.length, hose("length"), { optional: true }));
    fields.push(this._length("plan.hose_diameter", ids, (gate) => gate.opening?.hose?.diameter, hose("diameter"), { size: true, optional: true }));
    fields.push(this._choice("plan.hose_state", ids, (gate) => gate.opening?.hose?.state ?? "stretched", hose("state"), () => editor.options("hose_state", model.choices.hose_states)));
    fields.push(this._length("plan.drop_length", ids, (gate) => gate.opening?.drop?.length, drop("length"), { optional: true }));
    fields.push(this._length("plan.drop_diameter", ids, (gate) => gate.opening?.drop?.diameter, drop("diameter"), { size: true, optional: true }));
    fields.push(this._number("plan.drop_elbows", ids, (gate) => gate.opening?.drop?.elbows, drop("elbows")));
    fields.push(this._number("plan.entry_angle", ids, opening("entry_angle"), within("entry_angle")));
    return fields;
  }

  _serves(id) {
    const { editor, model } = this;
    return model.doc.items
      .filter(({ type }) => type === "machine")
      .map((item) =>
        ticked({
          label: editor.t("plan.serves", { name: editor.words.name(item) }),
          get: () => partOf(model.doc, id)?.items?.includes(item.id),
          put: (on) => this._put((doc) => edit(doc, id, (gate) => ({ ...gate, items: [...(gate.items ?? []).filter((one) => one !== item.id), ...(on ? [item.id] : [])] }))),
        })
      );
  }

  // Deeds ------------------------------------------------------------------------------------

  _deeds() {
    const { editor, model, ids } = this;
    const { t, measure } = editor;
    const [id, more] = ids;
    const deeds = [];
    const duct = !more && kindOf(model.doc, id) === "duct";
    if (duct) {
      const input = el("input", { type: "text", inputmode: "decimal", "aria-label": t("plan.split_at", { unit: measure.lengthUnit }), title: t("plan.split_at", { unit: measure.lengthUnit }) });
      input.value = measure.typedLength(model.spot?.id === id ? model.spot.place : lengthOf(partOf(model.doc, id).points) / 2);
      input.addEventListener("keydown", (event) => event.stopPropagation());
      const cut = () => {
        const place = measure.readLength(input.value);
        if (place !== null) this._put((doc) => split(doc, id, place));
      };
      deeds.push(el("span.split", {}, button(t("plan.split"), cut), input));
      if (follower(model.doc, id)) deeds.push(button(t("plan.join"), () => this._put((doc) => join(doc, id))));
    }
    if (ids.some((one) => kindOf(model.doc, one) !== "gate")) deeds.push(button(t("plan.copy"), () => editor.copy()));
    deeds.push(button(t("plan.remove"), () => editor.remove(), {}, ".danger"));
    return el("div.deeds", {}, ...deeds);
  }
}
