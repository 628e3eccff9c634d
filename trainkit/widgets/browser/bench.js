// A scenario at the bench: what the eye sees, what can be done, and what eye and hand got from it, in words. The kernel
// plays it; the screen shows nothing that the kernel has not said. Where nothing is recorded, it says ahead what each
// action would lead to, so that a press is seen at once. In an assessment an action is recorded before what it leads to is
// shown; the press itself is seen at once, and that it is being saved.

import { drawing, make, put } from "./page.js";
import { MOST, pulled } from "./pin/pinning.js";
import { clockDegrees } from "./pin/face.js";
import { pinView } from "./pin/view.js";
import { same } from "./values.js";

/** @import { AheadReply, BenchReply, Control, Hooks, Play, Question } from "./shapes.js" */
/** @typedef {{ kind: "actions" }} ActionsResponse The actions at a bench are never sent as a whole; they come back so when a workbook is opened again. */

/** @import { Shown } from "./pin/view.js" */

const AGAIN = "Go back to the start";
const PULL = "Drag the bar to the right to bar forward, to the left to bar back: a little, or far.";
const ENDS = { front: "the front", flywheel: "the flywheel end" };
const TURNED = { forward: "Barred last: forward", back: "Barred last: back", "": "Not barred yet" };

/** The actions that a pull at the bar does: a short one and a long one, either way. */
const REACH = /** @type {const} */ ({
  forward: ["on-a-little", "on-to-press-mark"],
  back: ["back-a-little", "back-off"],
});
const BENCH_KEYS = "1234567890qwertyuiop";

/**
 * @param {Question<"actions"> & { play: Play }} shown
 * @param {Hooks} hooks
 * @returns {Control<ActionsResponse>}
 */
export function benchControl(shown, hooks) {
  /** @type {Map<string, string>} */
  const keys = new Map();
  /** @type {Map<string, HTMLButtonElement>} */
  const buttons = new Map();
  let play = shown.play;
  let settled = play; // what the kernel has done; play may be one action ahead of it
  /** @type {Extract<AheadReply, { type: "ahead" }> | null} */
  let ahead = null;
  let busy = false;
  /** @type {(() => void)[]} */
  const waiting = [];

  let drawn = play.count;
  let open = true; // whether the case is cut open, where what is behind it is told at all
  let safe = false; // whether a wrecked engine was made safe
  let tugged = 0; // degrees that the bar is pulled now, forward +: clockwise as it is drawn
  const texts = new Map(shown.control.actions.map(({ id, text }) => [id, text]));

  /** @returns {Shown} */
  function sight() {
    const { seen } = play;
    const angle = Math.max(-MOST, Math.min(MOST, tugged));
    return {
      pin: seen.pin,
      pressed: seen.pin === "pressed",
      open: open && play.behind !== undefined,
      at: clockDegrees(seen.tooth),
      cut: play.behind ?? null,
      tool: { fitted: seen.bar === "fitted", angle, bend: 0, teeth: null, ring: 0, forward: "", hot: 0 },
    };
  }
  const view = pinView(
    {
      gear: "gear with the hole",
      clockwise: play.seen.forward === "clockwise",
      marks: play.seen.marks,
      rests: true,
    },
    sight(),
    {
      grip: () => play.seen.bar === "fitted" && !play.over && !busy,
      pull: (degrees) => {
        tugged = degrees;
        view.show(sight());
        intend();
        return true;
      },
      letGo: () => {
        const action = pulled(tugged, play.can, REACH);
        tugged = 0;
        view.show(sight());
        intend();
        if (action) act(action);
      },
      press: (down, still) => {
        // What is in a hole is drawn with its button: a touch by mistake must not throw the bar.
        const action = ["press", "let-go"].find((each) => play.can.includes(each));
        if (!down && still && action) act(action);
      },
    },
  );
  hooks.signal.addEventListener("abort", view.close);
  const intended = make("p", { class: "tk-pin-intended" });
  function intend() {
    const action = pulled(tugged, play.can, REACH);
    put(intended, action ? `Let the bar go for: ${texts.get(action)}.` : PULL);
  }
  const caption = make("p", { class: "tk-pin-caption" });
  const cutting = make("button", { type: "button", class: "tk-plain tk-pin-cut", onclick: cutOpen }, "Close the case");
  function cutOpen() {
    open = !open;
    paint();
  }
  // For print and for a reader of the page: the same in lines and words.
  const printed = make("div", { class: "tk-pin-printed" });
  const picture = make("div", { class: "tk-bench-view" }, view.node, printed, caption, intended);
  const latest = make("p", { class: "tk-seen", role: "status", "aria-live": "polite" });
  const log = make("ol", { class: "tk-log", "aria-label": "What you did, and what eye and hand got from it" });
  const actions = make("div", { class: "tk-actions", role: "group", "aria-label": "What you can do" });
  for (const [place, action] of shown.control.actions.entries()) {
    const key = BENCH_KEYS[place];
    const button = make(
      "button",
      { type: "button", class: "tk-action", "data-action": action.id, onclick: () => act(action.id) },
      key ? make("kbd", { "aria-hidden": "true" }, key.toUpperCase()) : "",
      make("span", {}, action.text),
    );
    if (key) {
      button.setAttribute("aria-keyshortcuts", key.toUpperCase());
      keys.set(key, action.id);
    }
    buttons.set(action.id, button);
    actions.append(button);
  }
  const stop = make(
    "button",
    { type: "button", class: "tk-plain tk-stop", onclick: () => inTurn(() => send({ type: "stop" })) },
    "Stop here",
  );
  const again = make("button", { type: "button", class: "tk-plain tk-again", onclick: () => inTurn(anew) }, AGAIN);
  const count = make("span", { class: "tk-count" });

  function anew() {
    if (play.wreck?.length && !safe) {
      safe = true;
      paint();
      return;
    }
    send({ type: "again" });
  }

  /**
   * A press that comes before the last one is answered waits for that answer; it must not be lost.
   * @param {() => void} doing
   */
  function inTurn(doing) {
    if (busy) waiting.push(doing);
    else doing();
  }

  /** @param {string} action */
  const act = (action) => inTurn(() => tryOut(action));

  /** @param {string} action */
  function tryOut(action) {
    if (play.can.includes(action)) {
      const next = ahead?.so_far === play.count ? ahead.plays[action] : undefined;
      send({ type: "act", action, so_far: play.count });
      press(action, !next);
      if (next) {
        const { line, ...rest } = next;
        play = { ...play, ...rest, log: [...play.log, line] };
        paint();
      }
    } else if (!play.over) latest.textContent = "That cannot be done now.";
  }

  /**
   * Show that an action has been pressed, until the kernel has said what came of it.
   * @param {string | undefined} action
   * @param {boolean} waits
   */
  function press(action, waits) {
    node.classList.toggle("tk-pressed", waits);
    for (const [id, button] of buttons) button.toggleAttribute("data-pressed", waits && id === action);
  }

  /** @param {object} message */
  function send(message) {
    busy = true;
    ahead = null;
    hooks.playing();
    hooks.post.ask(
      message,
      (/** @type {BenchReply} */ reply) => {
        busy = false;
        press(undefined, false);
        if (reply.play) settled = reply.play;
        show(settled); // where nothing could be recorded, nothing was done
        hooks.played(reply);
        while (!busy && waiting.length) waiting.shift()?.();
        if (!busy) look();
      },
      () => {
        waiting.length = 0;
        press(undefined, false);
        busy = false; // pressing again is safe: the kernel counts each action once
        show(settled);
        hooks.silent();
      },
    );
  }

  /** @param {Play} now */
  function show(now) {
    const news = !same(play, now);
    play = now;
    if (news) paint();
  }

  function look() {
    if (play.over || shown.mode === "assess") return;
    hooks.post.ask(
      { type: "ahead" },
      (/** @type {AheadReply} */ reply) => {
        if (reply.type === "ahead") ahead = reply;
      },
      () => {},
    );
  }

  function paint() {
    printed.replaceChildren(drawing(play.figure));
    const { seen } = play;
    view.show(sight(), play.count > drawn ? (seen.turned === "back" ? -1 : 1) : 0);
    drawn = play.count;
    put(
      caption,
      `Mark on the ${seen.name}, seen from ${ENDS[seen.seen_from]}; the arrow shows forward. ${TURNED[seen.turned]}.`,
    );
    intend();
    put(cutting, open ? "Close the case" : "Cut the case open");
    const last = play.log[play.log.length - 1];
    if (!play.wreck?.length) safe = false;
    const [first, make_safe, made_safe, sound] = play.wreck ?? [];
    const [head, ...rest] = safe ? [made_safe] : [last ? last.seen : "Nothing has been done yet.", last?.why ?? ""];
    latest.replaceChildren(
      make("strong", {}, head),
      ...rest.map((why) => make("span", { class: "tk-why" }, ` ${why}`)),
      first && !safe ? make("strong", { class: "tk-ending" }, ` ${first}`) : "",
      play.ending && !first ? make("span", { class: "tk-ending" }, ` ${play.ending}`) : "",
    );
    latest.dataset.wreck = String(first !== undefined && !safe);
    put(again, first ? (safe ? sound : make_safe) : AGAIN);
    log.replaceChildren(
      ...play.log.map((line) =>
        make("li", {}, make("span", { class: "tk-done" }, line.action), " — ", make("span", {}, line.seen)),
      ),
    );
    log.scrollTop = log.scrollHeight;
    for (const [id, button] of buttons) {
      // Never disabled: a button that vanishes under the finger takes the keyboard's focus with it.
      button.setAttribute("aria-disabled", String(!play.can.includes(id)));
    }
    stop.setAttribute("aria-disabled", String(play.over || play.count === 0));
    again.setAttribute("aria-disabled", String(play.count === 0));
    count.textContent = `${play.count} of at most ${play.limit} actions. The key on a button presses it.`;
  }

  const node = make(
    "div",
    { class: "tk-bench" },
    picture,
    make("div", { class: "tk-bench-words" }, latest, log),
    make(
      "div",
      { class: "tk-bench-side" },
      actions,
      make("div", { class: "tk-bench-foot" }, stop, again, play.behind ? cutting : "", count),
    ),
  );
  hooks.root.addEventListener(
    "keydown",
    (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const action = keys.get(event.key.toLowerCase());
      if (action === undefined) return;
      event.preventDefault();
      if (!event.repeat) act(action); // a key that is held down is one press
    },
    { signal: hooks.signal },
  );
  paint();
  look();
  return {
    node,
    value: () => null,
    set() {},
    focus: () => [...buttons.values()][0].focus(),
    bench: true,
    missing: "",
    play(now) {
      settled = now;
      if (!busy) show(now);
    },
  };
}
