// How gears stand after the crank was turned, with the lash of every mesh; nothing here is drawn. The kernel has sent
// ratios, lash and where everything stands at the start; here they are only multiplied.

/** @import { Gear, Train } from "./shapes.js" */

export const NEARLY = 1e-9; // of a degree: nearer than this, flanks touch

/**
 * Whole numbers as Python rounds them: a half goes to the even one.
 * @param {number} value
 */
export function nearest(value) {
  const low = Math.floor(value + NEARLY);
  return Math.abs(value - low - 0.5) < NEARLY ? low + (low % 2 ? 1 : 0) : Math.round(value);
}

/** @param {number} degrees */
export function clockWords(degrees) {
  const minutes = wrapped(nearest(degrees * 2), 720);
  return `${Math.floor(minutes / 60) || 12}:${String(minutes % 60).padStart(2, "0")}`;
}

/** @param {number} degrees */
export const angleWords = (degrees) => `${Number(Math.abs(degrees).toFixed(2))}°`;

/**
 * A value within one period, never below nought.
 * @param {number} value
 * @param {number} period
 */
export const wrapped = (value, period) => ((value % period) + period) % period;

// Every gear's angle in its own forward sense. One that is driven is never behind its driver, and never further ahead
// of it than the lash: so it stays still when the sense is reversed, until the lash is taken up.
export class Turning {
  /** @param {Pick<Train, "gears" | "quantum">} shown */
  constructor(shown) {
    this.gears = shown.gears;
    const [quantum, parts] = shown.quantum;
    this.quantum = quantum; // the finest step of the crank is this many degrees, over so many parts
    this.parts = parts;
    this.size = 1; // how many times as large the lash is taken
    this.count = 0; // of the finest steps that the crank was turned, forward being more
    this.way = 1;
    this.at = this.still();
    this.moved = this.still();
  }

  still() {
    return new Map(this.gears.map((gear) => [gear.id, 0]));
  }

  home() {
    this.count = 0;
    this.way = 1;
    this.at = this.still();
    this.moved = this.still();
  }

  get crank() {
    return (this.count * this.quantum) / this.parts;
  }

  /**
   * How far a gear has turned from where it stood.
   * @param {string | null} id
   */
  angle(id) {
    return this.at.get(id ?? "") ?? 0;
  }

  /** @param {Gear} gear */
  base(gear) {
    return gear.driver ? (this.angle(gear.driver) * gear.step[0]) / gear.step[1] : this.crank;
  }

  /** @param {number} count */
  turn(count) {
    if (count === this.count) return false;
    this.way = Math.sign(count - this.count);
    this.count = count;
    for (const gear of this.gears) {
      const before = this.angle(gear.id);
      const base = this.base(gear);
      const now = Math.min(Math.max(before, base), base + gear.lash * this.size);
      this.at.set(gear.id, now);
      this.moved.set(gear.id, Math.abs(now - before) < NEARLY ? 0 : Math.sign(now - before));
    }
    return true;
  }

  /**
   * Lash drawn larger or true: each mesh keeps the part of its play that is taken up.
   * @param {number} size
   */
  resize(size) {
    const shares = this.gears.map((gear) => this.share(gear));
    this.size = size;
    this.gears.forEach((gear, place) => this.at.set(gear.id, this.base(gear) + shares[place] * gear.lash * size));
  }

  /**
   * How much of the play lies behind the driving tooth: 0 while it drives forward, 1 once it drives back.
   * @param {Gear} gear
   */
  share(gear) {
    return gear.lash ? (this.angle(gear.id) - this.base(gear)) / (gear.lash * this.size) : 0;
  }

  /**
   * How much play is left before a gear is taken along the way the crank goes.
   * @param {Gear} gear
   */
  left(gear) {
    const ahead = this.angle(gear.id) - this.base(gear);
    return this.way > 0 ? ahead : gear.lash * this.size - ahead;
  }
}

/**
 * @param {Gear} gear
 * @param {Turning} turning
 */
export function playWords(gear, turning) {
  if (!gear.driver) return "turned by you";
  if (!gear.known) return "play not given";
  if (!gear.lash) return "no play";
  const left = turning.left(gear);
  return left < NEARLY ? "play taken up" : `${left.toFixed(2)}° of play left`;
}
