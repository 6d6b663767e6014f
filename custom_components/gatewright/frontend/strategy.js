/** The generated dashboard, as the page knows it; the code for its views is fetched when one is opened. */
import { prepare } from "./cards.js";
import { load, translator } from "./i18n.js";

/** How long (ms) after the first view the content of the others is fetched. */
const SETTLED = 3000;

/** The dashboard strategy `custom:gatewright`; `entry_id` selects one of several systems. */
export class GatewrightStrategy extends HTMLElement {
  static noEditor = true;
  static registryDependencies = ["entities", "devices"];

  static getCreateSuggestions(hass) {
    return { title: translator(hass.language)?.("strategy.title") ?? "Gatewright", icon: "mdi:weather-windy" };
  }

  static async generate(config, hass) {
    // At the same time: each of them is a round trip.
    prepare("status", "day");
    const [{ dashboardOf }, all] = await Promise.all([
      import("./dashboard.js"),
      hass.callWS({ type: "gatewright/systems" }),
      load(hass.connection, hass.language),
    ]);
    // Then the other views also open when Home Assistant is offline.
    setTimeout(() => prepare("map", "alarms", "record"), SETTLED);
    // Views are made only once: without the texts they have plain names.
    const t = translator(hass.language) ?? ((key) => key.split(".")[1]);
    return dashboardOf(all.filter(({ entry_id }) => !config.entry_id || entry_id === config.entry_id), hass, t);
  }
}
