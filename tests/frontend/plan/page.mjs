/**
 * A page with the editor and a server of its own that keeps a draft, for what needs no Home Assistant: how things
 * are drawn and moved, on what path, how often. Its figures are made up and so are its mistakes; what is
 * right about them is tried with Home Assistant.
 */
import { PlanCard } from "/frontend/plan-card.js";

class HaCard extends HTMLElement {}
customElements.define("ha-card", HaCard);
customElements.define("gatewright-plan-card", PlanCard);

const { texts, given } = await (await fetch("/given.json")).json();

class Connection extends EventTarget {
  connected = true;
  revision = 0;
  sent = [];
  document = given.document;

  async subscribeMessage(listener, { type }) {
    if (type === "gatewright/subscribe") {
      const { machines, gates } = given;
      const picture = { now: 0, state: "running", entry_id: "E", version: "", system: { name: "Dust collector" }, machines: {}, gates: {}, alarms: [] };
      for (const { id, name, kind } of machines) picture.machines[id] = { name, kind, gates: [], running: false };
      for (const { id, name } of gates) picture.gates[id] = { name, kind: "powered", stand: "shut" };
      setTimeout(() => listener(picture));
    } else this.tell = listener;
    return async () => {};
  }

  async sendMessagePromise(message) {
    this.sent.push(message);
    const answer = structuredClone(this.answer(message));
    await new Promise((resolve) => setTimeout(resolve, this.slow ?? 0));
    if (this.down) throw new Error("no connection");
    return answer;
  }

  answer({ type, category, ...message }) {
    if (type === "frontend/get_translations") return { resources: texts[category] };
    const name = type.split("/").at(-1);
    if (name === "get") return { ...given, revision: this.revision, document: this.document };
    if (name === "save" || name === "import") {
      if (message.revision !== this.revision) return { saved: false, reason: "stale", revision: this.revision, document: this.document, cause: "saved" };
      this.document = message.document ?? JSON.parse(message.content);
      this.revision += 1;
      return { saved: true, revision: this.revision, document: this.document, problems: this.problems(this.document), differs: true };
    }
    if (name === "compute") return this.compute(message);
    if (name === "size") return this.size(message);
    if (name === "preview") return { revision: this.revision, changes: [{ code: "duct_added", part: null, drawn: "d1", name: "Main", fields: [{ text: "Diameter: 160 mm" }], text: "Main is added" }], planned: [], problems: [], possible: true };
    if (name === "apply") return { applied: true, revision: (this.revision += 1), document: this.document, changes: [{}] };
    if (name === "export") return { filename: "workshop-plan.json", content: this.document };
    return { ...given, revision: this.revision, document: this.document };
  }

  problems(doc) {
    return doc.ducts
      .filter(({ end }) => !end)
      .map(({ id, name }) => ({ code: "end_nowhere", severity: "error", at: { kind: "duct", id }, values: {}, text: `${name} leads nowhere yet` }));
  }

  compute({ document: doc, running, all }) {
    const verdicts = ["enough", "marginal", "too_little"];
    const length = ({ points }) => points.slice(1).reduce((sum, { x, y, z }, at) => sum + Math.hypot(x - points[at].x, y - points[at].y, z - points[at].z), 0);
    const machines = {};
    const ducts = {};
    doc.items.filter(({ type }) => type === "machine").forEach(({ id }, at) => {
      machines[id] = { flow: 0.2 + 0.01 * at, required: 0.22, ratio: 1, verdict: verdicts[at % 3], running: running.includes(id) };
    });
    doc.ducts.forEach((duct, at) => {
      ducts[duct.id] = [{ from: 0, to: length(duct), flow: running.length ? 0.2 : 0, velocity: 17 + at, transport: 20, verdict: running.length ? verdicts[at % 3] : null, diameter: duct.diameter, length: length(duct), bound: null }];
    });
    const gates = Object.fromEntries(doc.gates.map(({ id, items }) => [id, { open: items.some((item) => running.includes(item)), flow: 0.2, required: 0.2, velocity: 20, transport: 20, suction: 500, verdict: "enough" }]));
    const curve = Array.from({ length: 20 }, (_, at) => [at * 0.04, 3200 - 8 * at ** 2]);
    return {
      available: doc.ducts.length > 0,
      why: doc.ducts.length ? "" : "no_ducts",
      problems: this.problems(doc),
      running,
      open: [],
      collector: { flow: 0.35, suction: 2200, fan_pressure: 2400, stalled: false, extrapolated: false, main_velocity: 19, main_needed: 20, verdict: "marginal" },
      fan: { curve, surge_below: 0.1, point: [0.35, 2400] },
      machines,
      gates,
      ducts,
      limits: [{ kind: "hood", element: { kind: "gate", id: doc.gates[0]?.id ?? "" }, share: 0.4, pressure: 700 }],
      neediest: null,
      fittings: [],
      ...(all ? { alone: Object.entries(machines).map(([item, one]) => ({ item, ...one, main_velocity: 20, main_ok: true, limit: null })) } : {}),
    };
  }

  size({ document: doc, take }) {
    const changes = doc.ducts.map((duct) => ({ key: `${duct.id}/0`, kind: "duct", id: duct.id, from: 0, to: 9, name: duct.name, before: { diameter: duct.diameter }, after: { diameter: 0.2 } }));
    const taken = new Set(take ?? changes.map(({ key }) => key));
    const ducts = doc.ducts.map((duct) => (taken.has(`${duct.id}/0`) ? { ...duct, diameter: 0.2 } : duct));
    const set = { name: "Band saw", items: [], ratio: 1.1, verdict: "enough", flow: 0.3, pressure: 2000 };
    return { available: true, why: "", ratio: 1.1, verdict: "enough", changes, document: { ...doc, ducts }, sets: [set], duty: [{ name: "Band saw", flow: 0.3, pressure: 2000, governs: true }], materials: [{ item: "pipe", diameter: 0.2, count: 2, length: 6 }] };
  }
}

const shared = new Connection();
document.documentElement.style.setProperty("color-scheme", "light dark");

/** Put a card of one person on the page. */
window.addCard = (connection = shared) => {
  const card = document.createElement("gatewright-plan-card");
  card.hass = { connection, language: given.language, themes: { darkMode: false }, config: { unit_system: { length: "km" } } };
  card.setConfig({ entry_id: "E" });
  document.querySelector("main").append(card);
  return card;
};
window.Connection = Connection;
window.connection = shared;
window.card = window.addCard();
