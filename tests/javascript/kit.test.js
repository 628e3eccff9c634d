import assert from "node:assert/strict";
import { test } from "node:test";

import {
  PRESSURE_ANGLE,
  halfAt,
  involute,
  meshing,
  outline,
  spur,
} from "../../trainkit/widgets/browser/kit/involute.js";
import { Oblique } from "../../trainkit/widgets/browser/kit/oblique.js";

/**
 * @param {number} found
 * @param {number} wanted
 * @param {number} within
 */
const near = (found, wanted, within = 1e-9) => assert.ok(Math.abs(found - wanted) <= within, `${found}, not ${wanted}`);

test("the involute function has the value of the tables", () => {
  // inv 20° = 0.014904, from ISO 21771, formula inv α = tan α − α, worked out by hand to six places.
  near(involute(PRESSURE_ANGLE), 0.014904, 5e-7);
});

test("a gear has the circles of its module, and its teeth fill half of the reference circle", () => {
  const gear = spur(40, 3);
  near(gear.reference, 60);
  near(gear.tip, 63);
  near(gear.root, 56.25);
  near(halfAt(gear, gear.reference) * 2 * gear.reference, (Math.PI * 3) / 2);
  assert.ok(halfAt(gear, gear.tip) > 0, "no tooth ends in a point before its tip");
});

test("in a mesh a tooth of one stands in a space of the other, wherever the other stands", () => {
  const one = spur(31, 2);
  const other = spur(47, 2);
  for (const [standing, towards] of [
    [0, 0],
    [0.7, 1.9],
    [2.2, -2.8],
  ]) {
    const at = meshing(one, standing, towards, other);
    const share = (/** @type {number} */ angle, /** @type {number} */ pitch) => (((angle / pitch) % 1) + 1) % 1;
    near(share(share(towards - standing, one.pitch) + share(towards + Math.PI - at, other.pitch), 1), 0.5, 1e-9);
  }
});

test("an outline has the same points for every tooth", () => {
  const gear = spur(23, 2);
  const points = outline(gear, 3);
  assert.equal(points.length % 23, 0);
  assert.ok(points.every(([x, y]) => Math.hypot(x, y) <= gear.tip + 1e-9));
});

test("faces keep their true shape from both ends, and a point is found again where it is drawn", () => {
  for (const turned of [0, 0.6, 2.4, Math.PI]) {
    const view = new Oblique({ scale: 2.5, middle: [300, 200], pivot: [10, 20, -5], turned });
    const [u, v] = view.put(37, -12, 8);
    const [x, y] = view.found(u, v, 8);
    near(x, 37);
    near(y, -12);
  }
  const front = new Oblique({ scale: 2, middle: [0, 0] });
  const [a, b, c, d] = front.plane(0);
  assert.deepEqual([a, b, Math.abs(c), d], [2, -0, 0, -2]);
  assert.equal(front.front, true);
  const behind = new Oblique({ scale: 2, middle: [0, 0], turned: Math.PI });
  near(behind.plane(0)[0], -2, 1e-9);
  assert.equal(behind.front, false);
});

test("what is nearer stands lower and to the left, seen from the front", () => {
  const view = new Oblique({ scale: 1, middle: [0, 0] });
  const [u, v] = view.put(0, 0, 10);
  assert.ok(u < 0 && v > 0);
  assert.ok(view.depth(0, 10) > view.depth(0, 0));
});
