import assert from "node:assert/strict";
import { test } from "node:test";
import { Steps } from "../../trainkit/widgets/browser/scale.js";

const CLOCK = { low: 0, high: 12, step: 0.25, unit: "h", round: true };
const WRENCH = { low: 20, high: 120, step: 0.5, unit: "N·m", round: false };

test("a hand comes to the nearest step, and a full turn is its beginning", () => {
  const steps = new Steps(CLOCK);
  assert.equal(steps.on(3.1), 3);
  assert.equal(steps.on(12), 0);
  assert.equal(steps.on(-0.25), 11.75);
  assert.equal(steps.large, 4);
});

test("a straight scale ends at its ends", () => {
  const steps = new Steps(WRENCH);
  assert.equal(steps.on(19), 20);
  assert.equal(steps.on(300), 120);
  assert.equal(steps.on(60.3), 60.5);
  assert.equal(steps.large, 20);
});

test("steps in tenths leave no crumbs behind the point", () => {
  const steps = new Steps({ low: 0, high: 1, step: 0.1, unit: "mm", round: false });
  assert.equal(steps.on(0.3), 0.3);
  assert.equal(steps.on(0.1 + 0.2), 0.3);
});

test("the first press forward on a straight scale sets its beginning", () => {
  const [straight, clock] = [new Steps(WRENCH), new Steps(CLOCK)];
  assert.equal(straight.from(null, 1), 20);
  assert.equal(straight.from(20, 1), 20.5);
  assert.equal(clock.from(null, 1), 0.25);
  assert.equal(straight.on(straight.from(null, -1)), 20);
});

test("a place is said as time of the clock, or with its unit", () => {
  const [straight, clock] = [new Steps(WRENCH), new Steps(CLOCK)];
  assert.equal(clock.words(4.25), "4:15");
  assert.equal(clock.words(0), "12:00");
  assert.equal(clock.words(null), "not set");
  assert.equal(straight.words(60.5), "60.5\u2009N·m");
  assert.equal(clock.size, "15\u2009min");
  assert.equal(straight.size, "0.5\u2009N·m");
});
