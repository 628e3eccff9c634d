// Cards to be put in order: dragged, moved with the buttons beside them, put down by a tap on another card, or moved
// by keys (Space or Enter lifts and puts down, arrows, Home and End move, Escape puts back).

function orderControl(shown, hooks) {
  const texts = new Map(shown.control.cards.map((card) => [card.id, card.text]));
  let order = shown.control.cards.map((card) => card.id);
  let lifted = null; // the card that moves with the keys
  let before = null; // the order to which Escape returns
  let current = order[0]; // the one card that Tab reaches
  let painting = false;
  const helpId = freshId("help");
  const live = announcer();
  const list = make("ol", { class: "tk-order", "aria-describedby": helpId });
  const rows = new Map(order.map((id) => [id, row(id)]));

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
            put(id, order.indexOf(id) + by);
            tell(id, "is now");
          },
        },
        by < 0 ? "▲" : "▼",
      );
    const grip = make("span", { class: "tk-grip", "aria-hidden": "true" }, "⠿");
    const item = make("li", { class: "tk-row" }, grip, card, step(-1, "up"), step(1, "down"));
    grip.addEventListener("pointerdown", (event) => drag(event, id, item));
    card.addEventListener("pointerdown", (event) => event.pointerType === "mouse" && drag(event, id, item));
    return { item, card, place, state };
  }

  function paint() {
    painting = true; // moving a row in the page takes the focus away and gives it back: no reason to put it down
    for (const [place, id] of order.entries()) {
      const { item, card, place: number, state } = rows.get(id);
      if (list.children[place] !== item) {
        const focused = item.contains(document.activeElement) ? document.activeElement : null;
        list.insertBefore(item, list.children[place] ?? null);
        focused?.focus(); // an element that is moved in the page loses the focus
      }
      number.textContent = `${place + 1}`;
      state.textContent = id === lifted ? "lifted" : "";
      card.tabIndex = id === current ? 0 : -1;
      card.setAttribute("aria-pressed", String(id === lifted));
      item.classList.toggle("tk-lifted", id === lifted);
    }
    painting = false;
  }

  function put(id, place) {
    const target = Math.max(0, Math.min(order.length - 1, place));
    const from = order.indexOf(id);
    if (from === target) return;
    order.splice(from, 1);
    order.splice(target, 0, id);
    paint();
    hooks.changed();
  }

  const tell = (id, verb) => live.say(`${texts.get(id)} ${verb} number ${order.indexOf(id) + 1} of ${order.length}.`);

  function lift(id) {
    lifted = id;
    before = [...order];
    paint();
    live.say(`${texts.get(id)} is lifted, number ${order.indexOf(id) + 1} of ${order.length}. Move it with the arrows.`);
  }

  function drop() {
    if (lifted === null) return;
    const id = lifted;
    lifted = null;
    before = null;
    paint();
    tell(id, "is put down as");
  }

  function putBack() {
    const id = lifted;
    const moved = !same(order, before);
    order = before;
    lifted = null;
    before = null;
    paint();
    if (moved) hooks.changed();
    tell(id, "is back as");
  }

  function tapped(id) {
    if (swallowed()) return; // the end of a drag is no tap
    if (lifted === null) lift(id);
    else if (lifted === id) drop();
    else {
      const moved = lifted;
      put(moved, order.indexOf(id));
      drop();
      rows.get(moved).card.focus();
    }
  }

  const goTo = (place) => rows.get(order[Math.max(0, Math.min(order.length - 1, place))]).card.focus();

  list.addEventListener("keydown", (event) => {
    const id = [...rows].find(([, { card }]) => card === event.target)?.[0];
    if (id === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    const place = order.indexOf(id);
    const moves = { ArrowUp: place - 1, ArrowDown: place + 1, Home: 0, End: order.length - 1 };
    if (event.key === " " || event.key === "Enter") {
      if (lifted === id) drop();
      else {
        drop();
        lift(id);
      }
    } else if (event.key in moves && lifted === id) {
      put(id, moves[event.key]);
      tell(id, "is now");
    } else if (event.key in moves) {
      drop();
      goTo(moves[event.key]);
    } else if (event.key === "Escape" && lifted !== null) putBack();
    else return;
    event.preventDefault();
  });
  list.addEventListener("focusout", (event) => {
    if (!painting && !moving && !list.contains(event.relatedTarget)) drop();
  });
  // Some browsers click on the way up of the space bar, which has already lifted the card on its way down.
  list.addEventListener("keyup", (event) => event.key === " " && event.preventDefault());

  // Dragging: the row follows the pointer's row, so the list is at every moment the order it will have.
  let moving = false;
  let dragEnded = 0;
  const swallowed = () => Date.now() - dragEnded < 300;

  function drag(start, id, item) {
    if (start.button !== 0) return;
    const follow = (event) => {
      if (!moving && Math.abs(event.clientY - start.clientY) < 6) return;
      if (!moving) {
        moving = true;
        drop();
        item.classList.add("tk-dragged");
      }
      event.preventDefault();
      const at = order.findIndex((other) => {
        const box = rows.get(other).item.getBoundingClientRect();
        return event.clientY < box.top + box.height / 2;
      });
      const place = at < 0 ? order.length - 1 : at > order.indexOf(id) ? at - 1 : at;
      put(id, place);
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
        rows.get(id).card.focus();
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
    value: () => ({ kind: "order", cards: [...order] }),
    set(response) {
      order = response ? [...response.cards] : shown.control.cards.map((card) => card.id);
      lifted = null;
      current = order[0];
      paint();
    },
    focus: () => goTo(0),
    missing: "",
  };
}
