// The bolts of a joint: which comes next is chosen here, what that does to the part is said and drawn by the kernel.

import { roomForFingers } from "./fingers.js";
import { chooser } from "./moving.js";
import { make, part, put, shapes } from "./page.js";
import { SILENT } from "./sentences.js";

/** @import { CircleShown, Instrument, InstrumentHooks, JointReply } from "./shapes.js" */

const MOST_KEYS = 9;

/**
 * @param {CircleShown} shown
 * @param {InstrumentHooks} hooks
 * @returns {Instrument}
 */
export function circleInstrument(shown, hooks) {
  let joint = shown.joint;
  let busy = false;
  const picture = make("div", { class: "tk-circle-view" });
  const said = make("p", { class: "tk-seen", role: "status", "aria-live": "polite" });
  const log = make("ol", { class: "tk-log tk-circle-log", "aria-label": "The order so far" });
  const bolts = make("div", { class: "tk-actions", role: "group", "aria-label": "Choose the next one" });
  /**
   * @param {string} words
   * @param {() => void} act
   */
  const plain = (words, act) => make("button", { type: "button", class: "tk-plain", onclick: act }, words);
  const undo = plain("Take the last one back", () => void (joint.count && ask({ type: "undo", so_far: joint.count })));
  const again = plain("Start again", () => void (joint.count && ask({ type: "again" })));
  const hint = plain("Show what evens it out best", () => void (finished() || ask({ type: "hint" })));
  const finished = () => joint.count === joint.bolts.length;

  /** @param {object} message */
  function ask(message) {
    if (busy) return;
    busy = true;
    hooks.post.ask(
      message,
      (/** @type {JointReply} */ reply) => {
        busy = false;
        hooks.alarm.textContent = reply.type === "refused" ? reply.text : "";
        if (reply.joint) {
          joint = reply.joint;
          paint();
        }
      },
      () => {
        busy = false;
        hooks.alarm.textContent = SILENT;
      },
    );
  }

  /** @param {string | undefined} bolt */
  function tighten(bolt) {
    const found = joint.bolts.find((each) => each.id === bolt);
    if (found && !found.done) ask({ type: "tighten", bolt, so_far: joint.count });
  }

  /** @param {number} place */
  function button(place) {
    const key = place < MOST_KEYS && joint.bolts.length <= MOST_KEYS ? String(place + 1) : "";
    const made = make(
      "button",
      { type: "button", class: "tk-action", "data-bolt": joint.bolts[place].id, "aria-keyshortcuts": key || null },
      key ? make("kbd", { "aria-hidden": "true" }, key) : "",
      make("span", {}),
    );
    made.addEventListener("click", () => tighten(joint.bolts[place].id));
    return made;
  }

  function paint() {
    picture.innerHTML = joint.figure; // drawn by trainkit.figures, which escapes every word in it
    const places = shapes(picture, "[data-target]");
    for (const place of places) place.classList.add("tk-place-to-press");
    roomForFingers(picture, places);
    // The buttons stay as long as the joint does: one that vanished would take the keyboard's focus with it.
    if (bolts.dataset.joint !== joint.id) {
      bolts.dataset.joint = joint.id;
      bolts.replaceChildren(...joint.bolts.map((_, place) => button(place)));
    }
    joint.bolts.forEach(({ id, done }, place) => {
      const made = bolts.children[place];
      made.setAttribute("aria-disabled", String(done));
      put(part(made, "span"), done ? `${joint.noun} ${id} is tightened` : `Tighten ${joint.noun} ${id}`);
    });
    const words = [joint.said, joint.hint, ...joint.verdict].filter(Boolean);
    said.replaceChildren(make("strong", {}, words[0]), ...words.slice(1).map((text) => make("span", {}, ` ${text}`)));
    log.replaceChildren(...joint.log.map((line) => make("li", {}, line)));
    log.scrollTop = log.scrollHeight;
    undo.setAttribute("aria-disabled", String(!joint.count));
    again.setAttribute("aria-disabled", String(!joint.count));
    hint.setAttribute("aria-disabled", String(finished()));
    hooks.root.dataset.count = String(joint.count);
  }

  picture.addEventListener("click", (event) => {
    const place = event.target instanceof Element ? event.target.closest("[data-target]") : null;
    if (place instanceof SVGElement) tighten(place.dataset.target);
  });
  hooks.root.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || joint.bolts.length > MOST_KEYS) return;
    const found = joint.bolts[Number(event.key) - 1];
    if (!found || !/^[1-9]$/.test(event.key)) return;
    event.preventDefault();
    tighten(found.id);
  });

  const joints = chooser(
    "Joint",
    shown.joints.map((each) => [each.id, each.text]),
    joint.id,
    (id) => ask({ type: "joint", joint: id }),
  );
  const node = make(
    "div",
    { class: "tk-circle" },
    picture,
    make("div", {}, said, log),
    make(
      "div",
      { class: "tk-circle-side" },
      bolts,
      make("div", { class: "tk-bench-foot" }, undo, again, hint),
      shown.joints.length > 1 ? joints : "",
    ),
    make("p", { class: "tk-hint" }, "Press a bolt in the picture, its button, or the key with its number."),
  );
  paint();
  // Where there is room for fingers is known once the picture has its size, and anew whenever that changes.
  const sized = new ResizeObserver(() => roomForFingers(picture, shapes(picture, "[data-target]")));
  sized.observe(picture);
  return { node, close: () => sized.disconnect(), focus: () => part(bolts, "button").focus() };
}
