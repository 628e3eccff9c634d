import assert from "node:assert/strict";
import { test } from "node:test";
import { Apart } from "../../trainkit/widgets/browser/parts/apart.js";

/**
 * @param {string} id
 * @param {Partial<import("../../trainkit/widgets/browser/shapes.js").StepShown>} more
 */
const step = (id, more = {}) => ({ id, text: id, moves: [], needs: [], safe: [], proves: [], live: [], ...more });
/**
 * @param {string} before
 * @param {boolean} unsafe
 */
const need = (before, unsafe = false) => ({ before, reason: `Because of ${before}.`, outcome: "blocked", unsafe });

const SHOWN = {
  pieces: [
    { id: "cover", text: "cover", on: true },
    { id: "screws", text: "screws", on: true },
  ],
  energies: [{ id: "battery", text: "battery" }],
  steps: [
    step("isolate", { safe: ["battery"] }),
    step("prove", { proves: ["battery"], needs: [need("isolate", true)] }),
    step("screws out", { moves: [{ piece: "screws", on: false, word: "loosened" }] }),
    step("cover off", { moves: [{ piece: "cover", on: false, word: "off" }], needs: [need("screws out")] }),
    step("cover on", { moves: [{ piece: "cover", on: true, word: "on" }], needs: [need("cover off")] }),
    step("release", { live: ["battery"], needs: [need("cover on", true)] }),
  ],
  dangers: [
    {
      energy: "battery",
      reason: "It can turn over.",
      gates: ["isolate", "prove"],
      reaches: ["screws out", "cover off", "cover on"],
    },
  ],
};

test("a step that comes too early is not done, and the danger to people is said first", () => {
  const apart = new Apart(SHOWN);
  assert.equal(apart.take("cover off")?.reason, "It can turn over.");
  assert.equal(apart.done.length, 0);
  apart.take("isolate");
  assert.equal(apart.take("cover off")?.before, "prove");
  apart.take("prove");
  assert.equal(apart.take("cover off")?.reason, "Because of screws out.");
});

test("a right order goes through, and pieces and energies follow it there and back", () => {
  const apart = new Apart(SHOWN);
  for (const { id } of SHOWN.steps.slice(0, 4)) assert.equal(apart.take(id), undefined);
  assert.deepEqual(apart.pieces.get("cover"), { on: false, word: "off" });
  assert.deepEqual(apart.pieces.get("screws"), { on: false, word: "loosened" });
  assert.equal(apart.energies.get("battery"), "proved");
  apart.back();
  assert.deepEqual(apart.pieces.get("cover"), { on: true, word: "on" });
  apart.again();
  assert.equal(apart.energies.get("battery"), "live");
});

test("a piece that is dragged takes the step that moves it next", () => {
  const apart = new Apart(SHOWN);
  assert.equal(apart.stepFor("cover")?.id, "cover off");
  for (const { id } of SHOWN.steps.slice(0, 4)) apart.take(id);
  assert.equal(apart.stepFor("cover")?.id, "cover on");
  assert.equal(apart.stepFor("screws"), undefined);
});

test("steps that can come and steps that cannot stand mixed, and one can always come", () => {
  const apart = new Apart(SHOWN);
  while (apart.left.length) {
    const { choices } = apart;
    const [open] = choices.filter(({ id }) => !apart.missing(id));
    assert.ok(open);
    assert.ok(choices.length <= 6);
    assert.deepEqual(apart.choices, choices); // the same at every look
    apart.take(open.id);
  }
  assert.equal(apart.choices.length, 0);
});
