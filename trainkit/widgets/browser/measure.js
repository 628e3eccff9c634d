// A length or an angle on the screen: which values a slider has, where a pointer is, and the slider itself.

import { make, part, put } from "./page.js";

/** @import { Measured, Range } from "./shapes.js" */

/**
 * The step of a range that is nearest to a value.
 * @param {Pick<Range, "low" | "high" | "step">} range
 * @param {number} value
 */
export const within = ({ low, high, step }, value) =>
  Number(Math.max(low, Math.min(high, low + Math.round((value - low) / step) * step)).toFixed(4));

/**
 * Where a pointer is, in millimetres and degrees.
 * @param {HTMLElement} picture
 * @param {string} dragged
 * @param {PointerEvent} event
 * @param {Range[]} ranges
 * @returns {Partial<Record<Measured, number>>}
 */
export function placeOf(picture, dragged, event, ranges) {
  /** @type {SVGSVGElement} */
  const svg = part(picture, "svg");
  const { drive, scale } = part(picture, "[data-drive]").dataset;
  const box = svg.getBoundingClientRect();
  const zoom = box.width / svg.viewBox.baseVal.width;
  const [x, y] = String(drive).split(" ").map(Number);
  const right = ((event.clientX - box.left) / zoom - x) / Number(scale);
  const up = (y - (event.clientY - box.top) / zoom) / Number(scale);
  /** @param {Measured} id */
  const range = (id) => /** @type {Range} */ (ranges.find((each) => each.id === id));
  if (dragged === "grip") return { length: within(range("length"), -right) };
  const angle = up > 0 ? (Math.atan2(up, right) * 180) / Math.PI : right < 0 ? 180 : 0;
  return {
    adapter: within(range("adapter"), Math.hypot(right, Math.max(up, 0))),
    angle: within(range("angle"), angle),
  };
}

/**
 * A straight slider, with a button at each end.
 * @param {Range} range
 * @param {number} start
 * @param {(changed: Partial<Record<Measured, number>>, aloud?: boolean) => void} move
 */
export function measure({ id, name, unit, low, high, step }, start, move) {
  let value = low;
  const gap = unit === "°" ? "" : "\u2009";
  const words = () => `${Number(value.toFixed(2))}${gap}${unit}`;
  /**
   * @param {number} wanted
   * @param {boolean} [aloud]
   */
  const to = (wanted, aloud) => move({ [id]: Math.max(low, Math.min(high, wanted)) }, aloud);
  const knob = make("div", { class: "tk-knob" });
  const track = make("div", { class: "tk-track", "aria-hidden": "true" }, knob);
  const slider = make(
    "div",
    {
      class: "tk-slider tk-measure",
      role: "slider",
      tabindex: "0",
      "aria-label": name,
      "aria-valuemin": low,
      "aria-valuemax": high,
      "data-measure": id,
    },
    track,
  );
  /** @type {Record<string, (() => number) | undefined>} */
  const keys = {
    ArrowRight: () => value + step,
    ArrowUp: () => value + step,
    ArrowLeft: () => value - step,
    ArrowDown: () => value - step,
    PageUp: () => value + 10 * step,
    PageDown: () => value - 10 * step,
    Home: () => start,
  };
  slider.addEventListener("keydown", (event) => {
    const wanted = keys[event.key]?.();
    if (event.ctrlKey || event.metaKey || event.altKey || wanted === undefined) return;
    event.preventDefault();
    to(wanted, true);
  });
  slider.addEventListener("pointerdown", (start) => {
    if (start.button !== 0) return;
    start.preventDefault();
    slider.focus();
    slider.setPointerCapture(start.pointerId);
    /** @param {PointerEvent} event */
    const follow = (event) => {
      const box = track.getBoundingClientRect();
      to(within({ low, high, step }, low + ((event.clientX - box.left) / box.width) * (high - low)));
    };
    follow(start);
    const stop = () => {
      slider.removeEventListener("pointermove", follow);
      move({}, true);
    };
    slider.addEventListener("pointermove", follow);
    slider.addEventListener("pointerup", stop, { once: true });
    slider.addEventListener("pointercancel", stop, { once: true });
  });
  const shown = make("span", { class: "tk-measured" });
  /**
   * @param {string} sign
   * @param {string} verb
   */
  const nudge = (sign, verb) =>
    make(
      "button",
      {
        type: "button",
        class: "tk-nudge",
        "aria-label": `${verb} by ${step}${gap}${unit}: ${name}`,
        onclick: () => to(value + (sign === "+" ? step : -step), true),
      },
      `${sign}\u2009${step}${gap}${unit}`,
    );
  return {
    node: make(
      "div",
      { class: "tk-measure-row" },
      make("p", {}, name, " ", shown),
      make("div", { class: "tk-measure-line" }, nudge("−", "Less"), slider, nudge("+", "More")),
    ),
    focus: () => slider.focus({ preventScroll: true }),
    /** @param {number} now */
    show(now) {
      value = now;
      put(shown, words());
      slider.setAttribute("aria-valuenow", String(value));
      slider.setAttribute("aria-valuetext", words());
      knob.style.left = `${((value - low) / (high - low)) * 100}%`;
    },
  };
}
