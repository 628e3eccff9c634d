import assert from "node:assert/strict";
import { test } from "node:test";
import { borrow, lent, taken } from "../../trainkit/labextension/src/lent.js";
import {
  isForm,
  isHidden,
  isLocked,
  isOpening,
  nameOf,
  openingCell,
} from "../../trainkit/labextension/src/recognise.js";

/** @import { Cell } from "@jupyterlab/cells" */
/** @import { Notebook } from "@jupyterlab/notebook" */

/**
 * As much of a cell as is looked at.
 * @param {string} source
 * @param {string} type
 * @param {Record<string, unknown>} metadata
 */
const cell = (source, type = "code", metadata = {}) =>
  /** @type {Cell} */ (
    /** @type {unknown} */ ({
      model: {
        type,
        sharedModel: { getSource: () => source },
        getMetadata: (/** @type {string} */ name) => metadata[name],
      },
    })
  );
/** @param {Cell[]} widgets */
const notebook = (widgets) => /** @type {Notebook} */ (/** @type {unknown} */ ({ widgets }));

const OPENING = 'from trainkit import workbook\nbook = workbook.open("lock-pin")';

test("a workbook is known by the cell that opens it", () => {
  const opening = cell(OPENING);
  assert.ok(isOpening(opening));
  assert.equal(openingCell(notebook([cell("# Title", "markdown"), opening, cell(OPENING)])), opening);
  assert.equal(openingCell(notebook([cell("print()")])), undefined);
});

test("text that looks like an opening cell opens nothing", () => {
  assert.ok(!isOpening(cell(OPENING, "markdown")));
  for (const source of [`${OPENING}\nprint()`, `import os\n${OPENING}`, OPENING.replace("lock-pin", "../x")]) {
    assert.ok(!isOpening(cell(source)), source);
  }
});

test("cells of the few forms run by themselves, others do not", () => {
  for (const source of [
    'book.ask("A1")',
    "book.finish()",
    "book.words()",
    'book.practice("torque")',
    'book.plot("preload")',
  ])
    assert.ok(isForm(cell(source)), source);
  for (const source of [
    'book.ask("A1"); print()',
    'book.ask("a1")',
    "book.finish(print())",
    ' book.ask("A1")',
    "book.open()",
  ])
    assert.ok(!isForm(cell(source)), source);
  assert.ok(!isForm(cell('book.ask("A1")', "markdown")));
});

test("a question's cell tells its name, the hand-in its own", () => {
  assert.equal(nameOf(cell('book.ask("B12")')), "B12");
  assert.equal(nameOf(cell("book.finish()")), "finish");
  assert.equal(nameOf(cell("book.summary()")), undefined);
});

test("what whoever wrote the workbook has hidden and locked", () => {
  assert.ok(isHidden(cell("", "code", { jupyter: { source_hidden: true } })));
  assert.ok(!isHidden(cell("")));
  assert.ok(isLocked(cell("", "code", { editable: false })));
  assert.ok(!isLocked(cell("")));
});

test("of several versions that are lent, the one that is loaded is taken", async () => {
  /** @param {string} name */
  const offer = (name, loaded = false) => ({ get: async () => () => ({ name }), loaded });
  const [one, other] = [offer("one"), offer("other", true)];
  assert.equal(taken({ "4.2.0": one, "4.6.0": other }), other);
  assert.equal(taken({ "4.2.0": one }), one);
  await borrow({ "@jupyterlab/cells": { "4.6.0": other } }, ["@jupyterlab/cells"]);
  assert.deepEqual(lent["@jupyterlab/cells"], { name: "other" });
  await assert.rejects(borrow({}, ["@lumino/widgets"]), /lends no @lumino\/widgets/);
});
