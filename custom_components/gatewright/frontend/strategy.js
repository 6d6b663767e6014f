/** The dashboard that makes itself: one set of views for each system of the hub. */
import { translator } from "./i18n.js";

const AIRFLOW = /^(air_|airflow|main_velocity|suction|velocity)/;
const UPKEEP = /^(bin|filter|upkeep)/;
// Only what has a number can be drawn as a curve.
const NUMERIC = new Set(["volume_flow_rate", "speed", "pressure"]);

/** The dashboard strategy `custom:gatewright`; `entry_id` picks one system of several. */
export class GatewrightStrategy extends HTMLElement {
  static noEditor = true;
  static registryDependencies = ["entities", "devices"];

  static getCreateSuggestions(hass) {
    return { title: translator(hass.language)("strategy.title"), icon: "mdi:weather-windy" };
  }

  static async generate(config, hass) {
    const t = translator(hass.language);
    const systems = (await hass.callWS({ type: "gatewright/systems" })).filter(
      ({ entry_id }) => !config.entry_id || entry_id === config.entry_id
    );
    const views = systems.flatMap((system) => viewsOf(system, hass, t, systems.length > 1));
    if (!views.length) {
      views.push({ title: t("view.overview"), cards: [{ type: "custom:gatewright-map-card" }] });
    }
    return { title: t("strategy.title"), views };
  }
}

function viewsOf({ entry_id, name }, hass, t, several) {
  const parts = partsOf(hass, entry_id);
  const card = (kind, more = {}) => ({ type: `custom:gatewright-${kind}-card`, entry_id, ...more });
  const view = (key, content) => ({
    title: several ? `${name}: ${t(`view.${key}`)}` : t(`view.${key}`),
    path: several ? `${key}-${entry_id.slice(-6).toLowerCase()}` : key,
    ...content,
  });
  const sections = (list) => ({ type: "sections", max_columns: 4, sections: list.filter(Boolean) });
  const views = [
    view("overview", {
      ...sections([
        { column_span: 3, cards: [card("status", { grid_options: { columns: "full" } })] },
        section(t("view.collector"), parts.collector.map((entity) => tile(entity))),
        { column_span: 3, cards: [card("day", { grid_options: { columns: "full" } })] },
      ]),
    }),
    view("map", { type: "panel", cards: [card("map")] }),
    view("machines", sections([
      ...parts.machines.map(({ name: machine, entities }) => section(machine, entities.map((entity) => tile(entity)))),
      section(t("view.gates"), parts.gates.map((entity) => tile(entity, [{ type: "cover-open-close" }]))),
    ])),
  ];
  if (parts.airflow.length) {
    const entities = parts.airflow
      .flatMap((device) => device.entities)
      .filter((id) => NUMERIC.has(hass.states[id]?.attributes.device_class));
    const graph = { type: "history-graph", entities, hours_to_show: 6, grid_options: { columns: "full" } };
    views.push(view("airflow", sections([
      { column_span: 2, cards: [card("map", { grid_options: { columns: "full" } })] },
      ...parts.airflow.map((device) => section(device.name, device.entities.map((entity) => tile(entity)))),
      entities.length ? { column_span: 2, cards: [graph] } : null,
    ])));
  }
  if (parts.upkeep.length) {
    views.push(view("upkeep", sections([
      section(t("view.upkeep"), parts.upkeep.map((entity) => tile(entity))),
      section(t("view.collector"), parts.totals.map((entity) => tile(entity))),
    ])));
  }
  const coverage = parts.record.filter((id) => hass.states[id]);
  views.push(view("record", sections([
    { column_span: 2, cards: [card("record", { grid_options: { columns: "full" } })] },
    section(t("view.record"), coverage.map((entity) => tile(entity))),
  ])));
  views.push(view("alarms", sections([
    { column_span: 2, cards: [card("alarms", { grid_options: { columns: "full" } })] },
    hass.config.components.includes("logbook") && parts.told.length
      ? section(t("view.logbook"), [{
          type: "logbook",
          target: { entity_id: parts.told },
          hours_to_show: 24,
          grid_options: { columns: "full", rows: 8 },
        }])
      : null,
  ])));
  return views;
}

// Under a heading with the device's name an entity needs but its own.
const tile = (entity, features) => ({
  type: "tile",
  entity,
  name: { type: "entity" },
  ...(features ? { features, features_position: "inline" } : {}),
});

function section(heading, cards) {
  if (!cards.length) return null;
  return { type: "grid", cards: [{ type: "heading", heading, heading_style: "title" }, ...cards] };
}

/** Our entities of one system, sorted by what they belong to. */
function partsOf(hass, entryId) {
  const devices = Object.values(hass.devices).filter(
    (device) => (device.config_entry_id ?? device.primary_config_entry) === entryId
  );
  const parts = { machines: [], gates: [], collector: [], totals: [], airflow: [], upkeep: [], record: [], told: [] };
  for (const device of devices) {
    const own = Object.values(hass.entities).filter(
      (entity) => entity.device_id === device.id && entity.platform === "gatewright" && !entity.hidden
    );
    const keyOf = (entity) => entity.translation_key ?? "";
    const ids = (...keys) =>
      keys.flatMap((key) => own.filter((entity) => keyOf(entity) === key).map((entity) => entity.entity_id));
    const name = device.name_by_user ?? device.name;
    const flows = [];
    for (const { entity_id, translation_key } of own) {
      if (AIRFLOW.test(translation_key ?? "")) flows.push(entity_id);
      else if (UPKEEP.test(translation_key ?? "")) parts.upkeep.push(entity_id);
    }
    // The collector's come first: they are the whole shop's.
    if (flows.length) parts.airflow[ids("collector").length ? "unshift" : "push"]({ name, entities: flows });
    parts.gates.push(...ids("gate"));
    const told = ids("problem", "collector", "request");
    parts.told.push(...told);
    if (ids("request").length) {
      const entities = ids("request", "machine_phase", "running", "air", "attached", "coverage", "run_time", "cuts");
      parts.machines.push({ name, entities });
    } else if (ids("collector").length) {
      parts.collector.push(...ids("collector", "collector_phase", "automatic", "lockout", "hand_gate", "problem"));
      parts.totals.push(...ids("on_time", "starts", "coverage"));
      parts.record.push(
        ...ids("coverage_day", "coverage_week", "coverage_month", "shop_run_time", "without_air", "dust_today", "summary")
      );
    }
  }
  parts.machines.sort((a, b) => a.name.localeCompare(b.name, hass.language));
  return parts;
}
