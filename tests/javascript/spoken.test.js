import assert from "node:assert/strict";
import { test } from "node:test";
import { sentences, spoken } from "../../trainkit/labextension/src/spoken.js";

/** @type {[written: string, said: string][]} */
const WORDS = [
  ["120\u2009N·m", "120 newton metres"],
  ["1 N·m", "1 newton metre"],
  ["N·m or lbf·ft?", "newton metres or pound-force feet?"],
  ["800 N/mm²", "800 newtons per square millimetre"],
  ["90°", "90 degrees"],
  ["1°", "1 degree"],
  ["0.4 mm", "0.4 millimetres"],
  ["12 m", "12 metres"],
  ["M12 and 10 m", "M12 and 10 metres"],
  ["70 %", "70 percent"],
  ["3–5 min", "3 to 5 minutes"],
  ["2 × 3 = 6", "2 times 3 equals 6"],
  ["7 − 2", "7 minus 2"],
  ["−5°", "minus 5 degrees"],
  ["2 + 3", "2 plus 3"],
  ["≥ 10 kN", "at least 10 kilonewtons"],
  ["½ turn", "a half turn"],
  ["✓ SAVED", "SAVED"],
  ["form 3 · Ada", "form 3, Ada"],
];

for (const [written, said] of WORDS) {
  test(`${written} is said ${said}`, () => assert.equal(spoken(written), said));
}

test("a long text is said in short pieces", () => {
  assert.deepEqual(sentences("Bar forward. Then stop; Look at the mark: 12 o'clock."), [
    "Bar forward.",
    "Then stop;",
    "Look at the mark:",
    "12 o'clock.",
  ]);
});

test("what has neither letter nor number is not said", () => {
  assert.deepEqual(sentences("✓ …"), []);
});
