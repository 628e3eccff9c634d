// A little of the page: elements made of text, never of markup.

/** @import { Hooks } from "./shapes.js" */
/** @typedef {Node | string | number | null | undefined} Child */
/**
 * What an element has: attributes, and under `onclick` and its like what is called when it is pressed.
 * @typedef {Record<string, any>} Attributes
 */

/**
 * @template {keyof HTMLElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Attributes} [attributes]
 * @param {Child[]} children
 * @returns {HTMLElementTagNameMap[Tag]}
 */
export function element(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === undefined || value === null) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : value);
  }
  for (const child of children) {
    if (child === null || child === undefined || child === "") continue;
    node.append(typeof child === "number" ? String(child) : child);
  }
  return node;
}

/**
 * The same, whose lines never end between a number and its unit.
 * @template {keyof HTMLElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Attributes} [attributes]
 * @param {Child[]} children
 */
export function make(tag, attributes, ...children) {
  /** @param {Child} child */
  const kept = (child) =>
    typeof child === "string" ? pieces(child).map(({ text, whole }) => (whole ? unbroken(text) : text)) : [child];
  return element(tag, attributes, ...children.flatMap((child) => /** @type {Child[]} */ (kept(child))));
}

/**
 * A text, with each number and its unit apart: a thin space joins them.
 * @param {string} text
 */
export function pieces(text) {
  if (!text.includes("\u2009")) return [{ text, whole: false }];
  return text.split(/(\S+\u2009\S+)/).map((part) => ({ text: part, whole: part.includes("\u2009") }));
}

/** @param {string} text */
function unbroken(text) {
  const whole = document.createElement("span");
  whole.className = "tk-whole";
  whole.textContent = text;
  return whole;
}

let serial = 0;
// Each control on a page carries its own copy of this code: a number alone would name the radio buttons of two
// questions alike, and join them to one group.
const copyOfPage = Math.random().toString(36).slice(2, 10);
/** @param {string} what */
export const freshId = (what) => `tk-${what}-${copyOfPage}-${++serial}`;

/**
 * What must be there; without it the page is not the one this code was written for.
 * @template {Element} [Kind=HTMLElement]
 * @param {ParentNode} place
 * @param {string} selector
 * @returns {Kind}
 */
export function part(place, selector) {
  const found = /** @type {Kind | null} */ (place.querySelector(selector));
  if (!found) throw new Error(`Nothing here is ${selector}.`);
  return found;
}

/**
 * The places of a picture that can be meant.
 * @param {ParentNode} picture
 * @param {string} selector
 */
export const shapes = (picture, selector) =>
  /** @type {SVGGraphicsElement[]} */ ([...picture.querySelectorAll(selector)]);

const SVG = "http://www.w3.org/2000/svg";
/**
 * @template {keyof SVGElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Record<string, string | number>} attributes
 * @param {string} [text]
 * @returns {SVGElementTagNameMap[Tag]}
 */
export function shape(tag, attributes, text = "") {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, String(value));
  node.textContent = text;
  return node;
}

/**
 * The kernel's own picture: drawn by trainkit.figures, which escapes every word in it.
 * @param {string} svg
 */
export function drawing(svg, kind = "tk-picture") {
  const holder = make("div", { class: kind });
  holder.innerHTML = svg;
  return holder;
}

/** Says something to screen readers without showing it. A text said twice is said again. */
export function announcer() {
  const node = make("p", { class: "tk-unseen", "aria-live": "polite", role: "status" });
  /** @param {string} text */
  const say = (text) => {
    node.textContent = node.textContent === text ? `${text}\u00a0` : text;
  };
  return { node, say };
}

/**
 * Writes a text only where it is another one: what has not changed need not be said aloud again.
 * @param {Element} node
 * @param {string} text
 */
export function put(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/**
 * Enter in a group of buttons saves, as it does in any form; the arrows and the space bar choose.
 * @param {Hooks} hooks
 * @returns {(event: KeyboardEvent) => void}
 */
export const settleOnEnter = (hooks) => (event) => {
  if (event.key !== "Enter" || event.isComposing) return;
  event.preventDefault();
  hooks.settle();
};
