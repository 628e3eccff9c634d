// Cards in an order, and what keys do to them: Space or Enter lifts a card and puts it down, arrows, Home and End move
// the lifted one or go to another, Escape puts it back.

import { same } from "./values.js";

export class Ordering {
  /** @type {string | null} the card that moves with the keys */
  lifted = null;
  /** @type {string[]} the order to which Escape returns */
  before = [];

  /** @param {string[]} order */
  constructor(order) {
    this.order = [...order];
  }

  /**
   * Put a card at a place, or as near as there is one; tell whether that changed the order.
   * @param {string} id
   * @param {number} place
   */
  put(id, place) {
    const target = Math.max(0, Math.min(this.order.length - 1, place));
    const from = this.order.indexOf(id);
    if (from === target) return false;
    this.order.splice(from, 1);
    this.order.splice(target, 0, id);
    return true;
  }

  /** @param {string} id */
  lift(id) {
    this.lifted = id;
    this.before = [...this.order];
  }

  /** Put down what is lifted; return which card it was. */
  drop() {
    const id = this.lifted;
    this.lifted = null;
    this.before = [];
    return id;
  }

  /** Put what is lifted back where it was; return whether that changed the order. */
  putBack() {
    const changed = !same(this.order, this.before);
    this.order = this.before;
    this.drop();
    return changed;
  }

  /**
   * What a key does that is pressed on a card, or undefined where it is none of these keys.
   * @param {string} id
   * @param {string} key
   * @returns {{ act: "lift" | "drop" | "back" } | { act: "move" | "go", place: number } | undefined}
   */
  meaning(id, key) {
    if (key === " " || key === "Enter") return { act: this.lifted === id ? "drop" : "lift" };
    if (key === "Escape") return this.lifted === null ? undefined : { act: "back" };
    const at = this.order.indexOf(id);
    const places = { ArrowUp: at - 1, ArrowDown: at + 1, Home: 0, End: this.order.length - 1 };
    if (!Object.hasOwn(places, key)) return undefined;
    const place = places[/** @type {keyof typeof places} */ (key)];
    return { act: this.lifted === id ? "move" : "go", place };
  }

  /**
   * Where a dragged card goes, by the middles of the rows from top to bottom and the height of the pointer.
   * @param {string} id
   * @param {number[]} middles
   * @param {number} y
   */
  under(id, middles, y) {
    const at = middles.findIndex((middle) => y < middle);
    if (at < 0) return this.order.length - 1;
    return at > this.order.indexOf(id) ? at - 1 : at;
  }
}
