// A toothed wheel with depth: its side as quads, its face under the view's own transform, and the sheen of a turned
// face, which does not turn with it and is drawn once.

import { lobes } from "./cycloid.js";
import { outline, pathOf } from "./involute.js";
import { under } from "./oblique.js";
import { mixed } from "./palette.js";

/** @import { Spur } from "./involute.js" */
/** @import { Affine, Oblique } from "./oblique.js" */
/** @import { Palette } from "./palette.js" */
/** @import { Scene } from "./stage.js" */

const TURN = 2 * Math.PI;
const FLANK = 3; // points of a flank where teeth are some 8 pixels high
const TONES = 5;
const SHEEN = /** @type {[at: number, light: number][]} */ ([
  [0, 0],
  [0.09, 1],
  [0.2, 0.25],
  [0.34, 0],
  [0.5, 0.1],
  [0.59, 0.75],
  [0.72, 0.2],
  [0.86, 0],
  [1, 0],
]);

/**
 * @typedef {object} Wheel Lengths in the unit of the drawing, the middle at the origin.
 * @property {Path2D} path of the face
 * @property {[x: number, y: number][]} rim its corners
 * @property {number} solid Radius up to which the face is whole
 * @property {number} bore
 * @property {number} hollow Inner edge of a ring with inside teeth, else 0
 */

/**
 * A wheel with outside teeth.
 * @param {Spur} gear
 * @returns {Wheel}
 */
export function wheelOf(gear) {
  const rim = outline(gear, FLANK);
  return { path: pathOf(rim), rim, solid: gear.root, bore: boreOf(gear.reference), hollow: 0 };
}

/**
 * A ring whose teeth point inwards.
 * @param {Spur} space
 * @param {[x: number, y: number][]} [hollow] its inner outline
 * @returns {Wheel}
 */
export function ringOf(space, hollow = outline(space, FLANK)) {
  const outside = space.tip + 2.2 * space.module;
  const path = pathOf(hollow);
  path.moveTo(outside, 0);
  path.arc(0, 0, outside, 0, TURN);
  const rim = Array.from({ length: 120 }, (_, at) => {
    const angle = (at * TURN) / 120;
    return /** @type {[number, number]} */ ([outside * Math.cos(angle), outside * Math.sin(angle)]);
  });
  return { path, rim, solid: outside, bore: 0, hollow: space.tip };
}

/**
 * The rotor of a pump.
 * @param {Spur} gear
 * @returns {Wheel}
 */
export function rotorOf(gear) {
  const rim = lobes(gear.teeth, gear.reference);
  return { path: pathOf(rim), rim, solid: gear.root, bore: boreOf(gear.reference), hollow: 0 };
}

/**
 * A wheel for a chain: its seats lie on the pitch circle, the first on the x axis.
 * @param {Spur} gear
 * @returns {Wheel}
 */
export function sprocketOf(gear) {
  const link = gear.reference * gear.pitch;
  const seat = 0.3 * link;
  /** @type {[number, number][]} */
  const rim = [];
  for (let number = 0; number < gear.teeth; number++) {
    const at = number * gear.pitch;
    for (const lean of [-1.05, -0.5, 0, 0.5, 1.05]) {
      const inwards = at + Math.PI + lean * 1.25;
      const [x, y] = [gear.reference * Math.cos(at), gear.reference * Math.sin(at)];
      rim.push([x + seat * Math.cos(inwards), y + seat * Math.sin(inwards)]);
    }
    for (const share of [0.42, 0.58]) {
      const tip = gear.reference + 0.28 * link;
      rim.push([tip * Math.cos(at + share * gear.pitch), tip * Math.sin(at + share * gear.pitch)]);
    }
  }
  return { path: pathOf(rim), rim, solid: gear.reference - seat, bore: boreOf(gear.reference), hollow: 0 };
}

/** @param {number} radius */
const boreOf = (radius) => Math.max(0.13 * radius, 3);

/**
 * The map of a wheel's own plane, turned and moved to its middle.
 * @param {Affine} plane
 * @param {number} x
 * @param {number} y
 * @param {number} angle
 * @returns {Affine}
 */
export function turnedAt([a, b, c, d, e, f], x, y, angle) {
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const [p, q] = [a * x + c * y + e, b * x + d * y + f];
  return [a * cos + c * sin, b * cos + d * sin, c * cos - a * sin, d * cos - b * sin, p, q];
}

/**
 * @typedef {object} Standing
 * @property {number} x
 * @property {number} y
 * @property {number} z of the face that looks to the front
 * @property {number} thick
 * @property {number} angle
 */

/** Paints wheels, and keeps what of them does not turn. */
export class WheelPainter {
  constructor() {
    /** @type {Map<Wheel, { image: HTMLCanvasElement, size: number }>} size is pixels to a length of 1 */
    this.sheens = new Map();
    /** @type {string[]} */
    this.tones = [];
  }

  /** @param {Palette} palette size or theme is another one: what was kept is stale */
  renew(palette) {
    this.sheens.clear();
    this.tones = Array.from({ length: TONES }, (_, at) => between(palette.sideLow, palette.sideHigh, at / (TONES - 1)));
  }

  /**
   * @param {Scene} scene
   * @param {Oblique} view
   * @param {Wheel} wheel
   * @param {Standing} standing
   * @param {string} edge colour of its outline
   * @param {number} [line] its width in pixels
   */
  paint(scene, view, wheel, { x, y, z, thick, angle }, edge, line = 1) {
    const { pen, ratio, palette } = scene;
    const [near, far] = view.front ? [z, z - thick] : [z - thick, z];
    const plane = view.plane(near);
    const face = turnedAt(plane, x, y, angle);
    const behind = turnedAt(view.plane(far), x, y, angle);
    this.side(scene, wheel, face, [behind[4] - face[4], behind[5] - face[5]]);
    under(pen, face, ratio);
    pen.fillStyle = palette.face;
    pen.fill(wheel.path, "evenodd");
    if (!wheel.hollow) {
      under(pen, plane, ratio);
      const kept = this.sheen(scene, view.scale, wheel);
      const half = kept.image.width / 2 / kept.size;
      pen.save();
      pen.translate(x, y);
      pen.scale(1, -1);
      pen.drawImage(kept.image, -half, -half, 2 * half, 2 * half);
      pen.restore();
      under(pen, face, ratio);
      pen.beginPath();
      pen.arc(0, 0, wheel.bore, 0, TURN);
      pen.fillStyle = palette.sideHigh;
      pen.fill();
      pen.lineWidth = 1 / view.scale;
      pen.strokeStyle = palette.edge;
      pen.stroke();
      pen.fillStyle = palette.edge;
      pen.fillRect(wheel.bore * 0.72, -wheel.bore * 0.17, wheel.bore * 0.42, wheel.bore * 0.34); // the key
    }
    under(pen, face, ratio);
    pen.lineWidth = line / view.scale;
    pen.lineJoin = "bevel";
    pen.strokeStyle = edge;
    pen.stroke(wheel.path);
    pen.lineJoin = "miter";
  }

  /**
   * The side that is seen: of each edge whose outside looks the way the back lies, one quad.
   * @param {Scene} scene
   * @param {Wheel} wheel
   * @param {Affine} face
   * @param {[x: number, y: number]} back how far the back edge lies from the face's
   */
  side({ pen, ratio }, { rim }, [a, b, c, d, e, f], [dx, dy]) {
    const flip = Math.sign(a * d - b * c);
    const tones = this.tones.map(() => new Path2D());
    const [lx, ly] = /** @type {[number, number]} */ (rim.at(-1));
    let [x0, y0] = [a * lx + c * ly + e, b * lx + d * ly + f];
    for (const [px, py] of rim) {
      const [x1, y1] = [a * px + c * py + e, b * px + d * py + f];
      const [nx, ny] = [(y1 - y0) * flip, (x0 - x1) * flip];
      if (nx * dx + ny * dy > 0) {
        const light = (-0.5 * nx - 0.86 * ny) / (Math.hypot(nx, ny) || 1);
        const quad = tones[Math.min(TONES - 1, Math.max(0, Math.floor(((light + 1) / 2) * TONES)))];
        quad.moveTo(x0, y0);
        quad.lineTo(x1, y1);
        quad.lineTo(x1 + dx, y1 + dy);
        quad.lineTo(x0 + dx, y0 + dy);
        quad.closePath();
      }
      [x0, y0] = [x1, y1];
    }
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    for (const [at, quads] of tones.entries()) {
      pen.fillStyle = this.tones[at];
      pen.fill(quads);
    }
  }

  /**
   * @param {Scene} scene
   * @param {number} scale
   * @param {Wheel} wheel
   */
  sheen({ ratio, palette }, scale, wheel) {
    const known = this.sheens.get(wheel);
    if (known) return known;
    const size = scale * ratio;
    const made = document.createElement("canvas");
    made.width = made.height = Math.ceil(2 * wheel.solid * size) + 2;
    const pen = /** @type {CanvasRenderingContext2D} */ (made.getContext("2d"));
    pen.translate(made.width / 2, made.height / 2);
    /** @type {(high: string, low: string) => CanvasGradient} */
    const shine = (high, low) => {
      const found = pen.createConicGradient(-0.9, 0, 0);
      for (const [at, light] of SHEEN) found.addColorStop(at, between(low, high, light));
      return found;
    };
    /** @type {(radius: number, fill: string | CanvasGradient) => void} */
    const disc = (radius, fill) => {
      pen.beginPath();
      pen.arc(0, 0, radius * size, 0, TURN);
      pen.fillStyle = fill;
      pen.fill();
    };
    disc(wheel.solid - 0.5 / scale, shine(palette.faceHigh, palette.faceLow));
    // The web lies deeper than rim and boss, and gets their shade.
    const rim = wheel.solid * 0.86;
    const boss = Math.max(wheel.bore * 1.9, wheel.solid * 0.26);
    if ((rim - boss) * scale > 8) {
      pen.save();
      pen.beginPath();
      pen.arc(0, 0, rim * size, 0, TURN);
      pen.clip();
      disc(rim, palette.sideLow);
      pen.translate(1.5 * ratio, 2 * ratio);
      disc(rim, shine(palette.face, palette.faceLow));
      pen.restore();
      pen.save();
      pen.translate(1.6 * ratio, 2.2 * ratio);
      disc(boss, palette.shadow);
      pen.restore();
      disc(boss, shine(palette.faceHigh, palette.faceLow));
      pen.globalAlpha = 0.55;
      pen.strokeStyle = palette.edge;
      pen.lineWidth = 0.9 * ratio;
      for (const radius of [rim, boss]) {
        pen.beginPath();
        pen.arc(0, 0, radius * size, 0, TURN);
        pen.stroke();
      }
    }
    const found = { image: made, size };
    this.sheens.set(wheel, found);
    return found;
  }
}

/**
 * A colour between two of the palette's, which are written in either of its ways.
 * @param {string} from
 * @param {string} to
 * @param {number} share
 */
export function between(from, to, share) {
  /** @param {string} colour */
  const hex = (colour) => {
    if (colour.startsWith("#")) return colour;
    const values = (colour.match(/[\d.]+/g) ?? []).slice(0, 3);
    return `#${values.map((value) => Number(value).toString(16).padStart(2, "0")).join("")}`;
  };
  return mixed(hex(from), hex(to), share);
}
