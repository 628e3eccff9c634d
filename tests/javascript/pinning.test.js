import assert from "node:assert/strict";
import { test } from "node:test";

import { clockDegrees, spread } from "../../trainkit/widgets/browser/pin/face.js";
import { MOST, pulled } from "../../trainkit/widgets/browser/pin/pinning.js";
import { panels } from "../../trainkit/widgets/browser/pin/view.js";

/** @type {import("../../trainkit/widgets/browser/pin/pinning.js").Reach} */
const REACH = { forward: ["a little", "to the press mark"], back: ["back a little", "back off"] };
const ALL = [...REACH.forward, ...REACH.back];
const everyDegree = Array.from({ length: 2 * MOST + 1 }, (_, at) => at - MOST);

test("a pull is at most one action, however far it goes", () => {
  for (const degrees of everyDegree) {
    const action = pulled(degrees, ALL, REACH);
    assert.ok(action === "" || ALL.includes(action));
  }
});

test("the same place of the bar is the same action: nothing hangs on the way or on the time", () => {
  assert.equal(pulled(3, ALL, REACH), "", "a hand that trembles does nothing");
  assert.equal(pulled(20, ALL, REACH), "a little");
  assert.equal(pulled(MOST, ALL, REACH), "to the press mark");
  assert.equal(pulled(400, ALL, REACH), "to the press mark", "beyond the end it is the long pull");
  assert.equal(pulled(-20, ALL, REACH), "back a little");
  assert.equal(pulled(-MOST, ALL, REACH), "back off");
});

test("every action that bars is within reach of a pull", () => {
  assert.deepEqual(new Set(everyDegree.map((degrees) => pulled(degrees, ALL, REACH))), new Set(["", ...ALL]));
});

test("what cannot be done is not done", () => {
  assert.equal(pulled(-MOST, ["back a little"], REACH), "back a little");
  assert.equal(pulled(-MOST, ["a little"], REACH), "");
  assert.equal(pulled(20, ["to the press mark"], REACH), "", "a short pull never becomes a long one");
});

test("a clock position is read as degrees from twelve", () => {
  assert.equal(clockDegrees("12:00"), 0);
  assert.equal(clockDegrees("2:30"), 75);
  assert.equal(clockDegrees("11:59"), 359.5);
});

test("labels keep their distance and stay within their panel", () => {
  for (const wanted of [
    [100, 101, 102, 103],
    [0, 0, 290, 300],
    [10, 50, 90, 130],
    [299, 300, 300, 300],
  ]) {
    const rows = spread(wanted, 31, 16, 290);
    rows.forEach((row, at) => {
      assert.ok(row >= 16 - 1e-9 && row <= 290 + 1e-9);
      if (at) assert.ok(row - rows[at - 1] >= 31 - 1e-9);
    });
  }
});

test("the panels of the bench never overlap and stay on the canvas", () => {
  for (const [width, height] of [
    [340, 420],
    [559, 420],
    [560, 220],
    [700, 266],
    [1200, 330],
  ]) {
    const all = Object.values(panels(width, height));
    for (const [at, [x, y, wide, high]] of all.entries()) {
      assert.ok(x >= 0 && y >= 0 && x + wide <= width && y + high <= height);
      for (const [left, top, across, down] of all.slice(at + 1)) {
        assert.ok(x + wide <= left || left + across <= x || y + high <= top || top + down <= y);
      }
    }
  }
});
