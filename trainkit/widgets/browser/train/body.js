// What of an engine is drawn round its gears: chains and belts, and when one walks round, the engine as if of glass and
// its flywheel.

import { linkAt, started } from "../kit/chain.js";
import { under } from "../kit/oblique.js";
import { turnedAt } from "../kit/wheel.js";

/** @import { Wall } from "../kit/case.js" */
/** @import { Oblique } from "../kit/oblique.js" */
/** @import { Scene } from "../kit/stage.js" */
/** @import { Gearing } from "./gearing.js" */
/** @import { Gear } from "../shapes.js" */
/**
 * @typedef {object} Drawn What is painted, and how it stands.
 * @property {Scene} scene
 * @property {Oblique} view
 * @property {Gearing} gearing
 * @property {(gear: Gear) => number} z of a gear's face that looks to the front
 * @property {number} thick of a gear
 * @property {number} length of the engine
 * @property {[left: number, low: number, right: number, high: number]} box round the wall
 * @property {Wall} wall
 * @property {number} turned radians of the walk
 */

const TURN = 2 * Math.PI;

/**
 * @param {Drawn} drawn
 * @param {Gear} driven
 */
export function paintChain({ scene, view, gearing, thick, z: of }, driven) {
  const { pen, ratio, palette } = scene;
  const chain = gearing.chains.get(driven);
  const driver = gearing.driver(driven);
  if (!chain || !driver) return;
  const z = of(driven) - thick / 2;
  const from = started(chain, gearing.angle(driver));
  const first = from - Math.floor(from / 2) * 2; // inner and outer links take turns
  const link = (TURN * chain.one.radius) / chain.one.teeth;
  const high = Math.max(2.5, 0.62 * link * view.scale);
  const at = Array.from({ length: chain.links }, (_, number) => view.put(...linkAt(chain, number + first), z));
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  if (driven.kind === "belt") {
    pen.lineJoin = "round";
    const path = new Path2D();
    for (const [x, y] of at) path.lineTo(x, y);
    path.closePath();
    for (const [wide, colour] of /** @type {[number, string][]} */ ([
      [high * 0.8, palette.edge],
      [high * 0.8 - 2, palette.sideLow],
    ])) {
      pen.lineWidth = wide;
      pen.strokeStyle = colour;
      pen.stroke(path);
    }
    pen.lineJoin = "miter";
    pen.fillStyle = palette.faceHigh;
  } else {
    pen.lineCap = "round";
    for (const [odd, wide, colour] of /** @type {[number, number, string][]} */ ([
      [1, high, palette.edge],
      [1, high - 1.8, palette.faceLow],
      [0, high, palette.edge],
      [0, high - 1.8, palette.faceHigh],
    ])) {
      pen.beginPath();
      for (let number = odd; number < chain.links; number += 2) {
        pen.moveTo(...at[number]);
        pen.lineTo(...at[(number + 1) % chain.links]);
      }
      pen.lineWidth = Math.max(1, wide);
      pen.strokeStyle = colour;
      pen.stroke();
    }
    pen.lineCap = "butt";
    pen.fillStyle = palette.edge;
  }
  pen.beginPath();
  for (const [x, y] of at) {
    pen.moveTo(x + high * 0.22, y);
    pen.arc(x, y, high * 0.22, 0, TURN);
  }
  pen.fill();
}

/**
 * The engine between its ends, as if of glass.
 * @param {Drawn} drawn
 */
export function paintBlock({ scene, view, box, wall, length, thick, turned }) {
  const { pen, ratio, palette } = scene;
  const [left, low, right, high] = box;
  const inset = 0.08 * (right - left);
  const [x0, x1] = [left + inset, right - inset];
  const ends = [wall.z - wall.thick, -length + thick * 2].map((z) =>
    /** @type {[number, number][]} */ ([
      [x0, low],
      [x1, low],
      [x1, high],
      [x0, high],
    ]).map(([x, y]) => view.put(x, y, z)),
  );
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  const sin = Math.abs(Math.sin(turned));
  pen.globalAlpha = 0.08 + 0.6 * sin;
  pen.strokeStyle = palette.quiet;
  pen.lineWidth = 1;
  pen.beginPath();
  for (const end of ends) {
    pen.moveTo(...end[3]);
    for (const corner of end) pen.lineTo(...corner);
  }
  for (const corner of [0, 1, 2, 3]) {
    pen.moveTo(...ends[0][corner]);
    pen.lineTo(...ends[1][corner]);
  }
  pen.stroke();
  pen.globalAlpha = 1;
}

/**
 * The flywheel with its starter ring, on the crank's own line.
 * @param {Drawn} drawn
 */
export function paintFlywheel({ scene, view, gearing, length, thick, turned }) {
  const { pen, ratio, palette } = scene;
  const crank = gearing.gears.find((gear) => gear === gearing.turning.root);
  if (!crank) return;
  const { x, y, radius } = gearing.place(crank);
  const far = 1.5 * radius;
  // Where it would lie over the gears it is only hinted at.
  const seen = 0.35 + 0.65 * Math.sin(turned);
  const z = -length;
  const face = turnedAt(view.plane(z), x, y, gearing.angle(crank));
  pen.save();
  for (const plane of [view.plane(z + thick), view.plane(z)]) {
    under(pen, plane, ratio);
    pen.beginPath();
    pen.arc(x, y, far, 0, TURN);
    pen.globalAlpha = seen * (view.front ? 0.6 : 0.16);
    pen.fillStyle = palette.face;
    pen.fill();
    pen.globalAlpha = seen * (view.front ? 0.5 : 0.75);
    pen.lineWidth = 1.2 / view.scale;
    pen.strokeStyle = palette.edge;
    pen.stroke();
  }
  under(pen, face, ratio);
  pen.beginPath();
  pen.arc(0, 0, far * 0.92, 0, TURN);
  for (let number = 0; number < 96; number++) {
    const angle = (number * TURN) / 96;
    pen.moveTo(far * 0.92 * Math.cos(angle), far * 0.92 * Math.sin(angle));
    pen.lineTo(far * Math.cos(angle), far * Math.sin(angle));
  }
  for (let number = 0; number < 6; number++) {
    const angle = (number * TURN) / 6;
    pen.moveTo(far * (0.24 * Math.cos(angle) + 0.04), far * 0.24 * Math.sin(angle));
    pen.arc(far * 0.24 * Math.cos(angle), far * 0.24 * Math.sin(angle), far * 0.04, 0, TURN);
  }
  pen.lineWidth = 0.8 / view.scale;
  pen.strokeStyle = palette.edge;
  pen.stroke();
  pen.restore();
}
