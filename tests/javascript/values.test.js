import assert from "node:assert/strict";
import { test } from "node:test";
import { pieces } from "../../trainkit/widgets/browser/page.js";
import { clockTime, same } from "../../trainkit/widgets/browser/values.js";

test("answers are alike whichever way their keys come", () => {
  assert.ok(same({ kind: "grid", rows: { a: "1", b: "2" } }, { rows: { b: "2", a: "1" }, kind: "grid" }));
  assert.ok(!same({ kind: "grid", rows: { a: "1" } }, { kind: "grid", rows: { a: "2" } }));
});

test("the order of a list counts", () => {
  assert.ok(!same(["a", "b"], ["b", "a"]));
  assert.ok(!same([{ a: 1, b: null }], [{ b: null, a: 1 }])); // within a list nothing is sorted
  assert.ok(same(null, null));
  assert.ok(!same(null, { kind: "text" }));
});

test("a time of today is a time of day; an earlier one has its date", () => {
  const now = new Date();
  const hours = `${String(now.getHours()).padStart(2, "0")}:${String(now.getMinutes()).padStart(2, "0")}`;
  assert.equal(clockTime(now.toISOString()), hours);
  assert.match(clockTime("2020-03-04T05:06:07Z"), /^[345] Mar, \d\d:\d\d$/);
});

test("a number and its unit stay on one line", () => {
  assert.deepEqual(pieces("no unit"), [{ text: "no unit", whole: false }]);
  assert.deepEqual(
    pieces("Set 120\u2009N·m, then 90\u2009°.").filter(({ whole }) => whole),
    [
      { text: "120\u2009N·m,", whole: true },
      { text: "90\u2009°.", whole: true },
    ],
  );
});
