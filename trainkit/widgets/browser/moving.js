// What instruments share: choices, and keys and buttons that stay down.

import { freshId, make } from "./page.js";

const HELD_AFTER = 280; // ms until a key that stays down goes on by itself
const STEPS_A_SECOND = { small: 60, large: 12 };
const BIG = 10; // small steps in a large one

/**
 * A few choices of which one holds, as radio buttons a finger high.
 * @template {string | number} Value
 * @param {string} legend
 * @param {[Value, string][]} choices
 * @param {Value} chosen
 * @param {(value: Value) => void} choose
 */
export function chooser(legend, choices, chosen, choose) {
  const name = freshId("choose");
  return make(
    "fieldset",
    { class: "tk-chooser" },
    make("legend", {}, legend),
    ...choices.map(([value, words]) =>
      make(
        "label",
        { class: "tk-option" },
        make("input", {
          type: "radio",
          name,
          checked: value === chosen,
          value: String(value),
          onchange: () => choose(value),
        }),
        make("span", {}, words),
      ),
    ),
  );
}

/**
 * A key or a button that stays down goes on, picture by picture, as fast as time passes.
 * @param {(steps: number) => void} by
 * @param {() => void} done
 */
export function holding(by, done) {
  let frame = 0;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  let going = false;
  const stop = () => {
    if (!going) return;
    going = false;
    clearTimeout(timer);
    cancelAnimationFrame(frame);
    done();
  };
  /**
   * @param {number} way
   * @param {keyof typeof STEPS_A_SECOND} kind
   */
  const start = (way, kind) => {
    stop();
    going = true;
    const size = kind === "large" ? BIG : 1;
    by(way * size);
    timer = setTimeout(() => {
      let last = performance.now();
      /** @param {number} now */
      const next = (now) => {
        const steps = Math.floor(((now - last) / 1000) * STEPS_A_SECOND[kind]);
        if (steps > 0) {
          last += (steps * 1000) / STEPS_A_SECOND[kind];
          by(way * size * steps);
        }
        frame = requestAnimationFrame(next);
      };
      frame = requestAnimationFrame(next);
    }, HELD_AFTER);
  };
  return { start, stop };
}

/**
 * @param {ReturnType<typeof holding>} held
 * @param {number} way
 * @param {string} verb
 */
export function holdButton(held, way, verb) {
  const sense = make("span", { class: "tk-sense" });
  const button = make("button", { type: "button", class: "tk-nudge", "data-way": way }, verb, " ", sense);
  button.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    button.setPointerCapture(event.pointerId);
    held.start(way, "small");
  });
  for (const name of ["pointerup", "pointercancel", "blur"]) button.addEventListener(name, held.stop);
  // By keyboard or by a screen reader there is a click without a pointer.
  button.addEventListener("click", (event) => {
    if (event.detail !== 0) return;
    held.start(way, "small");
    held.stop();
  });
  return { node: button, sense };
}
