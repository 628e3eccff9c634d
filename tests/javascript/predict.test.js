import assert from "node:assert/strict";
import { test } from "node:test";

import { Prediction } from "../../trainkit/widgets/browser/train/predict.js";

/** @import { Gear } from "../../trainkit/widgets/browser/shapes.js" */

/** @type {(id: string, clockwise: boolean) => Gear} */
const gear = (id, clockwise) => ({
  ...{
    id,
    name: `${id} gear`,
    teeth: 40,
    clockwise,
    rate: [1, 1],
    step: [1, 1],
    driver: id === "crank" ? null : "crank",
  },
  ...{ lash: 0, known: true, flank: "", kind: "external", mark: { name: "chalk line", at: 0 } },
});
const crank = gear("crank", true);
const idler = gear("idler", false);
const cam = gear("cam", true);
const made = () => new Prediction([crank, idler, cam], crank);

test("an arrow is pressed round: clockwise, anticlockwise, none; the given one stays", () => {
  const arrows = made();
  assert.ok(!arrows.press(idler, false), "nothing is set before one begins");
  arrows.begin();
  assert.ok(!arrows.press(crank, false));
  arrows.press(idler, false);
  assert.equal(arrows.arrows.get(idler), "clockwise");
  arrows.press(idler, false);
  assert.equal(arrows.arrows.get(idler), "anticlockwise");
  arrows.press(idler, false);
  assert.equal(arrows.arrows.has(idler), false);
});

test("from the flywheel end the same press is the other way, seen from the front", () => {
  const arrows = made();
  arrows.begin();
  arrows.press(idler, true);
  assert.equal(arrows.arrows.get(idler), "anticlockwise");
  assert.match(arrows.words(true), /crank gear turns anticlockwise, seen from the flywheel end.*1 to go/);
});

test("each arrow is answered, and the words name what was wrong", () => {
  const arrows = made();
  arrows.begin();
  arrows.press(idler, false); // clockwise: wrong
  arrows.press(cam, false); // clockwise: right
  assert.equal(arrows.outcome(cam), "", "nothing is told before it turns");
  assert.match(arrows.words(false), /All arrows are set/);
  arrows.compare();
  assert.deepEqual(
    [idler, cam].map((each) => arrows.outcome(each)),
    ["wrong", "right"],
  );
  assert.equal(arrows.words(false), "Right: 1 of 2. The idler gear turns anticlockwise, not clockwise.");
  assert.equal(arrows.words(true), "Right: 1 of 2. The idler gear turns clockwise, not anticlockwise.");
  arrows.stop();
  assert.equal(arrows.words(false), "");
});

test("all right, one right, none set", () => {
  const arrows = made();
  arrows.begin();
  arrows.press(cam, false);
  arrows.compare();
  assert.equal(arrows.words(false), "Your arrow is right.");
  arrows.begin();
  arrows.compare();
  assert.match(arrows.words(false), /You set no arrow/);
});
