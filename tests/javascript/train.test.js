import assert from "node:assert/strict";
import { test } from "node:test";
import { within } from "../../trainkit/widgets/browser/measure.js";
import {
  Turning,
  angleWords,
  clockWords,
  nearest,
  lashWords,
  wrapped,
} from "../../trainkit/widgets/browser/train/motion.js";

/** @import { Gear } from "../../trainkit/widgets/browser/shapes.js" */

/** @type {(found: number, wanted: number) => void} */
const near = (found, wanted) => assert.ok(Math.abs(found - wanted) < 1e-9, `${found}, not ${wanted}`);
const NO_MARK = { name: "chalk line", at: 0 };
/**
 * @param {Partial<Gear> & { id: string }} gear
 * @returns {Gear}
 */
const gear = (gear) => ({
  ...{ name: gear.id, teeth: 40, clockwise: true, rate: [1, 1], step: [1, 1], driver: null },
  ...{ lash: 0, known: true, flank: "", mark: NO_MARK, kind: /** @type {const} */ ("external") },
  ...gear,
});
const crank = gear({ id: "crank" });
const cam = gear({ id: "cam", driver: "crank", step: [1, 2], rate: [1, 2], lash: 0.5 });
/** One step of the crank is a tenth of a degree. */
const train = () => new Turning({ gears: [crank, cam], quantum: [1, 10] });

test("forward, a gear follows its driver at once", () => {
  const turning = train();
  assert.ok(turning.turn(100));
  assert.equal(turning.crank, 10);
  assert.equal(turning.angle("cam"), 5);
  assert.equal(turning.moved.get("cam"), 1);
  assert.equal(lashWords(cam, turning), "lash taken up");
});

test("reversed, it stays still until the lash is taken up", () => {
  const turning = train();
  turning.turn(100);
  turning.turn(95); // a quarter of a degree of the cam, of half a degree of lash
  assert.equal(turning.angle("cam"), 5);
  assert.equal(turning.moved.get("cam"), 0);
  assert.equal(turning.left(cam), 0.25);
  assert.equal(turning.share(cam), 0.5);
  assert.equal(lashWords(cam, turning), "0.25° of lash left");
  turning.turn(80);
  assert.equal(turning.angle("cam"), 4.5);
  assert.equal(turning.moved.get("cam"), -1);
});

test("home is where everything stood, and turning by nothing changes nothing", () => {
  const turning = train();
  turning.turn(100);
  turning.turn(30);
  turning.home();
  assert.deepEqual([turning.count, turning.angle("cam"), turning.share(cam)], [0, 0, 0]);
  assert.ok(!turning.turn(0));
});

test("drawn larger, a mesh keeps the part of its lash that is taken up", () => {
  const turning = train();
  turning.turn(100);
  turning.turn(95);
  turning.resize(8);
  assert.equal(turning.share(cam), 0.5);
  assert.equal(turning.left(cam), 2);
});

test("what a gear's lash is, in words", () => {
  assert.equal(lashWords(crank, train()), "turned by you");
  assert.equal(lashWords({ ...cam, known: false }, train()), "lash not given");
  assert.equal(lashWords({ ...cam, lash: 0 }, train()), "no lash");
});

test("halves are rounded as Python rounds them", () => {
  assert.deepEqual([0.5, 1.5, 2.5, -0.5, -1.5, 1.4, 1.6].map(nearest), [0, 2, 2, 0, -2, 1, 2]);
});

test("angles as a clock and as degrees", () => {
  assert.equal(clockWords(0), "12:00");
  assert.equal(clockWords(90), "3:00");
  assert.equal(clockWords(-15), "11:30");
  assert.equal(angleWords(-12.345), "12.35°");
  assert.equal(angleWords(3), "3°");
  assert.equal(wrapped(-90, 720), 630);
});

test("a slider comes to the step that is nearest, within its ends", () => {
  const range = { low: 100, high: 600, step: 5 };
  assert.equal(within(range, 302), 300);
  assert.equal(within(range, 0), 100);
  assert.equal(within(range, 1000), 600);
});

test("any gear drives, and lash is dead travel in both directions", () => {
  const idler = gear({ id: "idler", driver: "crank", rate: [3, 2], step: [3, 2], lash: 0.3 }); // 0.2° of the crank
  const pump = gear({ id: "pump", driver: "idler", rate: [1, 2], step: [1, 3], lash: 0.2 }); // 0.4° of the crank
  const turning = new Turning({ gears: [crank, idler, pump], quantum: [1, 20] });
  turning.hold("pump");
  turning.drive(1); // its teeth leave those behind it, as far as the lash of both meshes lets them
  near(turning.q(idler), 0.6);
  near(turning.crank, 0.4);
  assert.deepEqual([...turning.moved.values()], [1, 1, 1]);
  turning.drive(0.8); // back: half of the lash of its own mesh
  near(turning.q(idler), 0.6);
  assert.deepEqual([turning.moved.get("idler"), turning.moved.get("crank")], [0, 0]);
  near(turning.left(pump), 0.1); // of 0.2° of the pump
  turning.drive(0.3); // now the idler is pushed back, and takes up half of its own lash
  near(turning.q(idler), 0.3);
  near(turning.crank, 0.3);
  turning.hold("idler"); // in the middle, it drives both ways
  turning.drive(2);
  near(turning.crank, 1.8);
  near(turning.q(pump), 2);
});

test("steps begin at the nearest whole one where a hand left the gear between two", () => {
  const turning = train();
  turning.hold("cam");
  turning.drive(0.234);
  turning.by(1);
  near(turning.q(cam), 0.3);
  turning.by(-10);
  near(turning.q(cam), -0.7);
});
