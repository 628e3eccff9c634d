// A stiff part on a soft seal, drawn down bolt by bolt: the formulas of trainkit/tightening/seating.py, which says why
// they are so, on the numbers that the kernel sends. Here as well, so that the picture follows a press at once; a test
// holds the two against each other.

/** @import { JointOnSeal } from "../shapes.js" */
/** @typedef {[middle: number, alongX: number, alongY: number]} Pose Height over the face in mm, and its rise */
/** @typedef {[x: number, y: number]} Place */
/** @typedef {{ force: number, at: number }} Tie What a bolt was set to, and the height of the part then */
/** @typedef {[x: number, y: number, stiffness: number, atZero: number, works: 1 | -1]} Spring */
/** @typedef {{ bolt: number, stage: number, lean: number, widest: number }} Press Stage -1 is loosened */

const TOLD_APART = 1e-15; // of the energy, which is about 1
const ROUNDS = 80;
const LEVEL = 0.25; // mm: less of a lean is level to the eye
const EVEN = 0.95; // a bolt that pulls with less of what it was given has slackened

/**
 * @param {Pose} pose
 * @param {readonly number[]} place
 */
export const height = (pose, [x, y]) => pose[0] + pose[1] * x + pose[2] * y;

/** A joint: its bolts, the stages they are at, what they pull with, and what was done so far. */
export class Seating {
  /** @param {JointOnSeal} joint */
  constructor(joint) {
    this.joint = joint;
    /**
     * @param {number[]} shares
     * @returns {Place[]}
     */
    const at = (shares) =>
      shares.flatMap((share) =>
        joint.outline.filter((_, place) => place % joint.every === 0).map(([x, y]) => [share * x, share * y]),
      );
    this.seal = at(joint.seal_at);
    this.stops = at(joint.stops_at);
    /** The stage each bolt was taken to; -1 is finger-tight. */
    this.stages = joint.bolts.map(() => -1);
    /** @type {Tie[]} */
    this.ties = joint.bolts.map(() => ({ force: joint.hand, at: joint.free }));
    this.given = joint.bolts.map(() => joint.hand);
    /** @type {Press[]} */
    this.log = [];
    this.last = -1;
    this.pose = this.balance();
  }

  /** The next stage of a bolt; the last one again where it is there already, which makes good what it has lost. */
  /** @param {number} bolt */
  next(bolt) {
    return Math.min(this.stages[bolt] + 1, this.joint.stages.length - 1);
  }

  /** @param {number} bolt */
  tighten(bolt) {
    const stage = this.next(bolt);
    this.#set(bolt, stage, this.joint.stages[stage].share);
  }

  /** @param {number} bolt */
  loosen(bolt) {
    this.#set(bolt, -1, this.joint.hand);
  }

  /**
   * @param {number} bolt
   * @param {number} stage
   * @param {number} force
   */
  #set(bolt, stage, force) {
    const { bolts, stiffness } = this.joint;
    this.pose = this.balance(bolt, force);
    this.ties = bolts.map((place, other) => {
      const at = height(this.pose, place);
      const tie = this.ties[other];
      return { force: other === bolt ? force : Math.max(0, tie.force + stiffness.bolt * (at - tie.at)), at };
    });
    this.stages[bolt] = stage;
    this.given[bolt] = force;
    this.last = bolt;
    this.log.push({ bolt, stage, lean: this.lean, widest: this.widest.gap });
  }

  /** What each bolt pulls with, in final preloads. */
  get loads() {
    return this.ties.map((tie) => tie.force);
  }

  /** The gap at each point of the outline. */
  get gaps() {
    return this.joint.outline.map((place) => Math.max(0, height(this.pose, place)));
  }

  get widest() {
    return this.#extreme((one, other) => one > other);
  }

  get narrowest() {
    return this.#extreme((one, other) => one < other);
  }

  /** @param {(one: number, other: number) => boolean} further */
  #extreme(further) {
    const gaps = this.gaps;
    let found = 0;
    for (const [place, gap] of gaps.entries()) if (further(gap, gaps[found])) found = place;
    return { gap: gaps[found], place: this.joint.outline[found] };
  }

  /** The widest gap less the narrowest. */
  get lean() {
    return this.widest.gap - this.narrowest.gap;
  }

  get level() {
    return this.lean < LEVEL;
  }

  /** Whether the seal is pressed quite flat at one place while at another nothing presses it. */
  get pinched() {
    const heights = this.seal.map((place) => height(this.pose, place));
    const { free } = this.joint;
    return Math.min(...heights) < free / 10 && Math.max(...heights) > free;
  }

  get finished() {
    return this.stages.every((stage) => stage === this.joint.stages.length - 1);
  }

  /** The share that a bolt still has of what it was given. */
  /** @param {number} bolt */
  kept(bolt) {
    return this.ties[bolt].force / this.given[bolt];
  }

  /** The bolts that pull with clearly less than they were given with a tool, the slackest first. */
  get slackened() {
    return [...this.stages.keys()]
      .filter((bolt) => this.stages[bolt] >= 0 && this.kept(bolt) < EVEN)
      .sort((one, other) => this.kept(one) - this.kept(other));
  }

  /** The bolts whose place is nearest to a point. */
  /** @param {readonly number[]} point */
  nearest([x, y]) {
    const far = this.joint.bolts.map((place) => Math.hypot(place[0] - x, place[1] - y));
    const least = Math.min(...far);
    return [...far.keys()].filter((bolt) => far[bolt] < least + 0.02);
  }

  /**
   * Where the part comes to rest while one bolt pulls with a force, whatever its height.
   * @param {number} [now]
   * @param {number} [force]
   * @returns {Pose}
   */
  balance(now = -1, force = 0) {
    const springs = this.#springs(now, force);
    /** @type {Pose} */
    let pose = [this.joint.free, 0, 0];
    for (let round = 0; round < ROUNDS; round++) {
      const { energy, slope, bend } = energyOf(pose, springs);
      const way = solved(bend, slope);
      const gain = way[0] * slope[0] + way[1] * slope[1] + way[2] * slope[2];
      if (gain < TOLD_APART) return along(pose, way, 1);
      let step = 1;
      // One whole step is right where no spring comes into play or goes out of it on the way.
      while (step > TOLD_APART && energyOf(along(pose, way, step), springs).energy > energy - 1e-4 * step * gain)
        step /= 2;
      pose = along(pose, way, step);
    }
    return pose;
  }

  /**
   * @param {number} now
   * @param {number} force
   * @returns {Spring[]}
   */
  #springs(now, force) {
    const { bolts, free, stiffness } = this.joint;
    return [
      ...this.seal.map(([x, y]) => /** @type {Spring} */ ([x, y, stiffness.seal, -stiffness.seal * free, -1])),
      ...this.stops.map(([x, y]) => /** @type {Spring} */ ([x, y, stiffness.stop, 0, -1])),
      ...bolts.map(([x, y], bolt) => {
        const tie = this.ties[bolt];
        const pull = tie.force - stiffness.bolt * tie.at;
        return /** @type {Spring} */ (bolt === now ? [x, y, 0, force, 1] : [x, y, stiffness.bolt, pull, 1]);
      }),
    ];
  }
}

/**
 * @param {Pose} pose
 * @param {Spring[]} springs
 */
function energyOf(pose, springs) {
  let energy = 0;
  const slope = [0, 0, 0];
  const bend = [
    [1e-9, 0, 0],
    [0, 1e-9, 0],
    [0, 0, 1e-9],
  ];
  for (const [x, y, stiffness, atZero, works] of springs) {
    const here = pose[0] + pose[1] * x + pose[2] * y;
    const pull = atZero + stiffness * here;
    if (pull * works <= 0) continue; // a seal and a face never pull, a bolt never pushes
    energy += stiffness ? (pull * pull) / (2 * stiffness) : pull * here;
    const place = [1, x, y];
    for (let row = 0; row < 3; row++) {
      slope[row] += pull * place[row];
      for (let column = 0; column < 3; column++) bend[row][column] += stiffness * place[row] * place[column];
    }
  }
  return { energy, slope, bend };
}

/**
 * @param {Pose} pose
 * @param {number[]} way
 * @param {number} step
 * @returns {Pose}
 */
const along = (pose, way, step) => [pose[0] - step * way[0], pose[1] - step * way[1], pose[2] - step * way[2]];

/**
 * @param {number[][]} matrix
 * @param {number[]} right
 */
function solved(matrix, right) {
  const rows = matrix.map((row, place) => [...row, right[place]]);
  for (let pivot = 0; pivot < 3; pivot++) {
    for (let row = pivot + 1; row < 3; row++) {
      const factor = rows[row][pivot] / rows[pivot][pivot];
      for (let column = pivot; column < 4; column++) rows[row][column] -= factor * rows[pivot][column];
    }
  }
  const found = [0, 0, 0];
  for (const row of [2, 1, 0]) {
    let rest = rows[row][3];
    for (let column = row + 1; column < 3; column++) rest -= rows[row][column] * found[column];
    found[row] = rest / rows[row][row];
  }
  return found;
}
