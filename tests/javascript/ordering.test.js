import assert from "node:assert/strict";
import { test } from "node:test";
import { Ordering } from "../../trainkit/widgets/browser/ordering.js";

const cards = () => new Ordering(["a", "b", "c", "d"]);

test("a card goes to its place, and the others close up", () => {
  const ordering = cards();
  assert.ok(ordering.put("a", 2));
  assert.deepEqual(ordering.order, ["b", "c", "a", "d"]);
  assert.ok(ordering.put("d", 0));
  assert.deepEqual(ordering.order, ["d", "b", "c", "a"]);
});

test("beyond either end is the end, and where a card stands already nothing changes", () => {
  const ordering = cards();
  assert.ok(!ordering.put("a", -1));
  assert.ok(!ordering.put("d", 9));
  assert.deepEqual(ordering.order, ["a", "b", "c", "d"]);
  assert.ok(ordering.put("a", 9));
  assert.deepEqual(ordering.order, ["b", "c", "d", "a"]);
});

test("the order that it was made of stays as it was", () => {
  const given = ["a", "b"];
  new Ordering(given).put("a", 1);
  assert.deepEqual(given, ["a", "b"]);
});

test("space and Enter lift a card and put it down", () => {
  const ordering = cards();
  for (const key of [" ", "Enter"]) {
    assert.deepEqual(ordering.meaning("b", key), { act: "lift" });
    ordering.lift("b");
    assert.deepEqual(ordering.meaning("b", key), { act: "drop" });
    assert.deepEqual(ordering.meaning("c", key), { act: "lift" }); // another one
    assert.equal(ordering.drop(), "b");
  }
  assert.equal(ordering.drop(), null);
});

test("arrows, Home and End move the lifted card, and go to another from one that is not lifted", () => {
  const ordering = cards();
  const places = { ArrowUp: 0, ArrowDown: 2, Home: 0, End: 3 };
  for (const [key, place] of Object.entries(places)) {
    assert.deepEqual(ordering.meaning("b", key), { act: "go", place });
  }
  ordering.lift("b");
  for (const [key, place] of Object.entries(places)) {
    assert.deepEqual(ordering.meaning("b", key), { act: "move", place });
  }
});

test("Escape puts the lifted card back, and means nothing otherwise", () => {
  const ordering = cards();
  assert.equal(ordering.meaning("a", "Escape"), undefined);
  ordering.lift("a");
  ordering.put("a", 3);
  assert.deepEqual(ordering.meaning("a", "Escape"), { act: "back" });
  assert.ok(ordering.putBack());
  assert.deepEqual(ordering.order, ["a", "b", "c", "d"]);
  assert.equal(ordering.lifted, null);
  ordering.lift("a");
  assert.ok(!ordering.putBack()); // it had not moved
});

test("other keys mean nothing", () => {
  for (const key of ["x", "Tab", "PageUp", "toString", "constructor"]) {
    assert.equal(cards().meaning("a", key), undefined);
  }
});

test("a dragged card takes the place of the row under the pointer", () => {
  const ordering = cards();
  const middles = [10, 30, 50, 70];
  assert.equal(ordering.under("a", middles, 5), 0);
  assert.equal(ordering.under("a", middles, 35), 1); // below the middle of b, above that of c
  assert.equal(ordering.under("a", middles, 99), 3);
  assert.equal(ordering.under("d", middles, 35), 2);
  assert.equal(ordering.under("d", middles, 5), 0);
});
