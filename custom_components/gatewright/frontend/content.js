/** What a card shows: a module of its own, fetched when such a card is placed. */

/**
 * The content of one card; a subclass draws it.
 *
 * It may have `styles`, `build()` (draw everything anew into `this.body`),
 * `update(changes)` (take over what changed; `{all: true}` after a build) and `tick()`
 * (seconds passed; returns whether more will). Each of the three is only called with a
 * running system. What may fail by itself is drawn by `guard`, so that one missing field
 * does not blank the rest. `size()` is the height in rows of the page, `connected()` and
 * `disconnected()` follow the card, and `lost()` is called when the hub cannot be heard.
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
