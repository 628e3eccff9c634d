import assert from "node:assert/strict";
import { test } from "node:test";
import { boltWords, pressWords, seenWords, sideWords, tryWords } from "../../trainkit/widgets/browser/flange/words.js";
import { Seating } from "../../trainkit/widgets/browser/flange/seating.js";

/** @import { JointOnSeal } from "../../trainkit/widgets/browser/shapes.js" */

const ROUND = Math.PI * 2;
/** @param {number} count @param {number} radius @returns {[number, number][]} */
const circle = (count, radius) =>
  Array.from({ length: count }, (_, at) => [
    radius * Math.sin((ROUND * at) / count),
    radius * Math.cos((ROUND * at) / count),
  ]);
/** @type {JointOnSeal} */
const FOUR = {
  ...{ id: "four", text: "four bolts", noun: "bolt", nouns: "bolts", names: ["1", "2", "3", "4"], disc: true },
  ...{ bolts: circle(4, 1), outline: circle(96, 1.4).reverse(), every: 4, seal_at: [0.9, 0.6], stops_at: [1, 0.5] },
  ...{ free: 2, hand: 0.012, stiffness: { seal: 0.0138, stop: 2.5, bolt: 1 }, watch: [] },
  stages: [
    { name: "first stage", text: "first stage, 15 N·m", share: 0.34 },
    { name: "final stage", text: "final stage, 44 N·m", share: 1 },
  ],
};

test("it lies level until the first bolt, then leans on it and gapes opposite", () => {
  const seating = new Seating(FOUR);
  assert.equal(seating.level, true);
  assert.match(seenWords(seating)[0], /lies level on its seal, with every bolt finger-tight/);
  seating.tighten(0);
  seating.tighten(0);
  assert.match(seenWords(seating)[0], /^The part leans on bolt 1 and gapes 2\.4\u2009mm at bolt 3\.$/);
  assert.match(seenWords(seating)[1], /pressed flat on one side and free on the other/);
  assert.equal(boltWords(seating, 0), "final stage, 44 N·m, pulls 100\u2009%");
  assert.equal(pressWords(seating, seating.log[1]), "Bolt 1, final stage");
});

test("a bolt goes one stage on with each press, then to the last one again, and is loosened at once", () => {
  const seating = new Seating(FOUR);
  for (const wanted of [0, 1, 1]) {
    seating.tighten(2);
    assert.equal(seating.stages[2], wanted);
  }
  seating.loosen(2);
  assert.deepEqual([seating.stages[2], seating.loads[2]], [-1, 0.012]);
  assert.equal(pressWords(seating, seating.log[3]), "Bolt 3, loosened");
});

test("bolts that were home first have slackened at the end, and going round once more makes it good", () => {
  const seating = new Seating(FOUR);
  for (const bolt of [0, 0, 1, 1, 2, 2, 3, 3]) seating.tighten(bolt);
  assert.equal(seating.finished, true);
  assert.ok(seating.slackened.length > 0);
  const said = seenWords(seating);
  assert.match(said.join(" "), /has slackened as the part came down: it keeps \d+\u2009% of what it was given/);
  assert.equal(said.at(-1), "Go round once more.");
  const worst = tryWords(seating);
  assert.equal(worst.order, "1, 1, 2, 2, 3, 3, 4, 4");
  for (const bolt of [0, 1, 2, 3]) seating.tighten(bolt);
  assert.deepEqual(seating.slackened, []);
  assert.deepEqual(seenWords(seating), [
    "The part is down on the face, level all round.",
    "All are tight, and evenly.",
  ]);
});

test("what is nearest to the eye is said", () => {
  const seating = new Seating(FOUR);
  assert.equal(sideWords(seating, 0), "Seen from the side of bolt 3");
  assert.equal(sideWords(seating, Math.PI / 2), "Seen from the side of bolt 4");
  assert.equal(sideWords(seating, Math.PI / 4), "Seen from the side of bolts 3 and 4");
});
