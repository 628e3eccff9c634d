// The torque wrench with its adapter: moved here, reckoned and drawn by the kernel. While something is dragged only the
// newest place is asked for, so that the picture keeps up; numbers stand still until the kernel has said the next ones.

import { keepStill } from "./fingers.js";
import { measure, placeOf } from "./measure.js";
import { chooser } from "./moving.js";
import { announcer, make, put } from "./page.js";
import { SILENT } from "./sentences.js";

/** @import { Instrument, InstrumentHooks, LeverReply, LeverShown, Measured } from "./shapes.js" */
/** @typedef {Partial<Record<Measured, number> & { wrench: string, job: string }>} Changed */

/**
 * @param {LeverShown} shown
 * @param {InstrumentHooks} hooks
 * @returns {Instrument}
 */
export function leverInstrument(shown, hooks) {
  let lever = shown.lever;
  /** @type {Changed | null} */
  let wanted = null; // what was moved since the kernel was asked last
  let asked = false;
  let speak = false;
  const sliders = new Map(shown.sliders.map((slider) => [slider.id, measure(slider, shown.start[slider.id], move)]));
  /** @param {Measured} id */
  const focusOn = (id) => sliders.get(id)?.focus();
  const picture = make("div", { class: "tk-lever-view" });
  const set = make("p", { class: "tk-readout" });
  const limits = make("div", { class: "tk-limits" });
  const lines = make("ul", { class: "tk-lever-lines" });
  const said = announcer();

  /**
   * @param {Changed} changed
   * @param {boolean} [aloud]
   */
  function move(changed, aloud = false) {
    const now = { ...wanted, ...changed };
    wanted = now;
    speak ||= aloud;
    for (const [id, slider] of sliders) {
      const value = now[id];
      if (value !== undefined) slider.show(value);
    }
    ask();
  }

  function ask() {
    if (asked || !wanted) return;
    const message = { type: "put", ...wanted };
    wanted = null;
    send(message);
  }

  /** @param {object} message */
  function send(message) {
    asked = true;
    hooks.post.ask(
      message,
      (/** @type {LeverReply} */ reply) => {
        asked = false;
        hooks.alarm.textContent = reply.type === "refused" ? reply.text : "";
        if (reply.lever) lever = reply.lever;
        if (!wanted) paint();
        else picture.innerHTML = lever.figure;
        ask();
      },
      () => {
        asked = false;
        hooks.alarm.textContent = SILENT;
      },
    );
  }

  function paint() {
    picture.innerHTML = lever.figure; // drawn by trainkit.figures, which escapes every word in it
    put(set, lever.set);
    limits.replaceChildren(...lever.limits.map((text) => make("p", {}, text)));
    lines.replaceChildren(...lever.lines.map((text) => make("li", {}, text)));
    for (const [id, slider] of sliders) slider.show(lever[id]);
    hooks.root.dataset.set = lever.set;
    if (!speak || wanted) return;
    speak = false;
    said.say([`${lever.set}.`, ...lever.limits].join(" "));
  }

  keepStill(picture, (target) => target instanceof Element && target.closest("[data-drag]"));
  picture.addEventListener("pointerdown", (start) => {
    const dragged = start.target instanceof Element ? start.target.closest("[data-drag]") : null;
    const part = dragged instanceof SVGElement ? dragged.dataset.drag : undefined;
    if (start.button !== 0 || !part) return;
    start.preventDefault();
    picture.setPointerCapture(start.pointerId); // on what stays: the picture is drawn anew on the way
    focusOn(part === "grip" ? "length" : "adapter");
    /** @param {PointerEvent} event */
    const follow = (event) => move(placeOf(picture, part, event, shown.sliders));
    const stop = () => {
      picture.removeEventListener("pointermove", follow);
      move({}, true);
    };
    picture.addEventListener("pointermove", follow);
    picture.addEventListener("pointerup", stop, { once: true });
    picture.addEventListener("pointercancel", stop, { once: true });
  });

  const wrenches = chooser(
    "Wrench",
    shown.wrenches.map((each) => [each.id, each.text]),
    lever.wrench,
    (id) => {
      move({ wrench: id, length: shown.wrenches.find((each) => each.id === id)?.length }, true);
    },
  );
  const jobs = chooser(
    "Wanted at the bolt",
    shown.jobs.map((each) => [each.id, each.text]),
    lever.job,
    (id) => move({ job: id }, true),
  );
  const again = make(
    "button",
    {
      type: "button",
      class: "tk-plain",
      onclick: () => {
        wanted = null;
        speak = true;
        send({ type: "again" });
        for (const input of wrenches.querySelectorAll("input")) input.checked = input.value === shown.start.wrench;
        for (const input of jobs.querySelectorAll("input")) input.checked = input.value === shown.start.job;
      },
    },
    "Go back to the start",
  );
  paint();
  const node = make(
    "div",
    { class: "tk-lever" },
    picture,
    make("div", { class: "tk-lever-said" }, set, limits, lines),
    make("div", { class: "tk-lever-sliders" }, ...[...sliders.values()].map((slider) => slider.node)),
    make("div", { class: "tk-lever-choices" }, jobs, shown.wrenches.length > 1 ? wrenches : "", again),
    make(
      "p",
      { class: "tk-hint" },
      "Keys on a slider: the arrows move one step, Page up and down ten, Home goes back to the start.",
    ),
    said.node,
  );
  return { node, focus: () => focusOn("length") };
}
