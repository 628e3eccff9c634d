// How gears stand after the crank was turned, with the lash of every mesh; nothing here is drawn. The kernel has sent
// ratios, lash and where everything stands at the start; here they are only multiplied.

/** @import { Gear, Train } from "../shapes.js" */

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

// Every gear's angle, carried over to degrees of the crank: there a mesh is only that the driven gear is never behind its
// driver, and never further ahead of it than the lash. So any gear can drive: the one that the hand holds is set, and
// its neighbours are taken along from there outwards, each only as far as it must. Reversed, they wait for the lash.
export class Turning {
  /** @param {Pick<Train, "gears" | "quantum">} shown */
  constructor(shown) {
    this.gears = shown.gears;
    const [quantum, parts] = shown.quantum;
    this.quantum = quantum; // the finest step of the crank is this many degrees, over so many parts
    this.parts = parts;
    this.size = 1; // how many times as large the lash is taken
    this.way = 1;
    this.root = /** @type {Gear} */ (shown.gears.find((gear) => !gear.driver));
    this.held = this.root;
    this.carried = this.still();
    this.moved = this.still();
    /** @type {Map<Gear, Step[]>} */
    this.orders = new Map();
  }

  still() {
    return new Map(this.gears.map((gear) => [gear.id, 0]));
  }

  home() {
    this.way = 1;
    this.carried = this.still();
    this.moved = this.still();
  }

  /** Degrees of the crank from where it stood. */
  get crank() {
    return this.q(this.root);
  }

  /** The same in the finest steps, of which there are only whole ones unless another gear drove. */
  get count() {
    return (this.crank * this.parts) / this.quantum;
  }

  /**
   * How far a gear has turned, in degrees of the crank.
   * @param {Gear} gear
   */
  q(gear) {
    return this.carried.get(gear.id) ?? 0;
  }

  /**
   * How far a gear has turned from where it stood, in its own degrees.
   * @param {string | null} id
   */
  angle(id) {
    const gear = this.gears.find((each) => each.id === id);
    return gear ? (this.q(gear) * gear.rate[0]) / gear.rate[1] : 0;
  }

  /**
   * The lash of a gear's mesh with its driver, as large as it is taken, in degrees of the crank.
   * @param {Gear} gear
   */
  lash(gear) {
    return (gear.lash * this.size * gear.rate[1]) / gear.rate[0];
  }

  /**
   * Take hold of a gear: it drives from now on.
   * @param {string} id
   */
  hold(id) {
    this.held = this.gears.find((gear) => gear.id === id) ?? this.held;
  }

  /** All meshes from the held gear outwards. */
  get outwards() {
    const known = this.orders.get(this.held);
    if (known) return known;
    /** @type {Step[]} */
    const steps = [];
    const seen = new Set([this.held]);
    for (const here of seen) {
      for (const gear of this.gears) {
        if (seen.has(gear)) continue;
        if (gear.driver === here.id) steps.push({ gear, from: here, mesh: gear, forth: true });
        else if (here.driver === gear.id) steps.push({ gear, from: here, mesh: here, forth: false });
        else continue;
        seen.add(gear);
      }
    }
    this.orders.set(this.held, steps);
    return steps;
  }

  /** @param {number} count of the crank's finest steps from the start */
  turn(count) {
    this.held = this.root;
    return this.drive((count * this.quantum) / this.parts);
  }

  /**
   * Turn the held gear so many of the finest steps on; where a hand left it between two, they begin at the nearest.
   * @param {number} steps
   */
  by(steps) {
    const from = Math.round((this.q(this.held) * this.parts) / this.quantum);
    return this.drive(((from + steps) * this.quantum) / this.parts);
  }

  /** @param {number} to where the held gear is brought, in degrees of the crank */
  drive(to) {
    const change = to - this.q(this.held);
    if (!change) return false;
    this.way = Math.sign(change);
    this.carried.set(this.held.id, to);
    this.moved = new Map([[this.held.id, this.way]]);
    for (const { gear, from, mesh, forth } of this.outwards) {
      const before = this.q(gear);
      const at = this.q(from);
      const lash = this.lash(mesh);
      const now = forth ? Math.min(Math.max(before, at), at + lash) : Math.min(Math.max(before, at - lash), at);
      this.carried.set(gear.id, now);
      this.moved.set(gear.id, Math.abs(now - before) < NEARLY ? 0 : Math.sign(now - before));
    }
    return true;
  }

  /**
   * Lash drawn larger or true: each mesh keeps the part of its lash that is taken up, and the crank its place.
   * @param {number} size
   */
  resize(size) {
    const shares = new Map(this.gears.map((gear) => [gear, this.share(gear)]));
    this.size = size;
    for (const gear of this.gears) {
      const driver = this.gears.find((each) => each.id === gear.driver);
      if (driver) this.carried.set(gear.id, this.q(driver) + (shares.get(gear) ?? 0) * this.lash(gear));
    }
  }

  /** @param {Gear} gear how far it is ahead of its driver, in degrees of the crank */
  ahead(gear) {
    const driver = this.gears.find((each) => each.id === gear.driver);
    return driver ? this.q(gear) - this.q(driver) : 0;
  }

  /**
   * How much of the lash lies behind the driving tooth: 0 while it drives forward, 1 once it drives back.
   * @param {Gear} gear
   */
  share(gear) {
    return gear.lash ? this.ahead(gear) / this.lash(gear) : 0;
  }

  /**
   * Whether a mesh is driven the way the pack has it; the other way, the gear that the hand holds lies beyond it.
   * @param {Gear} gear
   */
  forth(gear) {
    return this.outwards.find(({ mesh }) => mesh === gear)?.forth ?? true;
  }

  /**
   * How much lash of a gear's mesh is left before the one is taken along by the other, in degrees of the gear.
   * @param {Gear} gear
   */
  left(gear) {
    const ahead = this.ahead(gear);
    const found = this.way > 0 === this.forth(gear) ? ahead : this.lash(gear) - ahead;
    return (found * gear.rate[0]) / gear.rate[1];
  }
}

/**
 * @typedef {object} Step One mesh on the way outwards from what is held.
 * @property {Gear} gear that is taken along
 * @property {Gear} from
 * @property {Gear} mesh the driven gear of the mesh, in the order of the pack
 * @property {boolean} forth whether `gear` is that one
 */

/**
 * @param {Gear} gear
 * @param {Turning} turning
 */
export function lashWords(gear, turning) {
  if (!gear.driver) return gear === turning.held ? "turned by you" : "no lash of its own";
  if (!gear.known) return "lash not given";
  if (!gear.lash) return "no lash";
  const left = turning.left(gear);
  return left < NEARLY ? "lash taken up" : `${left.toFixed(2)}° of lash left`;
}
