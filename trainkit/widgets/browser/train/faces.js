// The face of one gear as a picture that turns: drawn by the kernel, from both ends.

import { keepStill } from "../fingers.js";
import { chooser } from "../moving.js";
import { drawing } from "../page.js";
import { viewOf } from "./drawings.js";

/** @import { Around, Shown } from "./instrument.js" */
/** @import { End, Gear, Train } from "../shapes.js" */

/**
 * @param {Train} shown
 * @param {Around} around
 * @returns {Shown}
 */
export function facePicture(shown, { turning, slider, turned, changed, said }) {
  let end = shown.seen_from;
  /** @param {End} name */
  const view = (name) => viewOf(drawing(shown.views[name] ?? "", "tk-picture tk-view"), shown);
  const views = { front: view("front"), flywheel: view("flywheel") };
  slider.append(...Object.values(views).map(({ node }) => node));

  // Only what the hand takes hold of can be dragged, so that a finger elsewhere scrolls the page.
  for (const [name, view] of Object.entries(views)) {
    keepStill(view.grip);
    view.grip.addEventListener("pointerdown", (start) => {
      if (start.button !== 0) return;
      start.preventDefault();
      slider.focus({ preventScroll: true });
      view.grip.setPointerCapture(start.pointerId);
      const gear = /** @type {Gear} */ (shown.gears.find((each) => each.id === view.held));
      const rate = (gear.rate[0] / gear.rate[1]) * (gear.clockwise === (name === "front") ? 1 : -1);
      const from = turning.count;
      let last = view.angle(start);
      let gone = 0;
      /** @param {PointerEvent} event */
      const follow = (event) => {
        const now = view.angle(event);
        gone += ((now - last + 540) % 360) - 180;
        last = now;
        turned(turning.turn(from + Math.round(((gone / rate) * turning.parts) / turning.quantum)));
      };
      const stop = () => {
        view.grip.removeEventListener("pointermove", follow);
        said();
      };
      view.grip.addEventListener("pointermove", follow);
      view.grip.addEventListener("pointerup", stop, { once: true });
      view.grip.addEventListener("pointercancel", stop, { once: true });
    });
  }

  const ends = chooser(
    "Seen from",
    /** @type {[End, string][]} */ ([
      ["front", "the front"],
      ["flywheel", "the flywheel end"],
    ]),
    end,
    (chosen) => {
      end = chosen;
      changed(true);
    },
  );
  return {
    controls: [ends],
    behind: () => end !== "front",
    paint() {
      for (const [name, { node }] of Object.entries(views)) node.hidden = name !== end;
    },
    gear(gear, degrees, sense) {
      views[end].turn(gear.id, degrees);
      views[end].point(gear.id, sense);
    },
  };
}
