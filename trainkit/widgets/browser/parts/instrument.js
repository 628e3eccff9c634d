// The parts of a job in the page: pieces that are dragged off or on, steps to choose from, and what follows from a step
// that comes too early, at the piece and in words.

import { Apart } from "./apart.js";
import { keepStill } from "../fingers.js";
import { drawing, make, part, put, shape, shapes } from "../page.js";

/** @import { Instrument, InstrumentHooks, Need, PartsShown, StepShown } from "../shapes.js" */

const DRAGGED = 0.35; // of the way, until a piece counts as taken off or put on
/** @type {Record<import("./apart.js").Energised, [sign: string, word: string]>} */
const ENERGISED = { live: ["▲", "live"], isolated: ["■", "isolated, not proved"], proved: ["✓", "proved"] };

/**
 * @param {PartsShown} shown
 * @param {InstrumentHooks} hooks
 * @returns {Instrument}
 */
export function partsInstrument(shown, hooks) {
  const apart = new Apart(shown);
  const picture = drawing(shown.figure, "tk-picture tk-parts-view");
  const sheet = /** @type {SVGSVGElement} */ (part(picture, "svg"));
  const places = new Map(shapes(picture, "[data-piece]").map((place) => [String(place.dataset.piece), place]));
  const told = make("div", { class: "tk-parts-told", role: "status", "aria-live": "polite" });
  const count = make("p", { class: "tk-tally" });
  const choices = make("div", {
    class: "tk-actions tk-parts-choices",
    role: "group",
    "aria-label": "Choose the next step",
  });
  const buttons = Array.from({ length: 6 }, (_, place) => choiceButton(place));
  choices.append(...buttons);
  const energies = make("ul", { class: "tk-parts-energies", "aria-label": "Energies" });
  const list = make("ol", { class: "tk-parts-list" });
  /** @type {StepShown[]} */
  let offered = [];
  let overlay = shape("g", {});

  /**
   * @param {string} words
   * @param {() => void} act
   */
  const plain = (words, act) => make("button", { type: "button", class: "tk-plain", onclick: act }, words);
  const back = plain("Take the last step back", () => {
    const step = apart.back();
    if (step) paint([`Taken back: ${step.text}.`]);
  });
  const again = plain("Go back to the start", () => {
    apart.again();
    paint(["Nothing is done yet."]);
  });

  /** @param {number} place */
  function choiceButton(place) {
    const button = make(
      "button",
      { type: "button", class: "tk-action", "aria-keyshortcuts": String(place + 1) },
      make("kbd", { "aria-hidden": "true" }, place + 1),
      make("span", {}),
    );
    button.addEventListener("click", () => offered[place] && take(offered[place]));
    return button;
  }

  /** @param {StepShown} step */
  function take(step) {
    const missing = apart.take(step.id);
    if (missing) return follows(step, missing);
    const [next] = apart.left;
    paint([next ? `Done: ${step.text}.` : "Every step is done, in a right order."]);
  }

  /**
   * What follows from a step that comes too early.
   * @param {StepShown} step
   * @param {Need} need
   */
  function follows(step, need) {
    const first = apart.steps.get(need.before);
    const outcome = shown.outcomes[need.outcome];
    paint(
      [need.unsafe ? `▲ ${shown.unsafe}: ${outcome}.` : `→ ${outcome}.`, need.reason, `First: ${first?.text}.`],
      need.unsafe ? "danger" : "caution",
    );
    put(part(told, ".tk-parts-tried"), `Tried: ${step.text}.`);
    const touched = [...step.moves, ...(first?.moves ?? [])]
      .map(({ piece }) => places.get(piece))
      .filter((each) => !!each);
    overlay = consequence(need.outcome, outcome, touched[0]);
    sheet.append(overlay);
    hooks.root.dataset.outcome = need.outcome;
  }

  /**
   * The sign of what follows, at the piece that is concerned; else in the corner of the picture.
   * @param {string} outcome
   * @param {string} words
   * @param {SVGGraphicsElement | undefined} place
   */
  function consequence(outcome, words, place) {
    const { width } = sheet.viewBox.baseVal;
    const group = shape("g", { class: "tk-consequence", "data-outcome": outcome });
    const box = place ? within(place) : { x: width / 2, y: 44 };
    const wide = 10.4 * words.length + 20;
    const x = Math.min(Math.max(box.x, wide / 2 + 4), width - wide / 2 - 4);
    const below = box.y + 60 < sheet.viewBox.baseVal.height;
    const y = below ? box.y + 54 : box.y - 42;
    group.append(
      shape("circle", { cx: box.x, cy: box.y, r: 34, class: "tk-consequence-ring" }),
      shape("path", {
        d: SIGNS[outcome] ?? SIGNS.blocked,
        transform: `translate(${box.x} ${box.y})`,
        class: "tk-consequence-sign",
      }),
      shape("rect", { x: x - wide / 2, y: y - 17, width: wide, height: 25, rx: 4, class: "tk-consequence-ring" }),
      shape("text", { x, y, "text-anchor": "middle", class: "strong" }, words),
    );
    return group;
  }

  /**
   * Where the middle of a piece is drawn, in units of the sheet.
   * @param {SVGGraphicsElement} place
   */
  function within(place) {
    const box = place.getBBox();
    const [dx, dy] = apart.pieces.get(String(place.dataset.piece))?.on ? [0, 0] : offOf(place);
    return { x: box.x + box.width / 2 + dx, y: box.y + box.height / 2 + dy };
  }

  /**
   * @param {string[]} words
   * @param {string} [tone]
   */
  function paint(words, tone = "") {
    overlay.remove();
    delete hooks.root.dataset.outcome;
    const { pieces, energies: state } = apart;
    for (const [id, place] of places) settle(place, pieces.get(id)?.on ?? false);
    // The buttons stay, whatever they say: one that vanished would take the keyboard's focus with it.
    offered = apart.choices;
    buttons.forEach((button, place) => {
      put(part(button, "span"), offered[place]?.text ?? "No further step");
      button.setAttribute("aria-disabled", String(!offered[place]));
    });
    told.dataset.tone = tone;
    told.replaceChildren(
      make("p", { class: "tk-parts-tried" }),
      make("strong", {}, words[0]),
      ...words.slice(1).map((text) => make("p", {}, text)),
    );
    put(count, `${apart.done.length} of ${shown.steps.length} steps done`);
    back.setAttribute("aria-disabled", String(!apart.done.length));
    again.setAttribute("aria-disabled", String(!apart.done.length));
    energies.replaceChildren(
      ...shown.energies.map(({ id, text }) => {
        const [sign, word] = ENERGISED[state.get(id) ?? "live"];
        return make("li", { "data-state": state.get(id) }, `${sign} ${text}: ${word}`);
      }),
    );
    list.replaceChildren(...shown.pieces.map(({ id, text }) => make("li", {}, `${text}: ${pieces.get(id)?.word}`)));
    hooks.root.dataset.count = String(apart.done.length);
  }

  for (const [id, place] of places) {
    keepStill(place);
    place.classList.add("tk-piece");
    place.addEventListener("pointerdown", (start) => {
      if (start.button !== 0) return;
      start.preventDefault();
      place.setPointerCapture(start.pointerId);
      const scale = sheet.viewBox.baseVal.width / sheet.getBoundingClientRect().width;
      const on = apart.pieces.get(id)?.on ?? false;
      const [dx, dy] = offOf(place);
      const [sx, sy] = on ? [0, 0] : [dx, dy];
      const whole = Math.hypot(dx, dy);
      let share = 0; // of the way to the other place, along the axis
      /** @param {PointerEvent} event */
      const follow = (event) => {
        const mx = (event.clientX - start.clientX) * scale;
        const my = (event.clientY - start.clientY) * scale;
        const along = ((mx * dx + my * dy) / whole ** 2) * (on ? 1 : -1);
        share = Math.min(Math.max(along, 0), 1);
        const way = on ? share : -share;
        place.classList.add("tk-dragged");
        place.setAttribute("transform", `translate(${sx + way * dx} ${sy + way * dy})`);
      };
      const stop = () => {
        place.removeEventListener("pointermove", follow);
        place.classList.remove("tk-dragged");
        const step = share > DRAGGED ? apart.stepFor(id) : undefined;
        if (step) take(step);
        else settle(place, on);
      };
      place.addEventListener("pointermove", follow);
      place.addEventListener("pointerup", stop, { once: true });
      place.addEventListener("pointercancel", stop, { once: true });
    });
  }
  hooks.root.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !/^[1-6]$/.test(event.key)) return;
    event.preventDefault();
    const step = offered[Number(event.key) - 1];
    if (step) take(step);
  });

  paint(["Nothing is done yet."]);
  const node = make(
    "div",
    { class: "tk-parts" },
    picture,
    make(
      "div",
      { class: "tk-parts-side" },
      energies,
      told,
      choices,
      make("div", { class: "tk-bench-foot" }, back, again, count),
      make("p", { class: "tk-hint" }, "Drag a part along its line, press a step, or press the key with its number."),
    ),
    list,
  );
  return { node, focus: () => buttons[0].focus() };
}

// What follows, as a sign about the point 0, 0: a flash, a crack, a drop, a part that hangs, a nut left behind, a bar.
/** @type {Record<string, string>} */
const SIGNS = {
  exposed: "M 4 -22 L -12 4 L -1 4 L -6 22 L 12 -6 L 1 -6 Z",
  breaks: "M -3 -24 L 5 -10 L -5 -2 L 6 8 L -2 24 L 2 24 L 11 8 L 1 -2 L 11 -11 L 3 -24 Z",
  leaks: "M 0 -22 C 10 -6 14 0 14 8 A 14 14 0 0 1 -14 8 C -14 0 -10 -6 0 -22 Z",
  loose: "M -4 -22 H 4 V 2 H 14 L 0 22 L -14 2 H -4 Z",
  dirt: "M -16 -8 L 0 -18 L 16 -8 V 10 L 0 20 L -16 10 Z M 7 1 A 7 7 0 1 0 -7 1 A 7 7 0 1 0 7 1 Z",
  blocked: "M -22 -5 H 22 V 5 H -22 Z",
};

/** @param {SVGGraphicsElement} place */
function offOf(place) {
  return String(place.dataset.off).split(" ").map(Number);
}

/**
 * @param {SVGGraphicsElement} place
 * @param {boolean} on
 */
function settle(place, on) {
  const [dx, dy] = on ? [0, 0] : offOf(place);
  place.setAttribute("transform", `translate(${dx} ${dy})`);
}
