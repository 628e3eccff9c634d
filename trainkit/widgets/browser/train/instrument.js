// The gear train and the clock face: turned, with the lash of every mesh. How the gears stand is motion.js's, the picture
// is grabbed.js's or faces.js's; here they are joined, and all is said in words.

import { facePicture } from "./faces.js";
import { grabbedPicture } from "./grabbed.js";
import { chooser, holdButton, holding } from "../moving.js";
import { announcer, make, put } from "../page.js";
import { NEARLY, Turning, angleWords, clockWords, lashWords, wrapped } from "./motion.js";
import { rowOf, tableOf } from "./drawings.js";

/** @import { Gear, Instrument, InstrumentHooks, Train } from "../shapes.js" */

/**
 * @typedef {object} Around What a picture works with.
 * @property {Turning} turning
 * @property {HTMLElement} slider that it is put into
 * @property {(changed: boolean) => void} turned shows what was turned
 * @property {(aloud: boolean) => void} changed shows what else is another one, and says where the reader stands
 * @property {() => void} said says how all stands
 * @property {(words: string) => void} say
 */
/**
 * @typedef {object} Shown A picture of what turns.
 * @property {HTMLElement[]} controls
 * @property {HTMLElement} [held] chooses the gear that the buttons and keys turn
 * @property {Node[]} [beside] below the picture
 * @property {HTMLElement[]} [glass] what is magnified
 * @property {() => boolean} behind whether the reader sees it from the flywheel end
 * @property {() => void} paint
 * @property {(gear: Gear, degrees: number, sense: string) => void} [gear] degrees clockwise, as it is seen
 * @property {() => void} [resize] lash is drawn in another size
 * @property {(key: string) => boolean} [key] whether the key meant something
 * @property {(gear: Gear) => HTMLElement | undefined} [extra] what stands in a gear's row besides
 * @property {string} [keys] what further keys do
 * @property {() => void} [close]
 */

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
  let step = shown.steps[1];

  const slider = make("div", {
    class: "tk-slider tk-turned",
    role: "slider",
    tabindex: "0",
    "aria-valuemin": 0,
    "aria-valuemax": 720,
  });
  const announced = announcer();
  const where = make("p", { class: "tk-where" });
  const zone = make("p", { class: "tk-zone" });
  const say = (/** @type {string} */ words) => announced.say(words);

  /** @type {Around} */
  const around = {
    turning,
    slider,
    turned: (changed) => void (changed && paint()),
    changed(aloud) {
      paint();
      if (aloud) say(`Now ${seenWords()}. ${summary()}`);
    },
    said: () => say(summary()),
    say,
  };
  const { layout } = shown;
  const picture = layout ? grabbedPicture({ ...shown, layout }, around) : facePicture(shown, around);
  const rows = new Map(shown.gears.map((gear, place) => [gear, rowOf(gear, place, shown, picture.extra?.(gear))]));

  // Positive is clockwise as it is seen: the front is where angles are stated from.
  const facing = () => (picture.behind() ? -1 : 1);
  /** @param {Gear} gear */
  const clockwise = (gear) => (gear.clockwise ? 1 : -1) * facing();
  /**
   * @param {Gear} gear
   * @param {number | undefined} way
   */
  const sense = (gear, way) => (way ? (way * clockwise(gear) > 0 ? "clockwise" : "anticlockwise") : "still");
  const seenWords = () => (picture.behind() ? "seen from the flywheel end" : "seen from the front");

  /** @param {number} steps */
  const by = (steps) => {
    if (turning.by(steps * step)) paint();
  };
  const home = () => {
    turning.home();
    paint();
    say(`Back at the start. ${summary()}`);
  };
  const held = holding(by, () => say(summary()));

  /** @type {Record<string, [way: number, kind: "small" | "large"] | undefined>} */
  const keys = {
    ArrowRight: [1, "small"],
    ArrowUp: [1, "small"],
    ArrowLeft: [-1, "small"],
    ArrowDown: [-1, "small"],
    PageUp: [1, "large"],
    PageDown: [-1, "large"],
  };
  let keyed = false;
  slider.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const going = keys[event.key];
    if (event.key === "Home") home();
    else if (going) {
      if (!event.repeat) held.start(...going);
      keyed = true;
    } else if (!picture.key?.(event.key.toLowerCase())) return;
    event.preventDefault();
  });
  slider.addEventListener("keyup", (event) => {
    if (!(event.key in keys)) return;
    held.stop();
    keyed = false;
  });
  // The press of a button takes the focus from here: only what a key began ends with it.
  slider.addEventListener("blur", () => {
    if (keyed) held.stop();
    keyed = false;
  });

  const back = holdButton(held, -1, "◀ Turn back");
  const forward = holdButton(held, 1, "Turn forward ▶");
  const steps = chooser(
    "One press, in crank degrees",
    shown.steps.map((count) => [count, angleWords((count * turning.quantum) / turning.parts)]),
    step,
    (chosen) => {
      step = chosen;
    },
  );
  const sizes = chooser(
    "Lash",
    [
      [1, "true to size"],
      [shown.larger, `${shown.larger} times as large`],
    ],
    1,
    (chosen) => {
      turning.resize(chosen);
      picture.resize?.();
      paint();
      say(summary());
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
      Math.abs(angle) < NEARLY
        ? `The ${crank.name} stands at the start`
        : `The ${crank.name} stands ${angleWords(angle)} ${sense(crank, Math.sign(angle))} of the start`;
    return `${turned}, ${seenWords()}.${stroke()}`;
  }

  function zoneWords() {
    if (!shown.zones?.length) return "";
    const gear = gearOf(shown.watched);
    const period = (360 * gear.rate[1]) / gear.rate[0];
    const after = wrapped(turning.q(gear) + period / 2, period) - period / 2;
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
    const waits = still.map((gear) => `${gear.name}: ${lashWords(gear, turning)}.`).join(" ");
    return [whereWords(), holeWords(), zoneWords(), waits].filter(Boolean).join(" ");
  }

  function paint() {
    picture.paint();
    for (const [gear, row] of rows) {
      const turned = turning.angle(gear.id) * clockwise(gear);
      const going = sense(gear, turning.moved.get(gear.id));
      picture.gear?.(gear, turned, going);
      row.node.dataset.turned = String(turned);
      row.node.classList.toggle("tk-held", gear === turning.held && Boolean(shown.layout));
      put(row.sense, going === "still" ? "stands still" : `turns ${going}`);
      put(row.mark, `${gear.mark.name} at ${clockWords(gear.mark.at * facing() + turned)}`);
      put(
        row.angle,
        Math.abs(turned) < NEARLY
          ? "at the start"
          : `so far ${angleWords(turned)} ${turned > 0 ? "clockwise" : "anticlockwise"}`,
      );
      put(row.lash, lashWords(gear, turning));
      row.tooth?.setAttribute("transform", `translate(${-turning.share(gear) * row.gap} 0)`);
    }
    put(where, whereWords());
    put(zone, zoneWords() || holeWords());
    put(back.sense, sense(turning.held, -1));
    put(forward.sense, sense(turning.held, 1));
    slider.setAttribute("aria-label", turning.held === crank ? "Crank" : turning.held.name);
    slider.setAttribute("aria-valuenow", String(Number(wrapped(turning.crank, 720).toFixed(2))));
    slider.setAttribute("aria-valuetext", `${whereWords()} ${zoneWords() || holeWords()}`.trim());
    hooks.root.dataset.crank = String(Number(turning.crank.toFixed(9)));
    hooks.root.dataset.end = picture.behind() ? "flywheel" : "front";
  }
  paint();

  const choices = make("div", { class: "tk-turning-choices" }, steps, shown.larger > 1 ? sizes : "");
  const node = make(
    "div",
    { class: "tk-turning" },
    make("div", { class: "tk-turning-picture" }, slider, ...(picture.beside ?? [])),
    make(
      "div",
      { class: "tk-turning-side" },
      where,
      zone,
      picture.held ?? "",
      make("div", { class: "tk-nudges" }, back.node, forward.node),
      make("button", { type: "button", class: "tk-plain tk-home", onclick: home }, "Go back to the start"),
      picture.glass?.length ? make("div", { class: "tk-glass" }, ...picture.glass) : "",
      ...picture.controls,
      layout ? "" : choices,
    ),
    layout ? choices : "",
    make("div", { class: "tk-turning-gears" }, tableOf([...rows.values()])),
    shown.sum?.length
      ? make(
          "details",
          { class: "tk-sum" },
          make("summary", {}, "Show how the lash adds up"),
          make("ul", {}, ...shown.sum.map((line) => make("li", {}, line))),
        )
      : "",
    make(
      "p",
      { class: "tk-hint" },
      `${shown.back} Keys: the arrows turn one step, Page up and down ten, Home goes back to the start.${picture.keys ?? ""}`,
    ),
    announced.node,
  );
  const close = () => {
    held.stop();
    picture.close?.();
  };
  return { node, focus: () => slider.focus(), close };
}
