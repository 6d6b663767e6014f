/** Makes the cards and the dashboard known to the page. Every page of the hub loads this. */
import { CARDS, prepareKnown } from "./cards.js";
import { base, load, translator } from "./i18n.js";
import { GatewrightStrategy } from "./strategy.js";

const DOCUMENTATION = "https://github.com/gatewright/gatewright#the-map-and-the-dashboard";

/** Define an element; a page that outlived an update already has it. */
function define(name, kind) {
  if (!customElements.get(name)) customElements.define(name, kind);
}

function defineAll() {
  for (const [kind, card] of Object.entries(CARDS)) define(`gatewright-${kind}-card`, card);
  define("ll-strategy-dashboard-gatewright", GatewrightStrategy);
}

prepareKnown();
defineAll();
customElements.whenDefined("home-assistant").then(() => {
  // Home Assistant's page brings its own element registry, which doesn't know earlier definitions.
  defineAll();
  // The texts are fetched as soon as the page has a user: the card picker asks for them only once.
  window.hassConnection?.then(({ conn }) => load(conn, userLanguage()), () => {});
});

function userLanguage() {
  return document.querySelector("home-assistant")?.hass?.language ?? base(navigator.language);
}

/** A text in the user's language; the user isn't known yet when this is loaded. */
function text(key, otherwise) {
  const hass = document.querySelector("home-assistant")?.hass;
  if (hass?.connection) load(hass.connection, hass.language);
  return translator(userLanguage())?.(key) ?? otherwise;
}

const RECORD = /^(collected_share|collecting_time|dust_today|low_airflow_time|not_collecting_time|shop_run_time|summary)/;

window.customCards ??= [];
window.customStrategies ??= [];

for (const kind of Object.keys(CARDS)) {
  const type = `gatewright-${kind}-card`;
  if (window.customCards.some((card) => card.type === type)) continue;
  window.customCards.push({
    type,
    get name() {
      return text(`card.${kind}`, `Gatewright ${kind}`);
    },
    get description() {
      return text(`card.${kind}_description`, "");
    },
    preview: true,
    documentationURL: DOCUMENTATION,
    getEntitySuggestion: (hass, entityId) => suggest(hass, entityId, kind),
  });
}

if (!window.customStrategies.some(({ type }) => type === "gatewright")) {
  window.customStrategies.push({
    type: "gatewright",
    strategyType: "dashboard",
    get name() {
      return text("strategy.name", "Gatewright");
    },
    get description() {
      return text("strategy.description", "");
    },
    documentationURL: DOCUMENTATION,
  });
}

/** Suggest a card for an entity of ours: the alarms for a problem, the others for the rest. */
function suggest(hass, entityId, kind) {
  const entity = hass.entities[entityId];
  if (entity?.platform !== "gatewright") return null;
  const problem = entity.translation_key === "problem";
  if ((kind === "alarms") !== problem && kind !== "map") return null;
  // The plan is about the whole shop.
  if (kind === "plan") return null;
  if (kind === "record" && !RECORD.test(entity.translation_key ?? "")) return null;
  const device = hass.devices[entity.device_id];
  const entryId = device?.config_entry_id ?? device?.primary_config_entry;
  return {
    label: text(`card.${kind}`, `Gatewright ${kind}`),
    config: { type: `custom:gatewright-${kind}-card`, ...(entryId ? { entry_id: entryId } : {}) },
  };
}
