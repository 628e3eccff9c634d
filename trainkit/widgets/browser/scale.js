// A scale with steps, straight or round: which places it has, and how a place is said.

/** @import { Scale } from "./shapes.js" */

const CLOCK_FACE = 12;

export class Steps {
  /** @param {Scale} scale */
  constructor({ low, high, step, unit, round }) {
    this.low = low;
    this.high = high;
    this.step = step;
    this.unit = unit;
    this.round = round;
    this.clock = round && high - low === CLOCK_FACE;
    this.places = Math.max(0, ...[step, low].map((number) => (String(number).split(".")[1] ?? "").length));
    this.large = this.clock ? Math.round(1 / step) : Math.max(1, Math.round((high - low) / step / 10));
  }

  /**
   * The place of the scale that is nearest. A full turn and its beginning are one place; a straight scale ends at its
   * ends.
   * @param {number} wanted
   */
  on(wanted) {
    const steps = Math.round((wanted - this.low) / this.step);
    const most = Math.round((this.high - this.low) / this.step);
    const kept = this.round ? ((steps % most) + most) % most : Math.max(0, Math.min(most, steps));
    return Number((this.low + kept * this.step).toFixed(this.places));
  }

  /**
   * Where some steps lead from a place, or from where nothing is set yet.
   * @param {number | null} value
   * @param {number} steps
   */
  from(value, steps) {
    return (value ?? this.low) + (value === null && steps > 0 && !this.round ? 0 : steps * this.step);
  }

  /** @param {number | null} value */
  words(value) {
    if (value === null) return "not set";
    if (!this.clock) return `${value.toFixed(this.places)}\u2009${this.unit}`;
    const minutes = Math.round(value * 60) % 720;
    return `${Math.floor(minutes / 60) || 12}:${String(minutes % 60).padStart(2, "0")}`;
  }

  /** How large a step is, in words. */
  get size() {
    return this.clock ? `${Number((this.step * 60).toFixed(2))}\u2009min` : `${this.step}\u2009${this.unit}`;
  }
}
