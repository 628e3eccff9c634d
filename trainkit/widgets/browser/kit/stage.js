// A canvas that is drawn once a frame, and only when something asked for it.

import { make } from "../page.js";
import { onTheme, paletteOf } from "./palette.js";

/** @import { Palette } from "./palette.js" */
/**
 * @typedef {object} Scene What a drawing gets: lengths are in pixels of the page, whatever the screen's own are.
 * @property {CanvasRenderingContext2D} pen
 * @property {number} width
 * @property {number} height
 * @property {number} ratio Pixels of the screen to one of the page
 * @property {Palette} palette
 * @property {boolean} fresh Whether size, theme or ratio are new: what was baked is stale.
 */

const FINEST = 2; // more pixels than this cost time that nobody sees

/** Whether the reader asked for less motion. */
export const stillness = () => matchMedia("(prefers-reduced-motion: reduce)").matches;

/**
 * @param {(scene: Scene) => void} draw
 * @param {string} [kind] the class of the canvas
 */
export function stage(draw, kind = "tk-canvas") {
  const canvas = make("canvas", { class: kind, "aria-hidden": "true" });
  const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d", { alpha: false }));
  /** @type {Palette | undefined} */
  let palette;
  let frame = 0;
  let before = "";

  const paint = () => {
    frame = 0;
    const width = canvas.clientWidth;
    const height = canvas.clientHeight;
    if (!width || !height) return; // not in the page, or hidden: drawn when it is shown
    const ratio = Math.min(devicePixelRatio || 1, FINEST);
    const size = [Math.round(width * ratio), Math.round(height * ratio)];
    if (canvas.width !== size[0]) canvas.width = size[0];
    if (canvas.height !== size[1]) canvas.height = size[1];
    const now = [...size, ratio].join();
    const fresh = !palette || now !== before;
    before = now;
    palette ??= paletteOf(canvas);
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.fillStyle = palette.paper;
    pen.fillRect(0, 0, size[0], size[1]);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    draw({ pen, width, height, ratio, palette, fresh });
  };
  const redraw = () => {
    frame ||= requestAnimationFrame(paint);
  };
  const sized = new ResizeObserver(redraw);
  sized.observe(canvas);
  const unthemed = onTheme(() => {
    palette = undefined;
    redraw();
  });
  const close = () => {
    cancelAnimationFrame(frame);
    sized.disconnect();
    unthemed();
  };
  return { canvas, redraw, close };
}

/**
 * Where a pointer is on a canvas, in the pixels that the drawing uses.
 * @param {Element} canvas
 * @param {{ clientX: number, clientY: number }} event
 * @returns {[x: number, y: number]}
 */
export function pointed(canvas, event) {
  const box = canvas.getBoundingClientRect();
  return [event.clientX - box.left, event.clientY - box.top];
}
