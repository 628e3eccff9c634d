// The picture of a part on its seal: seen from above and from one side, with the gap drawn larger than it is. Lengths are
// units of which the furthest bolt is 70 from the middle; x to the right, y to the back, z up from the face.

import { LARGER, Paint, THICK } from "./paint.js";
import { height } from "./seating.js";

/** @import { Scene } from "../kit/stage.js" */
/** @import { Pose, Seating } from "./seating.js" */
/** @typedef {[x: number, y: number, z: number]} Point */
/** @typedef {[u: number, v: number]} Spot On the canvas */

const UNIT = 70;

const RAISED = (27 * Math.PI) / 180; // the eye over the face
const LABELS = 56; // pixels below the part for the widest and the narrowest gap
const FINGER = 24;

/** What of the part does not change while it is looked at, and where its bolts were drawn last. */
export class FlangeView {
  /** @param {Seating} seating */
  constructor(seating) {
    const { joint } = seating;
    this.seating = seating;
    this.edge = joint.outline.map(([x, y]) => /** @type {Spot} */ ([x * UNIT, y * UNIT]));
    this.bolts = joint.bolts.map(([x, y]) => /** @type {Spot} */ ([x * UNIT, y * UNIT]));
    this.seal = this.edge.map(([x, y]) => /** @type {Spot} */ ([x * joint.seal_at[1], y * joint.seal_at[1]]));
    this.sealEdge = this.edge.map(([x, y]) => /** @type {Spot} */ ([x * joint.seal_at[0], y * joint.seal_at[0]]));
    this.pad = grown(this.edge, 7);
    this.block = joint.disc ? block() : grown(this.edge, 32);
    const between = this.bolts.flatMap(([x, y], one) =>
      this.bolts.slice(0, one).map(([u, v]) => Math.hypot(x - u, y - v)),
    );
    this.head = Math.min(12.5, 0.4 * Math.min(...between));
    // A stub in the middle, where there is room for one.
    const inner = Math.min(...this.bolts.map(([x, y]) => Math.hypot(x, y))) - 1.3 * this.head - 8;
    this.stub = joint.disc && inner > 20 ? Math.min(26, inner) : 0;
    this.yaw = this.#clear();
    /** @type {Pose} */
    this.pose = seating.pose;
    this.turns = this.bolts.map(() => 0);
    /** @type {Spot[]} */
    this.drawnAt = [];
    this.scale = 1;
    /** @type {Spot} */
    this.middle = [0, 0];
  }

  /** The least turn of the view at which no bolt stands behind the stub. */
  #clear() {
    const turns = Array.from({ length: 17 }, (_, step) => 0.07 + (step % 2 ? 1 : -1) * Math.ceil(step / 2) * 0.1);
    const hidden = (/** @type {number} */ yaw) =>
      this.bolts.some(([x, y]) => {
        const across = x * Math.cos(yaw) - y * Math.sin(yaw);
        const back = x * Math.sin(yaw) + y * Math.cos(yaw);
        return back > 0 && Math.abs(across) < 0.77 * this.stub + this.head;
      });
    return turns.find((yaw) => !this.stub || !hidden(yaw)) ?? 0.07;
  }

  /**
   * Moves what is drawn a little towards where the part stands; false once it is there.
   * @param {number} share
   */
  follow(share) {
    const goal = this.seating.pose;
    let left = 0;
    const pose = /** @type {Pose} */ (
      this.pose.map((value, place) => {
        left = Math.max(left, Math.abs(goal[place] - value));
        return value + (goal[place] - value) * share;
      })
    );
    this.turns = this.turns.map((turn, bolt) => {
      const wanted = (this.seating.stages[bolt] + 1) * 2.6;
      left = Math.max(left, Math.abs(wanted - turn) / 3);
      return turn + (wanted - turn) * share;
    });
    const going = left > 0.004 && share < 1;
    this.pose = going ? pose : goal;
    return going;
  }

  /**
   * The bolt at a place of the canvas.
   * @param {Spot} place
   */
  found([u, v]) {
    let best = -1;
    let least = Math.max(FINGER, this.head * this.scale * 1.8);
    for (const [bolt, [x, y]] of this.drawnAt.entries()) {
      const far = Math.hypot(u - x, (v - y) * 1.3);
      if (far < least) [best, least] = [bolt, far];
    }
    return best;
  }

  /** @param {Point} point */
  put([x, y, z]) {
    const cos = Math.cos(this.yaw);
    const sin = Math.sin(this.yaw);
    const across = x * cos - y * sin;
    const back = x * sin + y * cos;
    const up = back * Math.sin(RAISED) + z * Math.cos(RAISED);
    return /** @type {Spot} */ ([this.middle[0] + this.scale * across, this.middle[1] - this.scale * up]);
  }

  /**
   * Height of the part's under side, as it is drawn.
   * @param {number} x
   * @param {number} y
   */
  under(x, y) {
    return LARGER * Math.max(-0.05, height(this.pose, [x / UNIT, y / UNIT]));
  }

  /**
   * A point on or over the part, along its tilted axis.
   * @param {number} x
   * @param {number} y
   * @param {number} over its upper side
   * @returns {Point}
   */
  onTop(x, y, over) {
    const lean = (LARGER * over) / UNIT;
    return [x - this.pose[1] * lean, y - this.pose[2] * lean, this.under(x, y) + THICK + over];
  }

  /** @param {Scene} scene */
  draw(scene) {
    const { pen, width, height: tall, palette } = scene;
    this.scale = Math.min(width / 330, (tall - LABELS) / 190);
    this.middle = [width / 2, (tall - LABELS) / 2 + 10 * this.scale];
    pen.lineJoin = "round";
    const line = Math.max(1, 0.72 * this.scale);
    const paint = new Paint(this, pen, palette, line);
    paint.base();
    paint.gap();
    paint.part();
    paint.solids();
    paint.labels(width, tall);
  }
}

/**
 * An outline so much further out.
 * @param {Spot[]} round anticlockwise
 * @param {number} by
 * @returns {Spot[]}
 */
function grown(round, by) {
  return round.map(([x, y], at) => {
    const before = round[(at + round.length - 1) % round.length];
    const after = round[(at + 1) % round.length];
    const [u, v] = [after[0] - before[0], after[1] - before[1]];
    const long = Math.hypot(u, v) || 1;
    return [x + (by * v) / long, y - (by * u) / long];
  });
}

/** The rounded block behind a round part. */
function block() {
  const [wide, deep, corner] = [132, 116, 30];
  return [0, 1, 2, 3].flatMap((quarter) => {
    const [x, y] = [
      (wide - corner) * (quarter === 0 || quarter === 3 ? 1 : -1),
      (deep - corner) * (quarter < 2 ? 1 : -1),
    ];
    return Array.from({ length: 9 }, (_, at) => {
      const turn = ((quarter + at / 8) * Math.PI) / 2;
      return /** @type {Spot} */ ([x + corner * Math.cos(turn), y + corner * Math.sin(turn)]);
    });
  });
}
