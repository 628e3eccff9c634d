// A hand or a scale to be set: turned or pushed with mouse or finger, or stepped with keys and buttons.

import { announcer, drawing, make, shape } from "./page.js";
import { Steps } from "./scale.js";

/** @import { Control, Hooks, Question } from "./shapes.js" */
/** @typedef {{ kind: "set", value: number }} SetResponse */

/**
 * @param {Question<"set">} shown
 * @param {Hooks} hooks
 * @returns {Control<SetResponse>}
 */
export function dialControl(shown, hooks) {
  const scale = new Steps(shown.control.scale);
  const { low, high, step, unit, round, clock, size } = scale;
  /** @type {number | null} */
  let value = null; // nothing is set until somebody sets it
  const words = () => scale.words(value);
  /** @param {number} wanted */
  const put = (wanted) => {
    const now = scale.on(wanted);
    if (now === value) return;
    value = now;
    paint();
    hooks.changed();
  };
  /** @param {number} steps */
  const by = (steps) => put(scale.from(value, steps));

  const face = round ? clockFace(low, high, clock) : straightScale(low, high, scale.places);
  const slider = make("div", {
    class: "tk-slider",
    role: "slider",
    tabindex: "0",
    "aria-label": clock ? "Hand of the clock" : `Scale in ${unit}`,
    "aria-valuemin": low,
    "aria-valuemax": high,
  });
  slider.append(face.node);
  const readout = make("p", { class: "tk-readout", "aria-hidden": "true" });
  /** @type {Record<string, (() => void) | undefined>} */
  const keys = {
    ArrowRight: () => by(1),
    ArrowUp: () => by(1),
    ArrowLeft: () => by(-1),
    ArrowDown: () => by(-1),
    PageUp: () => by(scale.large),
    PageDown: () => by(-scale.large),
    Home: () => put(low),
    End: () => put(round ? high - step : high),
  };
  slider.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const act = event.key === "Enter" ? hooks.settle : keys[event.key];
    if (!act) return;
    act();
    event.preventDefault();
  });
  slider.addEventListener("pointerdown", (start) => {
    if (start.button !== 0) return;
    start.preventDefault();
    slider.focus();
    slider.setPointerCapture(start.pointerId);
    /** @param {PointerEvent} event */
    const follow = (event) => put(face.at(event));
    follow(start);
    slider.addEventListener("pointermove", follow);
    const end = () => {
      slider.removeEventListener("pointermove", follow);
      said.say(words());
    };
    slider.addEventListener("pointerup", end, { once: true });
    slider.addEventListener("pointercancel", end, { once: true });
  });
  // The slider tells its own value while it has the focus; for the buttons and the pointer it is said here.
  const said = announcer();
  /**
   * @param {number} steps
   * @param {string} sign
   * @param {string} word
   */
  const nudge = (steps, sign, word) =>
    make(
      "button",
      {
        type: "button",
        class: "tk-nudge",
        "aria-label": `${word} one step: ${sign}\u2009${size}`,
        onclick: () => {
          by(steps);
          said.say(words());
        },
      },
      `${sign}\u2009${size}`,
    );

  function paint() {
    readout.textContent = words();
    slider.setAttribute("aria-valuenow", String(value ?? low));
    slider.setAttribute("aria-valuetext", words());
    face.show(value);
  }
  paint();
  const nudges = make("div", { class: "tk-nudges" }, nudge(-1, "−", "Back"), nudge(1, "+", "On"));
  const dial = make(
    "div",
    { class: "tk-dial" },
    slider,
    make("div", { class: "tk-dial-side" }, readout, nudges),
    said.node,
  );
  return {
    // Beside the picture that it is read from, so that both are in sight at once.
    node: shown.control.figure ? make("div", { class: "tk-dial-beside" }, drawing(shown.control.figure), dial) : dial,
    value: () => (value === null ? null : { kind: "set", value }),
    set(response) {
      value = response ? scale.on(response.value) : null;
      paint();
    },
    focus: () => slider.focus(),
    missing: "Set it first.",
  };
}

/**
 * @param {number} low
 * @param {number} high
 * @param {boolean} hours
 */
function clockFace(low, high, hours) {
  const node = shape("svg", { viewBox: "-20 -20 300 300", class: "tk-face", "aria-hidden": "true" });
  node.append(shape("circle", { cx: 130, cy: 130, r: 108, class: "tk-rim" }));
  for (let tick = 0; tick < 12; tick += 1) {
    /** @param {number} length */
    const at = (length) => {
      const angle = (tick * Math.PI) / 6;
      return [130 + length * Math.sin(angle), 130 - length * Math.cos(angle)];
    };
    const [[x1, y1], [x2, y2], [x, y]] = [at(108), at(tick % 3 ? 98 : 92), at(128)]; // outside, where the hand hides none
    node.append(shape("line", { x1, y1, x2, y2, class: tick % 3 ? "tk-tick" : "tk-rim" }));
    if (tick % 3 === 0) {
      const label = hours ? tick || 12 : Number((low + ((high - low) * tick) / 12).toFixed(2));
      node.append(shape("text", { x, y: y + 6, class: "tk-numeral" }, String(label)));
    }
  }
  const hand = shape("g", { class: "tk-hand" });
  hand.append(
    shape("line", { x1: 130, y1: 130, x2: 130, y2: 42 }),
    shape("path", { d: "M 130 24 L 139 46 L 121 46 Z" }),
    shape("circle", { cx: 130, cy: 130, r: 7 }),
  );
  node.append(hand);
  return {
    node,
    /** @param {number | null} value */
    show(value) {
      hand.setAttribute("transform", `rotate(${value === null ? 0 : ((value - low) / (high - low)) * 360} 130 130)`);
      hand.classList.toggle("tk-unset", value === null);
    },
    /** @param {PointerEvent} event */
    at(event) {
      const box = node.getBoundingClientRect();
      const turn = Math.atan2(event.clientX - box.left - box.width / 2, box.top + box.height / 2 - event.clientY);
      return low + ((((turn / (2 * Math.PI)) % 1) + 1) % 1) * (high - low);
    },
  };
}

/**
 * @param {number} low
 * @param {number} high
 * @param {number} places
 */
function straightScale(low, high, places) {
  const node = shape("svg", { viewBox: "0 0 520 96", class: "tk-face tk-straight", "aria-hidden": "true" });
  // Room at both ends for the numbers, which are larger on a small screen.
  /** @param {number} value */
  const at = (value) => 48 + ((value - low) / (high - low)) * 424;
  node.append(shape("line", { x1: at(low), y1: 56, x2: at(high), y2: 56, class: "tk-rim" }));
  for (let tick = 0; tick <= 10; tick += 1) {
    const value = low + ((high - low) * tick) / 10;
    const x = at(value);
    node.append(
      shape("line", { x1: x, y1: 56, x2: x, y2: tick % 5 ? 66 : 72, class: tick % 5 ? "tk-tick" : "tk-rim" }),
    );
    if (tick % 5 === 0) node.append(shape("text", { x, y: 92, class: "tk-numeral" }, value.toFixed(places)));
  }
  const hand = shape("g", { class: "tk-hand" });
  hand.append(shape("path", { d: "M 0 54 L 11 30 L -11 30 Z" }), shape("line", { x1: 0, y1: 30, x2: 0, y2: 12 }));
  node.append(hand);
  return {
    node,
    /** @param {number | null} value */
    show(value) {
      hand.setAttribute("transform", `translate(${at(value ?? low)} 0)`);
      hand.classList.toggle("tk-unset", value === null);
    },
    /** @param {PointerEvent} event */
    at(event) {
      const box = node.getBoundingClientRect();
      return low + ((((event.clientX - box.left) / box.width) * 520 - 48) / 424) * (high - low);
    },
  };
}
