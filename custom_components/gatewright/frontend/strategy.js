/** The dashboard that makes itself, as the page knows it; what makes its views is fetched when one is opened. */
import { prepare } from "./cards.js";
import { load, translator } from "./i18n.js";

/** How long (ms) the first view is left alone before the others are fetched. */
const SETTLED = 3000;

/** The dashboard strategy `custom:gatewright`; `entry_id` picks one system of several. */
export class GatewrightStrategy extends HTMLElement {
  static noEditor = true;
  static registryDependencies = ["entities", "devices"];

  static getCreateSuggestions(hass) {
    return { title: translator(hass.language)?.("strategy.title") ?? "Gatewright", icon: "mdi:weather-windy" };
  }

  static async generate(config, hass) {
    // All at once: each of them is a way to the hub and back.
    prepare("status", "day");
    const [{ dashboardOf }, all] = await Promise.all([
      import("./dashboard.js"),
      hass.callWS({ type: "gatewright/systems" }),
      load(hass.connection, hass.language),
    ]);
    // A view that is opened when the hub is away is then there all the same.
    setTimeout(() => prepare("map", "alarms", "record"), SETTLED);
    // Views are made but once: where the texts do not come, they have plain names.
    const t = translator(hass.language) ?? ((key) => key.split(".")[1]);
    return dashboardOf(all.filter(({ entry_id }) => !config.entry_id || entry_id === config.entry_id), hass, t);
  }
}
