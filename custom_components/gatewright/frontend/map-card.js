/** The map: the collector, its ducts and gates, and their machines, live. */
import { AlarmList } from "./alarms.js";
import { ask } from "./ask.js";
import { CardContent } from "./content.js";
import { el, place, setAttribute, setText, svg } from "./dom.js";
import { percentText } from "./figures.js";
import { Headline, Modes } from "./head.js";
import { onHold } from "./hold.js";
import { layOut } from "./layout.js";
import { MapLook } from "./map-look.js";
import { MAP_STYLES } from "./map-styles.js";
import { fanSymbol, gateSymbol, setGate } from "./shapes.js";
import { Tile } from "./tile.js";
import { flowText, speedText } from "./units.js";
import { aloud, collectorWords, gateWords } from "./words.js";

const WIDEST = 1100;
const ROOMY = 260;
const FIGURE = 60;

export class Content extends CardContent {
  static styles = MAP_STYLES;

  constructor(card) {
    super(card);
    this._headline = new Headline();
    this._modes = new Modes();
    this._alarms = new AlarmList();
    this._map = el("div.map", { role: "group" });
    this._hint = el("div.hint", { role: "status" });
    this._look = new MapLook(this);
    this._gates = this._pipes = this._links = [];
    this._tiles = new Map();
    this._resize = new ResizeObserver(() => this._measure());
  }

  size() {
    return 3 + Math.ceil((this._drawing?.height ?? 400) / 50);
  }

  connected() {
    this._resize.observe(this.body);
  }

  disconnected() {
    this._resize.disconnect();
    this._look.stop();
  }

  /** The computed airflow in the ducts, if the owner wants to see it. */
  get flows() {
    return this.config.figures === false ? null : (this.picture.flows ?? null);
  }

  /** A machine's flow, if its tile has room for a figure. */
  figureOf(machine) {
    const flow = this.flows?.machines?.[machine.id]?.flow;
    const roomy = this._look.toScale || this._roomy;
    return roomy && flow && machine.air ? flowText(this.hass, flow) : null;
  }

  build() {
    if (this.body.firstChild !== this._headline.node) {
      this.body.replaceChildren(
        this._headline.node,
        this._modes.node,
        this._alarms.node,
        this._look.node,
        this._look.stage,
        this._map,
        this._hint
      );
    }
    this._width = Math.min(this.body.clientWidth, WIDEST);
    this._rtl = getComputedStyle(this.card).direction === "rtl";
    this._map.hidden = this.guard.part(this._look.node, () => this._look.build()) ?? false;
    this._drawn = !this._map.hidden && this.guard.part(this._map, () => this._draw());
  }

  /** Show the chosen look. */
  lookChanged() {
    this.build();
    this.update();
    this.wind();
  }

  update() {
    this.guard.part(this._headline.node, () => this._headline.update(this));
    this.guard.part(this._modes.node, () => this._modes.update(this));
    this.guard.part(this._alarms.node, () => this._alarms.update(this));
    this.guard.part(this._look.node, () => this._look.update());
    // A failed drawing has no parts to update.
    if (!this._drawn) return;
    this._updateCollector();
    for (const gate of this._gates) this._showGate(gate);
    for (const pipe of this._pipes) this.guard.attempt(pipe.node, () => this._updatePipe(pipe));
    for (const link of this._links) this.guard.attempt(link.node, () => this._updateLink(link));
    this.guard.attempt(this._map, () => this._updateFigures());
    for (const tile of this._tiles.values()) tile.update();
  }

  tick() {
    if (!this._drawn) return this._look.tick();
    let more = this._updateCollector();
    for (const tile of this._tiles.values()) more = tile.update() || more;
    return more;
  }

  _measure() {
    const width = Math.min(this.body.clientWidth, WIDEST);
    // Before the first build the texts may be missing.
    if (this._width === undefined || !this.picture || !width || Math.abs(width - this._width) < 2) return;
    this.build();
    this.update();
  }

  _draw() {
    const { system, gates, machines, ducts } = this.picture;
    const drawing = layOut({
      gates: [...gates],
      // A machine without placed gates still has a tile.
      machines: [...machines].map(([id, machine]) => [id, { ...machine, gates: machine.gates ?? [] }]),
      ducts: ducts?.length ? ducts : null,
      width: this._width || 360,
    });
    const focused = this.shadowRoot.activeElement?.dataset;
    this._drawing = drawing;
    this._map.style.height = `${drawing.height}px`;
    setAttribute(this._map, "aria-label", this.t("label.map", { name: system.name }));
    this._links = drawing.links.map((link) => {
      const clears = machines.get(link.machine).clears?.includes(link.gate);
      return { ...link, node: svg(clears ? "path.clears" : "path", { d: this._bend(link) }) };
    });
    this._pipes = drawing.pipes.map((pipe) => this._pipe(pipe));
    this._gates = drawing.gates.map((spot) => this._gate(spot));
    this._tiles = new Map();
    this._roomy = drawing.machines.some(({ width }) => width >= ROOMY);
    const parts = [];
    for (const spot of drawing.machines) {
      const tile = new Tile(this, spot.id);
      this._tiles.set(spot.id, tile);
      parts.push([spot.y + spot.height / 2, 1, place(tile.node, spot)]);
    }
    for (const { node, y } of this._gates) parts.push([y, 0, node]);
    // The tab key goes down the map, each gate before its machine.
    parts.sort(([a, first], [b, second]) => Math.round((a - b) / 40) || first - second);
    this._map.replaceChildren(
      svg("svg.links", { "aria-hidden": "true" }, ...this._links.map((link) => link.node)),
      ...this._pipes.map((pipe) => pipe.node),
      this._collector(drawing),
      ...parts.map(([, , node]) => node),
      ...this._names(drawing)
    );
    this._figureNodes = [];
    if (machines.size + gates.size === 0) {
      this._map.append(el("p.lone", { style: "top: 108px" }, this.t("label.none")));
      this._map.style.height = "150px";
    }
    if (focused?.machine) this._tiles.get(focused.machine)?.node.focus();
    if (focused?.gate) this._gates.find(({ id }) => id === focused.gate)?.node.focus();
    return true;
  }

  /** A gate without a machine is labeled by its own name. */
  _names(drawing) {
    const linked = new Set(drawing.links.map((link) => link.gate));
    return drawing.gates
      .filter(({ id }) => !linked.has(id))
      .map(({ id, x, y }) => {
        const name = el("span.lone", {}, this.picture.gates.get(id).name);
        const toward = x >= drawing.trunk ? 1 : -1;
        name.style.top = `${y}px`;
        if (toward > 0) name.style.insetInlineStart = `${x + 34}px`;
        else name.style.insetInlineEnd = `${this._width - x + 34}px`;
        return name;
      });
  }

  _bend({ from, to }) {
    if (Math.abs(from.y - to.y) < 1) return `M${from.x} ${from.y}H${to.x}`;
    const middle = (from.x + to.x) / 2;
    return `M${from.x} ${from.y}H${middle}V${to.y}H${to.x}`;
  }

  // The collector -------------------------------------------------------------

  _collector({ trunk }) {
    this._fan = fanSymbol();
    this._phase = el("span.state");
    this._stores = el("span.stores");
    const { name } = this.picture.system;
    const words = el("span.words", {}, el("span.name", {}, name), this._phase, this._stores);
    const show = () => this.showDetails(this.picture?.system.entity);
    const node = el("button.collector", { type: "button", onclick: show }, this._fan, words);
    node.style.insetInlineStart = `${trunk - 30}px`;
    node.style.maxWidth = `${this._width - trunk + 30}px`;
    return node;
  }

  _updateCollector() {
    const broken = () => setText(this._phase, this.t("part.broken"));
    return this.guard.attempt(this._fan, () => this._tellCollector(), broken) ?? false;
  }

  _tellCollector() {
    const { system } = this.picture;
    const told = collectorWords(system);
    const node = this._fan.parentNode;
    if (node.dataset.tone !== told.tone) node.dataset.tone = told.tone;
    this._fan.classList.toggle("turns", system.turning);
    this._fan.classList.toggle("coasts", !system.turning && system.phase === "spinning_down");
    setText(this._phase, this.say(told));
    this._updateStores();
    const stores = this._stores.textContent;
    const label = this.t("label.says", { name: system.name, words: aloud(this.t, told) });
    setAttribute(node, "aria-label", stores ? `${label}, ${stores}` : label);
    return told.until !== null;
  }

  /** How full the bin and the filter are, if known. */
  _updateStores() {
    const { upkeep } = this.picture;
    const words = ["bin", "filter"]
      .filter((store) => typeof upkeep?.[store] === "number")
      .map((store) => `${this.t(`label.${store}`)} ${percentText(this.hass.language, upkeep[store])}`);
    setText(this._stores, words.join(" · "));
  }

  // Gates -----------------------------------------------------------------------

  _gate(spot) {
    const symbol = gateSymbol();
    const word = el("span.word");
    const node = el("button.gate", { type: "button" }, symbol, word);
    node.dataset.gate = spot.id;
    place(node, spot);
    this.operates(node, spot.id);
    return { ...spot, node, symbol, word };
  }

  /** Make a button report a gate's position and, when held, move it. */
  operates(node, id) {
    onHold(node, {
      held: () => this._move(id, { asking: this.picture?.system.may_turn }),
      tapped: () => this._explain(id),
      keyed: () => (this.picture?.gates.get(id)?.control ? this._move(id, { asking: true }) : this._explain(id)),
    });
  }

  _showGate(gate) {
    this.guard.attempt(gate.node, () => this._updateGate(gate), () => {
      gate.node.dataset.tone = "bad";
      setText(gate.word, this.t("part.broken"));
    });
  }

  _updateGate({ id, node, symbol, word }) {
    const gate = this.picture.gates.get(id);
    const told = gateWords(gate);
    const text = this.t(told.key);
    if (node.dataset.tone !== told.tone) node.dataset.tone = told.tone;
    node.classList.toggle("flows", this.picture.system.turning && gate.stand === "open");
    setGate(symbol, gate);
    setText(word, text);
    setAttribute(node, "aria-label", this.t("label.says", { name: gate.name, words: text }));
  }

  _explain(id) {
    const gate = this.picture?.gates.get(id);
    if (!gate) return;
    let how = "view";
    if (gate.kind === "hand") how = "hand";
    else if (gate.control) how = gate.stand === "open" ? "shut" : "open";
    const state = this.t(gateWords(gate).key);
    setText(this._hint, this.t(`gate.hint_${how}`, { name: gate.name, state }));
  }

  /** Move a gate to the opposite position. */
  async _move(id, { asking }) {
    const gate = this.picture?.gates.get(id);
    if (!gate?.control) return this._explain(id);
    const shut = gate.stand === "open";
    const what = shut ? "shut" : "open";
    if (asking) {
      const sure = await ask(this, {
        title: this.t(`gate.ask_${what}`, { name: gate.name }),
        text: this.t(this.picture.system.may_turn ? "gate.turning" : "gate.resting"),
        yes: this.t(`gate.do_${what}`),
        no: this.t("gate.cancel"),
      });
      if (!sure) return undefined;
    }
    return this.act("cover", shut ? "close_cover" : "open_cover", gate.entity);
  }

  // Ducts -----------------------------------------------------------------------

  _pipe(pipe) {
    const node = el("div.pipe", { "aria-hidden": "true" }, el("div.air"));
    node.classList.add(pipe.flow === "up" ? "up" : "across");
    if ((pipe.flow === "start") !== this._rtl) node.classList.toggle("leftward", pipe.flow !== "up");
    // The marks of joined pipes run on through the joint.
    node.style.setProperty("--shift", `${-((pipe.flow === "up" ? pipe.y : pipe.x) % 16)}px`);
    return { ...pipe, node: place(node, pipe) };
  }

  /** Whether air can flow through a pipe. */
  _isOpen({ beyond, machine }) {
    const { gates } = this.picture;
    return machine !== undefined || beyond.some((id) => gates.get(id)?.stand === "open");
  }

  _updatePipe(pipe) {
    const { node, duct } = pipe;
    const { system } = this.picture;
    const open = this._isOpen(pipe);
    const flow = duct === null ? undefined : this.flows?.ducts?.[duct];
    node.classList.toggle("open", open);
    node.classList.toggle("flows", open && system.turning);
    node.classList.toggle("slow", Boolean(flow?.slow && open && system.turning));
    if (flow?.speed) node.style.setProperty("--pace", `${pace(flow.speed)}s`);
    else node.style.removeProperty("--pace");
  }

  _updateLink({ node, gate, machine }) {
    const { system, gates, machines } = this.picture;
    const flows = system.turning && gates.get(gate).stand === "open";
    node.classList.toggle("flows", flows && machines.get(machine).attached !== false);
  }

  /** The velocity in each vertical duct, and a warning where it's too low. */
  _updateFigures() {
    const ducts = this.picture.system.turning ? this.flows?.ducts : undefined;
    if (this._figureNodes.length === 0 && !ducts) return;
    for (const node of this._figureNodes) node.remove();
    const told = new Set();
    const above = new Map();
    this._figureNodes = [];
    for (const pipe of this._pipes) {
      const { duct, flow, x, y, width, height } = pipe;
      const figure = ducts?.[duct];
      if (!figure?.speed || told.has(duct) || flow !== "up" || height < 40) continue;
      if (!this._isOpen(pipe)) continue;
      told.add(duct);
      const speed = speedText(this.hass, figure.speed);
      // A main in several pieces: equal values are shown once.
      const worth = figure.slow ? "slow" : figure.marginal ? "marginal" : "";
      if (above.get(x) === `${speed} ${worth}`) continue;
      above.set(x, `${speed} ${worth}`);
      const { name } = this.picture.ducts.find(({ id }) => id === duct) ?? {};
      const words = [el("b", {}, speed)];
      if (worth) words.push(" ", el("span", {}, this.t(`duct.${worth}`)));
      const node = el(worth ? `span.figure.${worth}` : "span.figure", { title: name }, ...words);
      const middle = { x: x + width / 2 - FIGURE / 2, y: y + height / 2, width: FIGURE };
      this._figureNodes.push(place(node, middle));
    }
    this._map.append(...this._figureNodes);
  }
}

/** Seconds in which the flow animation passes one mark, at a velocity in m/s. */
function pace(speed) {
  return Math.min(2, Math.max(0.25, 12 / speed)).toFixed(2);
}
