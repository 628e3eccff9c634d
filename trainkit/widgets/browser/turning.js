// The gear train and the clock face: turned by the crank, with the lash of every mesh. How the gears stand is train.js's;
// here it is shown and said, so that each picture is there at once.

import { holdButton, holding, chooser } from "./moving.js";
import { keepStill } from "./fingers.js";
import { announcer, drawing, make, put } from "./page.js";
import { NEARLY, Turning, angleWords, clockWords, playWords, wrapped } from "./train.js";
import { rowOf, tableOf, viewOf } from "./views.js";

/** @import { End, Gear, Instrument, InstrumentHooks, Train } from "./shapes.js" */

/**
 * @param {Train} shown
 * @param {InstrumentHooks} hooks
 * @returns {Instrument}
 */
export function turningInstrument(shown, hooks) {
  const turning = new Turning(shown);
  /** @param {string | undefined} id */
  const gearOf = (id) => /** @type {Gear} */ (shown.gears.find((gear) => gear.id === id));
  const crank = gearOf(shown.turned);
  let end = shown.seen_from;
  let step = shown.steps[1];

  // Positive is clockwise as it is seen: the front is where angles are stated from.
  const facing = () => (end === "front" ? 1 : -1);
  /** @param {Gear} gear */
  const clockwise = (gear) => (gear.clockwise ? 1 : -1) * facing();
  /**
   * @param {Gear} gear
   * @param {number | undefined} way
   */
  const sense = (gear, way) => (way ? (way * clockwise(gear) > 0 ? "clockwise" : "anticlockwise") : "still");
  const seenWords = () => (end === "front" ? "seen from the front" : "seen from the flywheel end");

  /** @param {End} name */
  const view = (name) => viewOf(drawing(shown.views[name], "tk-picture tk-view"), shown);
  const views = { front: view("front"), flywheel: view("flywheel") };
  const slider = make("div", {
    class: "tk-slider tk-turned",
    role: "slider",
    tabindex: "0",
    "aria-label": "Crank",
    "aria-valuemin": 0,
    "aria-valuemax": 720,
  });
  slider.append(...Object.values(views).map(({ node }) => node));
  const said = announcer();
  const rows = new Map(shown.gears.map((gear, place) => [gear, rowOf(gear, place, shown)]));
  const where = make("p", { class: "tk-where" });
  const zone = make("p", { class: "tk-zone" });

  /** @param {number} count */
  const turn = (count) => {
    if (turning.turn(count)) paint();
  };
  /** @param {number} steps */
  const by = (steps) => turn(turning.count + steps * step);
  const home = () => {
    turning.home();
    paint();
    said.say(`Back at the start. ${summary()}`);
  };
  const held = holding(by, () => said.say(summary()));

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
    if (event.key === "Home") home();
    else if (!going) return;
    else if (!event.repeat) held.start(...going);
    event.preventDefault();
  });
  slider.addEventListener("keyup", (event) => {
    if (event.key in keys) held.stop();
  });
  slider.addEventListener("blur", held.stop);

  // Only what the hand takes hold of can be dragged, so that a finger elsewhere scrolls the page.
  for (const [name, view] of Object.entries(views)) {
    keepStill(view.grip);
    view.grip.addEventListener("pointerdown", (start) => {
      if (start.button !== 0) return;
      start.preventDefault();
      slider.focus({ preventScroll: true });
      view.grip.setPointerCapture(start.pointerId);
      const gear = gearOf(view.held);
      const rate = (gear.rate[0] / gear.rate[1]) * (gear.clockwise === (name === "front") ? 1 : -1);
      const from = turning.count;
      let last = view.angle(start);
      let turned = 0;
      /** @param {PointerEvent} event */
      const follow = (event) => {
        const now = view.angle(event);
        turned += ((now - last + 540) % 360) - 180;
        last = now;
        turn(from + Math.round(((turned / rate) * turning.parts) / turning.quantum));
      };
      const stop = () => {
        view.grip.removeEventListener("pointermove", follow);
        said.say(summary());
      };
      view.grip.addEventListener("pointermove", follow);
      view.grip.addEventListener("pointerup", stop, { once: true });
      view.grip.addEventListener("pointercancel", stop, { once: true });
    });
  }

  const back = holdButton(held, -1, "◀ Turn back");
  const forward = holdButton(held, 1, "Turn forward ▶");
  const ends = chooser(
    "Seen from",
    /** @type {[End, string][]} */ ([
      ["front", "the front"],
      ["flywheel", "the flywheel end"],
    ]),
    end,
    (chosen) => {
      end = chosen;
      paint();
      said.say(`Now ${seenWords()}. ${summary()}`);
    },
  );
  const steps = chooser(
    "One press turns the crank",
    shown.steps.map((count) => [count, angleWords((count * turning.quantum) / turning.parts)]),
    step,
    (chosen) => {
      step = chosen;
    },
  );
  const sizes = chooser(
    "Play",
    [
      [1, "true to size"],
      [shown.larger, `${shown.larger} times as large`],
    ],
    1,
    (chosen) => {
      turning.resize(chosen);
      paint();
      said.say(summary());
    },
  );

  function stroke() {
    if (!shown.stroke) return "";
    const { cylinder, at } = shown.stroke;
    const other = at === "compression" ? "exhaust" : "compression";
    const turned = wrapped(turning.crank, 720);
    const [name, off] = turned <= 180 ? [at, turned] : turned <= 540 ? [other, turned - 360] : [at, turned - 720];
    const centre = `top dead centre on ${name}`;
    if (Math.abs(off) < NEARLY) return ` Cylinder ${cylinder} stands at ${centre}.`;
    return ` Cylinder ${cylinder}: ${angleWords(off)} ${off < 0 ? "before" : "after"} ${centre}.`;
  }

  function whereWords() {
    const { crank: angle } = turning;
    const turned =
      angle === 0
        ? `The ${crank.name} stands at the start`
        : `The ${crank.name} stands ${angleWords(angle)} ${sense(crank, Math.sign(angle))} of the start`;
    return `${turned}, ${seenWords()}.${stroke()}`;
  }

  function zoneWords() {
    if (!shown.zones?.length) return "";
    const gear = gearOf(shown.watched);
    const period = (360 * gear.rate[1]) / gear.rate[0];
    const crankOff = (turning.angle(gear.id) * gear.rate[1]) / gear.rate[0];
    const after = wrapped(crankOff + period / 2, period) - period / 2;
    const found = shown.zones.findIndex((each) => after < each.to + NEARLY);
    // From where one presses to where one gives up it counts from which side one came.
    const near = found >= 2 && found <= 4;
    if (near && shown.gears.some((each) => turning.share(each) > NEARLY)) return shown.wrong ?? "";
    return shown.zones[Math.max(found, 0)].words;
  }

  function holeWords() {
    if (!shown.hole) return "";
    const every = shown.hole.every[0] / shown.hole.every[1];
    const turned = turning.angle(shown.hole.gear);
    const off = Math.abs(turned - Math.round(turned / every) * every);
    return off <= shown.hole.near + NEARLY
      ? "The lock pin hole is in line with the pin."
      : "The lock pin hole is not in line.";
  }

  function summary() {
    const still = shown.gears.filter((gear) => gear.driver && turning.left(gear) > NEARLY && gear.lash);
    const waits = still.map((gear) => `${gear.name}: ${playWords(gear, turning)}.`).join(" ");
    return [whereWords(), holeWords(), zoneWords(), waits].filter(Boolean).join(" ");
  }

  function paint() {
    for (const [name, { node }] of Object.entries(views)) node.hidden = name !== end;
    const view = views[end];
    for (const [gear, row] of rows) {
      const turned = turning.angle(gear.id) * clockwise(gear);
      view.turn(gear.id, turned);
      const going = sense(gear, turning.moved.get(gear.id));
      view.point(gear.id, going);
      put(row.sense, going === "still" ? "stands still" : `turns ${going}`);
      put(row.mark, `${gear.mark.name} at ${clockWords(gear.mark.at * facing() + turned)}`);
      put(
        row.angle,
        turned === 0 ? "at the start" : `so far ${angleWords(turned)} ${turned > 0 ? "clockwise" : "anticlockwise"}`,
      );
      put(row.play, playWords(gear, turning));
      row.tooth?.setAttribute("transform", `translate(${-turning.share(gear) * row.gap} 0)`);
    }
    put(where, whereWords());
    put(zone, zoneWords() || holeWords());
    put(back.sense, sense(crank, -1));
    put(forward.sense, sense(crank, 1));
    slider.setAttribute("aria-valuenow", String(Number(wrapped(turning.crank, 720).toFixed(2))));
    slider.setAttribute("aria-valuetext", `${whereWords()} ${zoneWords() || holeWords()}`.trim());
    hooks.root.dataset.crank = String(Number(turning.crank.toFixed(4)));
    hooks.root.dataset.end = end;
  }
  paint();

  const node = make(
    "div",
    { class: "tk-turning" },
    slider,
    make(
      "div",
      { class: "tk-turning-side" },
      where,
      zone,
      make("div", { class: "tk-nudges" }, back.node, forward.node),
      make("button", { type: "button", class: "tk-plain tk-home", onclick: home }, "Go back to the start"),
      ends,
      steps,
      shown.larger > 1 ? sizes : "",
    ),
    make("div", { class: "tk-turning-gears" }, tableOf([...rows.values()])),
    shown.sum?.length
      ? make(
          "details",
          { class: "tk-sum" },
          make("summary", {}, "Show how the play adds up"),
          make("ul", {}, ...shown.sum.map((line) => make("li", {}, line))),
        )
      : "",
    make(
      "p",
      { class: "tk-hint" },
      `${shown.back} Keys: the arrows turn one step, Page up and down ten, Home goes back to the start.`,
    ),
    said.node,
  );
  return { node, focus: () => slider.focus(), close: held.stop };
}
