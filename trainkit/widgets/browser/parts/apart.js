// Taking apart and building up, without a picture: which steps are done, which can come now, and what follows from one
// that cannot. What has been done is always in a right order: a step that comes too early shows what follows from it,
// and is not done.

/** @import { Need, PartsShown, StepShown } from "../shapes.js" */
/** @typedef {"live" | "isolated" | "proved"} Energised */

const READY = 3; // so many choices that can come now, and so many that cannot
const CHOICES = 6;

/**
 * A number for a text, so that choices stand in an order that says nothing and is the same at every look.
 * @param {string} text
 */
function scattered(text) {
  let sum = 7;
  for (const letter of text) sum = (sum * 31 + (letter.codePointAt(0) ?? 0)) % 65521;
  return (sum * 40503) % 65521;
}

export class Apart {
  /** @param {Pick<PartsShown, "steps" | "pieces" | "energies" | "dangers">} shown */
  constructor(shown) {
    this.shown = shown;
    /** @type {StepShown[]} */
    this.done = [];
    this.steps = new Map(shown.steps.map((step) => [step.id, step]));
  }

  /** @param {string} id */
  isDone(id) {
    return this.done.some((step) => step.id === id);
  }

  get left() {
    return this.shown.steps.filter(({ id }) => !this.isDone(id));
  }

  /**
   * What a step still waits for, the worst first: what can hurt somebody, then what is unsafe, then the rest.
   * @param {string} id
   * @returns {Need | undefined}
   */
  missing(id) {
    for (const danger of this.shown.dangers) {
      if (!danger.reaches.includes(id)) continue;
      const before = danger.gates.find((gate) => !this.isDone(gate));
      if (before) return { before, reason: danger.reason, outcome: "exposed", unsafe: true };
    }
    return this.steps.get(id)?.needs.find(({ before }) => !this.isDone(before));
  }

  /**
   * Does a step, or says what it waits for.
   * @param {string} id
   */
  take(id) {
    const step = this.steps.get(id);
    if (!step || this.isDone(id)) return undefined;
    const missing = this.missing(id);
    if (!missing) this.done.push(step);
    return missing;
  }

  back() {
    return this.done.pop();
  }

  again() {
    this.done = [];
  }

  /**
   * The step that moves a piece next.
   * @param {string} piece
   */
  stepFor(piece) {
    const moving = this.left.filter(({ moves }) => moves.some((move) => move.piece === piece));
    // Tightening a bolt further leaves it where it is; the first that can come is meant before one that cannot.
    return moving.find(({ id }) => !this.missing(id)) ?? moving[0];
  }

  /** Some steps to choose from: such as can come now and such as cannot. */
  get choices() {
    const open = this.left.filter(({ id }) => !this.missing(id));
    const shut = this.left.filter(({ id }) => this.missing(id));
    const ready = open.slice(0, Math.max(READY, CHOICES - shut.length));
    return [...ready, ...shut.slice(0, CHOICES - ready.length)].sort((one, other) => {
      return scattered(one.id) - scattered(other.id);
    });
  }

  /** What is on, and in which state. */
  get pieces() {
    /** @type {Map<string, { on: boolean, word: string }>} */
    const found = new Map(this.shown.pieces.map(({ id, on }) => [id, { on, word: on ? "on" : "off" }]));
    for (const step of this.done) for (const { piece, on, word } of step.moves) found.set(piece, { on, word });
    return found;
  }

  get energies() {
    /** @type {Map<string, Energised>} */
    const found = new Map(this.shown.energies.map(({ id }) => [id, "live"]));
    for (const step of this.done) {
      for (const id of step.safe) found.set(id, "isolated");
      for (const id of step.proves) found.set(id, "proved");
      for (const id of step.live) found.set(id, "live");
    }
    return found;
  }
}
