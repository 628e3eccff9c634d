import assert from "node:assert/strict";
import { test } from "node:test";
import {
  CRITERIA,
  ID,
  NAME,
  COHORT,
  foundWords,
  inOrder,
  keyedTo,
  matches,
  readyCount,
} from "../../grading/trainkit_grading/reports/coordinator/browser/people.js";

/** @import { Choice, Person } from "../../grading/trainkit_grading/reports/coordinator/browser/people.js" */

/**
 * @param {string} id
 * @param {string} name
 * @param {string} verdicts of two criteria
 * @param {{ cohort?: number, gone?: number, forward?: number }} more
 * @returns {Person}
 */
const person = (id, name, verdicts, { cohort = 0, gone = 0, forward = 0 } = {}) =>
  /** @type {Person} */ ([id, name, cohort, gone, verdicts, "11", "11", forward, 0, [], []]);
const ada = person("a1", "Ada Lund", "00", { forward: 1 });
const ben = person("b2", "ben Ode", "01", { cohort: 1 });
const cem = person("c3", "Cem Aks", "20", { gone: 1 });
const PEOPLE = [cem, ada, ben];
/** @type {Choice} */
const ALL = { who: "", cohort: "", criterion: "", stands: "", here: false };

/** @param {Partial<Choice>} choice */
const found = (choice) => PEOPLE.filter((each) => matches(each, { ...ALL, ...choice })).map((each) => each[ID]);

test("nothing chosen takes everybody", () => assert.deepEqual(found({}), ["c3", "a1", "b2"]));
test("a part of a name or of an id will do, in capitals or not", () => {
  assert.deepEqual(found({ who: " LUND " }), ["a1"]);
  assert.deepEqual(found({ who: "b2" }), ["b2"]);
});
test("cohorts, and those who have left", () => {
  assert.deepEqual(found({ cohort: "1" }), ["b2"]);
  assert.deepEqual(found({ here: true }), ["a1", "b2"]);
});
test("who stands so for any criterion, or for one", () => {
  assert.deepEqual(found({ stands: "1" }), ["b2"]);
  assert.deepEqual(found({ stands: "0", criterion: "0" }), ["a1", "b2"]);
  assert.deepEqual(found({ stands: "forward" }), ["a1"]);
});

/** @param {Parameters<typeof inOrder>[1]} column */
const sorted = (column, up = true) => inOrder(PEOPLE, column, up).map((each) => each[ID]);

test("people are sorted by name as a list of names is, up and down", () => {
  assert.deepEqual(sorted(NAME), ["a1", "b2", "c3"]);
  assert.deepEqual(sorted(NAME, false), ["c3", "b2", "a1"]);
});
test("within a cohort, a number of criteria or a criterion they are sorted by name", () => {
  assert.deepEqual(sorted(COHORT), ["a1", "c3", "b2"]);
  assert.deepEqual(sorted("ready"), ["a1", "b2", "c3"]);
  assert.deepEqual(sorted(CRITERIA + 1), ["a1", "c3", "b2"]);
});

test("counts", () => {
  assert.deepEqual(PEOPLE.map(readyCount), [1, 2, 1]);
  assert.equal(foundWords(3, 3), "3 people.");
  assert.equal(foundWords(1, 3), "1 of 3 people.");
});

test("keys lead from cell to cell", () => {
  assert.deepEqual(keyedTo("ArrowDown", 2, 1, 4), [3, 1]);
  assert.deepEqual(keyedTo("ArrowUp", 2, 1, 4), [1, 1]);
  assert.deepEqual(keyedTo("ArrowLeft", 2, 1, 4), [2, 0]);
  assert.deepEqual(keyedTo("ArrowRight", 2, 1, 4), [2, 2]);
  assert.deepEqual(keyedTo("Home", 2, 1, 4), [2, 0]);
  assert.deepEqual(keyedTo("End", 2, 1, 4), [2, 4]);
  assert.equal(keyedTo("Enter", 2, 1, 4), undefined);
});
