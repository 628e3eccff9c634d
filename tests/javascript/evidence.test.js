import assert from "node:assert/strict";
import { test } from "node:test";
import { arrival, duration } from "../../grading/trainkit_grading/reports/coordinator/browser/evidence.js";

test("how late something came is said in what suits its size", () => {
  assert.equal(duration(119), "119 min");
  assert.equal(duration(120), "2 h");
  assert.equal(duration(2879), "47 h");
  assert.equal(duration(2880), "2 days");
});

test("minutes of arrival count from the beginning of 2020", () => {
  assert.equal(arrival(0), "2020-01-01 00:00");
  assert.equal(arrival(60 * 24 * 366 + 61), "2021-01-01 01:01");
  assert.equal(arrival(-1), "");
});
