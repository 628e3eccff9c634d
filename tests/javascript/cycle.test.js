import assert from "node:assert/strict";
import { test } from "node:test";
import { Strokes, degrees, seenWords, turned } from "../../trainkit/widgets/browser/strokes/cycle.js";

const VALVES = {
  ...{ inlet_opens: 348, inlet_shuts: 580, exhaust_opens: 130, exhaust_shuts: 375 },
  ...{ injection_begins: 710, injection_ends: 18 },
};
/**
 * @param {number[]} order
 * @param {number} [start]
 */
const engine = (order, start = 0) => {
  const fires = new Map(order.map((number, place) => [number, (place * 720) / order.length]));
  const cylinders = [...fires].sort().map(([number, fires_at]) => ({ number, fires_at }));
  return new Strokes({ cylinders, valves: VALVES, rod: 3.5, start });
};

test("of two pistons that are up one has both valves shut, and a crank turn later the other", () => {
  const strokes = engine([1, 3, 4, 2]);
  assert.deepEqual(seenWords(strokes), [
    "Pistons 1 and 4 are at the top.",
    "Cylinder 1 has both valves shut: compression, ▲.",
    "Cylinder 4 has both valves a little open: exhaust, △.",
  ]);
  strokes.crank = turned(strokes.crank + 360);
  assert.deepEqual(seenWords(strokes), [
    "Pistons 1 and 4 are at the top.",
    "Cylinder 4 has both valves shut: compression, ▲.",
    "Cylinder 1 has both valves a little open: exhaust, △.",
  ]);
});

test("of the valves it says what they show there, not what they show at the top", () => {
  const told = [-20, -5, 5, 20].map((off) => seenWords(engine([1], 360 + off))[1]);
  assert.deepEqual(told, [
    "Cylinder 1 has its exhaust valve open: exhaust, △.",
    "Cylinder 1 has both valves a little open: exhaust, △.",
    "Cylinder 1 has both valves a little open: exhaust, △.",
    "Cylinder 1 has its inlet valve open: exhaust, △.",
  ]);
});

test("covered, nothing tells which is which", () => {
  const places = [0, 360].map((start) => seenWords(engine([1, 3, 4, 2], start), true).join());
  assert.equal(places[0], places[1]);
  const strokes = engine([1, 3, 4, 2], 342);
  assert.deepEqual(seenWords(strokes, true), [
    "Pistons 1 and 4 are 18° before the top.",
    "Which one has both valves shut?",
  ]);
  assert.deepEqual(seenWords(engine([1, 2, 3]), true)[1], "Is it on compression, or on exhaust?");
});

test("between dead centres it says which pistons come up next, and how far it is", () => {
  const strokes = engine([1, 3, 4, 2], 90);
  assert.deepEqual(seenWords(strokes), ["Next, pistons 2 and 3 come up, 90° further."]);
  assert.equal(strokes.toDeadCentre(1), 90);
  assert.equal(strokes.toDeadCentre(-1), -90);
  assert.equal(engine([1, 3, 4, 2]).toDeadCentre(1), 180, "from a dead centre to the next, not to itself");
  assert.equal(engine([1, 3, 4, 2]).toDeadCentre(-1), -180);
});

test("both valves are shut on compression and both a little open on exhaust", () => {
  const strokes = engine([1]);
  const [one] = strokes.cylinders;
  assert.deepEqual(strokes.lifts(one), { inlet: 0, exhaust: 0 });
  assert.equal(strokes.injects(one), true);
  strokes.crank = 360;
  const { inlet, exhaust } = strokes.lifts(one);
  assert.ok(inlet > 0 && inlet < 0.2 && exhaust > 0 && exhaust < 0.2);
  assert.equal(strokes.injects(one), false);
});

test("degrees are short, and exact where they are small", () => {
  assert.deepEqual([0.04, -7.25, 17.6, -120].map(degrees), ["0°", "7.3°", "18°", "120°"]);
});
