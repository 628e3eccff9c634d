// Barring and pinning by a hand that feels: where the gears stand, and whether a hole is behind the pin. All of it is
// geometry, in whole ticks of crank angle; the rules are those of trainkit.lockpin.freely, and a test plays both.

/** @import { PinLattice, PinStand } from "../shapes.js" */
/** @typedef {"" | "rubs" | "drops" | "metal" | "held" | "breaks" | "out"} Met What the hand met */

/**
 * @param {number} value
 * @param {number} by
 */
const floored = (value, by) => Math.floor(value / by);

export class Pinning {
  /**
   * @param {PinLattice} lattice
   * @param {PinStand} start
   */
  constructor(lattice, start) {
    this.lattice = lattice;
    this.start = start;
    this.at = { ...start };
    this.load = 0; // ticks by which the hand is ahead of an engine that the pin holds
  }

  again() {
    this.at = { ...this.start };
    this.load = 0;
  }

  get inHole() {
    return this.at.pin === "seated" || this.at.pin === "in a false hole";
  }

  /** Where the watched mark stands, in ticks ahead of its place in a right passing. */
  get mark() {
    const { at, lattice } = this;
    const gear = { bar: at.crank, "pin gear": at.hole, "component gear": at.component }[lattice.marks_on];
    return at.passing * lattice.period + gear;
  }

  /**
   * How far ahead of the pin each hole is that comes by there, in ticks.
   * @param {number} within
   */
  holesNear(within) {
    const { holes, period } = this.lattice;
    const near = [-1, 0, 1].flatMap((turn) => holes.map((hole) => hole + turn * period - this.at.hole));
    return near.filter((off) => Math.abs(off) <= within);
  }

  /**
   * Bars until the crank stands at a place, or until the pin stops it.
   * @param {number} crank in ticks of the passing that is counted from now
   * @returns {Met}
   */
  barTo(crank) {
    const { at, lattice } = this;
    if (at.pin === "sheared" || crank === at.crank + this.load) return "";
    const forward = crank > at.crank;
    if (this.inHole) return this.#against(crank, forward);
    if (at.pin === "pressed" && crank !== at.crank) {
      const met = this.#firstMet(crank, forward);
      if (met) {
        this.#chain(met.stopped, forward);
        at.pin = met.hole % lattice.period === 0 ? "seated" : "in a false hole";
        return "drops";
      }
    }
    if (crank !== at.crank) this.#chain(crank, forward);
    return at.pin === "pressed" ? "rubs" : "";
  }

  /** The hand lets the bar go: it springs straight. */
  relax() {
    this.load = 0;
  }

  /** @returns {Met} */
  press() {
    const { at, lattice } = this;
    if (at.pin !== "out") return "";
    const hole = lattice.holes
      .flatMap((each) => [-1, 0, 1].map((turn) => each + turn * lattice.period))
      .reduce((best, each) => (Math.abs(each - at.hole) < Math.abs(best - at.hole) ? each : best));
    if (Math.abs(hole - at.hole) > lattice.clearance) {
      at.pin = "pressed";
      return "metal";
    }
    at.pin = hole % lattice.period === 0 ? "seated" : "in a false hole";
    return "drops";
  }

  /** What is in a hole stays there: it is drawn by hand. */
  letGo() {
    if (this.at.pin === "pressed") this.at.pin = "out";
  }

  /** @returns {Met} */
  draw() {
    if (!this.inHole) return "";
    this.at.pin = "out";
    this.load = 0;
    return "out";
  }

  /**
   * @param {number} crank
   * @param {boolean} forward
   */
  #firstMet(crank, forward) {
    const { at, lattice } = this;
    const lash = lattice.shared + lattice.to_pin;
    const end = forward ? Math.max(at.hole, crank) : Math.min(at.hole, crank + lash);
    /** @type {{ far: number, hole: number, edge: number } | null} */
    let best = null;
    const turns = [at.hole, end].map((place) => floored(place, lattice.period));
    for (let turn = Math.min(...turns) - 1; turn <= Math.max(...turns) + 1; turn++) {
      for (const each of lattice.holes) {
        const hole = each + turn * lattice.period;
        const edge = hole + (forward ? -lattice.clearance : lattice.clearance);
        const far = Math.abs(edge - at.hole);
        const met = forward ? at.hole < edge && edge <= end : end <= edge && edge < at.hole;
        if (met && (!best || far < best.far)) best = { far, hole, edge };
      }
    }
    return best && { hole: best.hole, stopped: forward ? best.edge : best.edge - lash };
  }

  /**
   * @param {number} crank
   * @param {boolean} forward
   * @returns {Met}
   */
  #against(crank, forward) {
    const { at, lattice } = this;
    const room = forward ? at.hole : at.hole - lattice.shared - lattice.to_pin;
    this.load = forward ? Math.max(crank - room, 0) : Math.min(crank - room, 0);
    if (crank - this.load !== at.crank) this.#chain(crank - this.load, forward);
    if (Math.abs(this.load) < lattice.little) return "held";
    at.pin = "sheared";
    return "breaks";
  }

  /**
   * Turns the crank to a place; a gear moves only when the flank behind or before it reaches it.
   * @param {number} crank
   * @param {boolean} forward
   */
  #chain(crank, forward) {
    const { at, lattice } = this;
    const { period, half, shared, to_pin, to_component } = lattice;
    const fork = forward ? Math.max(at.fork, crank) : Math.min(at.fork, crank + shared);
    const hole = forward ? Math.max(at.hole, fork) : Math.min(at.hole, fork + to_pin);
    const component = forward ? Math.max(at.component, fork) : Math.min(at.component, fork + to_component);
    const turns = -floored(half - crank, period); // so many passings further, so that the crank is near its own
    const by = turns * period;
    at.passing = (((at.passing + turns) % lattice.passings) + lattice.passings) % lattice.passings;
    at.crank = crank - by;
    at.fork = fork - by;
    at.hole = hole - by;
    at.component = component - by;
    at.last = forward ? 1 : -1;
  }
}

/** @typedef {{ forward: readonly [near: string, far: string], back: readonly [near: string, far: string] }} Reach */

const FREE = 10; // degrees of the bar: less is no pull yet
const FAR = 55; // and from here on it is a long pull

/**
 * The one action that a pull at the bar does when it is let go; "" where it does none. A pull is one action, as a press
 * on its button is, however long it took.
 * @param {number} degrees that the bar was pulled, forward +
 * @param {readonly string[]} can what can be done now
 * @param {Reach} reach
 */
export function pulled(degrees, can, reach) {
  const size = Math.abs(degrees);
  if (size < FREE) return "";
  const [near, far] = degrees > 0 ? reach.forward : reach.back;
  const wanted = size < FAR ? near : far;
  if (can.includes(wanted)) return wanted;
  return wanted === far && can.includes(near) ? near : "";
}

/** Where the bar stops: it goes no further than a long pull needs. */
export const MOST = 80;
