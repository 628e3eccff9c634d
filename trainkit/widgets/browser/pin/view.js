// The picture of the lock-pin bench: pin, mark and bar side by side, and what is taken hold of. What is shown is given;
// pin and hand go to their places by themselves, quickly and without swinging.

import { keepStill } from "../fingers.js";
import { stage, stillness } from "../kit/stage.js";
import { make } from "../page.js";
import { paintFace, paintTool } from "./face.js";
import { HANDS, TIPS, paintPin, words } from "./paint.js";

/** @import { Cut, Box, PinPlace } from "./paint.js" */
/** @import { Tool } from "./face.js" */
/** @import { DialMark } from "../shapes.js" */
/**
 * @typedef {object} Shown
 * @property {PinPlace} pin
 * @property {boolean} pressed
 * @property {Cut | null} cut
 * @property {boolean} open
 * @property {number} at Where the mark stands, degrees clockwise from twelve
 * @property {Tool} tool
 */
/**
 * @typedef {object} About
 * @property {string} gear What the hole is in, in words
 * @property {boolean} clockwise
 * @property {DialMark[]} marks
 * @property {boolean} rests Whether the bar comes back upright: only the bar itself is taken hold of, as a pull counts
 */
/**
 * @typedef {object} Hands What a hand does at the picture.
 * @property {() => boolean} grip Whether the bar can be taken hold of now
 * @property {(degrees: number) => boolean} pull so far, clockwise; false where the hand lets go
 * @property {() => void} letGo
 * @property {(down: boolean, still: boolean) => void} press `still` where the finger did not move meanwhile
 */

const NARROW = 560; // pixels: below this the mark is drawn under pin and bar
const GAP = 10;
const FINGER = 28; // pixels either side of a bar that is taken hold of
const SHAKY = 8; // pixels that a finger may move and still have pressed one place
const GLIDE = 260; // ms from one place of the mark to the next

/**
 * @param {number} width
 * @param {number} height
 * @returns {{ pin: Box, face: Box, tool: Box }}
 */
export function panels(width, height) {
  const head = 20; // for the title of a panel
  if (width < NARROW) {
    const upper = Math.round(height * 0.47);
    const split = Math.round(width * 0.62);
    return {
      pin: [0, head, split, upper - head],
      tool: [split + GAP, head, width - split - GAP, upper - head],
      face: [0, upper + GAP + head, width, height - upper - GAP - head],
    };
  }
  const first = Math.round(width * 0.38);
  const last = Math.round(width * 0.2);
  return {
    pin: [0, head, first, height - head],
    face: [first + GAP, head, width - first - last - 2 * GAP, height - head],
    tool: [width - last, head, last, height - head],
  };
}

/** @type {(node: HTMLElement, box: Box) => void} */
const lay = (node, [x, y, width, height]) => {
  node.style.cssText = `left:${x}px;top:${y}px;width:${width}px;height:${height}px`;
};

/**
 * @param {About} about
 * @param {Shown} first
 * @param {Hands} hands
 */
export function pinView(about, first, hands) {
  let target = first;
  let tip = TIPS[first.pin];
  let hand = HANDS[first.pressed ? "pressed" : first.pin];
  let open = first.open ? 1 : 0;
  let from = { at: first.at, turned: first.cut?.turned ?? 0 };
  let began = 0; // when the mark began to glide, 0 where it stands
  /** @type {[x: number, y: number]} */
  let pivot = [0, 0];

  const knob = make("div", { class: "tk-pin-knob", "aria-hidden": "true" });
  const bar = make("div", { class: "tk-pin-bar", "aria-hidden": "true" });
  const { canvas, redraw, close } = stage(({ pen, width, height, palette, fresh }) => {
    const boxes = panels(width, height);
    const [left, top, wide, high] = boxes.pin;
    if (fresh) lay(knob, [left + wide * 0.6, top + high * 0.22, wide * 0.4, high * 0.46]);
    const moving = advance();
    const share = began ? Math.min(1, (performance.now() - began) / GLIDE) : 1;
    const eased = share * (2 - share);
    const at = from.at + (target.at - from.at) * eased;
    const cut = target.cut && glided(target.cut, eased);
    for (const [box, title] of /** @type {[Box, string][]} */ ([
      [boxes.pin, "Lock pin"],
      [boxes.face, "Mark"],
      [boxes.tool, target.tool.fitted ? "Bar, fitted" : "Bar, taken off"],
    ])) {
      words(pen, title, box[0], box[1] - 6, { colour: palette.ink, size: 13, bold: true });
    }
    paintPin(pen, palette, boxes.pin, { ...target, tip, hand, open, cut, gear: about.gear });
    paintFace(pen, palette, boxes.face, { at, clockwise: about.clockwise, marks: about.marks });
    const { long, ...painted } = paintTool(pen, palette, boxes.tool, target.tool);
    pivot = painted.pivot;
    const [x, y] = pivot;
    if (fresh) lay(bar, about.rests ? [x - FINGER, y - long - FINGER / 2, 2 * FINGER, long + FINGER / 2] : boxes.tool);
    if (share >= 1) began = 0;
    if (moving || began) redraw();
  }, "tk-pin-canvas");

  /**
   * @param {Cut} cut
   * @param {number} share
   * @returns {Cut}
   */
  function glided(cut, share) {
    const left = (cut.turned - from.turned) * (1 - share);
    return { ...cut, turned: cut.turned - left, holes: cut.holes.map((off) => off + left) };
  }

  /** Takes pin, hand and case a picture further; tells whether they are still on their way. */
  function advance() {
    const aims = {
      tip: TIPS[target.pin],
      hand: target.pressed && target.pin === "pressed" ? HANDS.pressed : HANDS[target.pin],
      open: target.open ? 1 : 0,
    };
    const pace = stillness() ? 1 : 0.34;
    tip += (aims.tip - tip) * pace;
    hand += (aims.hand - hand) * pace;
    open += (aims.open - open) * (stillness() ? 1 : 0.22);
    if (Math.abs(aims.tip - tip) + Math.abs(aims.hand - hand) > 0.3 || Math.abs(aims.open - open) > 0.01) return true;
    ({ tip, hand, open } = aims);
    return false;
  }

  /**
   * Shows another state at once, or lets the mark glide there: forward (1) or back (-1).
   * @param {Shown} next
   * @param {1 | -1 | 0} [way]
   */
  function show(next, way = 0) {
    const before = target;
    target = next;
    if (way && !stillness() && (before.at !== next.at || before.cut?.turned !== next.cut?.turned)) {
      const sense = way * (about.clockwise ? 1 : -1);
      const far = ((((next.at - before.at) * sense) % 360) + 360) % 360;
      const turned = (next.cut?.turned ?? 0) - (before.cut?.turned ?? 0);
      from = { at: next.at - far * sense, turned: (next.cut?.turned ?? 0) - Math.max(-30, Math.min(30, turned)) };
      began = performance.now();
    } else if (!began || before.at !== next.at) {
      began = 0;
      from = { at: next.at, turned: next.cut?.turned ?? 0 };
    }
    redraw();
  }

  // Only what the hand takes hold of keeps the page still, so that a finger elsewhere scrolls it.
  keepStill(bar, () => hands.grip());
  keepStill(knob);
  bar.addEventListener("pointerdown", (start) => {
    if (start.button !== 0 || !hands.grip()) return;
    start.preventDefault();
    bar.setPointerCapture(start.pointerId);
    const box = canvas.getBoundingClientRect();
    /** @type {(event: PointerEvent) => number} */
    const bearing = (event) =>
      (Math.atan2(event.clientX - box.left - pivot[0], pivot[1] - (event.clientY - box.top)) * 180) / Math.PI;
    let last = bearing(start);
    let pulled = 0;
    /** @param {PointerEvent} event */
    const follow = (event) => {
      const now = bearing(event);
      pulled += ((now - last + 540) % 360) - 180;
      last = now;
      if (!hands.pull(pulled)) stop();
    };
    const stop = () => {
      bar.removeEventListener("pointermove", follow);
      bar.removeEventListener("pointerup", stop);
      bar.removeEventListener("pointercancel", stop);
      hands.letGo();
    };
    bar.addEventListener("pointermove", follow);
    bar.addEventListener("pointerup", stop);
    bar.addEventListener("pointercancel", stop);
  });
  knob.addEventListener("pointerdown", (start) => {
    if (start.button !== 0) return;
    start.preventDefault();
    knob.setPointerCapture(start.pointerId);
    hands.press(true, true);
    /** @param {PointerEvent} end */
    const done = (end) => {
      knob.removeEventListener("pointerup", done);
      knob.removeEventListener("pointercancel", done);
      const far = Math.hypot(end.clientX - start.clientX, end.clientY - start.clientY);
      hands.press(false, end.type === "pointerup" && far < SHAKY);
    };
    knob.addEventListener("pointerup", done);
    knob.addEventListener("pointercancel", done);
  });
  return { node: make("div", { class: "tk-pinview" }, canvas, knob, bar), show, close };
}
