// The lock pin tried out: the bar is barred freely, the pin pressed and drawn. Where everything stands is pinning.js's;
// here it is shown and said.

import { holdButton, holding } from "../moving.js";
import { announcer, drawing, make, put } from "../page.js";
import { Pinning } from "./pinning.js";
import { pinView } from "./view.js";
import { clockWords, wrapped } from "../train/motion.js";

/** @import { Met } from "./pinning.js" */
/** @import { Shown } from "./view.js" */
/** @import { Instrument, InstrumentHooks, PinShown } from "../shapes.js" */

const STEP = 0.5; // crank degrees for one press of an arrow
const NEAR = 22; // crank degrees either side of the pin that the picture of the cut shows
const BENT = 26; // degrees that the bar is drawn bent when the pin is about to go
const AT_FIRST = 35; // degrees from straight up at which the bar begins

/**
 * @param {PinShown} shown
 * @param {InstrumentHooks} hooks
 * @returns {Instrument}
 */
export function pinInstrument(shown, hooks) {
  const { said, dial, lattice } = shown;
  const pinning = new Pinning(lattice, shown.start);
  /** @type {"" | "sheared" | "kicked"} */
  let ended = "";
  let safe = false;
  let fitted = true;
  let open = true;
  let turned = 0; // crank degrees that the bar has gone since the start
  let met = /** @type {Met} */ ("");
  const forward = shown.bar.clockwise === (shown.bar.teeth === null) ? 1 : -1; // clockwise +, as the bar is seen

  const degrees = () => ({ crank: pinning.at.crank / lattice.scale, load: pinning.load / lattice.scale });
  const markAt = () => dial.seats_at + ((dial.clockwise ? 1 : -1) * dial.turns * pinning.mark) / lattice.scale;
  /** @returns {Shown} */
  function look() {
    const { at } = pinning;
    const hot = Math.abs(pinning.load) / lattice.little;
    return {
      pin: at.pin === "sheared" ? "broken" : pinning.inHole ? "in" : at.pin === "pressed" ? "pressed" : "out",
      pressed: at.pin === "pressed",
      open,
      at: wrapped(markAt(), 360),
      cut: {
        holes: pinning.holesNear(NEAR * lattice.scale).map((ticks) => ticks / lattice.scale),
        clearance: lattice.clearance / lattice.scale,
        turned: (at.passing * lattice.period + at.hole) / lattice.scale,
      },
      tool: {
        fitted,
        angle: AT_FIRST + forward * shown.bar.ratio * turned,
        bend: forward * Math.sign(pinning.load) * hot * BENT,
        teeth: shown.bar.teeth,
        ring: (shown.bar.clockwise ? 1 : -1) * turned,
        forward: forward > 0 ? "clockwise" : "anticlockwise",
        hot,
      },
    };
  }

  const slider = make("div", { class: "tk-slider tk-pin-slider", role: "slider", tabindex: "0", "aria-label": "Bar" });
  const told = make("p", { class: "tk-seen" });
  const announced = announcer();

  /**
   * The hand goes further by so many crank degrees; false where it must let go.
   * @param {number} by
   */
  function go(by) {
    if (ended || !fitted) return false;
    const before = pinning.at.crank + pinning.at.passing * lattice.period;
    met = pinning.barTo(pinning.at.crank + pinning.load + Math.round(by * lattice.scale));
    const cycle = lattice.period * lattice.passings;
    const moved = pinning.at.crank + pinning.at.passing * lattice.period - before;
    turned += (wrapped(moved + cycle / 2, cycle) - cycle / 2) / lattice.scale;
    if (met === "breaks") ended = "sheared";
    paint();
    return met !== "drops" && met !== "breaks";
  }
  function relax() {
    if (pinning.load && !ended) pinning.relax();
    if (met === "held") met = "";
    paint();
    announced.say(summary());
  }
  let stopped = false; // what the pin stopped goes on only when it is started again
  const keeping = holding((steps) => {
    if (!stopped) stopped = !go(steps * STEP);
  }, relax);
  const held = {
    /** @type {typeof keeping.start} */
    start: (way, kind) => {
      stopped = false;
      keeping.start(way, kind);
    },
    stop: keeping.stop,
  };

  /** @param {boolean} down */
  function press(down) {
    if (ended) return;
    if (down) met = pinning.press();
    else pinning.letGo();
    paint();
    announced.say(summary());
  }
  const toggle = () => press(pinning.at.pin === "out");
  function draw() {
    if (ended || !pinning.inHole) return;
    pinning.draw();
    if (fitted && shown.compression) ended = "kicked";
    met = "out";
    paint();
    announced.say(summary());
  }
  function again() {
    if (ended && !safe) {
      safe = true;
    } else {
      pinning.again();
      ended = met = "";
      safe = false;
      fitted = true;
      turned = 0;
    }
    paint();
    announced.say(summary());
  }
  function fit() {
    if (ended) return;
    fitted = !fitted;
    paint();
    announced.say(summary());
  }
  function cutOpen() {
    open = !open;
    paint();
    announced.say(open ? "The case is cut open." : "The case is closed, as the eye sees it.");
  }

  let grip = 0; // where the hand was before
  const view = pinView({ gear: shown.hole_in, clockwise: dial.clockwise, marks: dial.marks, rests: false }, look(), {
    grip: () => {
      grip = 0;
      slider.focus({ preventScroll: true });
      return fitted && !ended;
    },
    pull: (pulled) => {
      const by = ((pulled - grip) * forward) / shown.bar.ratio;
      grip = pulled;
      return go(by);
    },
    letGo: relax,
    press,
  });
  slider.append(view.node);

  /** @type {Record<string, [way: number, kind: "small" | "large"] | undefined>} */
  const keys = {
    ArrowRight: [1, "small"],
    ArrowUp: [1, "small"],
    ArrowLeft: [-1, "small"],
    ArrowDown: [-1, "small"],
    PageUp: [1, "large"],
    PageDown: [-1, "large"],
  };
  slider.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const going = keys[event.key];
    if (going) {
      if (!event.repeat) held.start(...going);
    } else if (event.key === " ") {
      if (!event.repeat) toggle();
    } else if (event.key === "Enter") draw();
    else if (event.key === "Home") again();
    else return;
    event.preventDefault();
  });
  slider.addEventListener("keyup", (event) => {
    if (event.key in keys) held.stop();
  });
  slider.addEventListener("blur", held.stop);

  /** Where the mark stands among its marks, as far as what to do next goes by it. */
  function zone() {
    const { at } = pinning;
    const mark = pinning.mark - at.passing * lattice.period;
    const turn = Math.round(mark / lattice.period);
    if (!lattice.marked[wrapped(at.passing + turn, lattice.passings)]) return "early";
    const ahead = mark - turn * lattice.period;
    if (ahead < -lattice.press) return "early";
    if (ahead <= lattice.give_up) return "window";
    return ahead <= lattice.give_up + 2 * lattice.back_off ? "missed" : "early";
  }

  /** @returns {string[]} what eye and hand get, and then what follows from it */
  function sentences() {
    const { at } = pinning;
    if (safe) return [said.made_safe];
    if (ended) return [said[ended], said.first_safe];
    const stands = said.stands.replace("{at}", clockWords(wrapped(markAt(), 360)));
    if (pinning.load) return [said.held];
    if (pinning.inHole) return [said.seats, stands, ...(open ? [because()] : [])];
    if (!fitted) return [said.bar_off, stands];
    if (at.pin === "pressed") {
      const next = { early: said.rubs_early, window: said.rubs_window, missed: said.rubs_late }[zone()];
      return [met === "rubs" ? said.rubs : said.metal, stands, next];
    }
    return [stands, { early: said.early, window: said.window, missed: said.missed }[zone()]];
  }

  function because() {
    const { at } = pinning;
    if (at.pin === "in a false hole") return said.false;
    if (lattice.right[at.passing] && Math.abs(at.component - at.hole) > lattice.lets_pass) return said.wrong_flank;
    return said.passings[at.passing];
  }
  const summary = () => sentences().join(" ");

  const back = holdButton(held, -1, "◀ Bar back");
  const on = holdButton(held, 1, "Bar forward ▶");
  /** @type {(text: string, kind: string, act: () => void) => HTMLButtonElement} */
  const button = (text, kind, act) => make("button", { type: "button", class: `tk-plain ${kind}`, onclick: act }, text);
  const pressing = button("Press the pin", "tk-pin-press", toggle);
  const drawn = button("Draw the pin", "tk-pin-draw", draw);
  const fitting = button("Take the bar off", "tk-pin-fit", fit);
  const cutting = button("Close the case", "tk-pin-cut", cutOpen);
  const renew = button("Go back to the start", "tk-pin-again", again);

  function paint() {
    view.show(look());
    const [first, ...rest] = sentences();
    told.replaceChildren(make("strong", {}, first), ...rest.map((text) => make("span", {}, ` ${text}`)));
    told.dataset.ended = ended;
    pressing.setAttribute("aria-pressed", String(pinning.at.pin === "pressed"));
    pressing.setAttribute("aria-disabled", String(!!ended || pinning.inHole));
    put(pressing, pinning.at.pin === "pressed" ? "Let the pin go" : "Press the pin");
    drawn.setAttribute("aria-disabled", String(!!ended || !pinning.inHole));
    fitting.setAttribute("aria-disabled", String(!!ended));
    put(fitting, fitted ? "Take the bar off" : "Fit the bar");
    put(cutting, open ? "Close the case" : "Cut the case open");
    put(renew, safe ? said.sound : ended ? said.make_safe : "Go back to the start");
    for (const each of [back.node, on.node]) each.setAttribute("aria-disabled", String(!!ended || !fitted));
    const { crank, load } = degrees();
    slider.setAttribute("aria-valuenow", String(Number(crank.toFixed(1))));
    slider.setAttribute("aria-valuetext", summary());
    hooks.root.dataset.pin = pinning.at.pin;
    hooks.root.dataset.crank = crank.toFixed(3);
    hooks.root.dataset.load = load.toFixed(3);
    hooks.root.dataset.open = String(open);
  }
  const half = lattice.half / lattice.scale;
  slider.setAttribute("aria-valuemin", String(-half));
  slider.setAttribute("aria-valuemax", String(half));
  paint();

  const ends = { front: "the front", flywheel: "the flywheel end" };
  const node = make(
    "div",
    { class: "tk-pintry" },
    slider,
    make("div", { class: "tk-pin-printed" }, drawing(shown.figure)),
    make(
      "p",
      { class: "tk-pin-caption" },
      `Mark on the ${dial.name}, seen from ${ends[dial.seen_from]}. Bar, seen from ${ends[shown.bar.seen_from]}.`,
    ),
    told,
    make("div", { class: "tk-nudges" }, back.node, on.node),
    make("div", { class: "tk-pin-buttons" }, pressing, drawn, fitting, cutting, renew),
    make(
      "p",
      { class: "tk-hint" },
      "Drag the bar, or use the arrow keys; Page up and Page down go ten times as far. Space presses the pin, " +
        "Enter draws it. What you let go stays where it is.",
    ),
    announced.node,
  );
  return {
    node,
    focus: () => slider.focus(),
    close: () => {
      held.stop();
      view.close();
    },
  };
}
