// A place on the picture: pressed on the picture itself, or chosen from the list of the same places beside it. The two
// are one group of radio buttons, so keyboard and screen reader have all that mouse and finger have.

import { announcer, drawing, freshId, make, settleOnEnter, shapes } from "./page.js";
import { roomForFingers } from "./fingers.js";

/** @import { Control, Hooks, Question } from "./shapes.js" */
/** @typedef {{ kind: "point", target: string }} PointResponse */

/**
 * @param {Question<"point">} shown
 * @param {Hooks} hooks
 * @returns {Control<PointResponse>}
 */
export function pointControl(shown, hooks) {
  const group = freshId("point");
  const picture = drawing(shown.control.figure, "tk-picture tk-point-view");
  const said = announcer();
  const inputs = shown.control.targets.map((target) =>
    make("input", { type: "radio", name: group, value: target.id, onchange: () => changed() }),
  );
  /** @type {Map<SVGGraphicsElement, HTMLInputElement>} */
  const places = new Map();
  for (const place of shapes(picture, "[data-target]")) {
    const input = inputs.find((each) => each.value === place.dataset.target);
    if (!input) continue;
    places.set(place, input);
    place.classList.add("tk-place-to-press");
    place.addEventListener("click", () => {
      input.checked = true;
      input.focus();
      said.say(`${nameOf(input)} is chosen.`);
      changed();
    });
  }
  /** @param {HTMLInputElement} input */
  const nameOf = (input) => shown.control.targets.find((target) => target.id === input.value)?.text;
  const observer = new ResizeObserver(() => roomForFingers(picture, [...places.keys()]));
  observer.observe(picture);
  hooks.signal.addEventListener("abort", () => observer.disconnect());
  const mark = () => {
    for (const [place, input] of places) place.classList.toggle("tk-chosen", input.checked);
  };
  const changed = () => {
    mark();
    hooks.changed();
  };
  const node = make(
    "fieldset",
    { class: "tk-choice tk-point" },
    make("legend", { class: "tk-unseen" }, "Choose a place"),
    picture,
    make(
      "div",
      { class: "tk-point-list" },
      make(
        "p",
        { class: "tk-hint" },
        places.size ? "Press the place on the picture, or choose it here." : "Choose the place here.",
      ),
      ...shown.control.targets.map((target, place) =>
        make("label", { class: "tk-option" }, inputs[place], make("span", {}, target.text)),
      ),
    ),
    said.node,
  );
  node.addEventListener("keydown", settleOnEnter(hooks));
  return {
    node,
    value: () => {
      const chosen = inputs.find((input) => input.checked);
      return chosen ? { kind: "point", target: chosen.value } : null;
    },
    set(response) {
      for (const input of inputs) input.checked = input.value === response?.target;
      mark();
    },
    focus: () => (inputs.find((input) => input.checked) ?? inputs[0]).focus(),
    missing: "Choose a place first.",
  };
}
