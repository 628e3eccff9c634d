// The arrows that a reader sets before anything turns, and what comes out when it does. Nothing of it is recorded.

/** @import { Gear } from "../shapes.js" */
/** @typedef {"clockwise" | "anticlockwise"} Sense As seen from the front */

const NEXT = /** @type {const} */ ({ "": "clockwise", clockwise: "anticlockwise", anticlockwise: "" });

/** @type {(sense: Sense) => Sense} */
export const mirrored = (sense) => (sense === "clockwise" ? "anticlockwise" : "clockwise");

export class Prediction {
  /**
   * @param {Gear[]} gears
   * @param {Gear} given the one whose sense is told
   */
  constructor(gears, given) {
    this.given = given;
    this.asked = gears.filter((gear) => gear !== given);
    /** @type {"no" | "setting" | "compared"} */
    this.state = "no";
    /** @type {Map<Gear, Sense>} */
    this.arrows = new Map();
  }

  begin() {
    this.state = "setting";
    this.arrows.clear();
  }

  stop() {
    this.state = "no";
    this.arrows.clear();
  }

  /**
   * Press a gear: clockwise, anticlockwise, no arrow. Says whether that means anything now.
   * @param {Gear} gear
   * @param {boolean} behind whether the reader stands at the flywheel end, where clockwise is the other way
   */
  press(gear, behind) {
    if (this.state !== "setting" || !this.asked.includes(gear)) return false;
    const own = this.arrows.get(gear);
    const next = NEXT[own ? (behind ? mirrored(own) : own) : ""];
    if (next) this.arrows.set(gear, behind ? mirrored(next) : next);
    else this.arrows.delete(gear);
    return true;
  }

  compare() {
    this.state = "compared";
  }

  /**
   * Which way a gear turns when the crank goes forward.
   * @param {Gear} gear
   * @returns {Sense}
   */
  static right(gear) {
    return gear.clockwise ? "clockwise" : "anticlockwise";
  }

  /**
   * What became of the arrow on a gear.
   * @param {Gear} gear
   * @returns {"" | "right" | "wrong"}
   */
  outcome(gear) {
    const own = this.arrows.get(gear);
    if (this.state !== "compared" || !own) return "";
    return own === Prediction.right(gear) ? "right" : "wrong";
  }

  /**
   * @param {boolean} behind
   * @returns {string}
   */
  words(behind) {
    /** @param {Sense} sense */
    const seen = (sense) => (behind ? mirrored(sense) : sense);
    const end = behind ? "the flywheel end" : "the front";
    if (this.state === "setting") {
      const left = this.asked.length - this.arrows.size;
      const given = `The ${this.given.name} turns ${seen(Prediction.right(this.given))}, seen from ${end}.`;
      const rest = left
        ? `Press each gear until its arrow points your way: ${left} to go.`
        : "All arrows are set. Turn and compare.";
      return `${given} ${rest}`;
    }
    if (this.state !== "compared") return "";
    const wrong = this.asked.filter((gear) => this.outcome(gear) === "wrong");
    const count = this.arrows.size;
    const right = count - wrong.length;
    if (!count) return "You set no arrow. The arrows now show which way each gear turns.";
    const all = count === 1 ? "Your arrow is right." : `All ${count} arrows are right.`;
    const counted = wrong.length ? `Right: ${right} of ${count}.` : all;
    const told = wrong.map((gear) => {
      const sense = Prediction.right(gear);
      return `The ${gear.name} turns ${seen(sense)}, not ${seen(mirrored(sense))}.`;
    });
    return [counted, ...told].join(" ");
  }
}
