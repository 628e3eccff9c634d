// Involute teeth in mesh against the formulas of ISO 21771:2007, each named where it is checked.
import assert from "node:assert/strict";
import { test } from "node:test";

import { chainOf, linkAt, seated, started } from "../../trainkit/widgets/browser/kit/chain.js";
import { lobes } from "../../trainkit/widgets/browser/kit/cycloid.js";
import {
  PRESSURE_ANGLE,
  contacts,
  halfAt,
  involute,
  meshing,
  meshingInside,
  outline,
  ring,
  spur,
} from "../../trainkit/widgets/browser/kit/involute.js";

/** @type {(found: number, wanted: number, within?: number) => void} */
const near = (found, wanted, within = 1e-9) => assert.ok(Math.abs(found - wanted) <= within, `${found}, not ${wanted}`);
const ALPHA = PRESSURE_ANGLE;

test("a tooth is as thick at any radius as its formula says", () => {
  // ISO 21771, thickness at a diameter: s_y = d_y (s/d + inv α − inv α_y), with cos α_y = d_b/d_y.
  const gear = spur(31, 2.5, 0.08);
  for (const radius of [gear.reference - 1, gear.reference, gear.reference + 1.2, gear.tip]) {
    const [d, dy] = [2 * gear.reference, 2 * radius];
    const s = (Math.PI * 2.5) / 2 - 0.08;
    const thick = dy * (s / d + involute(ALPHA) - involute(Math.acos((d * Math.cos(ALPHA)) / dy)));
    near(2 * halfAt(gear, radius) * radius, thick);
  }
  const points = outline(gear, 10);
  const tips = points.filter(([x, y]) => Math.abs(Math.hypot(x, y) - gear.tip) < 1e-9);
  assert.equal(tips.length, 2 * 31);
  near(Math.hypot(tips[0][0] - tips[1][0], tips[0][1] - tips[1][1]), 2 * gear.tip * Math.sin(halfAt(gear, gear.tip)));
});

test("the span over five of forty teeth is that of the formula", () => {
  // ISO 21771, span: W_k = m cos α ((k − 1/2) π + z inv α). For z = 40, k = 5, m = 1 this is 13.8448.
  const gear = spur(40, 1);
  const thickOnBase = 2 * (gear.half + involute(ALPHA)) * gear.base;
  near(4 * gear.pitch * gear.base + thickOnBase, 13.8448, 5e-5);
});

test("as many pairs of teeth touch on average as the contact ratio says", () => {
  // ISO 21771, transverse contact ratio: ε = (√(ra1² − rb1²) + √(ra2² − rb2²) − a sin α) / (π m cos α); inside a ring
  // its tip circle is the inner one: ε = (√(ra1² − rb1²) − √(ra2² − rb2²) + a sin α) / (π m cos α).
  const steps = 4000;
  for (const [one, other, inside] of /** @type {const} */ ([
    [42, 28, false],
    [28, 84, false],
    [84, 33, false],
    [32, 90, true],
  ])) {
    const gear = spur(one, 2);
    const mate = (inside ? ring : spur)(other, 2);
    const flank = (/** @type {number} */ tip, /** @type {number} */ base) => Math.sqrt(tip ** 2 - base ** 2);
    const apart = inside ? mate.reference - gear.reference : gear.reference + mate.reference;
    const far = flank(inside ? mate.root : mate.tip, mate.base) - apart * Math.sin(ALPHA);
    const ratio = (flank(gear.tip, gear.base) + (inside ? -far : far)) / (Math.PI * 2 * Math.cos(ALPHA));
    for (const side of /** @type {const} */ ([1, -1])) {
      let touching = 0;
      for (let step = 0; step < steps; step++) {
        touching += contacts(gear, (step / steps) * gear.pitch, side, mate, inside).points.length;
      }
      near(touching / steps, ratio, 2 / steps);
    }
  }
});

test("flanks touch on the line of action, and on the flanks of both gears", () => {
  for (const inside of [false, true]) {
    const gear = spur(28, 2.5);
    const mate = (inside ? ring : spur)(84, 2.5);
    const middle = inside ? gear.reference - mate.reference : gear.reference + mate.reference;
    for (const side of /** @type {const} */ ([1, -1])) {
      for (let step = 0; step < 20; step++) {
        const standing = (step / 20) * gear.pitch;
        const other = inside ? meshingInside(gear, standing, 0, mate) : meshing(gear, standing, 0, mate);
        const { points, along } = contacts(gear, standing, side, mate, inside);
        assert.ok(points.length > 0);
        for (const [x, y] of points) {
          // Through the pitch point, at the pressure angle to the common tangent of both pitch circles.
          near((x - gear.reference) * along[1] - y * along[0], 0);
          const flank = (
            /** @type {import("../../trainkit/widgets/browser/kit/involute.js").Spur} */ spur,
            /** @type {number} */ u,
            /** @type {number} */ at,
          ) => {
            const off = Math.atan2(y, u) - at;
            return Math.abs(off - spur.pitch * Math.round(off / spur.pitch)) - halfAt(spur, Math.hypot(u, y));
          };
          near(flank(gear, x, standing), 0, 1e-9);
          near(flank(mate, x - middle, other), 0, 1e-9);
        }
      }
    }
  }
});

test("thinner teeth leave air, and none of them touch in the middle of it", () => {
  // ISO 21771, backlash: along the line of action it is j_bn = j_wt cos α, the sum of both thinnings times cos α.
  const gear = spur(42, 2, 0.05);
  const mate = spur(28, 2, 0.03);
  const gap = (/** @type {import("../../trainkit/widgets/browser/kit/involute.js").Spur} */ thin) =>
    (Math.PI * thin.module) / 2 - 2 * thin.half * thin.reference;
  near(gap(gear) + gap(mate), 0.08);
});

test("a chain has whole links, seats on both wheels, and goes round without a step", () => {
  const one = { x: 0, y: 0, radius: 26, teeth: 26 };
  const other = { x: 70, y: 40, radius: 17, teeth: 17 };
  const chain = chainOf(one, other);
  assert.equal(chain.links % 2, 0);
  const pitch = 2 * Math.PI;
  for (let link = 0; link < chain.links; link += 0.25) {
    const [[x0, y0], [x1, y1]] = [linkAt(chain, link), linkAt(chain, link + 0.25)];
    near(Math.hypot(x1 - x0, y1 - y0), pitch / 4, 0.05 * pitch);
  }
  for (const standing of [0, 0.1, 0.9]) {
    const from = started(chain, standing);
    for (const [wheel, at] of /** @type {const} */ ([
      [one, standing],
      [other, seated(chain, standing)],
    ])) {
      let seats = 0;
      for (let link = 0; link < chain.links; link++) {
        const [x, y] = linkAt(chain, from + link);
        if (Math.abs(Math.hypot(x - wheel.x, y - wheel.y) - wheel.radius) > 1e-6) continue;
        const off = ((Math.atan2(y - wheel.y, x - wheel.x) - at) / (2 * Math.PI)) * wheel.teeth;
        near(off, Math.round(off), 1e-6);
        seats++;
      }
      assert.ok(seats >= Math.floor(wheel.teeth / 3));
    }
  }
});

test("a rotor's lobes turn in their ring without cutting into it, and touch it", () => {
  for (const [teeth, more] of [
    [6, 1],
    [9, 1],
    [12, 1],
  ]) {
    const rotor = lobes(teeth, teeth);
    const hollow = lobes(teeth + more, teeth + more);
    const angles = hollow.map(([x, y]) => Math.atan2(y, x));
    /** @param {number} angle of the hollow */
    const reach = (angle) => {
      let [low, high] = [-Infinity, Infinity];
      let [from, to] = [0, 0];
      for (const [at, other] of angles.entries()) {
        const off = Math.atan2(Math.sin(other - angle), Math.cos(other - angle));
        if (off <= 0 && off > low) [low, from] = [off, Math.hypot(...hollow[at])];
        if (off > 0 && off < high) [high, to] = [off, Math.hypot(...hollow[at])];
      }
      return from + ((to - from) * -low) / (high - low);
    };
    for (let step = 0; step < 12; step++) {
      const standing = (step / 12) * ((2 * Math.PI) / teeth);
      const turned = (standing * teeth) / (teeth + more);
      const gaps = rotor.map(([x, y]) => {
        const [u, v] = [
          x * Math.cos(standing) - y * Math.sin(standing),
          x * Math.sin(standing) + y * Math.cos(standing),
        ];
        return reach(Math.atan2(v, u + more) - turned) - Math.hypot(u + more, v);
      });
      assert.ok(Math.min(...gaps) > -0.03, `${teeth}: ${Math.min(...gaps)}`);
      // Each lobe touches somewhere: that is how a pump seals.
      assert.ok(gaps.filter((gap) => gap < 0.03).length >= teeth);
    }
  }
});
