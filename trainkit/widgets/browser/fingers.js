// Room for fingers on a picture, and a page that stays still under them.

import { shape } from "./page.js";

const FINGER = 44; // pixels on the screen

/**
 * Gives every small place an unseen rim to press on, a finger wide where its neighbours leave room for it.
 * @param {HTMLElement} picture
 * @param {SVGGraphicsElement[]} places
 */
export function roomForFingers(picture, places) {
  const sheet = picture.querySelector("svg");
  const scale = sheet ? sheet.getBoundingClientRect().width / sheet.viewBox.baseVal.width : 0;
  if (!scale) return;
  const discs = places.map((place) => {
    const body = /** @type {SVGGraphicsElement | null} */ (place.querySelector(".solid, .filled")) ?? place;
    const { x, y, width, height } = body.getBBox();
    return { place, x: x + width / 2, y: y + height / 2, r: Math.max(width, height) / 2 };
  });
  for (const disc of discs) {
    const nearest = Math.min(
      ...discs.filter((other) => other !== disc).map((other) => Math.hypot(other.x - disc.x, other.y - disc.y)),
    );
    const r = Math.min(FINGER / 2 / scale, nearest / 2);
    disc.place.querySelector(".tk-rim-to-press")?.remove();
    if (r > disc.r) disc.place.prepend(shape("circle", { cx: disc.x, cy: disc.y, r, class: "tk-rim-to-press" }));
  }
}

/**
 * A finger on what can be dragged does not scroll the page. In SVG the style touch-action alone does not hold it.
 * @param {HTMLElement | SVGElement} node
 * @param {(target: EventTarget | null, event: TouchEvent) => unknown} where
 */
export function keepStill(node, where = () => true) {
  /** @param {Event} event */
  const hold = (event) => void (where(event.target, /** @type {TouchEvent} */ (event)) && event.preventDefault());
  node.addEventListener("touchstart", hold, { passive: false });
}
