// The wall behind a train of gears, with its bolts and the shade of the gears on it.

import { under } from "./oblique.js";

/** @import { Oblique } from "./oblique.js" */
/** @import { Scene } from "./stage.js" */
/** @typedef {{ x: number, y: number, reach: number, z: number, hollow?: number }} Disc `hollow` is a ring's inside */

const TURN = 2 * Math.PI;

/**
 * The line that a taut band round discs takes, as points.
 * @param {Disc[]} discs
 * @param {number} margin
 * @returns {[x: number, y: number][]}
 */
export function bandRound(discs, margin) {
  /** @type {[number, number][]} */
  const points = discs.flatMap(({ x, y, reach }) =>
    Array.from({ length: 72 }, (_, at) => {
      const angle = (at * TURN) / 72;
      const far = reach + margin;
      return /** @type {[number, number]} */ ([x + far * Math.cos(angle), y + far * Math.sin(angle)]);
    }),
  );
  points.sort(([x0, y0], [x1, y1]) => x0 - x1 || y0 - y1);
  /** @param {[number, number][]} from */
  const half = (from) => {
    /** @type {[number, number][]} */
    const kept = [];
    for (const point of from) {
      while (kept.length > 1) {
        const [[x0, y0], [x1, y1]] = kept.slice(-2);
        if ((x1 - x0) * (point[1] - y0) - (y1 - y0) * (point[0] - x0) > 0) break;
        kept.pop();
      }
      kept.push(point);
    }
    return kept.slice(0, -1);
  };
  return [...half(points), ...half(points.reverse())];
}

/**
 * Points at even distances along a closed line.
 * @param {[x: number, y: number][]} line
 * @param {number} count
 * @returns {[x: number, y: number][]}
 */
export function along(line, count) {
  const ends = line.map((point, at) => [point, line[(at + 1) % line.length]]);
  const whole = ends.reduce((sum, [[x, y], [u, v]]) => sum + Math.hypot(u - x, v - y), 0);
  /** @type {[number, number][]} */
  const found = [];
  let gone = 0;
  for (const [[x, y], [u, v]] of ends) {
    const length = Math.hypot(u - x, v - y);
    while (found.length < count && (found.length * whole) / count <= gone + length) {
      const share = length ? ((found.length * whole) / count - gone) / length : 0;
      found.push([x + (u - x) * share, y + (v - y) * share]);
    }
    gone += length;
  }
  return found;
}

/**
 * @typedef {object} Wall
 * @property {[x: number, y: number][]} edge
 * @property {[x: number, y: number][]} bolts
 * @property {number} bolt Their radius
 * @property {number} z of its face
 * @property {number} thick
 */

/**
 * @param {Scene} scene
 * @param {Oblique} view
 * @param {Wall} wall
 * @param {Disc[]} discs that throw their shade on it
 */
export function paintWall({ pen, ratio, palette }, view, { edge, bolts, bolt, z, thick }, discs) {
  /** @param {number} at */
  const shape = (at) => {
    const path = new Path2D();
    for (const [x, y] of edge) path.lineTo(...view.put(x, y, at));
    path.closePath();
    return path;
  };
  const [face, back] = [shape(z), shape(z - thick)];
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.lineWidth = 1.1;
  pen.strokeStyle = palette.edge;
  if (!view.front) {
    // From behind, the wall stands before the gears: as if it were glass.
    pen.globalAlpha = 0.15;
    pen.fillStyle = palette.wall;
    pen.fill(face);
    pen.globalAlpha = 0.6;
    pen.stroke(back);
    pen.globalAlpha = 1;
    return;
  }
  pen.fillStyle = palette.wallLow;
  pen.fill(back);
  pen.stroke(back);
  pen.fillStyle = palette.wall;
  pen.fill(face);
  pen.stroke(face);
  pen.save();
  pen.clip(face);
  pen.fillStyle = palette.shadow;
  pen.globalAlpha = 0.26;
  for (const disc of discs) {
    // Soft to the outside: a few discs over each other.
    const off = (disc.z - z) * 0.34;
    for (const grown of [0.05, 0.035, 0.02, 0.005, -0.01]) {
      const [a, b, c, d, e, f] = view.plane(z);
      under(pen, [a, b, c, d, e + off * view.scale, f + off * 1.25 * view.scale], ratio);
      pen.beginPath();
      pen.arc(disc.x, disc.y, disc.reach * (1 + grown), 0, TURN);
      if (disc.hollow) {
        pen.moveTo(disc.x + disc.hollow, disc.y);
        pen.arc(disc.x, disc.y, disc.hollow * (1 - grown), 0, TURN);
      }
      pen.fill("evenodd");
    }
  }
  pen.restore();
  under(pen, view.plane(z), ratio);
  pen.fillStyle = palette.face;
  pen.lineWidth = 0.9 / view.scale;
  for (const [x, y] of bolts) {
    pen.beginPath();
    pen.arc(x, y, bolt, 0, TURN);
    pen.fill();
    pen.stroke();
    pen.beginPath();
    for (let corner = 0; corner < 6; corner++) {
      const angle = (corner * TURN) / 6 + 0.3;
      pen.lineTo(x + 0.58 * bolt * Math.cos(angle), y + 0.58 * bolt * Math.sin(angle));
    }
    pen.closePath();
    pen.stroke();
  }
}
