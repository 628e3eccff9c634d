// The four strokes of every cylinder, by the angle of the crank: the formulas of trainkit/cycle, on the numbers that the
// kernel sends. Here as well, so that the picture follows the hand; a test holds the two against each other.

/** @import { StrokesShown } from "../shapes.js" */
/** @typedef {"power" | "exhaust" | "intake" | "compression"} Stroke */
/** @typedef {"compression" | "exhaust"} DeadCentre */
/** @typedef {StrokesShown["cylinders"][number]} Cylinder */

export const CYCLE = 720;
/** @type {Stroke[]} */
const STROKES = ["power", "exhaust", "intake", "compression"];
const NEARLY = 1e-6;
const UP = 25; // degrees from top dead centre within which a piston is up, to the eye

/** @param {number} angle */
export const turned = (angle) => ((angle % CYCLE) + CYCLE) % CYCLE;

export class Strokes {
  /** @param {Pick<StrokesShown, "cylinders" | "valves" | "rod" | "start">} shown */
  constructor({ cylinders, valves, rod, start }) {
    this.cylinders = cylinders;
    this.valves = valves;
    this.rod = rod;
    /** Crank degrees past the compression dead centre of the first cylinder that fires. */
    this.crank = start;
  }

  /** Degrees past the compression dead centre of a cylinder. */
  /** @param {Cylinder} cylinder */
  past(cylinder) {
    return turned(this.crank - cylinder.fires_at);
  }

  /** @param {Cylinder} cylinder */
  stroke(cylinder) {
    return STROKES[Math.floor((this.past(cylinder) + NEARLY) / 180) % 4];
  }

  /** How far a piston is below the top, in crank radii. */
  /** @param {Cylinder} cylinder */
  drop(cylinder) {
    const angle = (this.past(cylinder) * Math.PI) / 180;
    const side = Math.sin(angle);
    return 2 * Math.sin(angle / 2) ** 2 + (side * side) / (this.rod + Math.sqrt(this.rod * this.rod - side * side));
  }

  /** How far the valves are open, 0 to 1. */
  /** @param {Cylinder} cylinder */
  lifts(cylinder) {
    const past = this.past(cylinder);
    const { inlet_opens, inlet_shuts, exhaust_opens, exhaust_shuts } = this.valves;
    return { inlet: lift(past, inlet_opens, inlet_shuts), exhaust: lift(past, exhaust_opens, exhaust_shuts) };
  }

  /** @param {Cylinder} cylinder */
  injects(cylinder) {
    return share(this.past(cylinder), this.valves.injection_begins, this.valves.injection_ends) < 1;
  }

  /** The nearest top dead centre of a cylinder: which of the two, and how far past it; below zero is before. */
  /** @param {Cylinder} cylinder */
  centre(cylinder) {
    const past = this.past(cylinder);
    /** @type {DeadCentre} */
    const at = past <= 180 || past > 540 ? "compression" : "exhaust";
    const off = at === "exhaust" ? past - 360 : past > 540 ? past - CYCLE : past;
    return { at, off: Math.abs(off) < NEARLY ? 0 : off };
  }

  /** The cylinders whose pistons are up, those on compression first. */
  up() {
    const found = this.cylinders
      .map((cylinder) => ({ cylinder, ...this.centre(cylinder) }))
      .filter(({ off }) => Math.abs(off) <= UP);
    const least = Math.min(...found.map(({ off }) => Math.abs(off)));
    // Of many cylinders several may be on the way: those that come up together with the nearest.
    return found
      .filter(({ off }) => Math.abs(Math.abs(off) - least) < NEARLY)
      .sort((one, other) => (one.at === other.at ? 0 : one.at === "compression" ? -1 : 1));
  }

  /** Degrees to the next top dead centre of any cylinder, forward or, below zero, back. */
  /** @param {1 | -1} way */
  toDeadCentre(way) {
    const ways = this.cylinders.map((cylinder) => {
      const after = this.past(cylinder) % 360;
      const to = way > 0 ? 360 - after : after;
      return to < 1e-3 ? 360 : to;
    });
    return way * Math.min(...ways);
  }

  /** The cylinders that come to a dead centre so many degrees further. */
  /** @param {number} degrees */
  comingUp(degrees) {
    const then = new Strokes({ ...this, start: this.crank + degrees });
    return then.up().filter(({ off }) => Math.abs(off) < 0.01);
  }
}

/**
 * @param {number} past
 * @param {number} begins
 * @param {number} ends
 */
const share = (past, begins, ends) => turned(past - begins) / turned(ends - begins);

/**
 * @param {number} past
 * @param {number} opens
 * @param {number} shuts
 */
function lift(past, opens, shuts) {
  const gone = share(past, opens, shuts);
  return gone > 0 && gone < 1 ? Math.sin(Math.PI * gone) ** 1.5 : 0;
}

/** @param {number} value */
export const degrees = (value) => `${Number(Math.abs(value).toFixed(Math.abs(value) < 10 ? 1 : 0))}°`;

/**
 * What the valves of a cylinder show where its piston is up.
 * @param {{ inlet: number, exhaust: number }} lifts
 */
function valveWords({ inlet, exhaust }) {
  if (inlet > 0) return exhaust > 0 ? "has both valves a little open" : "has its inlet valve open";
  return exhaust > 0 ? "has its exhaust valve open" : "has both valves shut";
}

/**
 * In the order of their numbers, which tells nothing of what they do.
 * @param {{ cylinder: Cylinder }[]} some
 */
function pistons(some) {
  const numbers = some.map(({ cylinder }) => cylinder.number).sort((one, other) => one - other);
  if (numbers.length === 1) return `piston ${numbers[0]}`;
  return `pistons ${numbers.slice(0, -1).join(", ")} and ${numbers.at(-1)}`;
}

/** @param {string} text */
const opening = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/**
 * What is to be seen.
 * @param {Strokes} strokes
 * @param {boolean} covered whether the valves cannot be seen
 * @returns {string[]} the first sentence is the main one
 */
export function seenWords(strokes, covered = false) {
  const up = strokes.up();
  if (!up.length) {
    const to = strokes.toDeadCentre(1);
    const next = strokes.comingUp(to);
    const verb = next.length > 1 ? "come" : "comes";
    return [`Next, ${pistons(next)} ${verb} up, ${degrees(to)} further.`];
  }
  const { off } = up[0];
  const where = off === 0 ? "at the top" : `${degrees(off)} ${off < 0 ? "before" : "after"} the top`;
  const first = `${opening(pistons(up))} ${up.length > 1 ? "are" : "is"} ${where}.`;
  if (covered)
    return [first, up.length > 1 ? "Which one has both valves shut?" : "Is it on compression, or on exhaust?"];
  return [
    first,
    ...up.map(
      ({ cylinder, at }) => `Cylinder ${cylinder.number} ${valveWords(strokes.lifts(cylinder))}: ${at}, ${SIGNS[at]}.`,
    ),
  ];
}

export const SIGNS = { compression: "▲", exhaust: "△" };
