import assert from "node:assert/strict";
import { test } from "node:test";
import { halfTyped, onlyUnit, settled, typed } from "../../trainkit/widgets/browser/typed.js";

test("what is typed is kept without the blanks round it", () => {
  assert.deepEqual(typed("  12,5 ", "N·m"), { kind: "number", text: "12,5", unit: "N·m" });
});

test("blanks alone are no answer", () => {
  assert.equal(typed("", "N·m"), null);
  assert.equal(typed(" \t", ""), null);
});

test("a bare number waits for its unit", () => {
  for (const text of ["12", "12.5", "1 200", "12,", "."]) assert.ok(halfTyped(typed(text, "")), text);
  assert.ok(halfTyped(null));
});

test("a number with a unit, or with anything else, can be read", () => {
  assert.ok(!halfTyped(typed("12", "N·m")));
  for (const text of ["12 N·m", "twelve", "-12", "12°", "1e3"]) assert.ok(!halfTyped(typed(text, "")), text);
});

test("degrees are written out behind the field, other units as they are", () => {
  assert.equal(onlyUnit(["°"]), "degrees (°)");
  assert.equal(onlyUnit(["mm"]), "mm");
  assert.equal(onlyUnit([]), "");
});

test("another unit than the chosen one is settled either way", () => {
  /** @type {import("../../trainkit/widgets/browser/typed.js").Clash} */
  const clash = {
    words: "You typed lbf·ft, and N·m is chosen. Which unit do you mean?",
    choices: ["Keep 31 lbf·ft", "Change to 31 N·m"],
    number: "31",
    typed: "lbf·ft",
    picked: "N·m",
  };
  assert.deepEqual(settled(clash, true, ["N·m", "lbf·ft"]), { text: "31", unit: "lbf·ft" });
  assert.deepEqual(settled(clash, false, ["N·m", "lbf·ft"]), { text: "31", unit: "N·m" });
  // A unit that cannot be chosen stays beside its number.
  assert.deepEqual(settled(clash, true, ["N·m", "lbf·in"]), { text: "31 lbf·ft", unit: "" });
});
