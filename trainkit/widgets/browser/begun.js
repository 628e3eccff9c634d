// What stands between the question and its control: a working that is begun, and how to use a control.

import { make, part, put } from "./page.js";
import { SILENT } from "./sentences.js";

/** @import { Begun, Question, QuestionReply } from "./shapes.js" */
/** @typedef {{ begun: HTMLElement, post: import("./post.js").Post, fail(text: string): void, unheard(text: string): void }} Framed */

/**
 * @param {Framed} frame
 * @param {Begun} begun
 */
export function showBegun(frame, begun) {
  const painted = frame.begun.childElementCount > 0;
  /** @type {HTMLButtonElement} */
  const hint =
    frame.begun.querySelector("button") ??
    make(
      "button",
      { type: "button", class: "tk-plain tk-hint-button", onclick: () => uncover(frame, hint) },
      begun.hint,
    );
  // Never disabled: a button that vanishes under the finger takes the keyboard's focus with it.
  hint.setAttribute("aria-disabled", String(!begun.more));
  if (painted) {
    const lines = part(frame.begun, ".tk-working");
    const note = frame.begun.querySelector(".tk-note-line");
    // Added, not painted anew: a live list says only what is new.
    for (const line of begun.lines.slice(lines.children.length)) lines.append(make("li", {}, line));
    put(part(frame.begun, ".tk-rest"), begun.rest);
    if (note) put(note, begun.note);
    return;
  }
  frame.begun.append(
    make("p", { class: "tk-working-title" }, begun.title),
    make("ol", { class: "tk-working", "aria-live": "polite" }, ...begun.lines.map((line) => make("li", {}, line))),
    make("p", { class: "tk-rest" }, begun.rest),
    begun.hint
      ? make(
          "div",
          { class: "tk-foot" },
          hint,
          make("p", { class: "tk-note-line", role: "status", "aria-live": "polite" }, begun.note),
        )
      : "",
  );
}

/**
 * @param {Framed} frame
 * @param {HTMLButtonElement} hint
 */
function uncover(frame, hint) {
  if (hint.getAttribute("aria-disabled") === "true") return;
  frame.post.ask(
    { type: "hint" },
    (/** @type {Extract<QuestionReply, { type: "hint" | "refused" }>} */ reply) =>
      reply.type === "hint" ? showBegun(frame, reply.begun) : frame.fail(reply.text),
    () => frame.unheard(SILENT),
  );
}

/**
 * By mouse, by finger, by keyboard: one line each.
 * @param {NonNullable<Question["how"]>} how
 */
export function howTo(how) {
  return make(
    "dl",
    { class: "tk-how" },
    ...how.map((way) => make("div", {}, make("dt", {}, way.by), make("dd", {}, way.do))),
  );
}
