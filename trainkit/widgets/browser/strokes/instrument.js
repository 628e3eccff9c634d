// The four strokes, turned by the crank. How everything stands is cycle.js's; here it is moved, shown and said.

import { CYCLE, Strokes, degrees, seenWords, turned } from "./cycle.js";
import { pointed, stage, stillness } from "../kit/stage.js";
import { holding } from "../moving.js";
import { announcer, make } from "../page.js";
import { StrokesView } from "./view.js";

/** @import { Instrument, InstrumentHooks, StrokesShown } from "../shapes.js" */
/** @typedef {import("./cycle.js").Cylinder} Cylinder */

/**
 * @param {StrokesShown} shown
 * @param {InstrumentHooks} hooks
 * @returns {Instrument}
 */
export function strokesInstrument(shown, hooks) {
  const strokes = new Strokes(shown);
  const way = shown.clockwise ? 1 : -1;
  const view = new StrokesView(strokes, way);
  let frame = 0;
  let verdict = "";
  const scene = stage((drawn) => {
    const tall = view.heightFor(drawn.width);
    // The picture is as high as the cylinders need; it is drawn again once it has that height.
    if (Math.abs(drawn.height - tall) > 1) scene.canvas.style.height = `${tall}px`;
    if (drawn.fresh) scene.canvas.dataset.parts = JSON.stringify(view.cranks);
    view.draw(drawn);
  }, "tk-canvas tk-strokes-canvas");
  const slider = make(
    "div",
    {
      class: "tk-strokes-view",
      role: "slider",
      tabindex: "0",
      "aria-label": "Crank",
      "aria-valuemin": 0,
      "aria-valuemax": CYCLE,
    },
    scene.canvas,
  );
  const note = make("p", { class: "tk-seen tk-strokes-said" });
  const answers = make("div", { class: "tk-strokes-answers", role: "group", "aria-label": "Your answer" });
  const said = announcer();

  /**
   * @param {string} text
   * @param {() => void} act
   */
  const plain = (text, act) => make("button", { type: "button", class: "tk-plain", onclick: act }, text);

  const words = () => [...seenWords(strokes, view.covered), verdict].filter(Boolean);

  /** @param {number} crank */
  function turn(crank) {
    strokes.crank = turned(crank);
    verdict = "";
    paint();
  }

  /** @param {number} to */
  function glide(to) {
    cancelAnimationFrame(frame);
    const from = strokes.crank;
    const settle = () => {
      turn(to);
      said.say(words().join(" "));
    };
    if (stillness()) return settle();
    const took = 260 + Math.abs(to - from) * 4;
    const begun = performance.now();
    /** @param {number} now */
    const go = (now) => {
      const share = Math.min(1, Math.max(0, (now - begun) / took));
      if (share === 1) return settle();
      turn(from + (to - from) * (share * share * (3 - 2 * share)));
      frame = requestAnimationFrame(go);
    };
    frame = requestAnimationFrame(go);
  }

  /** To the next dead centre, exactly: small errors of a drag are not carried along. */
  /** @param {1 | -1} direction */
  function toDeadCentre(direction) {
    const to = strokes.crank + strokes.toDeadCentre(direction);
    const exact = shown.cylinders
      .flatMap(({ fires_at }) => [fires_at, fires_at + 360])
      .find((angle) => Math.abs(turned(angle - to + 180) - 180) < 0.01);
    glide(exact === undefined ? to : to + turned(exact - to + 180) - 180);
  }

  const held = holding(
    (steps) => {
      cancelAnimationFrame(frame);
      turn(strokes.crank + steps);
    },
    () => said.say(words().join(" ")),
  );

  /**
   * @param {Cylinder} chosen
   * @param {"compression" | "exhaust"} at
   */
  function answer(chosen, at) {
    const hit = strokes.centre(chosen).at === at;
    view.covered = false;
    cover.checked = false;
    verdict = hit ? "You were right. Turn the crank once, and look again." : "You took it for the other one.";
    paint();
    said.say(words().join(" "));
    slider.focus({ preventScroll: true });
  }

  const cover = make("input", {
    type: "checkbox",
    onchange: () => {
      view.covered = cover.checked;
      verdict = "";
      paint();
      said.say(words().join(" "));
    },
  });

  /**
   * What can be answered where the valves are covered: which of several pistons, or what a single one does.
   * @param {Cylinder[]} up
   */
  function choices(up) {
    const [only, ...more] = up;
    if (!only) return [];
    if (!more.length)
      return [
        plain("It is on compression", () => answer(only, "compression")),
        plain("It is on exhaust", () => answer(only, "exhaust")),
      ];
    const sorted = [...up].sort((one, other) => one.number - other.number);
    return sorted.map((cylinder) =>
      plain(`Cylinder ${cylinder.number} has both shut`, () => answer(cylinder, "compression")),
    );
  }

  let asked = "";
  function paint() {
    const [main, ...more] = words();
    note.replaceChildren(make("strong", {}, main), ...more.map((text) => make("span", {}, ` ${text}`)));
    const up = view.covered ? strokes.up() : [];
    const key = up.map(({ cylinder }) => cylinder.number).join();
    if (key !== asked) {
      asked = key;
      answers.replaceChildren(...choices(up.map(({ cylinder }) => cylinder)));
    }
    slider.setAttribute("aria-valuenow", String(Number(strokes.crank.toFixed(1))));
    slider.setAttribute("aria-valuetext", `${degrees(strokes.crank)} of ${CYCLE}°. ${words().join(" ")}`);
    hooks.root.dataset.crank = String(Number(strokes.crank.toFixed(4)));
    scene.redraw();
  }

  /** @type {Record<string, [way: number, kind: "small" | "large"] | undefined>} */
  const keys = {
    ...{ ArrowRight: [1, "small"], ArrowUp: [1, "small"], ArrowLeft: [-1, "small"], ArrowDown: [-1, "small"] },
    ...{ PageUp: [1, "large"], PageDown: [-1, "large"] },
  };
  slider.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const going = keys[event.key];
    if (event.key === "Home") glide(shown.start);
    else if (!going) return;
    else if (!event.repeat) held.start(...going);
    event.preventDefault();
  });
  slider.addEventListener("keyup", (event) => {
    if (event.key in keys) held.stop();
  });
  slider.addEventListener("blur", held.stop);

  // Only what the hand takes hold of can be dragged, so that a finger elsewhere scrolls the page.
  const holds = (/** @type {{ clientX: number, clientY: number }} */ event) => view.held(pointed(scene.canvas, event));
  slider.addEventListener("touchstart", (event) => void (holds(event.touches[0]) && event.preventDefault()), {
    passive: false,
  });
  slider.addEventListener("pointermove", (event) => {
    if (!event.buttons) slider.style.cursor = holds(event) ? "grab" : "default";
  });
  slider.addEventListener("pointerdown", (start) => {
    const grip = holds(start);
    if (start.button !== 0 || !grip) return;
    start.preventDefault();
    cancelAnimationFrame(frame);
    slider.focus({ preventScroll: true });
    slider.setPointerCapture(start.pointerId);
    /** @param {PointerEvent} event */
    const bearing = (event) => {
      const [u, v] = pointed(scene.canvas, event);
      return "crank" in grip ? (Math.atan2(u - grip.crank.x, grip.crank.y - v) * 180) / Math.PI : view.angleAt(u);
    };
    let last = bearing(start);
    if (!("crank" in grip)) turn(last);
    /** @param {PointerEvent} event */
    const follow = (event) => {
      const now = bearing(event);
      if ("crank" in grip) turn(strokes.crank + way * (((now - last + 540) % 360) - 180));
      else turn(now);
      last = now;
    };
    const stop = () => {
      slider.removeEventListener("pointermove", follow);
      said.say(words().join(" "));
    };
    slider.addEventListener("pointermove", follow);
    slider.addEventListener("pointerup", stop, { once: true });
    slider.addEventListener("pointercancel", stop, { once: true });
  });

  paint();
  const node = make(
    "div",
    { class: "tk-strokes" },
    note,
    make(
      "div",
      { class: "tk-strokes-buttons" },
      plain("◀ Dead centre before", () => toDeadCentre(-1)),
      plain("Next dead centre ▶", () => toDeadCentre(1)),
      plain("Turn the crank once", () => glide(strokes.crank + 360)),
    ),
    make(
      "div",
      { class: "tk-strokes-buttons" },
      make("label", { class: "tk-option" }, cover, make("span", {}, "Cover the valves and think first")),
      answers,
    ),
    slider,
    make("p", { class: "tk-hint" }, shown.how),
    said.node,
  );
  return {
    node,
    focus: () => slider.focus(),
    close: () => {
      held.stop();
      cancelAnimationFrame(frame);
      scene.close();
    },
  };
}
