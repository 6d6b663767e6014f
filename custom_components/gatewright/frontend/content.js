/** The content of a card: a module of its own, fetched when such a card is placed. */

/**
 * What one card shows.
 *
 * A subclass may have `styles`, `build()` (draw everything anew into `this.body`), `update(changes)` (apply changes;
 * `{all: true}` after a build) and `tick()` (a second passed; returns whether more will). Each of the three is called
 * only with a loaded system. Parts that may fail alone are drawn by `guard`, so that one missing field doesn't blank the
 * rest. `size()` is the height in rows of the page, `connected()` and `disconnected()` follow the card's element, and
 * `lost()` is called when Home Assistant can't be reached.
 */
export class CardContent {
  static styles = "";

  constructor(card) {
    this.card = card;
  }

  get t() {
    return this.card.t;
  }

  get hass() {
    return this.card.hass;
  }

  get config() {
    return this.card.config;
  }

  get feed() {
    return this.card.feed;
  }

  get picture() {
    return this.card.picture;
  }

  get guard() {
    return this.card.guard;
  }

  get body() {
    return this.card.body;
  }

  get shadowRoot() {
    return this.card.shadowRoot;
  }

  say(words) {
    return this.card.say(words);
  }

  act(domain, action, entityId) {
    return this.card.act(domain, action, entityId);
  }

  wind() {
    this.card.wind();
  }

  showDetails(entityId) {
    this.card.showDetails(entityId);
  }
}
