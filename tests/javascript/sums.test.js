import assert from "node:assert/strict";
import { test } from "node:test";
import { hasNumbers, workOut } from "../../trainkit/widgets/browser/sums.js";

/** @param {string} text */
const shown = (text) => {
  const found = workOut(text);
  return "shown" in found ? found.shown : found.problem;
};
/** @param {string} text */
const refused = (text) => {
  const found = workOut(text);
  return "problem" in found ? found.problem : "";
};

test("sums are worked out as people write them", () => {
  for (const [text, result] of [
    ["2+3*4", "14"],
    ["(2+3)×4", "20"],
    ["42 × (300 − 20) ÷ 300", "39.2"],
    ["100 - 2 - 3", "95"],
    ["64 / 4 / 2", "8"],
    ["-3 + 5", "2"],
    ["3 − −2", "5"],
    ["2 − 5", "−3"],
    ["√16 + √(9+16)", "9"],
    ["300 × cos 60", "150"],
    ["cos(0)", "1"],
    ["0,5 + .25", "0.75"],
    ["0.1+0.2", "0.3"],
    ["1 ÷ 3", "0.33333333"],
    ["31 × 1.3558179", "42.030355"],
    ["12:4", "3"],
    ["2 x 3 · 2", "12"],
  ])
    assert.equal(shown(text ?? ""), result, text);
});

test("what cannot be worked out is said, in words", () => {
  assert.match(refused("1 ÷ 0"), /divided by 0/);
  assert.match(refused("√(2-3)"), /no root/);
  assert.match(refused("2 +"), /missing at the end/);
  assert.match(refused("(2+3"), /partner/);
  assert.match(refused("2+3)"), /partner/);
  assert.match(refused("1,200 × 2"), /two ways/);
  for (const text of ["2 2", "2++", "a", "1.2.3", "1,2,3", "()", "2(3)", "sin 3", "="]) assert.ok(refused(text), text);
  assert.match(refused(`${"9".repeat(110)}×9`), /^$/); // large, and still finite
  assert.ok(refused(`${Array(60).fill("9").join("×")}+${"1".repeat(130)}`));
});

test("nothing that is typed is run", () => {
  const world = /** @type {Record<string, unknown>} */ (globalThis);
  world.hit = false;
  for (const text of ["globalThis.hit=true", "(()=>{globalThis.hit=true})()", "1;hit=1", "`${hit=1}`", "constructor"])
    assert.ok(refused(text), text);
  assert.equal(world.hit, false);
});

test("a long row of brackets neither hangs nor overflows", () => {
  assert.equal(shown(`${"(".repeat(55)}7${")".repeat(55)}`), "7");
  assert.ok(refused("(".repeat(119)));
  assert.ok(refused("(".repeat(100_000)));
});

test("a second way: random sums against fractions", () => {
  let seed = 7;
  const random = () => {
    seed = (seed * 1103515245 + 12345) % 2147483648;
    return seed / 2147483648;
  };
  /** @returns {[text: string, top: bigint, under: bigint]} a sum with its value as a fraction */
  const make = (/** @type {number} */ depth) => {
    if (depth === 0 || random() < 0.3) {
      const n = BigInt(1 + Math.floor(random() * 99));
      return [String(n), n, 1n];
    }
    const [one, a, b] = make(depth - 1);
    const [two, c, d] = make(depth - 1);
    const sign = ["+", "−", "×"][Math.floor(random() * 3)];
    if (sign === "+") return [`(${one} + ${two})`, a * d + c * b, b * d];
    if (sign === "−") return [`(${one} − ${two})`, a * d - c * b, b * d];
    return [`${one} × ${two}`, a * c, b * d];
  };
  for (let turn = 0; turn < 500; turn += 1) {
    const [text, top, under] = make(3);
    if (text.length > 120) continue;
    const found = workOut(text);
    assert.ok("value" in found, text);
    const exact = Number(top) / Number(under);
    assert.ok(Math.abs(found.value - exact) <= 1e-9 * Math.max(1, Math.abs(exact)), `${text} ${found.value} ${exact}`);
  }
});

test("a calculator is there wherever numbers are asked for or told, and nowhere else", () => {
  /** @param {string} kind @param {string[]} values @param {string[]} options */
  const asked = (kind, values = [], options = []) =>
    hasNumbers(
      /** @type {import("../../trainkit/widgets/browser/shapes.js").Question} */ (
        /** @type {unknown} */ ({
          kind,
          given: values.map((value) => ({ label: "Step 3", value })),
          control: options.length ? { options: options.map((text) => ({ id: "a", text })) } : {},
        })
      ),
    );
  assert.equal(asked("number"), true);
  assert.equal(asked("choice", ["42 teeth"], ["clockwise"]), true);
  assert.equal(asked("several", ["dry"], ["69 lbf·in", "68 lbf·in"]), true);
  assert.equal(asked("setting", ["90° clockwise"]), true);
  assert.equal(asked("choice", ["the standard one"], ["2. Take the strap off", "None of them"]), false);
  assert.equal(asked("setting"), false);
  // Cards, a text and the bench are no sums, whatever numbers stand in them.
  for (const kind of ["order", "insert", "grid", "point", "text", "actions"])
    assert.equal(asked(kind, ["31 N·m"]), false);
});
