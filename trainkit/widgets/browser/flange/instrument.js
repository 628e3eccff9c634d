// A part on its seal, drawn down bolt by bolt. It is reckoned and drawn here, so that the picture follows each press at
// once; which bolt comes next by the manual or by the mechanics is asked of the kernel.

import { FlangeView } from "./view.js";
import { boltWords, percent, pressWords, seenWords, sideWords, tryWords } from "./words.js";
import { pointed, stage, stillness } from "../kit/stage.js";
import { chooser } from "../moving.js";
import { make, part, put } from "../page.js";
import { Seating } from "./seating.js";
import { SILENT } from "../sentences.js";

/** @import { FlangeReply, FlangeShown, Instrument, InstrumentHooks, JointOnSeal } from "../shapes.js" */

const MOST_KEYS = 9;
const WORST = 2.6; // mm of lean that fill a bar
const EVERY = 950; // ms between two presses that are watched
const PRESSED = 6; // pixels that a press may slip
const SHARE = 0.16; // of the way that is left, in each frame
const TRIES = 3; // earlier ones that are kept to be compared

/**
 * @param {FlangeShown} shown
 * @param {InstrumentHooks} hooks
 * @returns {Instrument}
 */
export function flangeInstrument(shown, hooks) {
  /** @param {string} id */
  const jointOf = (id) => /** @type {JointOnSeal} */ (shown.joints.find((joint) => joint.id === id));
  let seating = new Seating(jointOf(shown.joint));
  let view = new FlangeView(seating);
  let loosening = false;
  let hint = "";
  /** @type {{ order: string, words: string, leans: number[] }[]} */
  let tries = [];
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let watching;
  let frame = 0;

  const scene = stage((drawn) => view.draw(drawn), "tk-canvas tk-flange-canvas");
  const picture = make(
    "div",
    { class: "tk-flange-view", role: "slider", tabindex: "0", "aria-label": "Look at the part from another side" },
    scene.canvas,
  );
  picture.setAttribute("aria-valuemin", "-180");
  picture.setAttribute("aria-valuemax", "180");
  const said = make("p", { class: "tk-seen tk-flange-said", role: "status", "aria-live": "polite" });
  const bolts = make("div", { class: "tk-actions tk-flange-bolts", role: "group", "aria-label": "Bolts" });
  const log = make("ol", { class: "tk-bars", tabindex: "0", "aria-label": "How far the part leaned after each press" });
  const compared = make("ul", { class: "tk-tries", "aria-label": "Your earlier tries" });
  const watches = make("div", { class: "tk-actions tk-flange-watch" });

  function animate() {
    cancelAnimationFrame(frame);
    const go = () => {
      const going = view.follow(stillness() ? 1 : SHARE);
      scene.redraw();
      frame = going ? requestAnimationFrame(go) : 0;
    };
    go();
  }

  /**
   * @param {number} bolt
   * @param {boolean} [loosen]
   */
  function press(bolt, loosen = loosening) {
    hint = "";
    if (loosen) {
      if (seating.stages[bolt] < 0) return;
      seating.loosen(bolt);
    } else seating.tighten(bolt);
    paint();
    animate();
  }

  /**
   * @param {number} bolt
   * @param {boolean} [loosen]
   */
  function pressed(bolt, loosen) {
    stopWatching();
    const before = seating.finished;
    press(bolt, loosen);
    if (seating.finished && !before) ask({ type: "judge", order: firstOrder() });
  }

  /** The order in which the bolts were first tightened. */
  const firstOrder = () => [...new Set(seating.log.map(({ bolt }) => bolt))].map((bolt) => seating.joint.names[bolt]);

  /** @param {{ type: "judge" | "hint", order?: string[], done?: string[] }} message */
  function ask(message) {
    const { joint } = seating;
    const count = seating.log.length;
    hooks.post.ask(
      { ...message, joint: joint.id },
      (/** @type {FlangeReply} */ reply) => {
        hooks.alarm.textContent = reply.type === "refused" ? reply.text : "";
        // What was said of another joint, or before another press, says nothing now.
        if (reply.type !== "told" || joint !== seating.joint || count !== seating.log.length) return;
        hint = reply.words;
        paint();
      },
      () => {
        hooks.alarm.textContent = SILENT;
      },
    );
  }

  function askHint() {
    stopWatching();
    const least = Math.min(...seating.stages);
    const done = [...seating.stages.keys()].filter((bolt) => seating.stages[bolt] > least);
    ask({ type: "hint", done: done.map((bolt) => seating.joint.names[bolt]) });
  }

  function begin() {
    stopWatching();
    if (seating.log.length) {
      tries = [{ ...tryWords(seating), leans: seating.log.map(({ lean }) => lean) }, ...tries].slice(0, TRIES);
    }
    seating = new Seating(seating.joint);
    view.seating = seating;
    hint = "";
    paint();
    animate();
  }

  /** @param {string} id */
  function change(id) {
    stopWatching();
    const { yaw } = view;
    seating = new Seating(jointOf(id));
    view = new FlangeView(seating);
    view.yaw = yaw;
    tries = [];
    hint = "";
    paint();
    scene.redraw();
  }

  /** @param {number[]} order */
  function watch(order) {
    begin();
    const left = [...order];
    const next = () => {
      const bolt = left.shift();
      if (bolt === undefined) return;
      press(bolt, false);
      watching = setTimeout(next, EVERY);
    };
    watching = setTimeout(next, EVERY / 2);
  }

  function stopWatching() {
    clearTimeout(watching);
  }

  /** @param {number} bolt */
  function button(bolt) {
    const { joint } = seating;
    const key = bolt < MOST_KEYS && joint.bolts.length <= MOST_KEYS ? String(bolt + 1) : "";
    const made = make(
      "button",
      { type: "button", class: "tk-action", "data-bolt": joint.names[bolt], "aria-keyshortcuts": key || null },
      key ? make("kbd", { "aria-hidden": "true" }, key) : "",
      make(
        "span",
        { class: "tk-flange-bolt" },
        make("strong", {}),
        make("span", { class: "tk-load", "aria-hidden": "true" }, make("i", {})),
        make("span", { class: "tk-load-words" }),
      ),
    );
    made.addEventListener("click", (event) => pressed(bolt, event.shiftKey || loosening));
    return made;
  }

  /**
   * @param {string} words
   * @param {() => void} act
   * @param {object} [more]
   */
  const plain = (words, act, more = {}) =>
    make("button", { type: "button", class: "tk-plain", onclick: act, ...more }, words);

  function paint() {
    const { joint } = seating;
    // The buttons stay as long as the joint does: one that vanished would take the keyboard's focus with it.
    if (bolts.dataset.joint !== joint.id) {
      bolts.dataset.joint = joint.id;
      bolts.setAttribute("aria-label", `The ${joint.nouns}`);
      bolts.replaceChildren(...joint.bolts.map((_, bolt) => button(bolt)));
      watches.replaceChildren(...joint.watch.map(({ text, order }) => plain(text, () => watch(order))));
    }
    for (const [bolt, made] of [...bolts.children].entries()) {
      const verb = loosening ? "Loosen" : "Tighten";
      put(part(made, "strong"), `${verb} ${joint.noun} ${joint.names[bolt]}`);
      part(made, ".tk-load-words").replaceChildren(make("span", {}, boltWords(seating, bolt)));
      const bar = part(made, ".tk-load i");
      bar.style.width = percent(Math.min(1, seating.loads[bolt])).replace("\u2009", "");
      bar.dataset.slack = String(seating.slackened.includes(bolt));
      made.setAttribute("aria-disabled", String(loosening && seating.stages[bolt] < 0));
    }
    const [main, ...more] = seenWords(seating);
    said.replaceChildren(
      make("strong", {}, main),
      ...more.map((text) => make("span", {}, ` ${text}`)),
      hint ? make("span", { class: "tk-flange-hint" }, ` ${hint}`) : "",
    );
    said.dataset.lean = seating.pinched ? "danger" : seating.level ? "settled" : "caution";
    log.replaceChildren(...seating.log.map(bar));
    log.scrollTop = log.scrollHeight;
    compared.replaceChildren(
      ...tries.map(({ order, words, leans }) =>
        make(
          "li",
          {},
          make("strong", {}, order),
          make("span", { class: "tk-try-bars", "aria-hidden": "true" }, ...leans.map((lean) => small(lean))),
          make("span", {}, words),
        ),
      ),
    );
    compared.hidden = !tries.length;
    const degrees = Math.round((view.yaw * 180) / Math.PI);
    picture.setAttribute("aria-valuenow", String(degrees));
    picture.setAttribute("aria-valuetext", sideWords(seating, view.yaw));
    hooks.root.dataset.count = String(seating.log.length);
    hooks.root.dataset.lean = seating.lean.toFixed(4);
    hooks.root.dataset.loads = seating.loads.map((load) => load.toFixed(4)).join(" ");
  }

  /** @param {number} lean */
  function small(lean) {
    const made = make("i", {});
    made.style.height = `${Math.max(4, Math.min(100, (lean / WORST) * 100)).toFixed(0)}%`;
    return made;
  }

  /** @param {(typeof seating.log)[number]} press */
  function bar(press) {
    const made = make("i", { "aria-hidden": "true" });
    made.style.width = `${Math.min(100, (press.lean / WORST) * 100).toFixed(1)}%`;
    made.dataset.lean = press.lean > 2 ? "danger" : press.lean > 0.8 ? "caution" : "settled";
    return make(
      "li",
      {},
      make("span", {}, pressWords(seating, press)),
      make("span", { class: "tk-bar" }, made),
      make("b", {}, `${press.lean.toFixed(1)}\u2009mm`),
    );
  }

  /** @param {number} by */
  function look(by) {
    view.yaw = ((view.yaw + by + 3 * Math.PI) % (2 * Math.PI)) - Math.PI;
    picture.setAttribute("aria-valuenow", String(Math.round((view.yaw * 180) / Math.PI)));
    picture.setAttribute("aria-valuetext", sideWords(seating, view.yaw));
    scene.redraw();
  }

  picture.addEventListener("keydown", (event) => {
    const way = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 5, PageDown: -5 }[event.key];
    if (way === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    look(way * 0.08);
  });
  hooks.root.addEventListener("keydown", (event) => {
    const digit = /^(?:Digit|Numpad)([1-9])$/.exec(event.code);
    if (!digit || event.ctrlKey || event.metaKey || event.altKey) return;
    const bolt = Number(digit[1]) - 1;
    if (seating.joint.bolts.length > MOST_KEYS || bolt >= seating.joint.bolts.length) return;
    event.preventDefault();
    pressed(bolt, event.shiftKey || loosening);
  });
  picture.addEventListener("pointermove", (event) => {
    if (!event.buttons) picture.style.cursor = view.found(pointed(scene.canvas, event)) < 0 ? "grab" : "pointer";
  });
  picture.addEventListener("pointerdown", (start) => {
    if (start.button !== 0) return;
    start.preventDefault();
    picture.focus({ preventScroll: true });
    picture.setPointerCapture(start.pointerId);
    const bolt = view.found(pointed(scene.canvas, start));
    let last = start.clientX;
    let gone = 0;
    /** @param {PointerEvent} event */
    const follow = (event) => {
      gone += Math.abs(event.clientX - last);
      if (gone > PRESSED || bolt < 0) look((event.clientX - last) * 0.008);
      last = event.clientX;
    };
    const stop = () => {
      picture.removeEventListener("pointermove", follow);
      picture.removeEventListener("pointerup", up);
      picture.removeEventListener("pointercancel", stop);
    };
    const up = () => {
      stop();
      if (bolt >= 0 && gone <= PRESSED) pressed(bolt, start.shiftKey || loosening);
    };
    picture.addEventListener("pointermove", follow);
    picture.addEventListener("pointerup", up);
    picture.addEventListener("pointercancel", stop); // a finger that scrolls the page has pressed nothing
  });

  const ways = chooser(
    "A press will",
    /** @type {[string, string][]} */ ([
      ["tighten", "tighten by one stage"],
      ["loosen", "loosen"],
    ]),
    "tighten",
    (way) => {
      loosening = way === "loosen";
      paint();
    },
  );
  const joints = chooser(
    "Joint",
    shown.joints.map((joint) => [joint.id, joint.text]),
    seating.joint.id,
    change,
  );
  const node = make(
    "div",
    { class: "tk-flange" },
    picture,
    said,
    make(
      "div",
      { class: "tk-flange-log" },
      make("p", { class: "tk-flange-head" }, "Lean after each press: widest gap less narrowest"),
      log,
    ),
    make(
      "div",
      { class: "tk-flange-below" },
      ways,
      bolts,
      make(
        "div",
        { class: "tk-bench-foot" },
        plain("Loosen all and start again", begin),
        plain("Show a good next one", askHint),
      ),
      compared,
      watches,
    ),
    shown.joints.length > 1 ? joints : "",
    make("p", { class: "tk-hint" }, shown.how),
  );
  paint();
  return {
    node,
    close: () => {
      stopWatching();
      cancelAnimationFrame(frame);
      scene.close();
    },
    focus: () => part(bolts, "button").focus(),
  };
}
