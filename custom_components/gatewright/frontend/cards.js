/** The kinds of cards, each with the module of its content. */
import { GatewrightCard } from "./card.js";
import { PlanCard } from "./plan-card.js";
import { kindsHere } from "./seen.js";

class MapCard extends GatewrightCard {
  static options = ["figures"];
  static size = 11;
  static content = (again) => import(`./map-card.js${again}`);
}

class StatusCard extends GatewrightCard {
  static options = ["hide_idle"];
  static content = (again) => import(`./status-card.js${again}`);
}

class DayCard extends GatewrightCard {
  static options = ["hide_unused"];
  static size = 7;
  static content = (again) => import(`./day-card.js${again}`);
}

class AlarmsCard extends GatewrightCard {
  static size = 2;
  static content = (again) => import(`./alarms-card.js${again}`);
}

class RecordCard extends GatewrightCard {
  static content = (again) => import(`./record-card.js${again}`);
}

export const CARDS = { map: MapCard, status: StatusCard, day: DayCard, alarms: AlarmsCard, record: RecordCard, plan: PlanCard };

/** Fetch the content of some kinds of cards before they are placed. */
export function prepare(...kinds) {
  // A placed card retries.
  for (const kind of kinds) CARDS[kind]?.content?.("").catch(() => {});
}

/** Fetch the content of the cards that this dashboard had last time, while the page is still loading. */
export const prepareKnown = () => prepare(...kindsHere());
