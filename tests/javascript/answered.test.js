import assert from "node:assert/strict";
import { test } from "node:test";

import { rows } from "../../trainkit/widgets/browser/answered.js";

test("an answer stands beside the right one, each under a sign and a word", () => {
  assert.deepEqual(rows({ yours: "2:30", right: ["9:30"] }), [
    ["✗ Your answer", ["2:30"]],
    ["✓ Right", ["9:30"]],
  ]);
});

test("where nothing was answered only the right one is shown", () => {
  assert.deepEqual(rows({ yours: "", right: ["9:30"] }), [["✓ Right", ["9:30"]]]);
  assert.deepEqual(rows({}), []);
});
