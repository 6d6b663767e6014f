/** The views of the generated dashboard: one set for each system. */

const AIRFLOW = /^(air_|airflow|main_velocity|suction|velocity)/;
const UPKEEP = /^(bin|filter|upkeep)/;
/** What is drawn as curves: only the whole shop's, or nobody finds a line among dozens. */
const CURVES = /^(airflow|main_velocity|suction)$/;
/** Whether tabs have no room for a system's name before each label. */
const narrow = () => window.innerWidth < 900;
/** Letters that fit on half a section: two of them on a wide page, one on a phone. */
const short = () => (narrow() ? 14 : 24);

/** Letters of a name beside a switch, on a phone of 360 px. */
const ROOM = 17;

/** The icons that replace the tabs' labels there. */
const ICONS = {
  alarms: "mdi:alert-circle-outline",
  map: "mdi:map-outline",
  plan: "mdi:floor-plan",
  machines: "mdi:saw-blade",
  airflow: "mdi:weather-windy",
  upkeep: "mdi:wrench-outline",
  record: "mdi:chart-bar",
};

/** The configuration of a dashboard with the views of all systems; `t` translates. */
export function dashboardOf(systems, hass, t) {
  const made = systems.map((system) => viewsOf(system, hass, t, systems.length > 1));
  // Each system's overview and alarms come first: later tabs may be off a phone's screen.
  const views = [...[0, 1].flatMap((at) => made.map((own) => own[at])), ...made.flatMap((own) => own.slice(2))];
  const alarmed = systems.map((system, at) => badgeOf(system, hass, made[at][1].path));
  made.forEach(([overview], at) => (overview.badges = alarmed.filter((badge, other) => badge && other !== at)));
  if (!views.length) {
    views.push({ title: t("view.overview"), cards: [{ type: "custom:gatewright-map-card" }] });
  }
  return { title: t("strategy.title"), views };
}

/** The badge that shows a system's alarm on the other systems' overviews and opens its alarms; null without its sensor. */
function badgeOf({ entry_id, name }, hass, path) {
  const { problem } = partsOf(hass, entry_id);
  return problem && {
    type: "entity",
    entity: problem,
    name,
    color: "red",
    show_name: true,
    visibility: [{ condition: "state", entity: problem, state: "on" }],
    tap_action: { action: "navigate", navigation_path: `/${location.pathname.split("/")[1]}/${path}` },
  };
}

function viewsOf({ entry_id, name }, hass, t, several) {
  const parts = partsOf(hass, entry_id);
  const card = (kind, more = {}) => ({ type: `custom:gatewright-${kind}-card`, entry_id, ...more });
  const titleOf = (key) => {
    if (!several) return t(`view.${key}`);
    return key === "overview" && narrow() ? name : `${name}: ${t(`view.${key}`)}`;
  };
  const view = (key, content) => ({
    title: titleOf(key),
    ...(several && narrow() && ICONS[key] ? { icon: ICONS[key] } : {}),
    path: several ? `${key}-${entry_id.slice(-6).toLowerCase()}` : key,
    ...content,
  });
  const tiles = (entities) => entities.map((entity) => tileOf(hass, entity, isLong(hass, entity)));
  // In a list with an action beside each name, all look alike.
  const list = (entities) => {
    const long = entities.some((entity) => isLong(hass, entity));
    return entities.map((entity) => tileOf(hass, entity, long));
  };
  const sections = (list) => ({ type: "sections", max_columns: 4, sections: list.filter(Boolean) });
  const plan = view("plan", { type: "panel", cards: [card("plan")] });
  const views = [
    view("overview", {
      ...sections([
        { column_span: 3, cards: [card("status", { grid_options: { columns: "full" } })] },
        section(t("view.collector"), tiles(parts.collector)),
        { column_span: 3, cards: [card("day", { grid_options: { columns: "full" } })] },
      ]),
    }),
    view("map", { type: "panel", cards: [card("map", { plan_view: plan.path })] }),
    plan,
    view("machines", sections([
      ...parts.machines.map(({ name: machine, entities }) => section(machine, tiles(entities))),
      section(t("view.gates"), list(parts.gates)),
    ])),
  ];
  if (parts.airflow.length) {
    const graph = { type: "history-graph", entities: parts.curves, hours_to_show: 6, grid_options: { columns: "full" } };
    views.push(view("airflow", sections([
      { column_span: 2, cards: [card("map", { grid_options: { columns: "full" } })] },
      ...parts.airflow.map((device) => section(device.name, tiles(device.entities))),
      parts.curves.length ? { column_span: 2, cards: [graph] } : null,
    ])));
  }
  if (parts.bin.length + parts.filter.length + parts.upkeep.length) {
    views.push(view("upkeep", sections([
      section(t("label.bin"), list(parts.bin)),
      section(t("label.filter"), list(parts.filter)),
      section(t("view.collector"), list([...parts.totals, ...parts.upkeep])),
    ])));
  }
  const coverage = parts.record.filter((id) => hass.states[id]);
  views.push(view("record", sections([
    { column_span: 2, cards: [card("record", { grid_options: { columns: "full" } })] },
    section(t("view.record"), list(coverage)),
  ])));
  // Second, so that a phone shows its tab.
  views.splice(1, 0, view("alarms", sections([
    { column_span: 2, cards: [card("alarms", { grid_options: { columns: "full" } })] },
    hass.config.components.includes("logbook") && parts.told.length
      ? { column_span: 2, ...section(t("view.logbook"), [{
          type: "logbook",
          target: { entity_id: parts.told },
          hours_to_show: 24,
          grid_options: { columns: "full", rows: 8 },
        }]) }
      : null,
  ])));
  return views;
}

/** Features by domain: an acting feature says what it does; the tile itself only shows. */
const FEATURES = { cover: "cover-open-close", button: "button", switch: "toggle" };

/** Whether an entity's name needs the width of a section. */
function isLong(hass, entity) {
  // The page's own name function may be older than the entities when views are made.
  return (hass.entities[entity]?.name ?? "").length > short();
}

/** Whether there's room beside an entity's name; a switch needs less than a gate. */
function inlined(type, hass, entity, long) {
  return !long || type === "button" || (type === "toggle" && (hass.entities[entity]?.name ?? "").length <= ROOM);
}

/** An entity's tile; under a heading with the device's name it needs only its own. */
function tileOf(hass, entity, long) {
  const type = FEATURES[entity.split(".")[0]];
  // A pickup's switch has the pickup's name, which its heading already has.
  const request = hass.entities[entity]?.translation_key === "request";
  const own = request ? hass.localize("component.gatewright.entity.switch.request.name") : "";
  return {
    type: "tile",
    entity,
    name: own || { type: "entity" },
    icon_tap_action: { action: "more-info" },
    ...(long ? { grid_options: { columns: 12 } } : {}),
    ...(type ? { features: [{ type }], features_position: inlined(type, hass, entity, long) ? "inline" : "bottom" } : {}),
    // When a button was last pressed is of no use.
    ...(type === "button" ? { hide_state: true } : {}),
  };
}

function section(heading, cards) {
  if (!cards.length) return null;
  return { type: "grid", cards: [{ type: "heading", heading, heading_style: "title" }, ...cards] };
}

/** Our entities of one system, grouped by part. */
function partsOf(hass, entryId) {
  const devices = Object.values(hass.devices).filter(
    (device) => (device.config_entry_id ?? device.primary_config_entry) === entryId
  );
  const parts = { machines: [], gates: [], collector: [], totals: [], airflow: [], curves: [], bin: [], filter: [], upkeep: [], record: [], told: [], problem: null };
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
      else if (UPKEEP.test(translation_key ?? "")) parts[/^(bin|filter)/.exec(translation_key)?.[0] ?? "upkeep"].push(entity_id);
    }
    // The collector's come first: they're the whole shop's.
    if (flows.length) parts.airflow[ids("collector").length ? "unshift" : "push"]({ name, entities: flows });
    parts.gates.push(...ids("gate"));
    parts.told.push(...ids("collector", "request"));
    if (ids("request").length) {
      const entities = ids("request", "machine_phase", "running", "collecting", "connected", "collected_share", "run_time", "cuts");
      parts.machines.push({ name, entities });
    } else if (ids("collector").length) {
      // Switches need the whole width; half-width tiles are grouped, or there would be gaps.
      parts.collector.push(...ids("collector", "automatic", "start_block", "collector_phase", "problem", "hand_gate"));
      [parts.problem = null] = ids("problem");
      parts.totals.push(...ids("on_time", "starts", "collected_share"));
      parts.curves.push(...own.filter((entity) => CURVES.test(keyOf(entity))).map(({ entity_id }) => entity_id));
      parts.record.push(
        ...ids("collected_share_day", "collected_share_week", "collected_share_month", "shop_run_time", "not_collecting_time", "dust_today", "summary")
      );
    }
  }
  // The present state comes before what can be done about it.
  for (const key of ["bin", "filter"]) parts[key].sort((a, b) => a.startsWith("button.") - b.startsWith("button."));
  parts.machines.sort((a, b) => a.name.localeCompare(b.name, hass.language));
  return parts;
}
