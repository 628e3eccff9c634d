// Cards to be put in order: dragged, moved with the buttons beside them, put down by a tap on another card, or moved
// by keys. What all that does to the order is ordering.js's; here it is shown and said.

import { Ordering } from "./ordering.js";
import { announcer, freshId, make } from "./page.js";

/** @import { Control, Hooks, Question } from "./shapes.js" */
/** @typedef {{ kind: "order", cards: string[] }} OrderResponse */

/**
 * @param {Question<"order">} shown
 * @param {Hooks} hooks
 * @returns {Control<OrderResponse>}
 */
export function orderControl(shown, hooks) {
  const texts = new Map(shown.control.cards.map((card) => [card.id, card.text]));
  const asked = shown.control.cards.map((card) => card.id);
  let cards = new Ordering(asked);
  let current = asked[0]; // the one card that Tab reaches
  let painting = false;
  const helpId = freshId("help");
  const live = announcer();
  const list = make("ol", { class: "tk-order", "aria-describedby": helpId });
  /** @type {Map<string, ReturnType<typeof row>>} */
  const rows = new Map(asked.map((id) => [id, row(id)]));
  /** @param {string} id */
  const rowOf = (id) => /** @type {ReturnType<typeof row>} */ (rows.get(id));
  /** @param {string} id */
  const numberOf = (id) => `number ${cards.order.indexOf(id) + 1}`;

  /** @param {string} id */
  function row(id) {
    const card = make("button", {
      type: "button",
      class: "tk-card",
      onclick: () => tapped(id),
      onfocus: () => {
        current = id;
        if (!painting) paint();
      },
    });
    // Changed in place: an element that is replaced between press and release gets no click.
    const place = make("span", { class: "tk-place" });
    const state = make("span", { class: "tk-lifted-word" });
    card.append(place, make("span", { class: "tk-text" }, texts.get(id)), state);
    /**
     * @param {number} by
     * @param {string} word
     */
    const step = (by, word) =>
      make(
        "button",
        {
          type: "button",
          class: by < 0 ? "tk-up" : "tk-down",
          tabindex: "-1", // by keyboard the card itself is moved; these are for finger and mouse
          "aria-label": `Move ${word}: ${texts.get(id)}`,
          title: `Move ${word}`,
          onclick: () => {
            drop();
            put(id, cards.order.indexOf(id) + by);
            tell(id, "is now");
          },
        },
        by < 0 ? "▲" : "▼",
      );
    const grip = make("span", { class: "tk-grip", "aria-hidden": "true" }, "⠿");
    const item = make("li", { class: "tk-row" }, grip, card, step(-1, "up"), step(1, "down"));
    grip.addEventListener("pointerdown", (event) => drag(event, id, item));
    card.addEventListener("pointerdown", (event) => {
      if (event.pointerType === "mouse") drag(event, id, item);
    });
    return { item, card, place, state };
  }

  function paint() {
    painting = true; // moving a row in the page takes the focus away and gives it back: no reason to put it down
    for (const [place, id] of cards.order.entries()) {
      const { item, card, place: number, state } = rowOf(id);
      if (list.children[place] !== item) {
        const focused = item.contains(document.activeElement) ? document.activeElement : null;
        list.insertBefore(item, list.children[place] ?? null);
        if (focused instanceof HTMLElement) focused.focus(); // an element that is moved in the page loses the focus
      }
      number.textContent = `${place + 1}`;
      state.textContent = id === cards.lifted ? "lifted" : "";
      card.tabIndex = id === current ? 0 : -1;
      card.setAttribute("aria-pressed", String(id === cards.lifted));
      item.classList.toggle("tk-lifted", id === cards.lifted);
    }
    painting = false;
  }

  /**
   * @param {string} id
   * @param {number} place
   */
  function put(id, place) {
    if (!cards.put(id, place)) return;
    paint();
    hooks.changed();
  }

  /**
   * @param {string} id
   * @param {string} verb
   */
  const tell = (id, verb) => live.say(`${texts.get(id)} ${verb} ${numberOf(id)} of ${cards.order.length}.`);

  /** @param {string} id */
  function lift(id) {
    cards.lift(id);
    paint();
    live.say(`${texts.get(id)} is lifted, ${numberOf(id)} of ${cards.order.length}. Move it with the arrows.`);
  }

  function drop() {
    const id = cards.drop();
    if (id === null) return;
    paint();
    tell(id, "is put down as");
  }

  /** @param {string} id */
  function putBack(id) {
    const changed = cards.putBack();
    paint();
    if (changed) hooks.changed();
    tell(id, "is back as");
  }

  /** @param {string} id */
  function tapped(id) {
    if (swallowed()) return; // the end of a drag is no tap
    const { lifted } = cards;
    if (lifted === null) lift(id);
    else if (lifted === id) drop();
    else {
      put(lifted, cards.order.indexOf(id));
      drop();
      rowOf(lifted).card.focus();
    }
  }

  /** @param {number} place */
  const goTo = (place) => rowOf(cards.order[Math.max(0, Math.min(cards.order.length - 1, place))]).card.focus();

  list.addEventListener("keydown", (event) => {
    const id = [...rows].find(([, { card }]) => card === event.target)?.[0];
    if (id === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    const meant = cards.meaning(id, event.key);
    if (!meant) return;
    event.preventDefault();
    if (meant.act === "back") putBack(cards.lifted ?? id);
    else if (meant.act === "move") {
      put(id, meant.place);
      tell(id, "is now");
    } else {
      drop();
      if (meant.act === "lift") lift(id);
      if (meant.act === "go") goTo(meant.place);
    }
  });
  list.addEventListener("focusout", (event) => {
    const to = event.relatedTarget;
    if (!painting && !moving && !(to instanceof Node && list.contains(to))) drop();
  });
  // Some browsers click on the way up of the space bar, which has already lifted the card on its way down.
  list.addEventListener("keyup", (event) => {
    if (event.key === " ") event.preventDefault();
  });

  // Dragging: the row follows the pointer's row, so the list is at every moment the order it will have.
  let moving = false;
  let dragEnded = 0;
  const swallowed = () => Date.now() - dragEnded < 300;

  /**
   * @param {PointerEvent} start
   * @param {string} id
   * @param {HTMLElement} item
   */
  function drag(start, id, item) {
    if (start.button !== 0) return;
    /** @param {PointerEvent} event */
    const follow = (event) => {
      if (!moving && Math.abs(event.clientY - start.clientY) < 6) return;
      if (!moving) {
        moving = true;
        drop();
        item.classList.add("tk-dragged");
      }
      event.preventDefault();
      const middles = cards.order.map((other) => {
        const box = rowOf(other).item.getBoundingClientRect();
        return box.top + box.height / 2;
      });
      put(id, cards.under(id, middles, event.clientY));
    };
    const end = () => {
      document.removeEventListener("pointermove", follow);
      document.removeEventListener("pointerup", end);
      document.removeEventListener("pointercancel", end);
      item.classList.remove("tk-dragged");
      if (moving) {
        moving = false;
        dragEnded = Date.now();
        tell(id, "is now");
        rowOf(id).card.focus();
      }
    };
    document.addEventListener("pointermove", follow);
    document.addEventListener("pointerup", end);
    document.addEventListener("pointercancel", end);
  }

  paint();
  const help =
    "Press ▲ or ▼, or drag a card by its dots, or tap a card and then the place it goes to. " +
    "By keys: Space lifts, arrows move, Escape puts back.";
  return {
    node: make("div", { class: "tk-ordering" }, make("p", { class: "tk-hint", id: helpId }, help), list, live.node),
    value: () => ({ kind: "order", cards: [...cards.order] }),
    set(response) {
      cards = new Ordering(response ? response.cards : asked);
      current = cards.order[0];
      paint();
    },
    focus: () => goTo(0),
    missing: "",
  };
}
