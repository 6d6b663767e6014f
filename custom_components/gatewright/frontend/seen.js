/** The kinds of cards that this browser has seen on a dashboard: fetched early on its next visit. */

const keyOf = () => `gatewright-cards ${location.pathname.split("/")[1]}`;

/** The kinds of cards seen on this dashboard. */
export function kindsHere() {
  try {
    return localStorage.getItem(keyOf())?.split(" ") ?? [];
  } catch {
    // Without storage they are fetched when they are placed.
    return [];
  }
}

/** Note that a card, such as `gatewright-map-card`, is on this dashboard. */
export function noteHere(card) {
  const kind = card.split("-")[1];
  const kinds = kindsHere();
  if (kinds.includes(kind)) return;
  try {
    localStorage.setItem(keyOf(), [...kinds, kind].join(" "));
  } catch {
    // As above.
  }
}
