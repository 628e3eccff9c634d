// The gear train as a picture to grab: any gear drives, one can walk round it, set arrows first, and magnify a mesh.

import { keepStill } from "../fingers.js";
import { Gearing } from "./gearing.js";
import { pointed, stillness } from "../kit/stage.js";
import { Magnifier } from "./magnifier.js";
import { chooser } from "../moving.js";
import { drawing, freshId, make, put } from "../page.js";
import { Prediction, mirrored } from "./predict.js";
import { TrainView } from "./view.js";
import { wrapped } from "./motion.js";

/** @import { Around, Shown } from "./instrument.js" */
/** @import { End, Gear, Train } from "../shapes.js" */

const WALK_MS = 2200;
const COMPARE_MS = 1800;
const COMPARE = 120; // degrees of the crank
const TAP = 6; // pixels: a press that goes no further is no drag
const HALF = Math.PI;

/**
 * Goes from 0 to 1 in some time, or at once for those who asked for stillness.
 * @param {number} time in milliseconds
 * @param {(share: number) => void} step
 * @param {() => void} done
 */
function moving(time, step, done) {
  let frame = 0;
  if (stillness()) {
    step(1);
    done();
    return { stop: () => {} };
  }
  const from = performance.now();
  /** @param {number} now */
  const next = (now) => {
    const share = Math.min(1, Math.max(0, (now - from) / time));
    step(share * share * (3 - 2 * share));
    if (share < 1) frame = requestAnimationFrame(next);
    else done();
  };
  frame = requestAnimationFrame(next);
  return { stop: () => cancelAnimationFrame(frame) };
}

/**
 * @param {string} label
 * @param {[value: string, words: string][]} choices
 * @param {(value: string) => void} choose
 */
function list(label, choices, choose) {
  const id = freshId("list");
  const select = make(
    "select",
    { id, class: "tk-list" },
    ...choices.map(([value, words]) => make("option", { value }, words)),
  );
  select.addEventListener("change", () => choose(select.value));
  return { node: make("div", { class: "tk-listed" }, make("label", { for: id }, label), select), select };
}

/**
 * @param {Train & { layout: NonNullable<Train["layout"]> }} shown
 * @param {Around} around
 * @returns {Shown}
 */
export function grabbedPicture(shown, { turning, slider, turned, changed, said, say }) {
  const gearing = new Gearing(shown, turning);
  const prediction = new Prediction(shown.gears, turning.root);
  const look = { mesh: gearing.meshes.at(0), prediction, hole: shown.hole };
  const view = new TrainView(gearing, look);
  const { canvas } = view.stage;
  const behind = () => Math.cos(view.turned) + 0.17 * Math.sin(view.turned) < 0;
  const glass = new Magnifier(gearing, look, behind);
  slider.append(canvas);
  let walk = { stop: () => {} };
  let end = shown.seen_from; // where the reader stands, goes to, or stood last
  let play = { stop: () => {} };

  // Standing somewhere round the engine.
  const where = make("input", { type: "range", class: "tk-walk", min: 0, max: 180, step: 1, value: 0 });
  where.setAttribute("aria-label", "Where you stand");
  /** @param {number} angle */
  const stand = (angle) => {
    view.turned = Math.min(HALF, Math.max(0, angle));
  };
  /** @param {number} angle where the hand leads the reader */
  const lookFrom = (angle) => {
    stand(angle);
    if (view.resting) end = behind() ? "flywheel" : "front";
    changed(false);
  };
  /** @param {End} to */
  const walkTo = (to) => {
    walk.stop();
    end = to;
    const from = view.turned;
    const goal = to === "front" ? 0 : HALF;
    walk = moving(
      WALK_MS,
      (share) => {
        stand(from + (goal - from) * share);
        changed(false);
      },
      () => changed(true),
    );
  };
  where.addEventListener("input", () => {
    walk.stop();
    lookFrom((Number(where.value) * HALF) / 180);
  });
  where.addEventListener("change", () => changed(true));
  const ends = chooser(
    "Seen from",
    /** @type {[End, string][]} */ ([
      ["front", "the front"],
      ["flywheel", "the flywheel end"],
    ]),
    end,
    walkTo,
  );
  ends.append(make("span", { class: "tk-walk-row" }, make("span", {}, "Walk round"), where));

  // What the hand and the eye are at.
  const gears = list(
    "You turn",
    shown.gears.map(({ id, name }) => [id, name]),
    (id) => {
      turning.hold(id);
      changed(true);
    },
  );
  const meshes = list(
    "Magnified",
    gearing.meshes.map(({ driver, driven }, at) => [String(at), `${driver.name} and ${driven.name}`]),
    (at) => {
      look.mesh = gearing.meshes[Number(at)];
      changed(false);
      say(glass.words());
    },
  );
  /** @param {{ select: HTMLSelectElement }} which */
  const next = ({ select }) => {
    select.selectedIndex = (select.selectedIndex + 1) % select.options.length;
    select.dispatchEvent(new Event("change"));
  };

  // Arrows first.
  const predicted = make("p", { class: "tk-predicted" });
  const set = make("button", { type: "button", class: "tk-plain" });
  const drop = make("button", { type: "button", class: "tk-plain" }, "Clear the arrows");
  const compare = () => {
    prediction.compare();
    play.stop();
    turning.hold(turning.root.id);
    const from = turning.crank;
    play = moving(
      COMPARE_MS,
      (share) => turned(turning.drive(from + share * COMPARE)),
      () => {
        changed(false);
        say(prediction.words(behind()));
      },
    );
  };
  set.addEventListener("click", () => {
    if (prediction.state === "setting") return compare();
    play.stop();
    prediction.begin();
    changed(false);
    say(prediction.words(behind()));
  });
  drop.addEventListener("click", () => {
    if (prediction.state === "no") return;
    play.stop();
    prediction.stop();
    changed(true);
  });
  /** @param {Gear} gear */
  const press = (gear) => {
    if (!prediction.press(gear, behind())) return;
    changed(false);
    say(`${arrowWords(gear)} ${prediction.words(behind())}`);
  };
  /** @param {Gear} gear */
  function arrowWords(gear) {
    const own = prediction.arrows.get(gear);
    const words = own ? (behind() ? mirrored(own) : own) : "not set";
    return `Your arrow: ${words}.`;
  }
  /** @type {Map<Gear, HTMLButtonElement>} */
  const buttons = new Map(
    prediction.asked.map((gear) => [
      gear,
      make("button", { type: "button", class: "tk-plain", onclick: () => press(gear) }),
    ]),
  );

  // The hand.
  /** @param {PointerEvent | Touch} event */
  const under = (event) => view.found(pointed(canvas, event));
  keepStill(canvas, (_, event) => event.touches.length === 1 && under(event.touches[0]));
  canvas.addEventListener("pointermove", (event) => {
    if (!event.buttons) canvas.dataset.over = under(event) ? "gear" : "air";
  });
  canvas.addEventListener("pointerdown", (start) => {
    if (start.button !== 0) return;
    start.preventDefault();
    slider.focus({ preventScroll: true });
    canvas.setPointerCapture(start.pointerId);
    walk.stop();
    play.stop();
    const gear = under(start);
    const from = view.turned;
    let last = gear ? view.bearing(gear, start) : 0;
    let far = 0;
    let goal = gear ? turning.q(gear) : 0;
    /** @param {PointerEvent} event */
    const follow = (event) => {
      far = Math.max(far, Math.hypot(event.clientX - start.clientX, event.clientY - start.clientY));
      if (far < TAP && prediction.state === "setting") return;
      if (!gear) return lookFrom(from + ((event.clientX - start.clientX) / canvas.clientWidth) * HALF);
      if (turning.held !== gear) turning.hold(gear.id);
      if (prediction.state === "setting" && prediction.arrows.size) prediction.compare();
      const now = view.bearing(gear, event);
      const change = wrapped(now - last + 180, 360) - 180;
      last = now;
      // No inertia, and nothing decided by speed: the gear is where the hand is.
      goal -= (change * gearing.sense(gear) * gear.rate[1]) / gear.rate[0];
      turned(turning.drive(goal));
    };
    const stop = () => {
      canvas.removeEventListener("pointermove", follow);
      canvas.removeEventListener("pointerup", stop);
      canvas.removeEventListener("pointercancel", stop);
      if (gear && far < TAP && prediction.state === "setting") return press(gear);
      if (gear && far < TAP) turning.hold(gear.id);
      changed(false);
      if (gear) said();
    };
    canvas.addEventListener("pointermove", follow);
    canvas.addEventListener("pointerup", stop);
    canvas.addEventListener("pointercancel", stop);
  });

  const told = make("p", { class: "tk-glass-words" });
  const paper = drawing(shown.views[shown.seen_from] ?? "", "tk-picture tk-on-paper");
  if (shown.seen_from === "flywheel") view.turned = HALF;

  return {
    held: gears.node,
    controls: [],
    beside: [
      make("div", { class: "tk-predict" }, predicted, make("div", { class: "tk-bench-foot" }, set, drop)),
      ends,
      paper,
    ],
    glass: gearing.meshes.length ? [meshes.node, glass.stage.canvas, told] : [],
    behind,
    paint() {
      view.stage.redraw();
      glass.stage.redraw();
      put(told, glass.words());
      put(predicted, prediction.words(behind()) || "Set your own arrows first, then turn and see.");
      put(set, { no: "Set your arrows", setting: "Turn and compare", compared: "Set new arrows" }[prediction.state]);
      drop.setAttribute("aria-disabled", String(prediction.state === "no"));
      gears.select.value = turning.held.id;
      const degrees = Math.round((view.turned * 180) / HALF);
      where.value = String(degrees);
      where.setAttribute(
        "aria-valuetext",
        `${degrees}° round, ${behind() ? "seen from the flywheel end" : "seen from the front"}`,
      );
      for (const input of ends.querySelectorAll("input[type=radio]")) {
        if (input instanceof HTMLInputElement) input.checked = input.value === end;
      }
      for (const [gear, button] of buttons) {
        button.hidden = prediction.state !== "setting";
        put(button, arrowWords(gear));
      }
    },
    resize() {
      gearing.shape();
      view.reshape();
    },
    key(key) {
      if (key === "g") next(gears);
      else if (key === "m" && gearing.meshes.length) next(meshes);
      else if (key === "w") walkTo(behind() ? "front" : "flywheel");
      else return false;
      return true;
    },
    extra: (gear) => buttons.get(gear),
    keys: " Drag beside the gears to walk round. G takes the next gear, M magnifies the next mesh, W walks round.",
    close() {
      walk.stop();
      play.stop();
      view.stage.close();
      glass.stage.close();
    },
  };
}
